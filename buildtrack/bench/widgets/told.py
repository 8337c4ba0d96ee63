"""A few words on the screen that are laid out anew only when they need other room."""

from __future__ import annotations

from rich.cells import cell_len
from textual.visual import VisualType
from textual.widgets import Static


class Told(Static):
    """Plain words. Textual lays the whole screen out after every `update`, also where the words are the same."""

    def update(self, content: VisualType = "", *, layout: bool = True) -> None:
        """Show these words."""
        before, after = str(self.content), str(content)
        if after != before:
            super().update(content, layout=layout and self._needs_other_room(before, after))

    def _needs_other_room(self, before: str, after: str) -> bool:
        if "\n" in before + after:
            return True
        if self.styles.is_auto_width:
            least = self.styles.min_width
            floor = int(least.value) - self.gutter.width if least is not None and least.is_cells else 0
            return max(cell_len(before), floor) != max(cell_len(after), floor)
        return bool(self.styles.is_auto_height) and max(cell_len(before), cell_len(after)) > self.content_size.width
