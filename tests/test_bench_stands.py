"""What stands against a build is seen where the work is done: counted, reachable, and accepted only where it was found."""

from __future__ import annotations

from dataclasses import replace

from buildtrack.bench.due import due_lines
from buildtrack.bench.meaning import acceptable, open_cautions
from buildtrack.bench.onward import wanted
from buildtrack.bench.rows import Placed
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.review import ReviewScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.screens.why import Why, in_parts
from buildtrack.bench.widgets.lines import LineList
from buildtrack.judging import judge
from buildtrack.model import edit
from buildtrack.model.build import Entry, Reading, Waiver
from buildtrack.storage.build_file import read_build
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import NOW, Walk, main_checklist, new_build, walk
from tests.test_bench_entry import CHECKLIST, LOAD, PLAN, SIZES, answered, build_with
from tests.test_bench_typing_ahead import bench

OVER = build_with(**PLAN, **LOAD, supply_voltage=answered("14 V"))
"""The supply stands above the plate, which is a caution."""


MAIN = main_checklist()


def told(lines: LineList) -> str:
    return " ".join("".join(piece.text for piece in entry.left) for entry in lines.lines)


def words(w: Walk) -> str:
    return " ".join(w.text().split())


def test_a_caution_is_counted_in_the_narrow_panel_the_steps_and_the_line_that_ends_a_step() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("supply_voltage")
        await w.settle()
        assert "▲ 1 caution: F2" in w.text() and "▲2 Load" in w.text()
        await w.press("e")
        await w.press("enter")
        assert "settled, but 1 caution against it: F2 shows it, w accepts a caution" in words(w)

    walk(steps, OVER, CHECKLIST)


def test_in_the_wide_rail_a_step_with_a_caution_is_not_told_as_done() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("supply_voltage")
        await w.settle()
        rail = next(row for row in w.text().splitlines() if "2 Load" in row)
        assert "▲ 2 Load" in rail and "1 caution" in rail

    walk(steps, OVER, CHECKLIST, size=(120, 40))


def test_cautions_that_open_items_will_settle_are_not_offered_for_acceptance() -> None:
    async def steps(w: Walk) -> None:
        assert w.app.desk is not None
        for step in w.app.desk.checklist.steps:
            waiting = [r for r in w.app.desk.judged.assessment.results
                       if (r.step, r.severity, r.outcome) == (step.id, "caution", "unknown")]
            offered = [r.title for r in acceptable(w.app.desk, step.id)]
            assert len(offered) <= len(waiting) / 3, f"{step.id}: {offered}"
        bench(w).go_to("cells")
        await w.settle()
        await w.press("w")
        assert isinstance(w.screen, BenchScreen), "nothing was found yet that could be accepted"

    walk(steps, new_build(MAIN), MAIN)


def test_a_caution_that_is_accepted_is_offered_no_more_and_w_says_where_its_reason_is_changed() -> None:
    accepted = replace(OVER, waivers=(Waiver("supply-high", "for a minute"),))

    async def steps(w: Walk) -> None:
        bench(w).jump("supply_voltage")
        await w.settle()
        await w.press("w")
        assert bench(w) is w.screen and "F2 lists them; Enter, then w changes a reason" in bench(w).said

    walk(steps, accepted, CHECKLIST)


def test_a_caution_that_an_empty_field_would_tell_is_not_offered_by_the_key_but_in_its_explanation() -> None:
    """The finished sample without the days of the charge: they can still be filled in, or the caution accepted."""
    build = read_build(shipped_samples() / "garden-screwdriver-cleared.toml").build
    table = build.entry("candidates")
    rows = tuple(replace(r, cells={c: v for c, v in r.cells.items() if c != "charged_on"}) for r in table.rows)
    build = replace(build, entries={**build.entries, "candidates": replace(table, rows=rows)})

    async def steps(w: Walk) -> None:
        desk = w.app.desk
        assert desk is not None
        told = [r for step in desk.checklist.steps for r in acceptable(desk, step.id) if r.outcome == "unknown"]
        offered = [r for step in desk.checklist.steps for r in open_cautions(desk, step.id)]
        assert told, "the verdict waits for at least one caution"
        assert all(r.outcome in ("fail", "unsure") or wanted(desk, r) is None for r in offered)
        assert not {r.check for r in offered} & {r.check for r in told if wanted(desk, r) is not None}

    walk(steps, build, MAIN)


def test_a_caution_that_was_found_can_be_accepted() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("supply_voltage")
        await w.settle()
        await w.press("w")
        assert isinstance(w.screen, AskText) and "Accept: The supply is above the plate" in w.text()

    walk(steps, OVER, CHECKLIST)


