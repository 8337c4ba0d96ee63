"""Workings of the wiring, each against a published figure or arithmetic written out beside it."""

from __future__ import annotations

import pytest

from buildtrack.physics.fuses import FuseState
from buildtrack.workings import wire, wire_board, wire_chain, wire_fuse, wire_runs
from buildtrack.workings.values import Record, Table
from buildtrack.workings.wire_chain import ChainReport
from buildtrack.workings.wire_fuse import words_of


def table(*rows: dict[str, object]) -> Table:
    return Table(tuple(Record(str(row.pop("id")), row) for row in rows))


def one_run(**more: object) -> Table:
    row: dict[str, object] = {"id": "w1", "run": "plus", "size": 1.5, "length": 0.5}
    return table({**row, **more})


def test_half_a_metre_of_flexible_wire_has_the_resistance_of_the_standard() -> None:
    # IEC 60228 table 3: 1.5 mm2 class 5, 13.3 ohm/km at 20 degC; 0.5 m -> 6.65 milliohm
    found = wire_runs.run_report(one_run())
    assert found is not None
    assert found.total_ohm == pytest.approx(6.65e-3)
    assert "IEC 60228 class 5" in found.lines[0][-1]
    assert found.summary.endswith("20 °C, assumed")


def test_stranded_wire_takes_class_2_and_solid_wire_the_resistivity_alone() -> None:
    # IEC 60228 table 2: 1.5 mm2 class 2, 12.1 ohm/km. Solid: 1.7241e-8 ohm m / 1.5e-6 m2 = 11.494 ohm/km (IEC 60028)
    stranded, solid = wire_runs.run_report(one_run(), None, "stranded"), wire_runs.run_report(one_run(), None, "solid")
    assert stranded is not None and solid is not None
    assert stranded.total_ohm == pytest.approx(6.05e-3)
    assert solid.total_ohm == pytest.approx(0.5 * 11.494e-3, rel=1e-4)


def test_a_size_between_two_rows_takes_the_resistivity_and_the_interpolated_class_factor() -> None:
    # 2.0 mm2 lies midway between 1.5 (13.3 x 1.5 = 19.95) and 2.5 (7.98 x 2.5 = 19.95): 19.95 / 2 = 9.975 ohm/km
    found = wire_runs.run_report(one_run(size=2.0))
    assert found is not None
    assert found.total_ohm == pytest.approx(0.5 * 9.975e-3, rel=1e-6)
    assert "class 5 factor" in found.lines[0][-1]


def test_warm_wire_has_more_resistance_and_parallel_wires_share_it() -> None:
    # 1 + 0.00393 x (60 - 20) = 1.1572; two wires halve it (IEC 60028)
    found = wire_runs.run_report(one_run(parallel=2.0), 60.0)
    assert found is not None
    assert found.total_ohm == pytest.approx(6.65e-3 * 1.1572 / 2)
    # twice the chassis column's 22 A for AWG 16; 0.50 of it at 60 °C (IEC 60364-5-52, Table B.52.14, PVC)
    assert found.runs[0].allowed_a == pytest.approx(22.0)


@pytest.mark.parametrize(("degc", "share"), [(-10.0, 1.0), (20.0, 1.0), (30.0, 1.0), (40.0, 0.87), (50.0, 0.71), (55.0, 0.61)])
def test_a_warm_place_lets_a_wire_carry_less(degc: float, share: float) -> None:
    # IEC 60364-5-52, Table B.52.14, PVC (seen in a copy); below 30 °C nothing is added
    found = wire_runs.run_report(one_run(), degc)
    assert found is not None
    assert found.runs[0].allowed_a == pytest.approx(22.0 * share, rel=0.006)
    assert ("°C: ×" in found.lines[0][-1]) == (share < 1)


def test_where_insulation_gives_up_no_current_is_named() -> None:
    found = wire_runs.run_report(one_run(), 70.0)
    assert found is not None and found.runs[0].allowed_a is None
    assert found.lines[0][-2:] == ("no table", "13.3 Ω/km at 20 °C, IEC 60228 class 5; at 70 °C: no table for PVC wire")
    assert wire.weakest_conductor(found) is None


def test_a_bundle_is_derated_by_the_published_curve() -> None:
    # SAE AS50881 curve at full load, three wires: 0.725; chassis column AWG 16: 22 A
    found = wire_runs.run_report(one_run(bundle=3.0))
    assert found is not None
    assert found.runs[0].allowed_a == pytest.approx(22 * 0.725)


