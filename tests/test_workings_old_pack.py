"""Workings of the step old pack. Voltages of nickel cells: IEC 61951-1 (1.2 V nominal, 1.45 V charged, 1.0 V empty)."""

from __future__ import annotations

import pytest

from buildtrack.workings import old_pack
from buildtrack.workings.values import Record, Table


def old_cells(*voltages: float, state: str = "sound") -> Table:
    return Table(tuple(Record(f"n{i}", {"voltage": v, "state": state}) for i, v in enumerate(voltages, 1)))


def test_ten_nickel_cells_make_12_0_14_5_and_10_0_volts() -> None:
    # by hand: 10 × 1.2, 10 × 1.45, 10 × 1.0
    assert old_pack.old_nominal_voltage(10.0) == pytest.approx(12.0)
    assert old_pack.old_full_voltage(10.0) == pytest.approx(14.5)
    assert old_pack.old_empty_voltage(10.0) == pytest.approx(10.0)


@pytest.mark.parametrize(("cells", "groups"), [(6, 2), (8, 2), (10, 3), (12, 4), (15, 5), (20, 6)])
def test_most_groups_follow_from_full_voltages(cells: int, groups: int) -> None:
    # by hand: floor(n × 1.45 / 4.20): 2.07, 2.76, 3.45, 4.14, 5.18, 6.90
    assert old_pack.highest_series(float(cells), 4.20) == groups


def test_an_exact_multiple_is_not_lost_to_rounding() -> None:
    # by hand: 12 × 1.45 = 17.4 = 4 × 4.35
    assert old_pack.highest_series(12.0, 4.35) == 4


def test_a_label_tells_the_number_of_cells() -> None:
    assert old_pack.label_cells(12.0) == 10
    assert old_pack.label_cells(14.4) == 12
    with pytest.raises(ValueError, match="count the cells"):
        old_pack.label_cells(12.6)


def test_half_a_cell_is_refused() -> None:
    with pytest.raises(ValueError, match="whole number"):
        old_pack.old_full_voltage(9.5)


def test_cells_are_told_apart_by_their_voltage() -> None:
    # by hand: median of the living 1.25, 1.26, 1.10, 1.27 is 1.255; 1.10 lies more than 0.10 under it
    report = old_pack.old_cell_report(old_cells(1.25, 1.26, 0.02, -0.3, 1.10, 1.27))
    assert report is not None
    assert [c.state for c in report.cells] == ["sound", "sound", "flat", "reversed", "weak", "sound"]
    assert report.summary == "3 sound, 1 weak, 1 flat, 1 reversed"
    assert report.named("flat", "reversed") == ("n3", "n4")
    assert report.lines[3] == ("n4", "-0.300 V", "reversed", "sound")
    assert len(report.head) == 4


def test_leaking_cells_are_named_in_the_summary() -> None:
    report = old_pack.old_cell_report(old_cells(1.2, state="leaking"))
    assert report is not None and report.summary == "1 sound; damaged: n1"


def test_a_table_without_voltages_says_nothing_yet() -> None:
    empty = Table((Record("n1", {}),))
    assert old_pack.old_cell_report(empty) is None
    assert old_pack.old_median_cell_voltage(empty) is None
    assert old_pack.old_cell_spread(empty) is None


def test_median_and_spread_of_old_cells() -> None:
    # by hand: sorted 1.10, 1.20, 1.24, 1.26: median 1.22, spread 0.16
    table = old_cells(1.26, 1.10, 1.24, 1.20)
    assert old_pack.old_median_cell_voltage(table) == pytest.approx(1.22)
    assert old_pack.old_cell_spread(table) == pytest.approx(0.16)


def test_energy_when_new_and_rate_of_the_old_charger() -> None:
    # by hand: 12 V × 1.3 Ah = 15.6 Wh; 0.4 A / 1.3 Ah = 0.3077 / h
    assert old_pack.old_energy(10.0, 1.3) == pytest.approx(15.6)
    assert old_pack.old_charger_c_rate(0.4, 1.3) == pytest.approx(0.4 / 1.3)


def test_the_old_charger_would_force_seven_volts_on_each_of_three_groups() -> None:
    # by hand: 21 V / 3
    assert old_pack.old_charger_per_group(21.0, 3.0) == pytest.approx(7.0)
    with pytest.raises(ValueError, match="groups in series"):
        old_pack.old_charger_per_group(21.0, 0.0)


def test_two_shorted_cells_show_as_two_missing_voltages() -> None:
    # by hand: (10 × 1.3 - 10.3) / 1.3 = 2.08
    assert old_pack.old_missing_cells(10.0, 10.3) == 2
    assert old_pack.old_missing_cells(10.0, 13.4) == 0


def test_loss_at_rest_and_voltage_per_cell_at_opening() -> None:
    # by hand: 1 - 12.51 / 13.9 = 0.1; 10.2 / 10 = 1.02
    assert old_pack.old_rest_loss(13.9, 12.51) == pytest.approx(0.1)
    assert old_pack.opening_cell_voltage(10.2, 10.0) == pytest.approx(1.02)
    with pytest.raises(ValueError, match="above 0 V"):
        old_pack.old_rest_loss(0.0, 1.0)


def test_resistance_of_the_old_pack_from_its_sag() -> None:
    # by hand: (13.1 - 12.2) / 3 = 0.3 ohm
    assert old_pack.old_pack_resistance(13.1, 12.2, 3.0) == pytest.approx(0.3)
    with pytest.raises(ValueError, match="higher under load"):
        old_pack.old_pack_resistance(12.0, 12.5, 3.0)
    with pytest.raises(ValueError, match="above 0 A"):
        old_pack.old_pack_resistance(12.0, 11.5, 0.0)
