"""A length of time as people say it: read where it means one thing, refused with both meanings where it could be two."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildtrack.bench.csv_rows import Sheet, plan, with_unit
from buildtrack.bench.entry import share_out, try_item
from buildtrack.bench.pasted_block import share_block
from buildtrack.checks.review_remarks import answer_words
from buildtrack.cli import main
from buildtrack.durations import told_in_parts
from buildtrack.model.checklist import Column, Item, Span
from buildtrack.storage.build_file import read_build
from buildtrack.storage.places import shipped_samples
from buildtrack.units import QuantityError, parse, unit_taken

LASTED = Column(id="lasted", label="Lasted", kind="reading", unit="min", dimension="time", hard=Span(0.0, 86400.0))
RUN = Item(id="run", step="s", label="Run time", kind="reading", unit="h", dimension="time", plausible=Span(0.0, 360000.0))

SAID = [("1 hour 5 minutes", 3900), ("2 h 30", 9000), ("2h30", 9000), ("90 minutes", 5400), ("2 hours", 7200),
        ("5 min 30", 330), ("1 hour, 5 minutes", 3900), ("1 hour and 5 minutes", 3900), ("2 Hours", 7200), ("2 hrs", 7200),
        ("1 h 30 m", 5400), ("1 h 2,5 min", 3750), ("2 wk 3 d", 17 * 86400), ("1 h 5 min 6 s", 3906), ("1,5 h", 5400),
        ("1:02:03", 3723), ("1:30 h", 5400), ("1:30 min", 90), ("0 h 59 min", 3540)]


@pytest.mark.parametrize(("typed", "seconds"), SAID)
@pytest.mark.parametrize("unit", ["h", "min", "s", "d"])
def test_a_length_of_time_is_read_as_it_is_said_whatever_the_unit_of_the_field(typed: str, seconds: float, unit: str) -> None:
    assert parse(typed, "time", unit).value == pytest.approx(seconds, rel=1e-12)


@given(st.integers(0, 99), st.integers(0, 59), st.integers(0, 59))
def test_every_clock_reads_back_in_every_way_of_saying_it(h: int, m: int, s: int) -> None:
    """Closed form: 3600 h + 60 min + s."""
    for typed in (f"{h} h {m} min {s} s", f"{h}h{m:02d}min{s:02d}", f"{h} hours {m} minutes {s}", f"{h}:{m:02d}:{s:02d}"):
        assert parse(typed, "time", "min").value == 3600 * h + 60 * m + s


WRONG = [
    ("1 h 90 min", "min behind h go up to 59: type 2 h 30 min"), ("2 h 75", "go up to 59: type 3 h 15 min"),
    ("2 d 30 h", "h behind d go up to 23: type 3 d 6 h"), ("2 wk 9 d", "d behind wk go up to 6: type 3 wk 2 d"),
    ("1 d 90 min", "type 1 d 1 h 30 min"), ("1.5 h 20 min", "only the last part may have decimals: type 1 h 50 min"),
    ("2 d 12", "name the unit of the last part, like 2 d 12 h"), ("5 min 5 h", "type the larger unit first"),
    ("1:90", "behind a colon goes up to 59"), ("1:30", "could be 1 h 30 min or 1 min 30 s"), ("1:30 d", "'d' does not go"),
    ("1:02:03 min", "'min' does not go with colons"), ("5 m", "is a length"), ("2 30", "more than one number")]


@pytest.mark.parametrize(("typed", "says"), WRONG)
def test_what_cannot_be_meant_is_refused_with_what_would_be_right(typed: str, says: str) -> None:
    with pytest.raises(QuantityError) as refusal:
        parse(typed, "time", "min")
    assert says in str(refusal.value)
    assert len(str(refusal.value).split()) <= 27 or "expected" in str(refusal.value)


def test_where_a_comma_may_part_thousands_nothing_is_proposed() -> None:
    """1,500 h 20 min is 1 h 50 min or 1500 h 20 min."""
    with pytest.raises(QuantityError, match=r"only the last part may have decimals$"):
        parse("1,500 h 20 min", "time", "h")


@pytest.mark.parametrize(("unit", "seconds"), [("h", 5400.0), ("s", 90.0)])
def test_two_numbers_with_a_colon_are_read_where_the_unit_of_the_field_makes_it_plain(unit: str, seconds: float) -> None:
    """In a field of hours 1:30 is 1 h 30 min, in one of seconds 1 min 30 s; in one of minutes both are usual."""
    assert parse("1:30", "time", unit).value == seconds
    for other in ("min", "d", "months"):
        with pytest.raises(QuantityError, match="could be 1 h 30 min or 1 min 30 s"):
            parse("1:30", "time", other)


def test_the_step_is_that_of_the_last_digit() -> None:
    assert parse("2 h 30", "time", "h").step == 60.0
    assert parse("1 h 2.5 min", "time", "h").step == pytest.approx(6.0)
    assert parse("1:02:03", "time", "h").step == 1.0


def test_text_that_is_not_told_in_parts_is_left_to_the_reader_of_numbers() -> None:
    names = {"h": ("h", 3600.0), "min": ("min", 60.0)}
    assert [told_in_parts(t, names, "h") for t in ("90", "2 h", "5 h 5 V", "3 3", "", "h 30")] == [None] * 6


def test_the_same_is_read_from_a_paste() -> None:
    assert try_item(RUN, "2 h 30").refused == "" and try_item(RUN, "1:30").text == "1:30"
    assert [t for _, t in share_out(["1 hour 5 minutes", "2 h 30"], [RUN, RUN]).taken] == ["1 hour 5 minutes", "2 h 30"]
    shared = share_block("1 hour 5 minutes\n1 h 90 min\n1,5 h", ["a", "b", "c"], [LASTED], 0, 0)
    assert [(p.row, p.text) for p in shared.fields] == [("a", "1 hour 5 minutes"), ("c", "1,5 h")]
    assert [(p.row, p.text) for p in shared.apart] == [("b", "1 h 90 min")]
    assert "type 2 h 30 min" in shared.apart[0].note


def test_the_same_is_read_from_a_csv_file_and_a_part_keeps_its_own_unit() -> None:
    """2 h 30 below a head in minutes is not 30 min; 1:30 below one in hours is 1 h 30 min."""
    sheet = Sheet(("run", "Lasted (h)"), (("a", "2 h 30"), ("b", "1,5"), ("c", "1:30"), ("d", "1 h 90 min"), ("e", "1:02:03")))
    planned = plan(sheet, ("@row", "lasted"), [LASTED], [], "r")
    assert {f.row: parse(f.text, "time", "min").value for f in planned.fields} == {"a": 9000, "b": 5400, "c": 5400, "e": 3723}
    assert len(planned.refused) == 1 and "line 5" in planned.refused[0] and "type 2 h 30 min" in planned.refused[0]
    assert with_unit("1:30", "Lasted (min)", LASTED) == "1:30 min", "the head decides: 1 min 30 s"


@pytest.mark.parametrize(("typed", "unit", "taken"), [
    ("90", "min", "min"), ("1,5", "h", "h"), ("2 h 30", "h", ""), ("1:30", "h", "h:min"), ("1:30", "s", "min:s"),
    ("1:02:03", "min", "h:min:s"), ("1:30 h", "h", ""), ("AWG 14", "mm²", ""), ("3.3 V", "V", ""), ("", "V", "")])
def test_the_unit_said_beside_an_answer_is_the_one_it_was_taken_in(typed: str, unit: str, taken: str) -> None:
    assert unit_taken(typed, unit) == taken


def test_an_answer_that_names_its_units_is_not_given_another_in_the_review() -> None:
    assert [answer_words(RUN, t) for t in ("2 h 30", "90", "1:30")] == ["2 h 30", "90 h", "1:30 h:min"]


def test_it_is_entered_from_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "b.toml"
    path.write_bytes((shipped_samples() / "garden-screwdriver-cleared.toml").read_bytes())
    assert main(["enter", str(path), "charge_time", "2 h 30", "--replace"]) == 0
    capsys.readouterr()
    assert main(["enter", str(path), "charge_time", "1 h 90 min"]) == 2
    assert "type 2 h 30 min" in capsys.readouterr().err
    assert read_build(path).build.entry("charge_time").standing[-1].text == "2 h 30"
