"""The ± of workings is worked out when it is asked for: it is what pushing every source at once would have given."""

from __future__ import annotations

import math
import threading
from collections.abc import Mapping
from datetime import datetime
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.checks.ruling import combined_spread
from buildtrack.model.edit import Hand
from buildtrack.workings.graph import Sheet, Working, needs
from buildtrack.workings.registry import refresh, sheet_of
from buildtrack.workings.spread import Carried
from buildtrack.workings.values import Failed, Known, Missing, Table, Value, WithSpread
from tests.sample_edits import DRAWS, SAMPLES, Draw, edited, sample

KINK = 2.0


def pushed(value: Known, spread: Mapping[str, float], source: str, sign: float) -> Any:
    if isinstance(value.value, float):
        return value.value + sign * spread.get(source, 0.0)
    return value.value.pushed(source, sign) if isinstance(value.value, Table) else value.value


def by_force(working: Working, given_: Mapping[str, Known]) -> Mapping[str, float]:
    """The ± of a number with nothing left out: every source of every input, and of every table, pushed up and down.

    The rule of kinks is that of the page on ± (record/more_tables.py): the larger side counts, of several one.
    """
    result = working.fn(**{n: v.value for n, v in given_.items()})
    if isinstance(result, WithSpread):
        return result.spread
    if isinstance(result, bool) or not isinstance(result, (int, float)):
        return {}
    carrying = {s for v in given_.values() for s in v.spread}
    if working.tables:
        carrying |= {s for v in given_.values() if isinstance(v.value, Table) for s in v.value.errors}
    found: dict[str, float] = {}
    kinks: dict[int, list[tuple[float, str]]] = {1: [], -1: [], 0: []}
    for source in sorted(carrying):
        sides: list[float | None] = []
        for sign in (1.0, -1.0):
            try:
                moved = working.fn(**{n: pushed(v, v.spread, source, sign) for n, v in given_.items()})
            except (ValueError, ArithmeticError):
                moved = None
            sides.append(None if moved is None else moved - result)
        up, down = sides[0], None if sides[1] is None else -sides[1]
        if up is None or down is None:
            change = up if up is not None else down or 0.0
        elif max(abs(up), abs(down)) > KINK * min(abs(up), abs(down)) or up * down < 0:
            change = 0.0
            way = 0 if up * down < 0 else 1 if up + down > 0 else -1
            kinks[way].append((max(up, down, key=abs), f"{source}, kink of {working.id}"))
        else:
            change = (up + down) / 2
        if change:
            found[source] = change
    for way, most in ((1, 1), (-1, 1), (0, 2)):
        found |= {name: error for error, name in sorted(kinks[way], key=lambda k: -abs(k[0]))[:most]}
    return found


def all_by_force(sheet: Sheet) -> dict[str, Mapping[str, float]]:
    """Every ± of a sheet, from its own inputs up, by evaluations of this file."""
    values: dict[str, Value] = {n: v for n, v in sheet.values.items() if n not in sheet.workings}
    found: dict[str, Mapping[str, float]] = {}
    left = dict(sheet.workings)
    while left:
        for name in [n for n, w in left.items() if not any(need in left for need in needs(w))]:
            working, value = left.pop(name), sheet.values[name]
            if isinstance(value, Known):
                used = {n: v for n in needs(working) if isinstance(v := values.get(n), Known)}
                found[name] = by_force(working, used)
                value = Known(value.value, found[name], value.value_class)
            values[name] = value
    return found


EDITS = settings(derandomize=True, deadline=None, max_examples=25)


@EDITS
@given(st.sampled_from(SAMPLES), st.lists(st.tuples(DRAWS, st.integers(0, 3)), max_size=6))
def test_after_any_edits_of_a_sample_values_and_errors_are_those_of_all_evaluated_at_once(
        name: str, changes: list[tuple[Draw, int]]) -> None:
    build, checklist, _ = sample(name)
    at = build.history[-1].at
    assert isinstance(at, datetime)
    sheet = sheet_of(build, checklist, at.date())
    for draw, looked in changes:
        for number, value in enumerate(sheet.values.values()):
            if looked and number % (2 * looked) == 0 and isinstance(value, Known):
                assert value.plus_minus is None or value.plus_minus >= 0  # somebody looks at some of them between edits
        build = edited(build, checklist, draw, Hand(at))
        refresh(sheet, build, checklist, at.date())
    fresh = sheet_of(build, checklist, at.date())
    assert {n: type(v) for n, v in sheet.values.items()} == {n: type(v) for n, v in fresh.values.items()}
    assert sheet.values == fresh.values
    wanted = all_by_force(fresh)
    for of in (sheet, fresh):
        assert {n: dict(v.spread) for n, v in of.values.items() if n in of.workings and isinstance(v, Known)} == wanted
    assert any(wanted.values()), "some working carries an error"


