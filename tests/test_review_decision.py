"""A decision is of one content: once something is changed, the review says so at its top, and what was changed."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack import cli
from buildtrack.bench.rows import Placed, fill
from buildtrack.bench.widgets.lines import LineList
from buildtrack.checks.review_since import event_words, last_decision, what_stands
from buildtrack.model.build import Build, Cell, Event, Origin, Reading
from buildtrack.model.edit import Hand, add_reading, set_cell, undo
from buildtrack.storage.build_file import read_build
from buildtrack.storage.hashing import content_hash
from buildtrack.storage.places import shipped_samples
from buildtrack.storage.write import to_text
from tests.bench_walk import NOW, Walk, main_checklist, walk

CHECKLIST = main_checklist()
CLEARED = read_build(shipped_samples() / "garden-screwdriver-cleared.toml").build
TAPS = CHECKLIST.items["taps"]
HAND = Hand(NOW, "second bench")


def changed(build: Build = CLEARED) -> Build:
    """The second tap read once more, typed without its unit."""
    row = build.entry("taps").rows[1].id
    return set_cell(build, TAPS, row, "voltage", Cell("3.801", NOW, "m1"), HAND)


def printed(build: Build, folder: Path, capsys: pytest.CaptureFixture[str], *options: str) -> str:
    path = folder / "b.toml"
    path.write_text(to_text(build, CHECKLIST), encoding="utf-8")
    cli.main(["review", str(path), *options])
    return capsys.readouterr().out


def test_a_decision_holds_until_something_is_changed_and_what_was_taken_back_is_said_to_be() -> None:
    before = last_decision(CLEARED, content_hash(CLEARED))
    after = last_decision(changed(), content_hash(changed()))
    back = undo(changed(), CLEARED, HAND)
    again = last_decision(back, content_hash(back))
    assert before is not None and before.holds and before.changes == ()
    assert after is not None and not after.holds and "no longer holds: 1 change since" in after.words
    assert again is not None and again.changes == () and "what was changed since was taken back" in again.words
    assert not again.holds, "the hash is also of the history, which is longer"
    assert last_decision(replace(CLEARED, reviews=()), "x") is None


def test_what_stands_leaves_out_what_was_taken_back_and_joins_two_changes_of_one_answer() -> None:
    first, second = (Event(NOW, "changed", item="a", before=b, after=a) for b, a in (("1", "2"), ("2", "3")))
    other, taken = Event(NOW, "entered", item="b", after="x"), Event(NOW, "undone", item="b", before="x")
    assert [(e.before, e.after) for e in what_stands((first, second))] == [("1", "3")]
    assert what_stands((first, other, taken)) == (first,)
    assert what_stands((first, replace(second, after="1"))) == ()
    assert what_stands((first, second, replace(second, what="undone"))) == (first,)


def test_a_change_is_told_with_the_unit_in_which_a_bare_number_is_taken() -> None:
    told = event_words(changed().history[-1], CHECKLIST)
    before = CLEARED.entry("taps").rows[1].text("voltage")
    assert f"{before} → 3.801 V" in told and before.endswith("V")
    budget = add_reading(CLEARED, CHECKLIST.items["may_be_modified"], Reading("yes", NOW), HAND)
    assert "Yes" in event_words(budget.history[-1], CHECKLIST)


def test_the_printed_review_says_at_its_top_and_at_the_decision_what_was_changed(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = " ".join(printed(changed(), tmp_path, capsys).split())
    top, _, rest = text.partition("Conditions")
    assert "no longer holds: 1 change since" in top and "→ 3.801 V" in top
    at_decision = rest.partition("Reviews")[2].partition("46 questions")[0]
    assert "no longer holds" in at_decision and "→ 3.801 V" in at_decision
    assert "is of exactly this content" in " ".join(printed(CLEARED, tmp_path, capsys).split())


def test_a_build_never_reviewed_counts_no_changes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    never = replace(CLEARED, reviews=(), history=tuple(e for e in CLEARED.history if e.what != "reviewed"))
    found = json.loads(printed(never, tmp_path, capsys, "--json"))
    assert found["changed_since_review"] is None and found["changed_since_review_reason"] == "never reviewed"
    assert found["decision_holds"] is None
    found = json.loads(printed(changed(), tmp_path, capsys, "--json"))
    assert (found["changed_since_review"], found["decision_holds"]) == (1, False) and "3.801 V" in found["changes"][0]


def test_the_printed_review_names_the_past_build(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = " ".join(printed(replace(CLEARED, origin=Origin("Old driver", "old-1", "ab" * 32)), tmp_path, capsys).split())
    assert f"begun from Old driver (old-1), SHA-256 {'ab' * 32}" in text


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_the_screen_says_beside_the_verdict_that_the_decision_no_longer_holds(size: tuple[int, int]) -> None:
    build = replace(changed(), origin=Origin("Old driver", "old-1", "ab" * 32))

    async def steps(w: Walk) -> None:
        await w.press("f5")
        shown = ["".join(p.text for p in e.left) for e in w.screen.query_one(LineList).lines]
        top = shown[:shown.index("Conditions")]
        assert any("no longer holds" in text for text in top) and any("→ 3.801 V" in text for text in top)
        assert any("Begun from Old driver (old-1)" in text for text in top)
        assert sum("no longer holds" in text for text in shown) == 2, "and at the decision itself"

    walk(steps, build, CHECKLIST, size=size)


def test_equal_values_filled_in_once_more_are_no_change() -> None:
    column = TAPS.column("voltage")
    assert column is not None
    field = Placed("t9", column, "3.801 V")
    once = fill(CLEARED, TAPS, [field], lambda _column, _text: "", NOW, HAND)
    assert fill(once, TAPS, [field], lambda _column, _text: "", NOW.replace(year=2027), HAND) == once
    other = fill(once, TAPS, [replace(field, text="3.802 V")], lambda _column, _text: "", NOW, HAND)
    assert other.history[-1].what == "changed"
