"""The graph: edits recompute to what a fresh evaluation gives; formulas say what the code does, in the right unit."""

from __future__ import annotations

import ast
import math
import random
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack import units
from buildtrack.workings.explain import explain
from buildtrack.workings.graph import GraphError, Sheet, Working, needs, required
from buildtrack.workings.inputs import build_inputs
from buildtrack.workings.registry import all_workings, sheet_of
from buildtrack.workings.values import Failed, Known, Missing, Record, Table, Value, WithSpread
from tests.front import SOUND, build, checklist
from tests.make import NOW

# --- a small graph of our own ---


def total(a: float, b: float) -> float:
    return a + b


def ratio(total: float, c: float) -> float:
    if c == 0:
        raise ValueError("c must not be 0")
    return total / c


def lifted(a: float, d: float = 10.0) -> float:
    return a + d


def rounded(total: float) -> float:
    return float(round(total))


def parity(rounded: float) -> float:
    return rounded % 2


def last(ratio: float, lifted: float, parity: float) -> float:
    return ratio + lifted + parity


def nothing_yet(c: float) -> float | None:
    return None if c > 50 else c


def beyond(d: float) -> float:
    return 1e308 * 10 * d


def working(fn: Callable[..., Any]) -> Working:
    return Working(fn, "step", fn.__name__, "", "", "definition", expression=False)


SMALL = tuple(working(f) for f in (last, parity, rounded, lifted, ratio, total, nothing_yet, beyond))
ROOTS = ("a", "b", "c", "d")
values = st.one_of(
    st.integers(-100, 100).map(lambda n: Known(float(n), {"m scale": 0.5} if n % 3 == 0 else {})),
    st.just(None))


def inputs_of(given_: Mapping[str, Known | None]) -> dict[str, Value]:
    return {n: given_.get(n) or Missing(frozenset({n})) for n in ROOTS}


edits = st.lists(st.dictionaries(st.sampled_from(ROOTS), values, min_size=1), max_size=8)


@settings(derandomize=True, deadline=None, max_examples=150)
@given(st.fixed_dictionaries({n: values for n in ROOTS}), edits)
def test_after_any_edits_the_values_are_those_of_a_fresh_sheet(start: dict[str, Known | None],
                                                             changes: list[dict[str, Known | None]]) -> None:
    state = inputs_of(start)
    sheet = Sheet(SMALL, state)
    for change in changes:
        new = {n: v or Missing(frozenset({n})) for n, v in change.items()}
        state.update(new)
        before = dict(sheet.values)
        changed = sheet.set(new)
        assert sheet.values == Sheet(SMALL, state).values
        assert set(changed) == {n for n in before if before[n] != sheet.values[n]}
        assert len(changed) == len(set(changed))
        for name in set(before) - set(changed):
            assert sheet.values[name] is before[name]


def roots_without(name: str, absent: set[str]) -> set[str]:
    found = {w.id: w for w in SMALL}.get(name)
    if found is None:
        return {name} & absent
    return set().union(*(roots_without(n, absent) for n in required(found))) if required(found) else set()


@settings(derandomize=True, deadline=None, max_examples=80)
@given(st.sets(st.sampled_from(ROOTS)))
def test_a_missing_value_names_exactly_the_absent_roots(absent: set[str]) -> None:
    sheet = Sheet(SMALL, inputs_of({n: None if n in absent else Known(2.0) for n in ROOTS}))
    for found in SMALL:
        wanted = roots_without(found.id, absent)
        value = sheet.value(found.id)
        if wanted:
            assert value == Missing(frozenset(wanted)), found.id
        else:
            assert not isinstance(value, Missing), found.id


def test_a_missing_optional_input_leaves_its_default() -> None:
    assert Sheet(SMALL, inputs_of({"a": Known(1.0)})).number("lifted") == 11.0


def test_a_failure_stays_with_what_rests_on_it() -> None:
    sheet = Sheet(SMALL, inputs_of({n: Known(v) for n, v in {"a": 1.0, "b": 2.0, "c": 0.0, "d": 1.0}.items()}))
    assert sheet.value("ratio") == Failed("ratio", "c must not be 0")
    assert sheet.value("last") == Failed("ratio", "c must not be 0")
    assert sheet.number("lifted") == 2.0 and sheet.number("parity") == 1.0


