"""Review, shelf, pictures, limits, timers, import and export: the places beside the bench."""

from __future__ import annotations

import asyncio
import shutil
import sys
import threading
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from textual.widgets import Static

from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.comparison import Comparison
from buildtrack.bench.screens.count_down import CountDown
from buildtrack.bench.screens.export import Export
from buildtrack.bench.screens.limits import Limits
from buildtrack.bench.screens.pictures import Pictures
from buildtrack.bench.screens.review import ReviewScreen
from buildtrack.bench.screens.shelf import ShelfScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.screens.welcome import WelcomeScreen
from buildtrack.bench.shelf_list import list_builds, matching, ordered, shelf_lines
from buildtrack.bench.starting import no_title
from buildtrack.bench.surroundings import Surroundings
from buildtrack.bench.widgets.field import Field
from buildtrack.bench.widgets.lines import LineList
from buildtrack.checks.review import answers
from buildtrack.model.build import Build, Cell, Entry, Reading, Row
from buildtrack.storage import samples as copies
from buildtrack.storage.build_file import read_build
from buildtrack.storage.places import shipped_checklists, shipped_samples
from buildtrack.storage.samples import own_samples
from buildtrack.storage.session import create, open_session
from tests.bench_walk import NOW, Clock, Walk, main_checklist, new_build, screen_text, small_checklist, walk
from tests.test_bench_entry import CELLS, LOAD, PLAN, answered

CHECKLIST = small_checklist()


def full_build(**more: Entry) -> Build:
    entries = {**PLAN, **LOAD, "series_count": answered("3"), "candidates": CELLS, **more}
    return replace(new_build(CHECKLIST), entries=entries)


@pytest.fixture(autouse=True)
def own_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))


# -- review -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_a_review_shows_the_verdict_and_writes_a_decision_bound_to_what_was_seen(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f5")
        assert isinstance(w.screen, ReviewScreen)
        assert "Verdict" in w.text()
        seen = w.build
        await w.press("d", "2")
        await w.type("the label is missing")
        await w.type("J. Reader")
        review = w.build.reviews[-1]
        assert (review.reviewer, review.decision, review.remarks) == (
            "J. Reader",
            "agree with the verdict 'incomplete', with remarks",
            "the label is missing",
        )
        from buildtrack.storage.hashing import content_hash

        assert review.content == content_hash(seen) == content_hash(w.build)
        await w.press("end")
        assert "is of exactly this content" in _all(w)
        await w.press("f7")
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("supply_voltage")
        await w.settle()
        await w.type("11")
        await w.press("f5")
        assert "no longer holds: 1 change since" in _all(w)

    walk(steps, full_build(), CHECKLIST, size=size)


def _all(w: Walk) -> str:
    lines = w.screen.query_one(LineList).lines
    return "\n".join("".join(p.text for p in entry.left) for entry in lines)


def test_a_finding_of_the_review_leads_to_the_item() -> None:
    async def steps(w: Walk) -> None:
        await w.press("f5")
        lines = w.screen.query_one(LineList)
        lines.select("check:supply-high")
        await w.press("enter", "enter")
        assert isinstance(w.screen, BenchScreen)
        assert w.screen.item_id in ("supply_voltage", "rated_voltage")

    walk(steps, full_build(supply_voltage=answered("14 V")), CHECKLIST)


# -- shelf --------------------------------------------------------------------------------------------------------------


def test_the_shelf_lists_the_samples_and_remembers_them(tmp_path: Path) -> None:
    cache = tmp_path / "cache.json"
    rows = list_builds(shipped_samples(), cache)
    assert len(rows) >= 3 and {r.verdict for r in rows} >= {"incomplete", "not cleared"}
    assert cache.is_file()
    assert list_builds(shipped_samples(), cache) == rows
    assert len(matching(rows, "DRILL not")) == 1
    titles = [r.title for r in ordered(rows, "title")]
    assert titles.index("9.6 V drill") < titles.index("12 V screwdriver, garden box 3"), "numbers go by size"
    assert any("not cleared" in text for text in shelf_lines(rows, NOW.date(), 100))


def test_a_file_that_is_no_build_is_told_and_another_toml_file_is_passed_over(tmp_path: Path) -> None:
    (tmp_path / "broken.toml").write_text("format = 1\n[checklist]\nid = [", encoding="utf-8")
    (tmp_path / "other.toml").write_text("a = 1\n", encoding="utf-8")
    rows = list_builds(tmp_path, tmp_path / "state" / "cache.json")
    assert [Path(r.path).name for r in rows] == ["broken.toml"] and rows[0].problem


