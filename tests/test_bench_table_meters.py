"""A table says which instrument stamps its readings, and where a listed one fits better; limits worked out by hand."""

from __future__ import annotations

import pytest

from buildtrack.bench.meters import Meter, meter_of, meter_words
from buildtrack.bench.screens.ask import AskOne
from buildtrack.model.build import Cell, Entry, Row
from buildtrack.model.checklist import Column, Span
from tests.bench_walk import Walk, walk
from tests.test_bench_entry import CHECKLIST, SIZES
from tests.test_bench_guidance import READY, with_entries
from tests.test_bench_typing_ahead import table

VOLTS = Column("arrival_voltage", "Voltage as it arrived", kind="reading", unit="V", dimension="voltage",
               plausible=Span(2.0, 4.0))


def meters(*rows: tuple[str, str, str, str]) -> Entry:
    """Instruments for voltage: id, range, step, accuracy."""
    return Entry(rows=tuple(
        Row(name, {"meter": Cell(f"{name} meter"), "quantity": Cell("voltage"), "range": Cell(top),
                   "resolution": Cell(step), "accuracy": Cell(accuracy)})
        for name, top, step, accuracy in rows))  # fmt: skip


COARSE = ("m1", "20 V", "10 mV", "1 % + 2")  # at 4 V: 40 + 20 + half a step 5 = 65 mV
FINE = ("m2", "6 V", "1 mV", "0.1 % + 2")  # at 4 V: 4 + 2 + 0.5 = 6.5 mV
SHORT = ("m3", "2 V", "1 mV", "0.1 % + 2")
UNKNOWN = ("m4", "20 V", "10 mV", "")


@pytest.mark.parametrize(("listed", "name", "better", "why"), [
    ((COARSE, FINE), "m1", "m2", "±0.0065 V instead of ±0.065 V"),
    ((COARSE, FINE), "m2", "", ""),
    ((FINE, SHORT), "m3", "m2", "m3 ends at 2 V"),
    ((COARSE, SHORT), "m1", "", ""),  # the other one does not reach 4 V
    ((UNKNOWN, COARSE), "m4", "m1", "its accuracy is known"),
    ((UNKNOWN, ("m5", "20 V", "10 mV", "")), "m4", "", "")])
def test_the_listed_instrument_that_fits_better(
    listed: tuple[tuple[str, str, str, str], ...], name: str, better: str, why: str
) -> None:
    found = meter_of(with_entries(READY, instruments=meters(*listed)), VOLTS, name, "")
    assert (found.better, found.why) == (better, why)


def test_what_stands_in_the_field_tells_what_is_to_be_reached() -> None:
    build = with_entries(READY, instruments=meters(FINE, COARSE))
    assert meter_of(build, VOLTS, "m2", "12").better == "m1"


@pytest.mark.parametrize("room", range(0, 90, 7))
def test_the_line_is_never_cut(room: int) -> None:
    for meter in (Meter("m1", "red meter", "m2", "±5 mV instead of ±65 mV", True), Meter("m1", "red meter"), Meter("")):
        assert len(meter_words(meter, room, "i")) <= room


@SIZES
def test_the_current_column_names_its_instrument_the_better_one_and_the_key(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        assert "with m1" not in w.text(), "a column of words is read with nothing"
        screen.grid.go(0, [c.id for c in screen.columns].index("arrival_voltage"))
        await w.settle()
        assert "no instrument named: i names one" in w.text()
        await w.press("i")
        assert isinstance(w.screen, AskOne)
        await w.press("1")
        assert "with m1" in w.text() and "i" in w.text() and "m2" in w.text()
        await w.press("i", "2")
        assert "read with m2" in w.text() and "i changes it" in w.text()
        await w.press("3")
        assert "read with m2" in w.text() and "changes it" not in w.text(), "in an open field i is a letter"

    build = with_entries(READY, instruments=meters(COARSE, FINE), candidates=Entry(rows=(Row("c01"),)))
    walk(steps, build, CHECKLIST, size=size)