def test_a_result_that_is_no_finite_number_is_a_failure() -> None:
    value = Sheet(SMALL, inputs_of({"d": Known(1.0)})).value("beyond")
    assert isinstance(value, Failed) and "finite" in value.why


def test_nothing_to_say_yet_counts_as_missing() -> None:
    assert Sheet(SMALL, inputs_of({"c": Known(60.0)})).value("nothing_yet") == Missing(frozenset({"c"}))


def test_a_bug_is_not_hidden_as_a_value() -> None:
    def broken(a: float) -> float:
        return a + "1"  # type: ignore[operator]

    with pytest.raises(TypeError):
        Sheet((working(broken),), {"a": Known(1.0)})


def test_a_guess_below_makes_everything_above_a_guess() -> None:
    sheet = Sheet(SMALL, inputs_of({"a": Known(1.0, {}, "guessed"), "b": Known(2.0)}))
    value = sheet.value("total")
    assert isinstance(value, Known) and value.value_class == "guessed"


def test_what_two_inputs_share_adds_up_and_what_they_do_not_is_squared() -> None:
    # GUM 5.2.2: fully correlated contributions add; 5.1.2: independent ones as root of the sum of squares
    shared = Sheet(SMALL, inputs_of({"a": Known(1.0, {"m": 3.0}), "b": Known(1.0, {"m": 4.0})})).value("total")
    apart = Sheet(SMALL, inputs_of({"a": Known(1.0, {"m": 3.0}), "b": Known(1.0, {"n": 4.0})})).value("total")
    assert isinstance(shared, Known) and isinstance(apart, Known)
    assert shared.plus_minus == pytest.approx(7.0) and apart.plus_minus == pytest.approx(5.0)


def test_where_another_reading_takes_over_the_larger_side_tells_the_limit_of_error() -> None:
    """25.4 from an exact record beside 25 ± 1.5 by hand: the highest lies between 25.4 and 26.5, so ± is 1.1."""
    def highest(a: float, b: float) -> float:
        return max(a, b)

    found = Sheet((working(highest),), inputs_of({"a": Known(25.0, {"m": 1.5}), "b": Known(25.4)})).value("highest")
    level = Sheet((working(highest),), inputs_of({"a": Known(2.0, {"m": 0.3}), "b": Known(2.0)})).value("highest")
    assert isinstance(found, Known) and found.plus_minus == pytest.approx(1.1)
    assert isinstance(level, Known) and level.plus_minus == pytest.approx(0.3)


def test_the_distance_of_two_equal_readings_is_as_unsure_as_that_of_two_others() -> None:
    """Highest minus lowest of two readings, each off by 5 mV on its own: 5 mV and 5 mV added in squares, by hand."""
    def apart(a: float, b: float) -> float:
        return max(a, b) - min(a, b)

    found = Sheet((working(apart),), inputs_of({"a": Known(4.0, {"m": 0.005}), "b": Known(4.0, {"n": 0.005})})).value("apart")
    assert isinstance(found, Known) and found.plus_minus == pytest.approx(0.005 * 2**0.5)


def test_the_lowest_of_three_equal_readings_is_as_sure_as_one_of_them() -> None:
    """Three readings of 4.000 V, each off by 5 mV at most on its own: the lowest lies within 5 mV."""
    def lowest(a: float, b: float, c: float) -> float:
        return min(a, b, c)

    read = {name: Known(4.0, {f"m{name}": 0.005}) for name in "abc"}
    found = Sheet((working(lowest),), inputs_of(read)).value("lowest")
    assert isinstance(found, Known) and found.plus_minus == pytest.approx(0.005)


def test_an_error_at_a_kink_does_not_cancel_against_its_own_source() -> None:
    """The same thermometer reads the room: 26.5 − 24.5 or 25.4 − 21.5 K, so 2.4 K may be 1.5 K too small."""
    def highest(a: float, b: float) -> float:
        return max(a, b)

    def rise(highest: float, c: float) -> float:
        return highest - c

    found = Sheet((working(highest), working(rise)), inputs_of(
        {"a": Known(25.0, {"m": 1.5}), "b": Known(25.4), "c": Known(23.0, {"m": 1.5})})).value("rise")
    assert isinstance(found, Known) and found.plus_minus is not None and 1.5 <= found.plus_minus < 2.0