def test_thicker_than_the_table_takes_its_largest_gauge_and_says_so() -> None:
    found = wire_runs.run_report(one_run(size=10.0))
    assert found is not None
    assert found.runs[0].allowed_a == pytest.approx(55.0)  # AWG 10, the column's last row
    assert "its largest" in found.lines[0][-1]


def test_a_run_without_its_length_is_not_counted_and_is_named() -> None:
    found = wire_runs.run_report(table({"id": "w1", "size": 1.5, "length": 0.2}, {"id": "w2", "size": 1.5}))
    assert found is not None
    assert found.incomplete == ("w2",)
    assert "w2 not counted" in found.summary
    assert wire_runs.run_report(table({"id": "w1", "size": 1.5})) is None


def test_a_nickel_strip_has_the_resistance_of_its_section() -> None:
    # 6.99e-8 ohm m x 0.02 m / (8 mm x 0.15 mm) = 1.165 milliohm (CRC Handbook resistivity)
    row: dict[str, object] = {"id": "t1", "material": "nickel", "width": 8e-3, "thickness": 0.15e-3, "length": 20e-3}
    found = wire_runs.strip_report(table(row))
    assert found is not None
    assert found.total_ohm == pytest.approx(1.165e-3, rel=1e-3)


def test_links_of_one_kind_count_as_often_as_the_current_passes_them() -> None:
    # 1.165 milliohm (above) three times one after another is 3.495; what each may carry stays the same
    row: dict[str, object] = {"id": "t1", "material": "nickel", "width": 8e-3, "thickness": 0.15e-3, "length": 20e-3}
    thrice, once = wire_runs.strip_report(table({**row, "alike": 3.0})), wire_runs.strip_report(table(row))
    assert once is not None and thrice is not None
    assert thrice.total_ohm == pytest.approx(3.495e-3, rel=1e-3)
    assert thrice.strips[0].allowed_a == once.strips[0].allowed_a
    assert "3 in a row" in thrice.strips[0].basis


def test_joints_are_held_against_the_limit_and_against_their_sisters() -> None:
    # 2 mV at 3 A is 0.667 milliohm, under the 0.7 of common practice; 3 mV is 1.0, over it; 0.5 is odd beside 0.1
    rows = ({"id": "j1", "drop": 0.3e-3, "current": 3.0}, {"id": "j2", "drop": 0.3e-3, "current": 3.0},
            {"id": "j3", "drop": 1.5e-3, "current": 3.0}, {"id": "j4", "drop": 3.0e-3, "current": 3.0})
    found = wire_runs.joint_report(table(*rows), 0.7e-3)
    assert found is not None
    assert [j.verdict for j in found.joints] == ["good", "good", "odd", "high"]
    assert found.total_ohm == pytest.approx(1.7e-3)
    assert found.bad == ("j3", "j4")


def test_the_loop_adds_up() -> None:
    # wire 6.7 + board 6 + fuse 5 = 17.7; with 108.8 of the cells 126.5 milliohm
    run, strips, joints = wire_runs.run_report(one_run()), None, None
    assert run is not None
    assert wire.wire_resistance(run, strips, joints, 1e-3) == pytest.approx(7.65e-3)
    assert wire.holder_path_resistance(3.0, 2.0, 50e-3) == pytest.approx(75e-3)  # 3 x 50 / 2
    assert wire.rest_resistance(6.7e-3, 6e-3, 5e-3) == pytest.approx(17.7e-3)
    assert wire.loop_resistance(108.8e-3, 17.7e-3) == pytest.approx(126.5e-3)


def test_the_stall_current_of_the_new_pack() -> None:
    # 12.6 V / (0.310 + 0.1088 + 0.0200 ohm) = 28.71 A; the tool then sees 12.6 - 28.71 x 0.1288 = 8.90 V
    stall = wire.stall_current(12.6, 0.310, 0.1288)
    assert stall == pytest.approx(28.71, abs=0.005)
    assert wire.stall_pack_voltage(12.6, stall, 0.1288) == pytest.approx(8.90, abs=0.005)


