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
        if not self.display:
            return False  # it is measured when it is shown
        if "\n" in before + after:
            return True
        if self.styles.is_auto_width:
            least = self.styles.min_width
            floor = int(least.value) - self.gutter.width if least is not None and least.is_cells else 0
            return max(cell_len(before), floor) != max(cell_len(after), floor)
        return bool(self.styles.is_auto_height) and max(cell_len(before), cell_len(after)) > self.content_size.width


class Notice(Told):
    """What just happened. Where it has a row of its own (`lasting`), nothing moves when words come and go there."""

    DEFAULT_CSS = """
    Notice { height: auto; max-height: 3; padding: 0 2; color: $accent; display: none; }
    Notice.-lasting { display: block; min-height: 1; max-height: 5; }
    Notice.-bad { color: $error; text-style: bold; }
    Notice.-silent { color: $border; }
    """

    def __init__(self, *, lasting: bool = False, ruled: bool = False, id: str | None = None) -> None:
        super().__init__("", markup=False, id=id)
        self.set_class(lasting, "-lasting")
        self.set_class(ruled, "-silent")
        self._lasting = lasting
        self._ruled = ruled
        """Whether a rule is drawn while nothing is said."""

    def say(self, text: str, look: str = "") -> None:
        """Say this; nothing where it is empty. look: `bad` or none."""
        self.update(text)
        if not self._lasting:
            self.display = bool(text)
        self.set_class(look == "bad", "-bad")
        self.set_class(self._ruled and not text, "-silent")

    def render(self) -> VisualType:
        """The words, or the rule."""
        return "─" * self.content_size.width if self.has_class("-silent") else super().render()
