"""Workings of the charge: rate, time, charger voltage, the group that leads, how far the groups are apart."""

from __future__ import annotations

from buildtrack.physics import charging
from buildtrack.workings.charge_balance import balance_report, imbalance_charge
from buildtrack.workings.charge_groups import (
    charge_spread_end,
    charge_spread_rested,
    highest_group_seen,
    rest_drop_report,
)
from buildtrack.workings.charge_zone import charge_zone
from buildtrack.workings.graph import Working
from buildtrack.workings.values import Table

STEP = "charge"
TAIL_H = 1.2
"""Time the current takes to fall while the voltage is held, usually 0.7 to 1.5 h (common practice, no source)."""


def charge_c_rate(charger_current: float, smallest_group_capacity: float) -> float:
    """Charge current over the capacity of the smallest group."""
    return charging.charge_rate_per_h(charger_current, smallest_group_capacity)


def charge_time_estimate(smallest_group_capacity: float, charger_current: float) -> float:
    """Whole time of a charge from empty."""
    return charging.charge_time_h(smallest_group_capacity, charger_current, TAIL_H) * 3600.0


def charge_time_limit(charge_time_estimate: float, charge_timeout: float) -> float:
    """Time after which a charge that has not ended is stopped."""
    return charge_time_estimate * charge_timeout


def charge_end_current(smallest_group_capacity: float, end_of_charge: float) -> float:
    """Current at which a charge ends."""
    return smallest_group_capacity * end_of_charge


def charger_voltage_error(charger_voltage: float, charge_voltage_target: float) -> float:
    """Share by which the charger's open voltage lies above (below: negative) the target."""
    return charger_voltage / charge_voltage_target - 1


def charger_voltage_highest(series_count: float, cell_full: float, charger_stop: float) -> float:
    """Highest open voltage a charger for this pack may show."""
    return series_count * cell_full * (1 + charger_stop)


def charger_voltage_usual(charge_voltage_target: float, charger_tolerance: float) -> float:
    """Open voltage up to which a charger lies within its tolerance."""
    return charge_voltage_target * (1 + charger_tolerance)


def charger_voltage_lowest(charge_voltage_target: float, charger_tolerance: float) -> float:
    """Open voltage from which a charger lies within its tolerance."""
    return charge_voltage_target * (1 - charger_tolerance)


def worst_group_voltage(charger_voltage: float, series_count: float, cell_full: float, charge_spread: float,
                        charge_groups: Table | None = None) -> float:
    """Voltage the leading group reaches when all others lag as far as they were seen to.

    They lag as the lowest group did at the end of the charge; before that is known, by the allowed spread.
    """
    ends = charge_groups.numbers("at_end") if charge_groups is not None else ()
    lagging = min(ends) if len(ends) >= 2 else cell_full - charge_spread
    return charging.worst_group_voltage_v(charger_voltage, int(series_count), lagging)


WORKINGS = (
    Working(charge_c_rate, STEP, "Charge rate", "C", "charger_current / smallest_group_capacity",
            "IEC 61960-3 (It = C / 1 h)"),
    Working(charge_time_estimate, STEP, "Charge time from empty, about", "h",
            "(0.85 * smallest_group_capacity / charger_current + 1.2) * 3600", "common practice, no source", digits=2,
            note="85 % at full current, then a tail of 0.7 to 1.5 h"),
    Working(charge_time_limit, STEP, "Stop a charge that has not ended after", "h",
            "charge_time_estimate * charge_timeout", "common practice, no source", digits=2),
    Working(charge_end_current, STEP, "A charge ends at", "mA", "smallest_group_capacity * end_of_charge",
            "sheet of a 2500 mAh 18650 cell (0.05 C)"),
    Working(charge_zone, STEP, "Allowed at this temperature", "", "rate and voltage of the zone of temperature",
            "zones as published for the chemistry (data/chemistries.toml, each with its source)", expression=False,
            note="the cell's own limits come on top"),
    Working(charger_voltage_error, STEP, "Charger off by", "%", "charger_voltage / charge_voltage_target - 1",
            "definition", digits=2),
    Working(charger_voltage_highest, STEP, "Charger may show at most", "V",
            "series_count * cell_full * (1 + charger_stop)",
            "sheets of protection and charger circuits (4.20 V with 1 %)", digits=4),
    Working(charger_voltage_usual, STEP, "Charger usually shows at most", "V",
            "charge_voltage_target * (1 + charger_tolerance)", "definition (the tolerance has its source)", digits=4),
    Working(charger_voltage_lowest, STEP, "Charger usually shows at least", "V",
            "charge_voltage_target * (1 - charger_tolerance)", "definition (the tolerance has its source)", digits=4),
    Working(worst_group_voltage, STEP, "Leading group reaches at most", "V",
            "charger voltage - (groups - 1) × voltage of the lowest group at the end; before that is read: full "
            "less the allowed spread",
            "Kirchhoff's voltage law (OpenStax University Physics 10.3)", expression=False, digits=4),
    Working(highest_group_seen, STEP, "Highest group seen while charging", "V", "highest reading of both charges",
            "definition", expression=False, digits=4, tables=True),
    Working(charge_spread_end, STEP, "Groups apart at the end of the charge", "mV", "highest - lowest", "definition",
            expression=False, tables=True, note="readings of one meter: its scale error cancels"),
    Working(charge_spread_rested, STEP, "Groups apart after the rest", "mV", "highest - lowest", "definition",
            expression=False, tables=True, note="readings of one meter: its scale error cancels"),
    Working(rest_drop_report, STEP, "Rest after the charge", "", "end of charge - rested, against the middle group",
            "common practice, no source (20 mV more than the others)", expression=False),
    Working(imbalance_charge, STEP, "Charge the groups are apart", "mAh",
            "(V_highest - V_lowest) / slope of the resting curve × Q of that group",
            "arithmetic; the maker's own curve where there is one, else as published (its own source)",
            expression=False, digits=2,
            tables=True),
    Working(balance_report, STEP, "Balance of the groups", "",
            "above the lowest = (V - V_lowest ± 2 mV) / slope × Q; hours = charge apart / bleed current; charges = "
            "charge apart / (bleed current × 0.75 h - leak difference × 7 d); never, where leak or "
            "capacity bring it back",
            "arithmetic; 0.75 h of bleeding for each charge: common practice, no source", expression=False,
            note="without its tolerance the bleed's start is taken as ± 25 mV, the figure of the HY2213; groups that "
                 "rest above the curve are laid on its top; points to: each group beside the middle one, full and "
                 "rested within 15 mV and at the end within 75 mV is level"),
)