def product(a: float, b: float) -> float:
    return a * b


def shown_only(product: float) -> float:
    return product + 1.0


WORKINGS = tuple(Working(f, "step", f.__name__, "", "", "definition", expression=False) for f in (product, shown_only))
READ: Mapping[str, Value] = {"a": Known(3.0, {"meter": 0.5, "own a": 0.25}), "b": Known(4.0, {"meter": 0.5})}


def test_nothing_is_pushed_before_the_error_is_looked_at() -> None:
    value = Sheet(WORKINGS, READ).values["shown_only"]
    assert isinstance(value, Known) and isinstance(value.spread, Carried)
    assert value.value == 13.0
    # by hand: meter (3.5 * 4.5 - 2.5 * 3.5) / 2, and a alone (3.25 * 4 - 2.75 * 4) / 2
    assert value.spread == {"meter": 3.5, "own a": 1.0}
    assert dict(value.spread) == value.spread
    assert repr(value.spread) == "{'meter': 3.5, 'own a': 1.0}"
    assert (len(value.spread), value.spread.get("other"), value.spread["meter"]) == (2, None, 3.5)


def test_a_value_that_stays_with_another_error_counts_as_changed() -> None:
    """3 × 4 = 12 as before, but read with a better meter."""
    sheet = Sheet(WORKINGS, READ)
    assert sheet.set({"a": Known(3.0, {"meter": 0.1})}) == ["a", "product", "shown_only"]
    assert sheet.set({"a": Known(3.0, {"meter": 0.1})}) == []


def test_two_threads_that_look_at_once_see_the_same() -> None:
    for _ in range(50):
        value = Sheet(WORKINGS, READ).values["shown_only"]
        assert isinstance(value, Known)
        both = threading.Barrier(2)
        seen: list[dict[str, float]] = []

        def look(of: Known = value, both: threading.Barrier = both, seen: list[dict[str, float]] = seen) -> None:
            both.wait()
            seen.append(dict(of.spread))

        threads = [threading.Thread(target=look) for _ in range(2)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert seen == [{"meter": 3.5, "own a": 1.0}] * 2


def test_a_refused_or_missing_value_has_no_error_to_look_at() -> None:
    def root(a: float) -> float:
        if a < 0:
            raise ValueError("a must not be below 0")
        return math.sqrt(a)

    working = Working(root, "step", "", "", "", "definition", expression=False)
    assert Sheet((working,), {"a": Known(-1.0, {"m": 2.0})}).values["root"] == Failed("root", "a must not be below 0")
    assert Sheet((working,), {"a": Missing(frozenset({"a"}))}).values["root"] == Missing(frozenset({"a"}))
    at_the_edge = Sheet((working,), {"a": Known(1.0, {"m": 3.0})}).values["root"]
    assert isinstance(at_the_edge, Known)
    assert at_the_edge.spread == {"m": 1.0}, "down to -2 is refused; up to 4 the root is 1 more"


@pytest.mark.parametrize("place", [0, 50, 99])
def test_the_spread_of_a_difference_is_the_exact_sum_whatever_the_order_of_its_sources(place: int) -> None:
    """A hundred small errors beside a large one: added one by one behind it each would be rounded away."""
    left = {f"meter {n:02}": 1.0 if n == place else 1e-8 for n in range(100)}
    exact = sum((Fraction(v * v) for v in left.values()), Fraction())
    assert combined_spread(left, {}) == combined_spread({}, left) == math.sqrt(float(exact))
    assert Known(0.0, left).plus_minus == math.sqrt(float(exact))
