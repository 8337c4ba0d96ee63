"""A build file that somebody else changes while it is open: noticed, never written over, settled as wished."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from textual import events

from buildtrack.bench.screens.ask import AskOne
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.reading import ReadOn
from buildtrack.bench.surroundings import Surroundings
from buildtrack.storage.build_file import read_build
from buildtrack.storage.session import create, open_session
from tests.bench_walk import Clock, Walk, new_build, small_checklist, walk
from tests.test_bench_entry import PLAN

CHECKLIST = small_checklist()


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    place = tmp_path / "shears.toml"
    create(place, replace(new_build(CHECKLIST, "Shears"), entries=dict(PLAN)), CHECKLIST)
    return place


def real(surroundings: Surroundings) -> Surroundings:
    def opener(path: Path, *, read_only: bool = False, summary: object = None) -> object:
        return open_session(path, read_only=read_only, clock=Clock(), find=lambda name: CHECKLIST)

    return replace(surroundings, opener=opener)  # type: ignore[arg-type]


def changed_by_someone(path: Path, title: str = "Their title") -> None:
    path.write_text(path.read_text(encoding="utf-8").replace("Shears", title), encoding="utf-8")


async def coming_back(w: Walk) -> None:
    w.app.post_message(events.AppFocus())
    await w.settle()


def shown(screen: object) -> str:
    assert isinstance(screen, ReadOn)
    return "\n".join("".join(p.text for p in entry.left) for entry in screen.lines)


def free_current(path: Path) -> list[str]:
    return [r.text for r in read_build(path).build.entry("free_current").standing]


def test_a_change_is_noticed_when_the_person_comes_back_and_taken_over(path: Path) -> None:
    async def steps(w: Walk) -> None:
        changed_by_someone(path)
        await coming_back(w)
        assert isinstance(w.screen, BenchScreen) and "▲ changed outside" in w.text() and "F8 asks" in w.text()
        await w.press("f8")
        assert isinstance(w.screen, AskOne) and "is another file now" in w.text()
        await w.press("2", "enter")
        assert isinstance(w.screen, BenchScreen)
        assert w.build.title == "Their title" and "taken as it is now" in w.screen.said
        await w.type("1.0")
        assert free_current(path) == ["1.0"] and read_build(path).build.title == "Their title"

    walk(steps, new_build(CHECKLIST), CHECKLIST, path=path, around=real)


def test_a_second_window_shows_what_the_first_one_saved_without_a_question(path: Path) -> None:
    async def steps(w: Walk) -> None:
        assert w.app.desk is not None
        assert w.app.desk.session.read_only_reason
        first.commit(replace(first.build, title="Shears, blue"))
        await coming_back(w)
        assert isinstance(w.screen, BenchScreen)
        assert w.build.title == "Shears, blue"
        assert "taken as it is now" in w.screen.said

    def in_the_second(surroundings: Surroundings) -> Surroundings:
        def opener(path: Path, *, read_only: bool = False, summary: object = None) -> object:
            return open_session(path, read_only=True, clock=Clock(), find=lambda name: CHECKLIST)

        return replace(surroundings, opener=opener)  # type: ignore[arg-type]

    first = open_session(path, clock=Clock(), find=lambda name: CHECKLIST)
    try:
        walk(steps, new_build(CHECKLIST), CHECKLIST, path=path, around=in_the_second)
    finally:
        first.close()


def test_a_second_window_writes_once_the_first_has_left(path: Path) -> None:
    """The other window is another process: here its name in the lock file, and then its end."""

    async def steps(w: Walk) -> None:
        assert w.app.desk is not None and w.app.desk.session.read_only_reason
        await coming_back(w)
        assert w.app.desk.session.read_only_reason, "the first one still writes"
        first.close()
        await coming_back(w)
        assert w.app.desk is not None and not w.app.desk.session.read_only_reason
        assert "this one writes now" in w.text()
        await w.type("1.0")
        assert free_current(path) == ["1.0"]

    first = open_session(path, clock=Clock(), find=lambda name: CHECKLIST)
    try:
        walk(steps, new_build(CHECKLIST), CHECKLIST, path=path, around=real)
    finally:
        first.close()


def test_the_differences_are_shown_and_then_it_is_asked_again(path: Path) -> None:
    async def steps(w: Walk) -> None:
        changed_by_someone(path)
        await coming_back(w)
        await w.press("f8", "1", "enter")
        seen = [" ".join(text.split()) for text in shown(w.screen).splitlines()]
        assert {"1 thing differs", "Title", "here Shears", "in the file now Their title"} <= set(seen)
        await w.press("escape")
        assert isinstance(w.screen, AskOne)

    walk(steps, new_build(CHECKLIST), CHECKLIST, path=path, around=real)


def test_a_question_never_takes_the_keys_of_a_reading(path: Path) -> None:
    """Coming back to the window in the middle of a number: the answers of the question are digits too."""

    async def steps(w: Walk) -> None:
        await w.press("3")
        changed_by_someone(path)
        await coming_back(w)
        assert isinstance(w.screen, BenchScreen) and "F8 asks" in w.text()
        await w.press(".", "9")
        assert w.screen.card.field.value == "3.9"
        await w.press("f8")
        assert isinstance(w.screen, AskOne)

    walk(steps, new_build(CHECKLIST), CHECKLIST, path=path, around=real)


def test_a_change_that_a_save_comes_upon_takes_no_digit_of_the_next_reading(path: Path) -> None:
    async def steps(w: Walk) -> None:
        await w.press("1")
        changed_by_someone(path)
        await w.press(".", "0", "enter")
        bench = w.screen
        assert isinstance(bench, BenchScreen)
        bench.jump("free_current")
        await w.settle()
        await w.press("e")
        await w.press(*"3.341")
        assert bench.card.field.value.endswith("3.341") and w.screen is bench
        assert not list(path.parent.glob("shears-mine-*.toml")) and w.build.title == "Shears"

    walk(steps, new_build(CHECKLIST), CHECKLIST, path=path, around=real)


def test_a_save_never_writes_over_a_change_and_the_reading_is_put_in_again(path: Path) -> None:
    async def steps(w: Walk) -> None:
        await w.press("1")  # while a field is being typed in, nothing asks
        changed_by_someone(path)
        theirs = path.read_bytes()
        await w.press(".", "0", "enter")
        assert isinstance(w.screen, BenchScreen) and path.read_bytes() == theirs
        await w.press("f8", "4", "enter")
        assert "▲ NOT SAVED: changed outside" in w.text() and "F8" in w.text() and path.read_bytes() == theirs
        await w.press("f8", "2", "enter")
        assert w.build.title == "Their title" and free_current(path) == ["1.0"]
        assert "changed outside" not in w.text()

    walk(steps, new_build(CHECKLIST), CHECKLIST, path=path, around=real)


def test_both_are_kept_each_in_its_file(path: Path) -> None:
    async def steps(w: Walk) -> None:
        changed_by_someone(path)
        await w.type("1.0")
        await w.press("f8", "3")
        assert isinstance(w.screen, AskOne), "a digit alone throws nothing away"
        await w.press("enter")
        assert isinstance(w.screen, BenchScreen) and "is kept in shears-mine-" in w.screen.said
        assert w.build.title == "Their title" and free_current(path) == []
        mine = next(path.parent.glob("shears-mine-*.toml"))
        assert free_current(mine) == ["1.0"] and read_build(mine).build.title == "Shears"

    walk(steps, new_build(CHECKLIST), CHECKLIST, path=path, around=real)


def test_a_file_that_is_gone_leaves_what_was_entered_beside_it(path: Path) -> None:
    async def steps(w: Walk) -> None:
        path.unlink()
        await w.type("1.0")
        await w.press("f8", "2", "enter")
        assert isinstance(w.screen, BenchScreen) and "shears.toml" in w.screen.said
        assert [r.text for r in w.build.entry("free_current").standing] == ["1.0"]
        await w.press("f8", "3", "enter")
        assert free_current(next(path.parent.glob("shears-mine-*.toml"))) == ["1.0"]

    walk(steps, new_build(CHECKLIST), CHECKLIST, path=path, around=real)


def test_a_comment_alone_is_told_as_such_and_no_line_of_a_patch_is_shown(path: Path) -> None:
    async def steps(w: Walk) -> None:
        path.write_text("# mine\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
        await coming_back(w)
        await w.press("f8", "1", "enter")
        seen = [" ".join(text.split()) for text in shown(w.screen).splitlines()]
        assert "They say the same; only comments or the way it is written differ" in seen
        assert "in the file now # mine" in seen
        assert not any(text.startswith(("@@", "---", "+++", "-#")) for text in seen)

    walk(steps, new_build(CHECKLIST), CHECKLIST, path=path, around=real)
