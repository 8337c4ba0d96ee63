"""What an instrument's accuracy statement makes of a reading, against the printed examples of meter makers."""

from __future__ import annotations

import math

import pytest

from buildtrack import units
from buildtrack.model.instruments import Instrument, contributions, instruments, parse_accuracy, pick
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.workings.inputs import item_value
from buildtrack.workings.values import Known
from tests.make import build_with

PRINTED = [
    # reading, accuracy as written, step of the display, printed limits of error, where it was seen
    (2.000, "0.08 % + 2 digits", 0.001, 0.0036, "Sanwa PC510a: 2.000 V reads 1.9964 V to 2.0036 V"),
    (2.000, "0.5 % + 3", 0.001, 0.013, "multimeter maker's note: 2 V reads 1.987 V to 2.013 V"),
    (100.0, "1 % + 2", 0.1, 1.2, "multimeter maker's note: 100.0 V reads 98.8 V to 101.2 V"),
]


@pytest.mark.parametrize(("reading", "accuracy", "step", "printed", "source"), PRINTED)
def test_share_and_counts_add_up_as_printed(
        reading: float, accuracy: str, step: float, printed: float, source: str) -> None:
    meter = Instrument("m1-a", "m1", "multimeter", "voltage", None, step, parse_accuracy(accuracy, "voltage"))
    limits = contributions(meter, reading, step, "here")
    assert max(limits.values()) == pytest.approx(printed, rel=1e-9), source
    own = step / 2
    assert Known(reading, limits).plus_minus == pytest.approx(math.hypot(printed, own))


@pytest.mark.parametrize(("text", "share", "counts", "fixed"), [
    ("0.5 % + 3 digits", 0.005, 3.0, 0.0), ("±1 %", 0.01, 0.0, 0.0), ("2 %+5", 0.02, 5.0, 0.0), ("0.02 V", 0.0, 0.0, 0.02),
    ("0,5 % + 2 dgt", 0.005, 2.0, 0.0), ("(0.1 % + 10 mV)", 0.001, 0.0, 0.01),
])
def test_accuracy_is_read_as_meter_makers_write_it(text: str, share: float, counts: float, fixed: float) -> None:
    found = parse_accuracy(text, "voltage")
    assert (found.share, found.counts, found.fixed) == pytest.approx((share, counts, fixed))


@pytest.mark.parametrize("text", ["good", "1 A", "0.5 % and 3", ""])
def test_what_is_no_accuracy_is_refused(text: str) -> None:
    with pytest.raises(units.QuantityError, match="not an accuracy"):
        parse_accuracy(text, "voltage")


ROWS = [
    {"id": "m1-6v", "meter": "m1", "quantity": "voltage", "range": "6 V", "resolution": "1 mV", "accuracy": "0.5 % + 3 digits"},
    {"id": "m1-60v", "meter": "m1", "quantity": "voltage", "range": "60 V", "resolution": "10 mV", "accuracy": "0.5 % + 3 digits"},
]


def test_a_meter_named_alone_means_its_smallest_fitting_range() -> None:
    checklist = find_checklist("nickel-tool-pack")
    listed = instruments(build_with({"instruments": ROWS}, checklist))
    chosen = [pick(listed, "m1", "voltage", v) for v in (4.2, 12.6)]
    assert [c.id for c in chosen if c] == ["m1-6v", "m1-60v"]
    assert pick(listed, "m1", "current", 1.0) is None


def test_a_reading_carries_the_error_of_the_range_it_names() -> None:
    """0.5 % of 12.60 V and 3 counts of 10 mV are 93 mV (hand arithmetic); half a count is the reading's own."""
    checklist = find_checklist("nickel-tool-pack")
    build = build_with({"charger_open_voltage": "12.60 V"}, checklist, "m1-60v")
    listed = instruments(build_with({"instruments": ROWS}, checklist))
    value = item_value(checklist.items["charger_open_voltage"], build.entry("charger_open_voltage"), listed)
    assert isinstance(value, Known)
    assert value.plus_minus == pytest.approx(math.hypot(0.093, 0.005))
