"""What may be typed as a quantity, and what every refusal says."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack import units
from buildtrack.units import QuantityError, other_currency, parse

UNDERSTOOD = [
    ("3.3", "voltage", "", 3.3), ("3,3", "voltage", "", 3.3), ("3.3V", "voltage", "", 3.3), ("3300 mV", "voltage", "", 3.3),
    ("2.6Ah", "capacity", "mAh", 2.6), ("2600 mAh", "capacity", "mAh", 2.6), ("2600", "capacity", "mAh", 2.6),
    ("45 mΩ", "resistance", "mΩ", 0.045), ("45 mohm", "resistance", "mΩ", 0.045), ("45", "resistance", "mΩ", 0.045),
    ("21 °C", "temperature", "°C", 21.0), ("21", "temperature", "°C", 21.0), ("70 °F", "temperature", "°C", 190 / 9),
    ("+0.5", "voltage", "", 0.5), ("-0.5", "voltage", "", -0.5), ("−0.5", "voltage", "", -0.5),
    ("1.2e3", "resistance", "Ω", 1200.0), ("0,125", "current", "A", 0.125), (".5", "voltage", "", 0.5),
    ("80", "ratio", "%", 0.8), ("12", "count", "", 12.0), ("2 C", "c_rate", "C", 2.0), ("18 µA", "current", "A", 18e-6),
    ("18 uA", "current", "A", 18e-6), ("1.5 mm²", "area", "mm²", 1.5), ("1.5 mm2", "area", "mm²", 1.5),
    ("10 min", "time", "s", 600.0), ("2 d", "time", "s", 172800.0), ("12.50 €", "money", "", 12.5),
    ("3.3 V", "voltage", "", 3.3),
]


@pytest.mark.parametrize(("text", "dimension", "unit", "value"), UNDERSTOOD)
def test_what_a_maker_types_is_understood(text: str, dimension: str, unit: str, value: float) -> None:
    assert units.parse(text, dimension, unit).value == pytest.approx(value, rel=1e-12)


def test_a_wire_gauge_is_its_area_by_astm_b258() -> None:
    """AWG 14 is 2.0809 mm² and AWG 20 is 0.5176 mm² (ASTM B258 formula, table as printed in handbooks)."""
    assert units.parse("AWG 14", "area").value == pytest.approx(2.0809, abs=5e-5)
    assert units.parse("20 awg", "area").value == pytest.approx(0.5176, abs=5e-5)


REFUSED = [
    ("1x", "voltage", "'x' is not a unit that fits here: expected a voltage in V"),
    ("12 cells", "capacity", "'cells' is not a unit that fits here"), ("", "voltage", "nothing typed"), ("1,234", "voltage", "1234 or 1.234"), ("1_000", "voltage", "more than one number"),
    ("nan", "voltage", "does not begin with a number"), ("inf V", "voltage", "does not begin with a number"),
    ("３.３", "voltage", "plain digit"), ("1 2 V", "voltage", "more than one number"), ("10 10 V", "voltage", "one number"),
    ("3 Ah", "voltage", "is a capacity"), ("3 V", "capacity", "is a voltage"), ("1.234,5", "voltage", "one number"),
    ("3.3 bananas", "voltage", "not a unit that fits"), ("2.5", "count", "whole number"), ("5 MV", "voltage", "not a unit"),
    ("9**9**9 V", "voltage", "not a unit"), ("1e999 V", "voltage", "beyond anything"), ("3.3\n3.4", "voltage", "one line"),
    ("3.3V3.4V", "voltage", "not a unit"), ("x" * 10_000, "voltage", "10000 characters"), ("2C", "current", "C-rate"),
    ("3.6 ± 0.05 V", "voltage", "not a unit"), ("__import__('os')", "voltage", "does not begin"), ("AWG 99", "area", "AWG 14"),
    ("3 3", "voltage", "more than one"), ("--3", "voltage", "does not begin"),
]


@pytest.mark.parametrize(("text", "dimension", "says"), REFUSED)
def test_a_refusal_says_what_is_wrong_and_what_would_be_right(text: str, dimension: str, says: str) -> None:
    with pytest.raises(units.QuantityError, match=r"\S") as refusal:
        units.parse(text, dimension)
    sentence = str(refusal.value)
    assert says in sentence
    assert len(sentence) < 250 and "\n" not in sentence


@given(st.text(max_size=80), st.sampled_from(sorted(units.dimensions())))
@settings(max_examples=400, deadline=None, derandomize=True)
def test_no_text_raises_anything_but_a_refusal(text: str, dimension: str) -> None:
    try:
        value = units.parse(text, dimension).value
    except units.QuantityError:
        return
    assert math.isfinite(value)


@given(st.floats(-9999, 9999), st.sampled_from([",", "."]), st.sampled_from(["V", "mV", " V", ""]))
@settings(max_examples=300, deadline=None, derandomize=True)
def test_both_decimal_marks_mean_the_same(number: float, mark: str, unit: str) -> None:
    text = f"{number:.2f}"
    assert units.parse(text.replace(".", mark) + unit, "voltage").value == units.parse(text + unit, "voltage").value


@pytest.mark.parametrize("dimension", sorted(units.dimensions()))
def test_every_factor_is_what_the_pint_registry_says(dimension: str) -> None:
    """pint with the definitions of units.txt is the reference for spellings.toml."""
    registry = units.registry()
    canonical = {"ratio": "", "count": "", "c_rate": "1/hour"}.get(dimension)
    units_here = units.dimensions()[dimension].units
    target = units_here[0].pint if canonical is None else canonical
    for unit in units_here:
        expected = registry.Quantity(50.0, unit.pint).to(target).magnitude
        assert (50.0 + unit.offset) * unit.factor == pytest.approx(expected, rel=1e-9), unit.show


def test_the_step_of_the_last_digit_is_known() -> None:
    assert units.parse("3.300 V", "voltage").step == pytest.approx(0.001)
    assert units.parse("45 mΩ", "resistance").step == pytest.approx(0.001)


@pytest.mark.parametrize(("value", "unit", "plus_minus", "shown"), [
    (12.6, "V", None, "12.60 V"), (0.0365, "mΩ", None, "36.50 mΩ"), (28.7123, "A", 0.34, "28.71 ± 0.34 A"),
    (0.0365, "mΩ", 0.0007, "36.50 ± 0.70 mΩ"), (3.79912, "mAh", 0.041, "3799 ± 41 mAh"), (0.0, "V", None, "0 V"),
    (0.863, "%", None, "86.30 %"), (21.0, "°F", None, "69.80 °F"),
])
def test_values_are_shown_with_their_uncertainty_to_two_digits(
        value: float, unit: str, plus_minus: float | None, shown: str) -> None:
    assert units.show(value, unit, plus_minus) == shown


@given(st.floats(0.0001, 9999.0), st.sampled_from(["V", "mV"]))
@settings(max_examples=200, deadline=None, derandomize=True)
def test_what_is_shown_reads_back_as_the_same_value(value: float, unit: str) -> None:
    again = units.parse(units.show(value, unit, digits=9), "voltage").value
    assert again == pytest.approx(value, rel=1e-8)


@pytest.mark.parametrize(("value", "unit", "shown"), [(2.0, "V", "2 V"), (0.0365, "mΩ", "36.5 mΩ"), (12.34567, "V", "12.3457 V")])
def test_a_short_value_is_as_one_would_type_it(value: float, unit: str, shown: str) -> None:
    assert units.short(value, unit) == shown


@pytest.mark.parametrize(("value", "unit", "digits", "shown"), [
    (4.172 - 4.168, "mV", 4, "4 mV"), (0.073, "mV", 4, "73 mV"), (18.0, "min", 4, "0.3 min"), (4.5 * 86400, "d", 3, "4.5 d"),
    (0.0123456, "mV", 4, "12.35 mV"), (0.0239999, "mV", 4, "24.00 mV"), (12.6, "V", 4, "12.60 V")])
def test_a_difference_of_readings_has_no_zeros_that_nobody_read(value: float, unit: str, digits: int, shown: str) -> None:
    assert units.show(value, unit, digits=digits) == shown


def test_one_thing_is_not_several() -> None:
    assert [units.counted(n, "row") for n in (0, 1, 2)] == ["0 rows", "1 row", "2 rows"]


def test_rounding_of_the_computer_is_shown_as_nothing() -> None:
    assert units.show(2.22e-16, "%") == "0 %"
    assert units.show(18e-6, "A") == "0.00001800 A"


@pytest.mark.parametrize(("typed", "seconds"), [
    ("5 h 5 min", 18300.0), ("5h5min", 18300.0), ("1 d 2 h", 93600.0), ("2 min 30 s", 150.0), ("1 h 00 min", 3600.0)])
def test_a_length_of_time_may_be_told_in_hours_and_minutes(typed: str, seconds: float) -> None:
    found = parse(typed, "time", "min")
    assert found.value == seconds


@pytest.mark.parametrize("typed", ["5 min 5 h", "5 h 5 h", "5 h 5 V"])
def test_parts_of_a_time_that_do_not_follow_each_other_are_refused(typed: str) -> None:
    with pytest.raises(QuantityError):
        parse(typed, "time", "h")


def test_kiloohms_may_be_written_as_meters_show_them() -> None:
    assert parse("10.2k", "resistance").value == 10200.0


@pytest.mark.parametrize(("typed", "currency", "fits"), [
    ("3.40 USD", "EUR", False), ("3.40 EUR", "EUR", True), ("3,40 €", "EUR", True), ("3.40", "EUR", True),
    ("3.40 USD", "", True), ("3.40 money", "EUR", True), ("3.40 $", "€", False), ("1e1 USD", "EUR", False), ("−5 USD", "EUR", False), ("3.40 EUR", "kr", False)])
def test_an_amount_in_another_currency_than_the_builds_is_refused(typed: str, currency: str, fits: bool) -> None:
    told = other_currency(typed, currency)
    assert (told == "") == fits
    if not fits:
        assert f"is not in {currency}" in told
