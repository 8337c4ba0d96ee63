"""Days as they are typed: what can mean only one day is read, what could mean two is refused with both."""

from __future__ import annotations

from datetime import date

import pytest

from buildtrack.bench.csv_rows import ROW_NAME, Sheet, plan
from buildtrack.bench.entry import try_column
from buildtrack.bench.pasted_block import share_block
from buildtrack.model.checklist import Column
from buildtrack.workings.inputs import parse_date
from tests.bench_walk import NOW, Clock, Walk, walk
from tests.test_bench_typing_ahead import table
from tests.test_recheck_dates import CHECKLIST, kept

DAY = Column(id="on", label="Date", kind="date", required=True)


@pytest.mark.parametrize("text", ["2026-11-27", "27.11.2026", "27/11/2026", "11/27/2026", "27-11-2026", "2026/11/27",
                                  "2026.11.27", " 2026-11-27 "])
def test_what_can_mean_only_one_day_is_read(text: str) -> None:
    assert parse_date(text) == date(2026, 11, 27)


def test_with_dots_the_day_stands_first_and_equal_numbers_are_no_question() -> None:
    assert parse_date("5.6.2026") == date(2026, 6, 5)
    assert parse_date("6/6/2026") == date(2026, 6, 6)


@pytest.mark.parametrize(("text", "said"), [
    ("5/6/2026", "'5/6/2026' could be 5 June or 6 May: write 2026-06-05 or 2026-05-06"),
    ("27.11.26", "'27.11.26': write the year with four digits"),
    ("31.02.2026", "'31.02.2026' is no day of the calendar"),
    ("2026-02-30", "'2026-02-30' is no day of the calendar"),
    ("13/13/2026", "'13/13/2026' is no day of the calendar"),
    ("27/11.2026", "'27/11.2026' is not a date"),
    ("soon", "'soon' is not a date"),
    ("", "'' is not a date"),
])
def test_what_cannot_be_one_day_is_refused_with_what_would_be_right(text: str, said: str) -> None:
    with pytest.raises(ValueError, match="date|year|day|write") as refused:
        parse_date(text)
    assert str(refused.value).startswith(said)


def test_typed_pasted_and_imported_days_are_read_alike() -> None:
    assert try_column(DAY, "27/11/2026").refused == "" and "could be" in try_column(DAY, "5/6/2026").refused
    shared = share_block("27/11/2026\n5/6/2026", ["a1", "a2"], [DAY], 0, 0)
    assert [f.text for f in shared.fields] == ["27/11/2026"] and "could be" in shared.apart[0].note
    planned = plan(Sheet(("row", "Date"), (("a1", "27/11/2026"), ("a2", "5/6/2026"))), (ROW_NAME, "on"), [DAY], [], "a")
    assert [f.text for f in planned.fields] == ["27/11/2026"] and "line 3" in planned.refused[0]


def test_the_example_of_a_day_is_today() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "rechecks")
        screen.grid.go(0, 0)
        await w.settle()
        assert screen.field.placeholder == "type a date like 2027-03-09"
        await w.press("9")
        await w.type(" March")
        assert "'9 March' is not a date: write it like 2027-03-09" in screen.told

    walk(steps, kept("2026-11-24", "4.10"), CHECKLIST, clock=Clock(NOW.replace(year=2027, month=3, day=9)))
