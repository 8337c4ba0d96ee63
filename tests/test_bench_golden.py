"""Golden screens: what a person sees, as plain text, kept in tests/golden. Refresh with BUILDTRACK_GOLDEN=write."""

from __future__ import annotations

import os
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.bench.surroundings import Surroundings
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import GOLDEN, Clock, Walk, new_build, small_checklist, walk
from tests.test_bench_entry import CELLS, LOAD, PLAN, answered, build_with

CHECKLIST = small_checklist()
SIZES = [(80, 24), (120, 40)]
BUILD = replace(
    build_with(**PLAN, **LOAD, supply_voltage=answered("14 V"), series_count=answered("3"), candidates=CELLS),
    notice="Invented demo data",
)

SCREENS: dict[str, tuple[str, ...]] = {
    "bench-first": (),
    "bench-reading": ("[", "down", "down"),
    "bench-refusal": ("[", "down", "down", "1", "x", "enter"),
    "bench-choice": ("[", "[", "down"),
    "table": ("up", "enter"),
    "table-known-rows": ("enter",),
    "review": ("f5",),
    "why": ("[", "f2", "down", "enter"),
    "help": ("f1",),
    "wiring": ("f3", "4"),
}
KEYS = {"[": "left_square_bracket", "]": "right_square_bracket"}


def check(name: str, size: tuple[int, int], text: str) -> None:
    path = GOLDEN / f"{name}-{size[0]}x{size[1]}.txt"
    if os.environ.get("BUILDTRACK_GOLDEN") == "write":
        path.write_text(text, encoding="utf-8")
    assert path.is_file(), f"there is no golden screen {path.name}"
    assert text == path.read_text(encoding="utf-8"), f"{path.name} differs from what is seen now"


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
@pytest.mark.parametrize("name", SCREENS)
def test_the_screen_is_as_it_was_judged_good(name: str, size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> str:
        for key in SCREENS[name]:
            await w.press(KEYS.get(key, key))
        return w.text()

    text = walk(steps, BUILD, CHECKLIST, size=size)
    check(name, size, text)
    assert all(len(row) <= size[0] for row in text.splitlines())


SAMPLES = sorted(p.stem for p in shipped_samples().glob("*.toml"))
SEEN = [(name, (80, 24)) for name in SAMPLES] + [
    (name, size) for name in SAMPLES[-1:] for size in ((120, 40), (180, 50))
]


@pytest.mark.parametrize(("sample", "size"), SEEN, ids=[f"{n}-{s[0]}x{s[1]}" for n, s in SEEN])
def test_every_sample_is_seen_in_every_place_and_step(
    sample: str, size: tuple[int, int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    shutil.copytree(shipped_samples(), tmp_path / "builds")

    def around(surroundings: Surroundings) -> Surroundings:
        return replace(Surroundings(), clock=Clock())

    async def steps(w: Walk) -> None:
        desk = w.app.desk
        assert desk is not None
        back, on = "left_square_bracket", "right_square_bracket"
        await w.press(*[back] * len(desk.checklist.steps))
        for step in desk.checklist.steps:
            assert step.title in w.text()
            await w.press(on)
        for keys in (("f3", "1", "2", "3", "4", "5", "escape"), ("f5",), ("f6",), ("f7",)):
            await w.press(*keys)
            assert "Traceback" not in w.text() and all(len(row) <= size[0] for row in w.text().splitlines())

    walk(steps, new_build(CHECKLIST), CHECKLIST, size=size, path=tmp_path / "builds" / f"{sample}.toml", around=around)