def test_checklists_and_settings_beside_the_builds_do_not_crowd_the_shelf(tmp_path: Path) -> None:
    """The folder of the program itself is where many begin: it holds checklists, tables and settings as TOML."""
    shutil.copytree(shipped_checklists(), tmp_path / "checklists")
    (tmp_path / "pyproject.toml").write_text('[project]\nname = "x"\ndescription = "checklists"\n', encoding="utf-8")
    shutil.copy(shipped_samples() / "drill-not-cleared.toml", tmp_path / "mine.toml")
    rows = list_builds(tmp_path, tmp_path / "state" / "cache.json")
    assert [Path(r.path).name for r in rows] == ["mine.toml"]


def test_a_damaged_cache_costs_only_time(tmp_path: Path) -> None:
    cache = tmp_path / "cache.json"
    for content in (
        "[",
        "{}",
        '{"format": 1, "builds": {"x": 3}}',
        '{"format": 1, "builds": {"x": {"stamp": [], "row": {}}}}',
    ):
        cache.write_text(content, encoding="utf-8")
        assert list_builds(shipped_samples(), cache)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    from buildtrack.judging import summary
    from buildtrack.storage.session import create

    place = tmp_path / "builds"
    place.mkdir()
    for number, title in enumerate(("Old shears", "Old drill"), 1):
        build = replace(full_build(supply_voltage=answered(f"1{number} V")), id=f"past-{number}", title=title)
        create(place / f"past{number}.toml", build, CHECKLIST, snapshot=summary)
    return place


def _real(surroundings: Surroundings) -> Surroundings:


    def opener(path: Path, *, read_only: bool = False, summary: object = None) -> object:
        return open_session(path, read_only=read_only, clock=Clock(), find=lambda name: CHECKLIST)

    return replace(surroundings, opener=opener)  # type: ignore[arg-type]


def test_two_builds_are_compared_side_by_side_and_opened_off_the_loop(folder: Path) -> None:
    threads: list[bool] = []

    def watched(surroundings: Surroundings) -> Surroundings:
        real = _real(surroundings)

        def opener(path: Path, **given: Any) -> Any:
            threads.append(threading.current_thread() is threading.main_thread())
            return real.opener(path, **given)

        return replace(real, opener=opener)

    async def steps(w: Walk) -> None:
        threads.clear()
        await w.press("f6")
        assert isinstance(w.screen, ShelfScreen) and "Old shears" in w.text()
        await w.press("c", "down", "c")
        assert isinstance(w.screen, Comparison)
        text = _all(w)
        assert "≠ Voltage under load" in text and "11 V" in text and "12 V" in text
        assert "≠ Voltage on the plate" not in text
        assert threads == [False, False], "no key waits for it"
        await w.press("escape")
        assert "Opening" not in w.text() and "* " not in w.text(), "nothing stays marked or said"

    walk(steps, full_build(), CHECKLIST, size=(120, 40), path=folder / "past1.toml", around=watched)


def test_a_build_that_cannot_be_compared_is_told(folder: Path) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f6", "c", "down")
        for path in folder.glob("past*.toml"):
            if path.name != "past1.toml":  # the one that is open would ask what is to be done
                path.write_text("no build", encoding="utf-8")
        await w.press("c")
        assert isinstance(w.screen, ShelfScreen) and "past" in w.screen.said and "Opening" not in w.screen.said

    walk(steps, full_build(), CHECKLIST, size=(120, 40), path=folder / "past1.toml", around=_real)


