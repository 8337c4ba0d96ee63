"""The looks: every list draws with the colours of the look that is on, and no style is read twice."""

from __future__ import annotations

from typing import Any
from unittest.mock import patch

import pytest
from textual.css import stylesheet as textual_stylesheet

from buildtrack.bench import themes
from buildtrack.bench.widgets.inks import Inked
from buildtrack.bench.widgets.lines import LineList
from tests.bench_walk import Walk, walk
from tests.test_bench_golden import BUILD, CHECKLIST

LOOKS = {word: next(t for t in themes.THEMES if t.name == name) for word, name in themes.WORDS.items()}


def _channels(colour: str | None) -> list[int]:
    assert colour is not None
    return [int(colour[n : n + 2], 16) for n in (1, 3, 5)]


@pytest.mark.parametrize("word", LOOKS)
def test_muted_text_lies_between_ground_and_text_in_every_look(word: str) -> None:
    """77 % of the way from the ground to the text, channel by channel (simple alpha compositing, CSS Color 4, from memory)."""

    async def steps(w: Walk) -> tuple[list[int], list[int]]:
        items = w.screen.query_one("#items", LineList)
        mixed = items.ink("muted").color
        assert mixed is not None
        return list(mixed.get_truecolor()), list(items.background_colors[1].rgb)

    mixed, ground = walk(steps, BUILD, CHECKLIST, theme=word)
    text = _channels(LOOKS[word].foreground)
    assert ground == _channels(LOOKS[word].background)
    expected = [g + 0.77 * (t - g) for g, t in zip(ground, text, strict=True)]
    assert mixed == pytest.approx(expected, abs=1)


def test_another_look_recolours_what_is_already_drawn() -> None:
    """Inks are mixed once; a change of the look mixes them anew."""

    async def steps(w: Walk) -> list[bool]:
        drawn = [widget for widget in w.screen.query(Inked).results(Inked) if widget.region.height]
        before = [[segment.style for segment in widget.render_line(0)] for widget in drawn]
        w.app.action_next_look()
        await w.settle()
        after = [[segment.style for segment in widget.render_line(0)] for widget in drawn]
        return [a != b for a, b in zip(before, after, strict=True)]

    differ = walk(steps, BUILD, CHECKLIST)
    assert len(differ) >= 5
    assert all(differ)


def test_no_source_of_styles_is_parsed_twice_while_places_are_entered() -> None:
    """Every screen brings styles of its own; those of all others stay as they were read."""
    seen: list[object] = []
    plainly = vars(textual_stylesheet)["parse"]

    def parse(scope: str, css: str, read_from: object, **more: Any) -> Any:
        seen.append((scope, css, read_from, more["is_default_rules"], more["tie_breaker"]))
        return plainly(scope, css, read_from, **more)

    async def steps(w: Walk) -> None:
        for key in ("f5", "f4", "f3", "escape"):
            await w.press(key)

    with patch.object(textual_stylesheet, "parse", parse):
        walk(steps, BUILD, CHECKLIST)
    assert len(seen) > 20
    assert len(seen) == len(set(seen))