@SIZES
def test_f2_and_enter_explain_a_check_and_do_not_jump_to_the_next_thing(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("supply_voltage")
        await w.settle()
        await w.press("f2", "enter")
        assert isinstance(w.screen, Why) and "supply" in w.text()

    walk(steps, OVER, CHECKLIST, size=size)


@SIZES
def test_a_held_step_says_its_reason_once_and_x_goes_to_what_is_missing(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("series_count")
        await w.settle()
        await w.press("enter")
        assert words(w).count("is held until") == 1
        assert "x goes to what is missing first: 'Voltage on the plate'" in bench(w).card.told
        await w.press("x")
        assert bench(w).item_id == "rated_voltage"

    begun = build_with(tool=answered("drill"))
    walk(steps, begun, CHECKLIST, size=size)


@SIZES
def test_a_step_held_by_a_stop_says_which_and_x_shows_it(size: tuple[int, int]) -> None:
    whole = read_build(shipped_samples() / "garden-screwdriver-cleared.toml").build
    too_few = {"insulating_rings": answered("3"), "alarm_setting": Entry()}

    async def steps(w: Walk) -> None:
        item = MAIN.items["alarm_setting"]
        bench(w).jump("alarm_setting")
        await w.settle()
        assert "until the stop 'Insulating rings are missing' is mended" in bench(w).desk.refusal(item)
        assert "this step is held until" in words(w)
        await w.press("3", "enter")
        assert not w.build.entry("alarm_setting").standing
        assert "x shows the stop to mend first: 'Insulating rings are missing'" in bench(w).card.told
        await w.press("x")
        assert isinstance(w.screen, Why) and "3 rings for" in words(w)
        await w.press("escape")
        bench(w).jump("insulating_rings")
        await w.press("e", "6", "enter")
        assert isinstance(w.screen, AskText), "what takes a stop away needs a reason"
        await w.type("three more were put on")
        bench(w).jump("alarm_setting")
        await w.press(*"3.3", "enter")
        assert w.build.entry("alarm_setting").standing, "the step is open once the stop is mended"

    walk(steps, replace(whole, entries={**whole.entries, **too_few}), MAIN, size=size)


def test_every_reason_of_the_verdict_can_be_reached_in_the_review() -> None:
    async def steps(w: Walk) -> None:
        assert w.app.desk is not None
        reasons = w.app.desk.judged.assessment.reasons
        await w.press("f5")
        screen = w.screen
        assert isinstance(screen, ReviewScreen)
        shown = screen.query_one("#review-lines", LineList)
        assert len(reasons) > 5 and reasons[-1] not in told(shown)
        shown.select("reasons:")
        await w.press("enter")
        assert all(reason.split("; ")[-1] in told(shown) for reason in reasons)

    walk(steps, new_build(MAIN), MAIN)


def test_a_message_of_several_pairs_has_a_line_for_each() -> None:
    assert in_parts("a below b; b below c; c below d") == ["· a below b", "· b below c", "· c below d"]
    assert in_parts("4.250 V; 4.300 V is the most") == ["4.250 V; 4.300 V is the most"]


def test_the_history_is_told_in_the_words_of_the_checklist() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("rated_voltage")
        await w.settle()
        await w.type("13")
        await w.press("enter", "f5", "end")  # at a hold point it is asked whether it takes the place of what stands
        assert CHECKLIST.items["rated_voltage"].label in words(w) and "rated_voltage" not in w.text()

    walk(steps, replace(OVER), CHECKLIST)


def test_on_an_item_of_words_letters_begin_the_text_and_after_escape_they_are_commands() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("tool")
        await w.settle()
        assert "letters begin the text" in w.text().splitlines()[-1]
        await w.type("grass trimmer")
        assert w.build.entry("tool").standing[-1].text == "grass trimmer"
        bench(w).jump("reason")
        await w.settle()
        await w.press("escape", "g")
        assert isinstance(w.screen, AskOne), "after Esc the letter is the command"

    walk(steps, new_build(CHECKLIST), CHECKLIST)


def test_at_120_columns_long_titles_are_whole_beside_a_short_answer() -> None:
    names = ("charging_site", "way_out", "never_unattended", "local_rules")

    async def steps(w: Walk) -> None:
        for name in names:
            bench(w).jump(name)
            await w.settle()
            assert MAIN.items[name].label in next(row for row in w.text().splitlines() if "│▸ ✓" in row), name

    build = replace(new_build(MAIN), entries={name: answered("yes") for name in names})
    walk(steps, build, MAIN, size=(120, 40))


def test_a_table_that_is_stale_is_fresh_again_when_the_meter_shows_the_same() -> None:
    """The board was taken off and connected anew: its taps are read again, and nothing has changed."""
    whole = read_build(shipped_samples() / "garden-screwdriver-cleared.toml").build
    for text in ("no", "yes"):
        whole = edit.add_reading(whole, MAIN.items["board_connected"], Reading(text, NOW), edit.Hand(NOW, "somebody"))

    async def steps(w: Walk) -> None:
        bench(w).jump("taps")
        await w.press("enter")
        screen = w.screen
        assert isinstance(screen, TableScreen) and screen.desk.item_state("taps").state in ("stale", "expired")
        for number, row in enumerate(w.build.entry("taps").rows):
            place = next(n for n, c in enumerate(screen.columns) if c.kind == "reading")
            screen.grid.go(number, place)
            screen._take(Placed(row.id, screen.columns[place], row.text(screen.columns[place].id)))
            await w.settle()
        assert screen.desk.item_state("taps").state == "done"

    walk(steps, whole, MAIN, size=(120, 40))


def test_a_pack_in_use_with_a_stop_in_doubt_is_read_again_before_it_is_used() -> None:
    path = shipped_samples() / "garden-screwdriver-cleared.toml"
    found = judge(read_build(path).build, MAIN, path.parent, NOW)
    doubt = replace(next(r for r in found.assessment.results if r.check == "drift-stop"), outcome="unsure")
    results = (*(r for r in found.assessment.results if r.check != "drift-stop"), doubt)
    told = due_lines(replace(found, assessment=replace(found.assessment, results=results)))
    assert told[0] == f"read again before it is used: {doubt.title}"
    assert not any("nothing to do until" in each for each in told)