def test_the_start_pulse_is_a_trapezoid() -> None:
    # (28.7^2 + 28.7 x 7 + 7^2) / 3 x 0.15 = 53.7 A2s (trapezoid of a fuse maker's pulse table)
    assert wire.start_i2t(28.7, 0.15, 7.0) == pytest.approx(53.68, abs=0.01)
    assert wire.start_peak(28.7) == 28.7
    assert wire.start_i2t(20.0, 0.15) == pytest.approx(20**2 * 0.15 / 3)  # down to nothing


def test_drops_and_their_shares() -> None:
    assert wire.drop_working(6.27, 6.65e-3) == pytest.approx(0.0417, abs=5e-5)  # 6.27 x 6.65 mV
    assert wire.drop_stall(28.7, 6.65e-3) == pytest.approx(0.1909, abs=5e-5)
    assert wire.wire_share_working(0.0417, 10.8) == pytest.approx(0.003861, abs=1e-6)
    assert wire.wire_share_stall(0.1909, 12.6) == pytest.approx(0.01515, abs=1e-5)


def test_the_weakest_conductor_is_the_run_that_carries_least() -> None:
    found = wire_runs.run_report(table({"id": "w1", "size": 2.5, "length": 0.1}, {"id": "w2", "size": 1.0, "length": 0.1}))
    assert found is not None
    assert wire.weakest_conductor(found) == pytest.approx(16.0)  # 1.0 mm2 -> AWG 18 of the chassis column
    assert found.weakest == "w2"


def chain_of(**more: object) -> ChainReport:
    run = wire_runs.run_report(one_run())
    assert run is not None
    given: dict[str, object] = {
        "pack_resistance": 0.1088, "run_report": run, "duty_mean_current": 4.27, "duty_rms_current": 6.27,
        "duty_peak_current": 28.7, "fuse_share": 0.75, "pack_allowance": 7.59, "stall_current": 28.7}
    return wire_chain.chain(**{**given, **more})  # type: ignore[arg-type]


def test_the_chain_names_the_part_that_governs_and_the_gain() -> None:
    found = chain_of(fuse_rating=15.0, fuse_path_resistance=5e-3, board_continuous=20.0, board_resistance=6e-3)
    assert found.governing == "cells"
    assert found.headroom == pytest.approx(7.59 / 6.27)
    link = {part.name: part for part in found.chain.links}
    assert link["run w1 plus"].heat_w == pytest.approx(0.261, abs=5e-4)  # 6.27^2 x 6.65 milliohm
    assert link["run w1 plus"].heat_stall_w == pytest.approx(5.48, abs=5e-3)  # 28.7^2 x 6.65 milliohm
    assert link["fuse, derated"].rating_a == pytest.approx(11.25)
    assert found.summary.startswith("least headroom: cells, 1.21 × the lasting current")
    assert "largest loss: cells" in found.summary and "halving run w1 plus saves 3.3 mΩ" in found.summary
    assert len(found.lines) == len(found.chain.links) + 1


def test_the_switch_governs_when_it_is_the_weakest() -> None:
    found = chain_of(switch_rating=6.5)
    assert found.governing == "switch"
    assert found.lines[-2] == ("switch", "not known", "6.50 A", "-", "-", "-", "-", "1.04 × governs")


def test_the_fuse_window_lies_between_the_job_and_the_weakest_conductor() -> None:
    # 6.27 / 0.75 = 8.36 A; 1.5 mm2 carries 22 A: of the blade ratings 10, 15 and 20 A fit (ISO 8820-3 series)
    found = wire_fuse.fuse_window(6.27, 22.0, 0.75, 12.6, "blade", 15.0, 32.0, 53.7)
    assert found.lowest_a == pytest.approx(8.36)
    assert found.candidates_a == (10.0, 15.0, 20.0)
    assert found.inside is True
    assert any("none is printed" in r for r in found.remarks)
    assert "fitted: 15 A, inside" in found.summary


def test_a_fuse_above_the_weakest_conductor_is_outside_and_a_low_voltage_leaves_none() -> None:
    assert wire_fuse.fuse_window(6.27, 22.0, 0.75, 12.6, "blade", 30.0, 32.0).inside is False
    high = wire_fuse.fuse_window(6.27, 22.0, 0.75, 42.0, "blade", 15.0, 32.0)
    assert high.pick_a is None and any("too much to break" in r for r in high.remarks)