def test_a_circle_an_unknown_name_and_a_name_given_twice_are_refused() -> None:
    def hen(egg: float) -> float:
        return egg

    def egg(hen: float) -> float:
        return hen

    with pytest.raises(GraphError, match="circle"):
        Sheet((working(hen), working(egg)), {})
    with pytest.raises(GraphError, match="egg"):
        Sheet((working(hen),), {})
    with pytest.raises(GraphError, match="twice"):
        Sheet((working(total),), {"a": Known(1.0), "b": Known(1.0), "total": Known(2.0)})


# --- the whole graph of the program ---

NUMBERS = ("old_cells", "old_capacity", "series_count", "parallel_count", "cell_full", "limiter_current",
           "planned_cost", "board_cutoff", "alarm_setting", "useful_voltage", "rated_voltage",
           "nickel_charger_current", "unknown_c_rate")


@settings(derandomize=True, deadline=None, max_examples=12)
@given(st.lists(st.tuples(st.sampled_from((*NUMBERS, "candidates", "duty", "groups")), st.one_of(
    st.none(), st.integers(0, 20).map(float))), min_size=1, max_size=4))
def test_edits_of_the_real_graph_equal_a_fresh_sheet(changes: list[tuple[str, float | None]]) -> None:
    sound = dict(build_inputs(build(), checklist(), NOW.date()))
    sheet = sheet_of(build(), checklist(), NOW.date())
    state = dict(sound)
    for name, number in changes:
        table = name in ("candidates", "duty", "groups")
        new: Value = Missing(frozenset({name})) if number is None else sound[name] if table else Known(number)
        state[name] = new
        before = dict(sheet.values)
        changed = sheet.set({name: new})
        assert sheet.values == Sheet(tuple(sheet.workings.values()), state).values
        assert set(changed) == {n for n in before if before[n] != sheet.values[n]}


def absent_roots(sheet: Sheet) -> dict[str, frozenset[str]]:
    """Absent inputs under every working by its required names, reckoned apart from the sheet."""
    found: dict[str, frozenset[str]] = {}

    def roots(name: str) -> frozenset[str]:
        if name not in sheet.workings:
            value = sheet.value(name)
            return value.inputs if isinstance(value, Missing) else frozenset()
        if name not in found:
            found[name] = frozenset().union(*(roots(n) for n in required(sheet.workings[name])))
        return found[name]

    for name in sheet.workings:
        roots(name)
    return found


@pytest.mark.parametrize("left", sorted(SOUND))
def test_what_the_real_graph_needs_is_named_by_its_roots(left: str) -> None:
    sheet = sheet_of(build({left: None}), checklist(), NOW.date())
    absent = {n for n, v in sheet.values.items() if n not in sheet.workings and isinstance(v, Missing)}
    for name, roots in absent_roots(sheet).items():
        value = sheet.value(name)
        if isinstance(value, Missing):
            assert value.inputs <= absent | set(sheet.values), name
            assert roots <= value.inputs, name
        elif not isinstance(value, Failed):
            assert not roots, name


def test_a_missing_value_never_leaves_unsaid_what_it_needs() -> None:
    sheet = sheet_of(build(), checklist(), NOW.date())
    assert [n for n in sheet.workings if sheet.value(n) == Missing(frozenset())] == []


def test_an_empty_build_computes_nothing_and_fails_nowhere() -> None:
    sheet = sheet_of(build({name: None for name in SOUND}), checklist(), NOW.date())
    assert [n for n in sheet.workings if isinstance(sheet.value(n), Failed)] == []


# --- errors of tables ---


def table_of(rows: Mapping[str, Mapping[str, tuple[float, dict[str, float]]]]) -> Known:
    return Known(Table(tuple(
        Record(n, {c: v for c, (v, _) in row.items()}, {c: e for c, (_, e) in row.items()}) for n, row in rows.items())))


READ = table_of({
    "g1": {"start": (4.10, {"meter": 0.01, "own 1": 0.001}), "end": (3.10, {"meter": 0.02, "own 2": 0.002})},
    "g2": {"start": (4.14, {"meter": 0.01, "own 3": 0.001}), "end": (3.30, {"other": 0.05, "own 4": 0.004})}})


def by_column(readings: Table) -> float:
    return max(readings.numbers("start")) - min(readings.numbers("start"))


def by_row(readings: Table) -> float:
    last = readings.row("g2")
    return float(last.values["end"]) if last else 0.0


