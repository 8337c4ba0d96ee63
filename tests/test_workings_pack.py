"""Workings about the pack: groups with shared current, best grouping, joining, voltages, energy, designation."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.workings import pack, pack_best, pack_groups
from buildtrack.workings.pack_options import pack_options
from buildtrack.workings.registry import sheet_of
from buildtrack.workings.values import Failed, Known, Missing
from tests.front import CELLS, build, cell, cells, checklist, group, groups, rule, sheet, value
from tests.make import NOW, Given


def test_three_groups_make_12_6_10_8_and_9_0_volts() -> None:
    # by hand: 3 × 4.20, 3 × 3.6, 3 × 3.0; 12.6 / 14.5 - 1 = -13.1 %; 10.8 / 12 - 1 = -10 %
    built = sheet()
    assert built.number("pack_full_voltage") == pytest.approx(12.6)
    assert built.number("pack_nominal_voltage") == pytest.approx(10.8)
    assert built.number("pack_empty_voltage") == pytest.approx(9.0)
    assert built.number("full_voltage_excess") == pytest.approx(12.6 / 14.5 - 1)
    assert built.number("nominal_voltage_change") == pytest.approx(-0.10)
    assert built.number("useful_group_voltage") == pytest.approx(3.0)
    with pytest.raises(ValueError, match="groups in series"):
        pack.useful_group_voltage(9.0, 0.0)


@pytest.mark.parametrize("text", ["c01 c06", "c01, c06", "c01+c06", " c01 ;c06 ", "c01\tc06"])
def test_ids_may_be_written_with_any_usual_mark_between(text: str) -> None:
    assert pack_groups.cell_names(text) == ("c01", "c06")


def test_the_groups_of_the_sound_build_add_up() -> None:
    # by hand: 1948 + 1851 = 3799, 1935 + 1864 = 3799, 1902 + 1887 = 3789; 10 / 3789 = 0.264 %
    built = sheet()
    report = value("group_report")
    assert [g.capacity_ah for g in report.groups] == pytest.approx([3.799, 3.799, 3.789])
    assert built.number("smallest_group_capacity") == pytest.approx(3.789)
    assert built.number("group_capacity_spread") == pytest.approx(10 / 3789)
    assert len(report.lines) == 3 and all(len(line) == len(report.head) for line in report.lines)
    assert "3789 mAh to 3799 mAh" in report.summary


def test_resistances_in_parallel_and_in_series() -> None:
    # by hand: 68 × 76 / 144 = 35.889; 71 × 77 / 148 = 36.939; 70 × 74 / 144 = 35.972; together 108.80 mohm
    report = value("group_report")
    assert [g.resistance_ohm for g in report.groups] == pytest.approx([0.0358889, 0.0369392, 0.0359722], abs=1e-7)
    assert sheet().number("pack_resistance") == pytest.approx(0.1088003, abs=1e-7)


def test_the_allowance_counts_the_larger_share_of_the_better_cell() -> None:
    # by hand: c01 takes 76 / 144 of the current and may give 2 C × 1.948 Ah = 3.896 A: 3.896 × 144 / 76 = 7.382 A,
    # less than the 2 × 3.702 = 7.404 A that equal shares of the weaker cell would allow
    first = value("group_report").groups[0]
    assert first.shares == pytest.approx((76 / 144, 68 / 144))
    assert first.allowance_a == pytest.approx(3.896 * 144 / 76)
    assert first.limiting_cell == "c01" and first.allowance_by_name_a == pytest.approx(7.404)
    assert sheet().number("pack_allowance") == pytest.approx(3.896 * 144 / 76)


def test_without_resistances_equal_shares_are_assumed_and_said() -> None:
    rows = cells(c01={"resistance": ""})
    first = value("group_report", {"candidates": rows}).groups[0]
    assert first.shares is None and first.resistance_ohm is None
    assert first.allowance_a == pytest.approx(7.404) and first.largest_share == 0.5
    assert "equal shares assumed" in value("group_report", {"candidates": rows}).lines[0]
    assert sheet({"candidates": rows}).number("pack_resistance") is None


def test_work_and_stall_ask_most_of_the_cell_with_the_largest_share() -> None:
    # by hand: largest share 76 / 144 in g1 (77 / 148 and 74 / 144 are smaller)
    built = sheet()
    rms, stall = built.number("duty_rms_current"), built.number("stall_current")
    assert rms is not None and stall is not None
    assert built.number("cell_current_working") == pytest.approx(rms * 76 / 144)
    assert built.number("cell_current_stall") == pytest.approx(stall * 76 / 144)
    assert built.number("cell_c_rate_stall") == pytest.approx(max(stall * 76 / 144 / 1.948, stall * 77 / 148 / 1.935))
    assert built.number("current_headroom") == pytest.approx(rms / (3.896 * 144 / 76))


def test_a_capacity_that_is_missing_keeps_the_pack_unknown() -> None:
    built = sheet({"candidates": cells(c06={"capacity": ""})})
    for name in ("smallest_group_capacity", "group_capacity_spread", "pack_allowance", "cell_c_rate_stall"):
        assert isinstance(built.value(name), Missing), name


def problems(**changed: object) -> tuple[str, ...]:
    return tuple(value("assignment_report", changed).problems)  # type: ignore[arg-type]


def test_a_sound_assignment_has_no_problems() -> None:
    report = value("assignment_report")
    assert report.problems == () and report.summary == "3 groups, 6 cells, each used once"


def test_unknown_doubled_and_rejected_cells_are_named() -> None:
    assert problems(groups=groups("c01 c99")) == ("c99 in g1 is not among the candidates",)
    assert problems(groups=groups("c01 c06", "c06 c02")) == ("c06 stands in g1 and in g2",)
    assert problems(groups=groups("c01 c01")) == ("c01 stands twice in g1",)
    rows = cells(c06={"decision": "reject"}, c05={"decision": ""})
    assert problems(candidates=rows) == ("c06 in g1 was rejected", "c05 in g2 is not decided yet")
    assert problems(groups=groups("c01 c07")) == ("c07 in g1 is set aside as a spare",)


def test_groups_of_another_number_or_size_are_named() -> None:
    assert problems(groups=groups()[:2]) == ("2 groups have cells, 3 are planned",)
    assert problems(groups=groups("c01")) == ("g1 has 1 cells, 2 are planned",)


def test_a_group_with_an_unknown_cell_is_not_computed() -> None:
    found = sheet({"groups": groups("c01 c99")}).value("pack_resistance")
    assert isinstance(found, Failed) and found.working == "group_report" and "c99" in found.why


def test_the_best_grouping_of_the_invented_cells_is_the_folded_one() -> None:
    # largest with smallest is best for two in parallel: 1948 + 1851, 1935 + 1864, 1902 + 1887
    best = value("best_grouping")
    assert {tuple(sorted(g)) for g in best.groups} == {("c01", "c06"), ("c02", "c05"), ("c03", "c04")}
    assert best.optimum_ah == pytest.approx(3.789) and best.bound_ah == pytest.approx(3.789) and best.proven
    assert sheet().number("grouping_gain") == 0.0
    assert best.lines[-1][0] == "g3" and "3789 mAh" in best.summary and len(best.head) == 4


def test_cells_in_the_order_of_the_drawer_give_two_per_cent_away() -> None:
    # by hand: 1864 + 1851 = 3715; 3789 / 3715 - 1 = 1.99 %
    drawer = groups("c01 c02", "c03 c04", "c05 c06")
    assert sheet({"groups": drawer}).number("grouping_gain") == pytest.approx(3789 / 3715 - 1, abs=1e-9)


def test_kinds_of_cell_are_kept_apart() -> None:
    rows = cells(c01={"chemistry": "unknown"}, c07={"decision": "keep"})
    best = value("best_grouping", {"candidates": rows})
    assert "c01" in best.left_over and all("c01" not in g for g in best.groups)
    few = sheet({"candidates": cells(c01={"chemistry": "unknown"})}).value("best_grouping")
    assert isinstance(few, Failed) and "without mixing" in few.why


def test_too_few_cells_are_a_sentence_not_an_error() -> None:
    found = sheet({"parallel_count": "4"}).value("best_grouping")
    assert isinstance(found, Failed) and "12 cells" in found.why


def test_the_best_grouping_carries_the_testers_error() -> None:
    # by hand: 2 % of 3789 mAh is 75.8 mAh, common to both cells; two last digits of 0.5 mAh: 0.71 mAh
    tester = {"id": "m1", "meter": "tester", "kind": "tester", "quantity": "capacity", "accuracy": "2 %"}
    built = sheet_of(build({"instruments": [tester]}, instrument="tester"), checklist(), NOW.date())
    best, smallest = built.value("best_grouping"), built.value("smallest_group_capacity")
    assert isinstance(best, Known) and isinstance(smallest, Known)
    assert best.value.plus_minus_ah == pytest.approx(0.07578, abs=1e-5)
    assert smallest.plus_minus == pytest.approx(0.07578, abs=1e-5)


# Three groups of two: 2280 beside 1800, as folding has it, would be 36 beside 88 mΩ (2.44 : 1).
ODD_MAH, ODD_OHM = (2280, 2100, 2050, 1950, 1900, 1800), (36, 50, 50, 50, 45, 88)


def odd_cells(ohms: tuple[int, ...] = ODD_OHM) -> list[dict[str, str]]:
    return [cell(f"c0{i + 1}", capacity=f"{ODD_MAH[i]} mAh", resistance=f"{ohms[i]} mΩ", decision="keep") for i in range(6)]


def test_the_best_grouping_raises_no_stop_where_another_grouping_does_not() -> None:
    # by hand: 88 mΩ may sit with 50 mΩ (1.76) or 45 mΩ (1.96): with 2100 at best, 3900. Left 2280, 2050, 1950, 1900:
    # 2280 + 1900 and 2050 + 1950, so 3900 is the smallest. Folded without the limit: 2280 + 1800, 2100 + 1900 = 4000.
    best = value("best_grouping", {"candidates": odd_cells()})
    assert frozenset({"c02", "c06"}) in {frozenset(g) for g in best.groups}
    assert best.optimum_ah == pytest.approx(3.9) and best.bound_ah == pytest.approx(3.9) and not best.refused
    assert "proven best within the limits" in best.summary and "4000 mAh without the limits" in best.summary
    assert "resistances of a group within 2 : 1" in best.summary


def test_what_is_called_best_passes_the_stops_that_rest_on_the_groups() -> None:
    rows = odd_cells()
    best = value("best_grouping", {"candidates": rows})
    named = groups(*(" ".join(g) for g in best.groups))
    assert rule("group-resistances-far-apart", build({"candidates": rows, "groups": named})).outcome == "pass"
    folded = groups("c01 c06", "c02 c05", "c03 c04")
    assert rule("group-resistances-far-apart", build({"candidates": rows, "groups": folded})).outcome == "fail"
    assert sheet({"candidates": rows, "groups": named}).number("grouping_gain") == 0.0


def test_where_no_grouping_avoids_a_stop_none_is_called_best_and_what_helps_is_said() -> None:
    rows = odd_cells((36, 40, 42, 44, 45, 99))
    best = value("best_grouping", {"candidates": rows})
    assert best.summary == best.refused and not best.proven and "best" not in best.refused
    assert best.refused.startswith("No grouping of these cells avoids a stop (resistances of a group within 2 : 1")
    assert "c06 99.0 mΩ beside c01 36.0 mΩ, 2.75 : 1" in best.refused
    assert "cells that are more alike in resistance" in best.refused and "2S2P" in best.refused
    folded = groups("c01 c06", "c02 c05", "c03 c04")
    assert sheet({"candidates": rows, "groups": folded}).number("grouping_gain") == 0.0


def test_a_grouping_that_carries_the_work_is_found_where_the_fold_does_not() -> None:
    # by hand: 4 A with 30 mΩ and 2 A with 60 mΩ carry 6 A together; two of 2 A carry 4 A, in the fold of capacities.
    facts = [(2000, 30, 4.0), (1900, 30, 4.0), (1950, 60, 2.0), (1960, 60, 2.0)]
    kept = tuple(replace(c, capacity_ah=mah / 1000, resistance_ohm=ohm / 1000, allowance_a=amp)
                 for c, (mah, ohm, amp) in zip(value("cell_report").cells, facts, strict=False))
    report = replace(value("cell_report"), cells=kept)
    best = pack_best.best_grouping(report, 2.0, 2.0, 6.0, 1.0)
    assert best is not None and not best.refused and best.optimum_ah == pytest.approx(3.86)
    tight = pack_best.best_grouping(report, 2.0, 2.0, 6.0, 0.9)
    assert tight is not None and "every group carries 6.67 A" in tight.refused and "may give 4.00 A" in tight.refused


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.lists(st.integers(1200, 2600), min_size=6, max_size=6), st.permutations(range(6)))
def test_the_order_of_the_candidates_changes_no_figure(capacities: list[int], order: list[int]) -> None:
    rows = [cell(f"c0{i + 1}", capacity=f"{capacities[i]} mAh", decision="keep") for i in range(6)]
    first = value("best_grouping", {"candidates": rows})
    second = value("best_grouping", {"candidates": [rows[i] for i in order]})
    assert (first.optimum_ah, first.bound_ah, sorted(first.group_ah)) == (
        second.optimum_ah, second.bound_ah, sorted(second.group_ah))


def test_joining_drives_a_current_through_both_cells() -> None:
    # by hand: 50 mV over 68 + 76 mohm = 0.347 A; cells that agree within 10 mV need no time
    report = value("joining_current_report", {"groups": [group("g1", "c01 c06", "3.650 V", "3.700 V"), *groups()[1:]]})
    assert report.groups[0].current_a == pytest.approx(0.050 / 0.144)
    assert report.groups[0].agreed_after_s is not None and report.groups[0].agreed_after_s > 0
    assert report.groups[1].agreed_after_s == 0.0
    assert report.groups[0].fallen_v == pytest.approx(0.001)
    assert "difference 50 mV in g1" in report.summary and len(report.lines[0]) == len(report.head)


def test_three_cells_join_through_the_least_loop() -> None:
    # by hand: 70, 70 and 30 mohm: 30 against 35 is 65 mohm, 70 against 21 is 91 mohm; 100 mV / 65 mohm = 1.538 A
    rows = [cell("c01", resistance="70 mΩ"), cell("c02", resistance="70 mΩ"), cell("c03", resistance="30 mΩ")]
    found = value("joining_current_report", {
        "candidates": rows, "series_count": "1", "parallel_count": "3",
        "groups": [group("g1", "c01 c02 c03", "3.600 V", "3.700 V")]})
    assert found.groups[0].current_a == pytest.approx(0.1 / 0.065)


def test_a_group_that_was_not_joined_says_nothing() -> None:
    rows = [{"id": g["id"], "cells": g["cells"]} for g in groups()]
    assert isinstance(sheet({"groups": rows}).value("joining_current_report"), Missing)


def test_energy_by_measured_and_by_rated_capacity() -> None:
    # by hand: 10.8 V × 3.789 Ah = 40.92 Wh; 10.8 V × 4.4 Ah = 47.52 Wh counts for transport
    built = sheet()
    assert built.number("nominal_energy") == pytest.approx(40.9212)
    assert built.number("transport_energy") == pytest.approx(47.52)
    assert value("transport_class").startswith("up to 100 Wh; within the passenger limit")


@pytest.mark.parametrize(("energy", "words"), [
    (100.0, "up to 100 Wh; within"), (100.1, "over 100 to 300 Wh; passengers need"),
    (160.1, "over 100 to 300 Wh; no passenger"), (301.0, "over 300 Wh")])
def test_transport_classes_by_49_cfr_173_185_and_the_passenger_rule(energy: float, words: str) -> None:
    assert pack.transport_class(energy).startswith(words)


def test_designation_by_iec_61960() -> None:
    # IEC 61960-3 clause 5.1: S, I N R, diameter and height rounded up in mm, -P
    assert value("designation") == "3INR19/66-2"
    mixed = sheet({"candidates": cells(c01={"chemistry": "unknown"})}).value("designation")
    assert isinstance(mixed, Failed) and "one known chemistry" in mixed.why
    phosphate = {n: {"chemistry": "lfp"} for n in ("c01", "c02", "c03", "c04", "c05", "c06")}
    assert sheet({"candidates": cells(**phosphate)}).value("designation").value == "3IFpR19/66-2"  # type: ignore[union-attr]


def test_the_options_table_refuses_by_voltage_current_and_room() -> None:
    # by hand: 4 × 4.2 = 16.8 V over 14.5 V; one cell may give 2 C × 1.902 Ah = 3.80 A, the work draws 4.9 A rms
    found = value("pack_options")
    by_name = {line[0]: line for line in found.lines}
    assert set(by_name) == {"3S1P", "3S2P", "4S1P"} and all(len(line) == len(found.head) for line in found.lines)
    assert found.recommended == "3S2P" and found.chosen == "3S2P"
    assert by_name["3S2P"][-1] == "recommended, chosen"
    assert "may carry 3.8 A" in by_name["3S1P"][-1] and "old pack had 14.5 V" in by_name["4S1P"][-1]
    small = value("pack_options", {"housing_length": "70 mm", "housing_width": "45 mm", "housing_height": "45 mm"})
    assert "the housing holds 4" in {line[0]: line for line in small.lines}["3S2P"][-1]
    assert small.recommended == "" and small.summary.startswith("every option is refused")


def test_options_have_the_figures_of_the_best_grouping() -> None:
    # by hand: 3789 mAh × 10.8 V = 40.92 Wh; 6 × 44 g; 6 × 1.00; allowance 3.896 × 144 / 76 A as in the groups above
    option = next(o for o in value("pack_options").table if (o.series, o.parallel) == (3, 2))
    assert option.energy_wh == pytest.approx(40.9212) and option.mass_g == pytest.approx(264)
    assert option.cost == pytest.approx(6.0) and option.allowance_a == pytest.approx(3.896 * 144 / 76)


def test_an_option_grouped_by_capacity_alone_says_where_its_groups_are_beyond_a_stop() -> None:
    # by hand: 1948 + 1851, 1935 + 1864, 1902 + 1887 is the only grouping of 3789 mAh; 76 / 30 and 144 / 68 are over 2 : 1
    far = cells(c01={"resistance": "30 mΩ"})
    found = value("pack_options", {"candidates": far})
    by_name = {line[0]: line for line in found.lines}
    assert found.head[3] == "smallest by capacity" and by_name["3S2P"][3].startswith("3789")
    assert by_name["3S2P"][-1] == "recommended, chosen; grouped so, beyond a stop's limits: see the best grouping"
    assert "beyond" not in by_name["3S1P"][-1], "it is refused already"
    within = {line[0]: line for line in value("pack_options").lines}
    assert all("beyond" not in line[-1] for line in within.values())


def test_an_option_whose_cells_work_harder_than_they_may_is_beyond_a_stop() -> None:
    # by hand: the groups of 3S2P may give 7.38 A and more, the work draws 4.9 A: a share of 0.66
    for share, beyond in (("50 %", True), ("70 %", False)):
        found = pack_options(value("cell_report"), 14.5, 9.0, 4.9, 4.2, 3.6, 3.0, load_share_max=float(share[:2]) / 100)
        assert found is not None
        line = next(line for line in found.lines if line[0] == "3S2P")
        assert ("beyond" in line[-1]) is beyond


def test_options_are_made_of_one_kind_of_cell_and_need_no_housing() -> None:
    bought = {f"c0{n}": {"price": "", "mass": ""} for n in range(2, 8)}
    rows = cells(c01={"chemistry": "unknown", "price": ""}, **bought)
    found = value("pack_options", {"candidates": rows, "housing_length": None})
    assert found.cells == 5 and not found.housed and not found.priced
    assert found.head[8:10] == ("cost", "fit") and found.lines[0][8:10] == ("-", "-")
    assert found.table[0].mass_g == pytest.approx(3 * 45.0)
    bare = cells(**{f"c0{n}": {"capacity": ""} for n in range(1, 8)})
    assert isinstance(sheet({"candidates": bare}).value("pack_options"), Missing)


def test_a_large_lot_lists_no_more_than_twelve_in_parallel() -> None:
    rows = [{**cell("c01"), "id": f"c{n:03d}", "capacity": f"{1800 + n % 90} mAh"} for n in range(60)]
    found = value("pack_options", {"candidates": rows, "series_count": "3", "parallel_count": "14"})
    assert {o.parallel for o in found.table if o.series == 3} >= {*range(1, 13), 14}
    assert max(o.parallel for o in found.table if o.series == 4) == 12


def test_six_cells_lie_in_the_housing() -> None:
    # by hand: 138 mm take two lengths of 65.2 mm and a gap; 78 and 46 mm take 4 and 2 diameters of 18.4 mm with gaps
    found = value("layout")
    assert found.fits and found.wanted == 6 and found.most >= 2 * 4 * 2
    assert "6 cells fit in 138 × 78 × 46 mm" in found.summary and "(__)" in found.drawing
    assert all(len(line) == len(found.head) for line in found.lines)


def test_a_narrow_housing_holds_no_pack() -> None:
    # by hand: 28 mm take one cell across, 138 mm two lengths
    found = value("layout", {"housing_width": "30 mm", "housing_height": "30 mm"})
    assert not found.fits and found.most == 2 and found.drawing == ""
    assert found.summary == "6 cells do not fit: at most 2 lie in 138 × 28 × 28 mm"
    nothing = sheet({"housing_height": "2 mm"}).value("layout")
    assert isinstance(nothing, Failed) and "nothing is left" in nothing.why


def test_groups_apart_in_self_discharge() -> None:
    report = value("group_report")
    leaks = [g.leak_ah_per_day for g in report.groups]
    assert sheet().number("group_leak_spread") == pytest.approx(max(leaks) - min(leaks))


def test_last_digits_are_put_together_and_the_meter_stays_apart() -> None:
    # by hand: 3 and 4 make 5
    lumped = pack_groups.lumped({"last digit of a": 3.0, "last digit of b": 4.0, "m scale": 2.0, "m offset": 0.0}, "x")
    assert lumped == {"m scale": 2.0, "last digits of x": 5.0}
    assert pack_groups.lumped({}, "x") == {}


def test_a_count_that_is_no_whole_number_is_refused() -> None:
    with pytest.raises(ValueError, match="whole number"):
        pack_best.best_grouping(value("cell_report"), 0.0, 2.0)


def test_the_warming_of_the_warmest_cell() -> None:
    # OpenStax 9.5: 3.0 A squared x 70 mohm = 0.63 W; 18 x 65 mm has 41.8 cm2 (pi d L + pi d2 / 2), and with 15 W/(m2 K)
    # (simses cell classes) 0.63 / (15 x 0.004185) = 10.0 K
    assert pack.cell_steady_rise(0.63) == pytest.approx(10.04, abs=0.01)


def test_the_warmest_cell_counts_with_its_own_resistance_and_not_with_that_of_the_lot() -> None:
    """Cells in parallel have one voltage: the one of least resistance has the most current, and the most heat."""
    report, facts = value("group_report"), value("cell_report")
    heats = []
    for joined in report.groups:
        ohms = [CELLS[name][3] / 1000 for name in joined.cells]
        drop = 6.0 / sum(1 / ohm for ohm in ohms)  # 6 A through the group
        heats.append(max(drop**2 / ohm for ohm in ohms))
    assert pack.cell_heat(6.0, report, facts, 0.5) == pytest.approx(max(heats), rel=1e-9)


def test_a_cell_without_a_resistance_is_warmed_as_the_median_of_the_lot() -> None:
    changed: dict[str, Given | None] = {"candidates": cells(**{c: {"resistance": ""} for c in CELLS})}
    report, facts = value("group_report", changed), value("cell_report", changed)
    assert pack.cell_heat(6.0, report, facts, 0.07) == pytest.approx(3.0**2 * 0.07)
    assert pack.cell_heat(6.0, report, facts) is None
