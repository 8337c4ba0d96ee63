"""How our own widgets colour what they draw: from the variables of the look, without a style rule for each.

Textual works out every component class of a widget anew whenever it gains or loses the keyboard; nine in each list took
half of the time of a key that opens a field.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import ClassVar, NamedTuple

from rich.style import Style
from textual.color import Color
from textual.widget import Widget


class Ink(NamedTuple):
    """A colour of the look by its name, how much of it covers the ground (0 to 1), and whether it is bold."""

    colour: str
    strength: float = 1.0
    bold: bool = False


INKS: Mapping[str, Ink] = {
    "plain": Ink("foreground"), "muted": Ink("foreground", 0.77), "head": Ink("primary", bold=True),
    "good": Ink("success"), "warn": Ink("warning"), "bad": Ink("error", bold=True), "accent": Ink("accent"),
}
"""How the looks of line_text are drawn, where a widget says nothing else."""


class Inked(Widget):
    """A widget that draws with inks, over the background its style rules give it."""

    INKS: ClassVar[Mapping[str, Ink]] = INKS

    @cached_property
    def _inks(self) -> dict[str, Style]:
        """What was mixed already."""
        return {}

    def ink(self, look: str) -> Style:
        """Colour and weight of a look, on no ground of its own; KeyError where there is no such ink."""
        if look not in self._inks:
            self._inks[look] = Style(color=self._mixed(look).rich_color, bold=self.INKS[look].bold or None)
        return self._inks[look]

    def wash(self, look: str) -> Style:
        """The ground of a look; KeyError as above."""
        name = f"behind {look}"
        if name not in self._inks:
            self._inks[name] = Style(bgcolor=self._mixed(look).rich_color)
        return self._inks[name]

    def ground(self) -> Style:
        """The widget's own style."""
        if "" not in self._inks:
            self._inks[""] = self.rich_style
        return self._inks[""]

    def _mixed(self, look: str) -> Color:
        name, strength, _ = self.INKS[look]
        _, ground = self.background_colors
        return ground.blend(Color.parse(self.app.theme_variables[name]), strength)

    def notify_style_update(self) -> None:
        """Another look: nothing mixed before is right any more."""
        self._inks.clear()
        super().notify_style_update()
