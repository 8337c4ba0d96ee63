"""Options of series and parallel: figures by hand, refusals with number and limit, a recommendation with its reason."""

from __future__ import annotations

from dataclasses import replace

import pytest

from buildtrack.physics.fit import Box
from buildtrack.physics.options import Housing, Lot, Option, Options, Tool, list_options, most_series

LOT = Lot(tuple(2.0 + 0.01 * k for k in range(20)), (10.0,), price=2.0)
TOOL = Tool(old_full_v=14.5, old_empty_v=10.0, working_a=6.27, peak_a=28.0)
HOUSING = Housing(Box(80, 60, 70))


def pick(options: Options, series: int, parallel: int) -> Option:
    return next(o for o in options.table if (o.series, o.parallel) == (series, parallel))


def codes(option: Option) -> list[str]:
    return [refusal.code for refusal in option.refusals]


def test_every_count_the_lot_can_fill_is_listed_once() -> None:
    options = list_options(LOT, TOOL, HOUSING)
    pairs = [(o.series, o.parallel) for o in options.table]
    assert pairs == [(s, p) for s in (3, 4) for p in range(1, 20 // s + 1)]


def test_the_figures_of_one_option_are_those_worked_by_hand() -> None:
    option = pick(list_options(LOT, TOOL, HOUSING), 3, 2)
    assert (option.full_v, option.nominal_v, option.empty_v) == pytest.approx((12.6, 10.8, 9.0))
    assert option.smallest_group_ah == pytest.approx(4.33)  # 2.19 + 2.14, 2.18 + 2.15, 2.17 + 2.16
    assert option.energy_wh == pytest.approx(10.8 * 4.33)
    assert (option.mass_g, option.cost, option.cells) == (276.0, 12.0, 6)
    assert (option.allowance_a, option.allowance_by) == (20.0, "P times the rated current")
    assert option.headroom == pytest.approx(20 / 6.27)
    assert option.peak_share == pytest.approx(1.4)


def test_known_resistances_lower_the_allowance_to_the_most_loaded_cell() -> None:
    lot = Lot((2.0, 2.0), (10.0,), (0.045, 0.080))
    option = pick(list_options(lot, Tool(5.0, 3.0, 5.0)), 1, 2)
    assert option.allowance_a == pytest.approx(15.625)
    assert option.allowance_by == "current shared by conductance"


def test_each_refusal_carries_its_number_and_limit() -> None:
    options = list_options(LOT, replace(TOOL, working_a=15.0), HOUSING)
    assert codes(pick(options, 3, 1)) == ["current"]
    assert codes(pick(options, 4, 2)) == ["voltage high"]
    assert codes(pick(options, 3, 5)) == ["fit"]
    refusal = pick(options, 3, 1).refusals[0]
    assert (refusal.value, refusal.limit) == (10.0, 15.0)
    assert refusal.sentence == "may carry 10.0 A, the work draws 15.0 A"
    assert codes(pick(list_options(LOT, Tool(29.0, 12.5, 5.0)), 3, 1)) == ["voltage low"]


def test_the_recommendation_has_the_highest_voltage_then_headroom_then_energy() -> None:
    options = list_options(LOT, TOOL, HOUSING)
    assert options.recommended is not None
    assert (options.recommended.series, options.recommended.parallel) == (3, 4)
    assert options.reason.startswith("12.6 V full is the highest within 14.5 V; ")
    assert codes(options.recommended) == []


def test_when_all_are_refused_the_nearest_is_named() -> None:
    options = list_options(LOT, replace(TOOL, working_a=500.0), HOUSING)
    assert options.recommended is None
    assert options.reason.startswith("every option is refused; nearest is 3S")
    assert list_options(Lot((2.0,), (10.0,)), TOOL).reason == "there are too few cells for any count in series"


def test_accepting_more_than_the_old_voltage_admits_one_more_in_series() -> None:
    higher = replace(TOOL, over_full_share=0.16)
    assert codes(pick(list_options(LOT, higher), 4, 1)) == []


@pytest.mark.parametrize(("cells", "series"), [(8, 2), (10, 3), (12, 4), (15, 5), (20, 6)])
def test_series_count_follows_the_full_voltages(cells: int, series: int) -> None:
    assert most_series(1.45 * cells) == series


def test_a_lot_of_two_hundred_cells_is_listed() -> None:
    lot = Lot(tuple(2.0 + 0.003 * (k * 37 % 200) for k in range(200)), (10.0,))
    assert len(list_options(lot, Tool(75.0, 50.0, 10.0)).table) == sum(200 // s for s in range(12, 19))


@pytest.mark.parametrize(
    ("lot", "tool", "words"),
    [
        (Lot((2.0, 2.0, 2.0), (10.0, 10.0)), TOOL, "one rating for all or one each"),
        (Lot((2.0, 2.0, 2.0), (10.0,), (0.05,)), TOOL, "one resistance each or none"),
        (LOT, Tool(10.0, 14.0, 5.0), "full voltage above its empty one"),
        (LOT, Tool(14.5, 10.0, 0.0), "working current above zero"),
    ],
)
def test_what_cannot_be_listed_is_refused_in_words(lot: Lot, tool: Tool, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        list_options(lot, tool)