def test_a_new_build_begins_from_a_past_one_and_no_old_reading_counts(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("buildtrack.bench.starting.find_checklist", lambda name: CHECKLIST)

    async def steps(w: Walk) -> None:
        await w.press("f6")
        await w.press("n")
        await w.type("Next shears")
        assert isinstance(w.screen, BenchScreen)
        assert w.build.title == "Next shears" and w.build.origin is not None
        w.screen.jump("working_current")
        await w.settle()
        assert not w.build.entry("working_current").standing
        assert "in the past build: 6" in w.text()

    walk(steps, full_build(), CHECKLIST, size=(120, 40), path=folder / "past1.toml", around=_real)
    made = read_build(folder / "next-shears.toml").build
    assert not [r for e in made.entries.values() for r in e.standing if r.value_class == "measured"]


def test_the_shelf_filters_and_sorts_and_opens(folder: Path) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f6", "f")
        await w.type("drill")
        assert "Old drill" in w.text() and "Old shears" not in w.text()
        await w.press("o", "enter")
        assert isinstance(w.screen, BenchScreen) and w.build.title == "Old drill"

    walk(steps, full_build(), CHECKLIST, path=folder / "past1.toml", around=_real)


def test_going_back_from_the_shelf_to_the_open_build_does_not_lock_it(folder: Path) -> None:
    """Opened once more, it would find its own lock and be read-only."""

    async def steps(w: Walk) -> None:
        await w.press("f6")
        assert isinstance(w.screen, ShelfScreen)
        for _ in range(len(w.screen._shown())):
            if w.screen.path == folder / "past1.toml":
                break
            await w.press("down")
        before = w.app.desk
        await w.press("enter")
        assert isinstance(w.screen, BenchScreen) and w.app.desk is before
        assert "read-only" not in w.text()
        await w.press("f6")
        w.app.open_build(folder / "past1.toml", item="working_current")
        await w.settle()
        assert isinstance(w.screen, BenchScreen) and w.screen.item_id == "working_current"
        assert w.app.desk is before

    walk(steps, full_build(), CHECKLIST, path=folder / "past1.toml", around=_real)


def test_what_is_due_across_all_builds_is_listed_first_and_k_lands_on_the_rechecks(tmp_path: Path) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f6")
        assert isinstance(w.screen, ShelfScreen)
        for _ in range(7):
            if w.screen.sorted_by != "due":
                await w.press("o")
        days = [row.due for row in w.screen._shown()]
        filled = [d for d in days if d]
        assert len(filled) >= 2 and filled == sorted(filled) and days[: len(filled)] == filled
        first = w.screen._shown()[0]
        assert "sorted by due" in w.text()
        await w.press("home", "k")
        assert isinstance(w.screen, TableScreen)
        assert w.build.title == first.title and w.screen.item_id == "rechecks"

    for path in shipped_samples().glob("*.toml"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    opening = Surroundings().opener
    walk(steps, full_build(), CHECKLIST, size=(160, 40), path=tmp_path / "shed-light-cleared.toml",
         around=lambda surroundings: replace(surroundings, opener=opening))


def test_a_recheck_is_three_keystrokes_away(folder: Path) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f6", "k")
        assert isinstance(w.screen, BenchScreen)

    walk(steps, full_build(), CHECKLIST, path=folder / "past1.toml", around=_real)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_the_ways_to_begin_are_one_key_away_and_lead_back(folder: Path, size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.press("ctrl+n")
        assert isinstance(w.screen, WelcomeScreen)
        for way in ("Look at a sample", "Start a new build", "Start from a past build", "Open a build of your folder"):
            assert way in w.text()
        await w.press("escape")
        assert isinstance(w.screen, BenchScreen)
        assert "Welcome" in [c.title for c in w.app.get_system_commands(w.screen)]
        await w.press("ctrl+n", "down", "down", "enter")
        assert isinstance(w.screen, ShelfScreen)
        await w.press("ctrl+n", "home", "enter")
        assert isinstance(w.screen, AskOne) and "Which sample?" in w.text()

    walk(steps, full_build(), CHECKLIST, size=size, path=folder / "past1.toml", around=_real)


def test_a_wrongly_picked_kind_of_work_is_changed_before_a_file_is_made_and_named_after(tmp_path: Path) -> None:
    def real(surroundings: Surroundings) -> Surroundings:
        def opener(path: Path, *, read_only: bool = False, summary: object = None) -> Any:
            return open_session(path, read_only=read_only, clock=Clock())

        return replace(surroundings, opener=opener)

    path = tmp_path / "first.toml"
    create(path, new_build(main_checklist()), main_checklist())

    async def steps(w: Walk) -> None:
        await w.press("ctrl+n", "down", "enter", "1")
        assert "Bicycle light battery to lithium-ion." in w.text() and "Esc goes back" in w.text()
        await w.press("escape")
        assert isinstance(w.screen, AskOne) and "Which kind of work?" in w.text()
        assert [p.name for p in tmp_path.glob("*.toml")] == ["first.toml"], "nothing was made"
        await w.press("4")
        await w.type("hall")
        said = " ".join(w.text().split())
        assert "hall.toml was made for: Cordless vacuum to lithium-ion. Another kind? Ctrl-N begins anew" in said

    walk(steps, new_build(main_checklist()), main_checklist(), size=(120, 40), path=path, around=real)


@pytest.mark.parametrize("typed", ["/home/maker/hall-vacuum.toml", "C:\\builds\\hall-vacuum", "Hall-vacuum.TOML", "../hall_vacuum/"])
def test_a_path_is_no_title_of_a_new_build_and_the_title_meant_is_offered(tmp_path: Path, typed: str) -> None:
    path = tmp_path / "first.toml"
    create(path, new_build(main_checklist()), main_checklist())

    async def steps(w: Walk) -> None:
        await w.press("ctrl+n", "down", "enter", "1")
        w.screen.query_one(Field).put(typed)
        await w.press("enter")
        assert isinstance(w.screen, AskText), "it is asked again, with the text still there"
        assert w.screen.query_one(Field).value == typed
        told = str(w.screen.query_one(".ask-refused", Static).content).casefold()
        assert "wanted is a title" in told and "title it 'hall vacuum'" in told and "hall-vacuum.toml" in told
        assert [p.name for p in tmp_path.glob("*.toml")] == ["first.toml"], "nothing was made"

    walk(steps, new_build(main_checklist()), main_checklist(), size=(120, 40), path=path)


@pytest.mark.parametrize(("typed", "meant"), [
    ("Drill 12/14.4 V", "Drill 12-14.4 V"), ("builds/drill.toml", "drill"), ("Drill, 12 V", ""), ("St. Pauli lamp", "")])
def test_the_title_that_was_meant(tmp_path: Path, typed: str, meant: str) -> None:
    told = no_title(tmp_path, typed)
    assert f"Title it '{meant}'" in told if meant else told == ""


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_where_no_build_is_open_the_program_begins_with_the_ways_to_begin(tmp_path: Path, size: tuple[int, int]) -> None:
    async def go() -> None:
        app = BuildtrackApp(Surroundings(clock=Clock()), None, folder=tmp_path)
        async with app.run_test(size=size) as pilot:
            await pilot.pause()
            assert isinstance(app.screen, WelcomeScreen) and "Start a new build" in screen_text(app)
            await pilot.press("escape")
            assert isinstance(app.screen, WelcomeScreen), "there is nothing to go back to"

    asyncio.run(go())


def test_a_file_that_cannot_be_opened_is_said_on_the_welcome_screen(tmp_path: Path) -> None:
    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, WelcomeScreen)
        assert "there is no such file" in w.screen.said or "no such" in w.screen.said

    walk(steps, full_build(), CHECKLIST, path=tmp_path / "nothing.toml", around=_real)


def test_a_build_begun_while_a_sample_is_looked_at_is_made_in_the_folder_the_person_came_from(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setattr("buildtrack.bench.starting.find_checklist", lambda name: CHECKLIST)
    samples, own = own_samples(), tmp_path / "own"
    samples.mkdir(parents=True)
    own.mkdir()
    for path, title in ((samples / "sample.toml", "Sample shears"), (own / "mine.toml", "My shears")):
        create(path, replace(full_build(), title=title), CHECKLIST)

    async def steps(w: Walk) -> None:
        await w.press("ctrl+n", "down", "down", "down", "enter")
        assert "My shears" in w.text() and str(own) in w.text() and "  1 build\n" in w.text()
        await w.press("enter")
        assert w.build.title == "My shears"
        w.app.open_build(samples / "sample.toml")
        await w.settle()
        assert w.build.title == "Sample shears"
        await w.press("f6", "n")
        await w.type("Gärten Übung")
        assert w.build.title == "Gärten Übung"
        await w.press("ctrl+n", "down", "enter", "1")
        asked = "".join(row.split("▌", 1)[1].strip() for row in w.text().splitlines() if "▌" in row)
        assert str(own) in asked, "a long path goes over several rows of the question"

    walk(steps, full_build(), CHECKLIST, size=(200, 50), path=own / "mine.toml", around=_real)
    assert sorted(p.name for p in own.glob("*.toml")) == ["garten-ubung.toml", "mine.toml"]
    assert [p.name for p in samples.glob("*.toml")] == ["sample.toml"]


# -- pictures, limits, timers -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_every_picture_can_be_seen_with_and_without_data(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f3")
        assert isinstance(w.screen, Pictures)
        for number, title in (
            ("1", "Discharge curve"),
            ("2", "Thresholds"),
            ("3", "Cells"),
            ("4", "Wiring"),
            ("5", "Spread"),
        ):
            await w.press(number)
            assert title in w.text()
        await w.press("4")
        assert "g3" in w.text() and "P+" in w.text()
        await w.press("escape")
        assert isinstance(w.screen, BenchScreen)

    walk(steps, full_build(), CHECKLIST, size=size)


def test_a_limit_is_changed_only_with_a_reason() -> None:
    async def steps(w: Walk) -> None:
        await w.press("o")
        assert isinstance(w.screen, Limits)
        await w.press("enter", *["backspace"] * 6)
        await w.type("4.1 V")
        await w.press("enter")
        assert not w.build.policy, "no reason, no change"
        await w.type("kept lower on purpose")
        change = w.build.policy["cell_full"]
        assert (change.text, change.reason) == ("4.1 V", "kept lower on purpose")

    walk(steps, full_build(), CHECKLIST)


def test_a_count_down_follows_the_clock_not_the_program() -> None:
    clock = Clock()

    async def steps(w: Walk) -> None:
        await w.press("f4")
        assert isinstance(w.screen, CountDown)
        await w.press("enter")
        assert not w.app.timers.running, "nothing is marked yet"
        await w.press("down", "enter", "escape")
        timer = w.app.timers.running[0]
        assert w.app.timers.left_s(timer) == 3.0
        clock.now = NOW + timedelta(seconds=4)
        assert w.app.timers.rang() == [timer.name]
        w.app.timers.start("log", 60.0, repeat=True)
        clock.now = NOW + timedelta(seconds=4 + 150)
        assert w.app.timers.rang() == ["log"]
        assert w.app.timers.left_s(w.app.timers.running[0]) == 30.0, "it goes on from its own end, not from the look"

    walk(steps, full_build(), CHECKLIST, clock=clock)


# -- export ------------------------------------------------------------------------------------------------------------


def _exporting(code: str) -> Sequence[str]:
    return (sys.executable, "-c", code)


def test_an_export_says_where_the_record_went(tmp_path: Path) -> None:
    def around(surroundings: Surroundings) -> Surroundings:
        return replace(
            surroundings, record_command=lambda path, target: _exporting(f"open({str(target)!r}, 'w').write('pdf')")
        )

    async def steps(w: Walk) -> None:
        await w.press("f9")
        assert isinstance(w.screen, Export)
        assert "build_record.pdf" in w.screen.state
        await w.press("escape")
        assert isinstance(w.screen, BenchScreen) and "build_record.pdf" in w.screen.said

    walk(steps, full_build(), CHECKLIST, path=tmp_path / "build.toml", around=around)


def test_an_export_that_fails_says_why_in_the_childs_words(tmp_path: Path) -> None:
    def around(surroundings: Surroundings) -> Surroundings:
        return replace(
            surroundings,
            record_command=lambda path, target: _exporting(
                "import sys; print('no fonts [/b] here', file=sys.stderr); sys.exit(2)"
            ),
        )

    async def steps(w: Walk) -> None:
        await w.press("f9")
        assert isinstance(w.screen, Export) and "no fonts [/b] here" in w.screen.state

    walk(steps, full_build(), CHECKLIST, path=tmp_path / "build.toml", around=around)


def test_a_hostile_build_goes_through_every_place() -> None:
    evil = "[/] [@click=app.quit]x[/] {0} %s \x1b[31m\u202e"
    rows = Entry(rows=(Row(evil, {"arrival_voltage": Cell(evil), "source": Cell(evil), "decision": Cell(evil)}),))
    build = replace(
        full_build(candidates=rows, reason=Entry((Reading(evil, NOW, evil, evil),))), title=evil, notice=evil
    )

    async def steps(w: Walk) -> None:
        for keys in (
            ("f5", "end"),
            ("f7",),
            ("f3", "3", "4", "escape"),
            ("f4", "escape"),
            ("o", "escape"),
            ("f1", "escape"),
        ):
            await w.press(*keys)
            assert "\x1b" not in w.text() and "\u202e" not in w.text()
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("candidates")
        await w.settle()
        await w.press("enter", "right", "right")
        assert "[@click" in w.text() and "\x1b" not in w.text()

    walk(steps, build, CHECKLIST, size=(120, 40))


# -- the mouse ----------------------------------------------------------------------------------------------------------


def test_a_click_on_a_step_an_item_a_working_and_a_key_does_what_it_says() -> None:
    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        await w.pilot.click("#rail", offset=(5, 1))
        await w.settle()
        assert w.screen.step_id == "plan"
        await w.pilot.click("#items", offset=(6, 3))
        await w.settle()
        assert w.screen.item_id == "rated_voltage"
        await w.pilot.click("#rail", offset=(5, 2))
        await w.settle()
        row = next(n for n, entry in enumerate(w.screen.meaning.lines) if entry.key == "check:supply-high")
        await w.pilot.click("#meaning", offset=(8, row + 1))
        await w.settle()
        assert "Turn the supply down." in w.text()
        await w.press("escape", "escape")
        at = w.text().splitlines()[-1].index("g steps")
        await w.pilot.click("KeyLine", offset=(at, 0))
        await w.settle()
        assert isinstance(w.screen, AskOne)

    walk(steps, full_build(supply_voltage=answered("14 V")), CHECKLIST, size=(120, 40))


def test_a_click_on_a_field_of_a_table_goes_there() -> None:
    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("groups")
        await w.settle()
        await w.press("enter")
        assert isinstance(w.screen, TableScreen)
        await w.pilot.click("#grid", offset=(10, 4))
        await w.settle()
        assert w.screen.grid.row_id == "g3"

    walk(steps, full_build(), CHECKLIST)


def test_who_worked_in_a_copy_of_a_sample_chooses_between_it_and_a_fresh_one(
    folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path,
) -> None:
    monkeypatch.setattr(copies, "own_samples", lambda: tmp_path / "copies")
    first = sorted(shipped_samples().glob("*.toml"))[0].stem
    copy = copies.own_copy(first)
    copy.write_bytes(copy.read_bytes() + b"\n# my remark\n")

    async def steps(w: Walk) -> None:
        await w.press("ctrl+n", "home", "enter", "1")
        await w.settle()
        assert isinstance(w.screen, AskOne) and "You have worked in your copy of this sample" in w.text()
        assert "Go on with my copy, as I left it on" in w.text()
        await w.press("2")
        await w.settle()
        assert (tmp_path / "copies" / f"{first}-2.toml").exists()
        assert copy.read_bytes().endswith(b"# my remark\n")

    walk(steps, full_build(), CHECKLIST, path=folder / "past1.toml", around=_real)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_a_reviewer_goes_from_open_question_to_open_question_and_back_to_the_first(size: tuple[int, int]) -> None:
    build = read_build(shipped_samples() / "drill-not-cleared.toml").build

    async def steps(w: Walk) -> None:
        await w.press("f5")
        shown = w.screen.query_one(LineList)
        assert w.app.desk is not None
        given = answers(build, main_checklist(), w.app.desk.judged.assessment)
        open_ = [f"question:{a.question.id}" for a in given if a.state != "answered"]
        seen = []
        for _ in range(len(open_) + 1):
            await w.press("x")
            seen.append(shown.current_key)
        assert len(open_) > 10 and seen == [*open_, open_[0]]

    walk(steps, build, main_checklist(), size=size)


def test_who_agrees_with_remarks_must_write_them_and_the_review_names_its_content() -> None:
    build = read_build(shipped_samples() / "garden-screwdriver-cleared.toml").build

    async def steps(w: Walk) -> None:
        await w.press("f5")
        await w.press("d", "2")
        await w.press("enter")
        assert "write the remarks, or press Esc" in w.text()
        await w.type("mind the clutch")
        await w.type("somebody")
        assert w.build.reviews[-1].remarks == "mind the clutch"
        shown = ["".join(p.text for p in e.left) for e in w.screen.query_one(LineList).lines]
        assert f"of content {w.build.reviews[-1].content[:12]}" in shown

    walk(steps, build, main_checklist())


def test_a_step_with_a_stop_is_not_called_done_in_the_list_of_steps() -> None:
    build = read_build(shipped_samples() / "drill-not-cleared.toml").build

    async def steps(w: Walk) -> None:
        await w.press("g")
        assert "✗ Wire  (done, 1 stop" in w.text()
        assert "✗ Configure alarm  (held, 1 stop" in w.text()
        assert "▲ Measure load  (done, 1 caution)" in w.text()

    walk(steps, build, main_checklist(), size=(120, 40))