def by_everything(readings: Table) -> float:
    return float(sum(v for row in readings for v in row.values.values()))


def by_copy(readings: Table) -> float:
    return float(sum({**row.values}["end"] for row in readings))


@pytest.mark.parametrize("fn", [by_column, by_row, by_everything, by_copy])
def test_every_field_that_a_working_reads_passes_its_error_on(fn: Callable[[Table], float]) -> None:
    """Against pushing every source of the table, looked at or not."""
    working_ = Working(fn, "step", "", "V", "", "definition", expression=False, tables=True)
    value = Sheet((working_,), {"readings": READ}).value(fn.__name__)
    table = READ.value
    assert isinstance(value, Known)
    for source in ("meter", "other", "own 1", "own 2", "own 3", "own 4"):
        pushed = (fn(table.pushed(source, 1.0)) - fn(table.pushed(source, -1.0))) / 2
        assert value.spread.get(source, 0.0) == pytest.approx(pushed, abs=1e-12), source


def test_a_field_that_no_working_reads_costs_no_second_evaluation() -> None:
    calls = []

    def counted(readings: Table) -> float:
        calls.append(1)
        return by_column(readings)

    working_ = Working(counted, "step", "", "V", "", "definition", expression=False, tables=True)
    value = Sheet((working_,), {"readings": READ}).value("counted")
    assert len(calls) == 1, "its ± costs nothing until somebody asks for it"
    assert isinstance(value, Known) and value.plus_minus
    assert len(calls) == 2 + 2 * len(("meter", "own 1", "own 3")), "one that sees what is read, then two for each source"


# --- every working says what it is ---

WORKINGS = {w.id: w for w in all_workings()}
EXPRESSIONS = {n: w for n, w in WORKINGS.items() if w.expression}


def test_every_working_has_a_name_of_its_own() -> None:
    assert len(WORKINGS) == len(all_workings())
    assert len({w.label for w in WORKINGS.values()}) == len(WORKINGS)
    assert not set(WORKINGS) & set(checklist().items) and not set(WORKINGS) & set(checklist().policy)


@pytest.mark.parametrize("name", sorted(WORKINGS))
def test_every_working_has_label_formula_source_and_a_known_unit(name: str) -> None:
    found = WORKINGS[name]
    assert found.label and found.label[0] == found.label[0].upper() and found.formula and len(found.source) > 5
    assert not found.label.endswith(".")
    assert found.unit == "" or units.find_unit(found.unit) is not None
    assert found.fn.__doc__
    assert found.step in {s.id for s in checklist().steps} | {"old_pack", "taps", "hand_over"}


@cache
def dimension_of(name: str) -> str:
    """Dimension of an item, policy value or working; count where it has no unit."""
    if name in checklist().items:
        return checklist().items[name].dimension or "count"
    if name in checklist().policy:
        return checklist().policy[name].dimension
    unit = WORKINGS[name].unit if name in WORKINGS else ""
    return units.dimension_of(unit) if unit else "count"


FUNCTIONS: dict[str, Callable[..., Any]] = {
    "min": min, "max": max, "abs": abs, "round": round, "floor": math.floor, "ceil": math.ceil, "sqrt": math.sqrt,
    "exp": math.exp, "log": math.log}


def random_value(name: str, source: random.Random) -> float:
    if dimension_of(name) == "count":
        return float(source.randint(1, 12))
    return source.uniform(0.1, 10.0)


@pytest.mark.parametrize("name", sorted(EXPRESSIONS))
def test_the_formula_says_what_the_code_does(name: str) -> None:
    found, source = EXPRESSIONS[name], random.Random(name)
    compiled = compile(found.formula, name, "eval")
    agreed = 0
    for _ in range(600):
        point = {n: random_value(n, source) for n in needs(found)}
        try:
            by_code = found.fn(**point)
        except ValueError:
            continue  # a point outside the range of the working
        if isinstance(by_code, WithSpread):
            by_code = by_code.value
        by_text = eval(compiled, {"__builtins__": {}}, {**FUNCTIONS, **point})
        assert by_text == pytest.approx(by_code, rel=1e-9, abs=1e-12)
        agreed += 1
        if agreed == 60:
            break
    assert agreed >= 20, f"only {agreed} points lie in its range"