def test_a_cartridge_is_judged_by_its_printed_melting_i2t() -> None:
    # 53.7 A2s over 0.29 (10 000 pulses) = 185 A2s; printed for 10 A time-lag: 601, for 5 A: 101
    enough = wire_fuse.fuse_window(4.0, 22.0, 0.75, 12.6, "cartridge time-lag", 10.0, 250.0, 53.7)
    little = wire_fuse.fuse_window(3.0, 22.0, 0.75, 12.6, "cartridge time-lag", 5.0, 250.0, 53.7)
    assert any(r.endswith("601 A²s is printed: enough") for r in enough.remarks)
    assert any("too little" in r for r in little.remarks)


def test_without_a_fuse_the_window_says_what_to_fit() -> None:
    found = wire_fuse.fuse_window(6.27, 22.0, 0.75, 12.6, "none")
    assert found.pick_a == 10.0 and found.inside is None
    assert any("no fuse is fitted" in r for r in found.remarks)


def test_what_the_fuse_does_in_a_stall_is_told_by_the_gates_only() -> None:
    # ISO 8820-3: 135 % opens within 600 s, 200 % within 5 s; 28.7 A of 15 A is 191 %, so only the 135 % gate binds
    found = wire_fuse.fuse_at_stall(28.7, 15.0, "blade")
    assert found is not None
    assert found.state.within_s == 600.0
    assert "191 %" in found.summary and "at the latest after 10 min" in found.summary
    never = wire_fuse.fuse_at_stall(28.7, 30.0, "blade")
    assert never is not None and "does not limit a stall" in never.summary
    assert wire_fuse.fuse_at_stall(28.7, 15.0, "none") is None


def test_a_fuse_state_without_a_limit_says_that_there_is_none() -> None:
    assert "sets no time" in words_of(FuseState("may open", 1.2, 3600.0, None))


def test_the_fuse_resistance_is_the_given_one_or_the_printed_drop() -> None:
    assert wire_fuse.fuse_path_resistance("blade", 10.0, 5e-3) == 5e-3
    assert wire_fuse.fuse_path_resistance("blade", 10.0) == pytest.approx(10.9e-3)  # blade maker's sheet: 109 mV at 10 A
    assert wire_fuse.fuse_path_resistance("blade", 15.0) is None  # nothing is printed for 15 A
    assert wire_fuse.fuse_path_resistance("none") == 0.0


def test_the_board_is_read_against_the_load() -> None:
    fits = wire_board.board_report(3.0, 3.0, 40.0, 6.27, 70.0, 90.0, 0.1, 28.7, 28.7, 14.4)
    assert fits.limits_stall is False and "does not limit a stall" in fits.summary
    assert any("14.4 A in each cell" in line[3] for line in fits.lines)
    wrong = wire_board.board_report(4.0, 3.0, 5.0, 6.27, 20.0, 25.0, 0.1, 28.7, 28.7)
    assert wrong.limits_stall is True
    assert wrong.summary.startswith("not fitting: groups, lasting current, start against lowest trip")


def test_charge_target_and_board_edges() -> None:
    assert wire.charge_voltage_target(3.0, 4.20) == pytest.approx(12.6)
    assert wire.charge_voltage_target(3.0, 4.20, 4.10) == pytest.approx(12.3)
    assert wire.board_cut_highest(4.25, 0.05) == pytest.approx(4.30)
    assert wire.board_cutoff_highest(2.5, 0.1) == pytest.approx(2.6)
    assert wire.board_cutoff_lowest(2.5, 0.1) == pytest.approx(2.4)


def test_the_fuse_and_the_count_of_cells() -> None:
    assert wire.fuse_lowest(6.27, 0.75) == pytest.approx(8.36)  # 6.27 / 0.75
    assert wire.cells_in_pack(3.0, 2.0) == 6.0


def test_the_strictest_sheet_of_the_kept_cells_sets_the_limits_of_a_group() -> None:
    cells = table({"id": "c1", "decision": "keep", "min_voltage": 2.5, "charge_limit": 4.20},
                  {"id": "c2", "decision": "keep", "min_voltage": 3.0, "charge_limit": 4.35},
                  {"id": "c3", "decision": "reject", "min_voltage": 3.2, "charge_limit": 4.10})
    assert wire.group_minimum(2.75, cells) == 3.0
    assert wire.group_charge_limit(4.20, cells) == 4.20
    assert wire.group_minimum(2.75) == 2.75 and wire.group_charge_limit(4.20, Table(())) == 4.20
