"""Every text can be read on every ground it stands on, in all three looks.

4.5:1 is the least contrast of text by WCAG 2.1, success criterion 1.4.3; relative luminance as defined there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from textual.color import Color
from textual.theme import Theme

from buildtrack.bench import themes
from buildtrack.bench.widgets.field import Field
from buildtrack.bench.widgets.grid import Grid
from buildtrack.bench.widgets.head import Head, KeyLine
from buildtrack.bench.widgets.inks import Inked
from buildtrack.bench.widgets.line_rows import LineRows

LEAST = 4.5
BENCH = Path(themes.__file__).parent
WASHES: dict[type[Inked], tuple[str, ...]] = {LineRows: ("current", "chosen"), Grid: ("row", "field", "open field"), Field: ("open", "chosen"),
          Head: (), KeyLine: ()}  # fmt: skip
"""Which inks of a widget are grounds that its texts stand on."""
GROUNDS: dict[type[Inked], tuple[str, ...]] = {
    LineRows: ("background", "surface"), Grid: ("background",), Field: ("panel",), Head: ("panel",), KeyLine: ("panel",),
}
"""The backgrounds that the style rules give them."""
NEVER = {("asked", "chosen")}
"""What is asked for stands in an empty field, where nothing can be chosen."""
LOOKS = pytest.mark.parametrize("theme", themes.THEMES, ids=[t.name for t in themes.THEMES])


def luminance(colour: Color) -> float:
    """Relative luminance of WCAG 2.x, 0 to 1."""
    parts = [c / 255 for c in (colour.r, colour.g, colour.b)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(first: Color, second: Color) -> float:
    """Contrast of two colours, 1 to 21."""
    dark, light = sorted((luminance(first), luminance(second)))
    return (light + 0.05) / (dark + 0.05)


def named(theme: Theme, name: str) -> Color:
    found = theme.variables.get(name) or getattr(theme, name, None)
    assert isinstance(found, str), name
    return Color.parse(found)


def mixed(widget: type[Inked], look: str, theme: Theme, ground: Color) -> Color:
    ink = widget.INKS[look]
    return ground.blend(named(theme, ink.colour), ink.strength)


def texts(theme: Theme) -> Iterator[tuple[str, float]]:
    """Each ink of each widget on each ground it may stand on, with its contrast."""
    for widget, washes in WASHES.items():
        for background in GROUNDS[widget]:
            base = named(theme, background)
            grounds = {background: base, **{w: mixed(widget, w, theme, base) for w in washes}}
            for look in widget.INKS:
                if look in washes or look in ("cursor", "on cursor"):
                    continue
                text = mixed(widget, look, theme, base)
                for name, ground in grounds.items():
                    if (look, name) in NEVER:
                        continue
                    yield f"{widget.__name__}: {look} on {name} over {background}", contrast(text, ground)


def test_contrast_is_that_of_the_published_examples() -> None:
    """Black on white is 21:1, and #767676 on white is the lightest grey that passes (WCAG understanding 1.4.3)."""
    white = Color.parse("#ffffff")
    assert contrast(Color.parse("#000000"), white) == pytest.approx(21.0)
    assert contrast(Color.parse("#767676"), white) == pytest.approx(4.54, abs=0.005)
    assert contrast(Color.parse("#777777"), white) == pytest.approx(4.48, abs=0.005)


@LOOKS
def test_every_ink_can_be_read_on_every_ground_it_stands_on(theme: Theme) -> None:
    found = list(texts(theme))
    assert len(found) > 40
    assert [(text, round(value, 2)) for text, value in found if value < LEAST] == []


@LOOKS
def test_text_on_the_cursor_can_be_read(theme: Theme) -> None:
    assert contrast(named(theme, "background"), named(theme, "input-cursor-background")) >= LEAST


@LOOKS
def test_greyed_text_of_the_style_rules_can_be_read_on_every_background(theme: Theme) -> None:
    rules = [*BENCH.rglob("*.tcss"), *BENCH.rglob("*.py")]
    shares = {int(n) for path in rules for n in re.findall(r"[: \"]\$foreground (\d+)%", path.read_text("utf-8"))}
    grey = sorted(n for n in shares if n)
    assert grey
    for share in grey:
        for background in ("background", "surface", "panel"):
            ground = named(theme, background)
            value = contrast(ground.blend(named(theme, "foreground"), share / 100), ground)
            assert value >= LEAST, f"foreground {share} % on {background}: {value:.2f}"