@pytest.mark.parametrize("name", sorted(EXPRESSIONS))
def test_the_formula_uses_every_input_and_no_other_name(name: str) -> None:
    found = EXPRESSIONS[name]
    used = {n.id for n in ast.walk(ast.parse(found.formula, mode="eval")) if isinstance(n, ast.Name)}
    assert used - set(FUNCTIONS) == set(needs(found))


# --- dimensions ---

CONSTANTS = {
    "label_cells": {1.2: "V"}, "old_nominal_voltage": {1.2: "V"}, "old_full_voltage": {1.45: "V"},
    "old_empty_voltage": {1.0: "V"}, "highest_series": {1.45: "V"}, "old_energy": {1.2: "V"},
    "old_missing_cells": {1.3: "V"}, "charge_time_estimate": {1.2: "h", 3600: "s/h"}}
"""Numbers in formulas that carry a unit: voltages of one nickel cell, the tail of a charge, seconds of an hour."""


class _Units(ast.NodeTransformer):
    """Puts the unit to every number of a formula that carries one."""

    def __init__(self, constants: Mapping[float, str]) -> None:
        self.constants = constants

    def visit_Constant(self, node: ast.Constant) -> ast.expr:
        if isinstance(node.value, int | float) and node.value in self.constants:
            call = ast.Call(ast.Name("quantity", ast.Load()), [node, ast.Constant(self.constants[node.value])], [])
            return ast.copy_location(call, node)
        return node


def quantity(value: float, unit: str) -> Any:
    return units.registry().Quantity(value, unit)


def pint_unit(name: str) -> str:
    dimension = dimension_of(name)
    return "K" if dimension == "temperature" else units.dimensions()[dimension].units[0].pint


def plain(fn: Callable[[float], float]) -> Callable[[Any], Any]:
    """A function of numbers, of a quantity that must have no dimension."""
    return lambda q: fn(q.to("").magnitude if hasattr(q, "magnitude") else q)


DIMENSIONED = {"min": min, "max": max, "abs": abs, "round": plain(round), "floor": plain(math.floor),
               "ceil": plain(math.ceil), "sqrt": lambda q: q**0.5, "exp": plain(math.exp), "log": plain(math.log)}


def result_of(name: str) -> Any:
    found = EXPRESSIONS[name]
    tree = ast.fix_missing_locations(_Units(CONSTANTS.get(name, {})).visit(ast.parse(found.formula, mode="eval")))
    # No input equals another, so that a difference keeps its dimension and is not 0.
    point = {n: quantity(3.0 + k, pint_unit(n)) for k, n in enumerate(needs(found))}
    return eval(compile(tree, name, "eval"), {"__builtins__": {}, "quantity": quantity}, {**DIMENSIONED, **point})


@pytest.mark.parametrize("name", sorted(EXPRESSIONS))
def test_the_formula_has_the_dimension_of_its_unit(name: str) -> None:
    result = result_of(name)
    dimension = result.dimensionality if hasattr(result, "dimensionality") else quantity(1.0, "").dimensionality
    assert dimension == quantity(1.0, pint_unit(name)).dimensionality


def test_the_dimension_check_can_fail() -> None:
    with pytest.raises(Exception, match="[Cc]annot convert"):
        eval("a + b", {"__builtins__": {}}, {"a": quantity(1.0, "V"), "b": quantity(1.0, "A")})
    assert (quantity(1.0, "V") * quantity(1.0, "A")).dimensionality == quantity(1.0, "W").dimensionality


# --- words ---


@pytest.mark.parametrize("name", sorted(WORKINGS))
def test_every_working_can_be_explained(name: str) -> None:
    sheet = sheet_of(build(), checklist(), NOW.date())
    if name not in sheet.workings:
        pytest.fail(f"the main checklist cannot feed {name}: {required(WORKINGS[name])}")
    told = explain(name, sheet, checklist())
    assert told.shown and told.formula and told.source
    value = told.value
    if hasattr(value, "lines"):
        assert isinstance(value.summary, str) and value.summary
        assert all(len(line) == len(value.head) for line in value.lines)
        assert all(isinstance(text, str) for line in value.lines for text in line)


def test_a_formula_is_shown_with_its_numbers() -> None:
    told = explain("old_energy", sheet_of(build(), checklist(), NOW.date()), checklist())
    assert told.substituted == "10 × 1.2 × 1.3 Ah" and told.shown == "15.6 Wh"
