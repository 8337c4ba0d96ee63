"""Workings of handing over: cost, worth, mass, comparison with the old pack, label."""

from __future__ import annotations

import math

from buildtrack.physics import transport, worth
from buildtrack.workings.graph import Working
from buildtrack.workings.hand_over_label import label_text
from buildtrack.workings.hand_over_worth import WorthReport, worth_report
from buildtrack.workings.pack_groups import GroupReport
from buildtrack.workings.values import Table

STEP = "hand_over"


def total_cost(costs: Table, cells_cost: float | None = None) -> float | None:
    """Sum of everything that was paid for; the cells by their own prices where no line of the costs is for cells."""
    amounts = list(costs.numbers("amount"))
    if amounts and cells_cost is not None and all(row.text("kind") != "cells" for row in costs):
        amounts.append(cells_cost)
    return math.fsum(amounts) if amounts else None


def cost_per_wh(total_cost: float, delivered_energy: float) -> float:
    """Money per watt-hour that the pack really gave."""
    return worth.cost_per_wh(total_cost, delivered_energy)


def cost_per_wh_new(new_pack_price: float, old_energy: float) -> float:
    """Money per watt-hour of a new pack of the original kind."""
    return worth.cost_per_wh(new_pack_price, old_energy)


def mass_change(mass_after: float, old_mass: float) -> float:
    """How much heavier the pack has become."""
    return mass_after - old_mass


def energy_against_old(delivered_energy: float, old_energy: float) -> float:
    """Energy of the test over the energy of the old pack when it was new."""
    if not old_energy > 0:
        raise ValueError(f"the old pack's energy is {old_energy:g} Wh; it must be above 0 Wh")
    return delivered_energy / old_energy


def runtime_working(delivered_capacity_tested: float, duty_mean_current: float) -> float:
    """Time of typical work from full to the cutoff."""
    return worth.runtime_h(delivered_capacity_tested, duty_mean_current) * 3600.0


def runtime_old(old_capacity: float, duty_mean_current: float) -> float:
    """Time of the same work on the old pack when it was new (same current assumed)."""
    return worth.runtime_h(old_capacity, duty_mean_current) * 3600.0


def claimed_energy(pack_nominal_voltage: float, group_report: GroupReport) -> float | None:
    """Energy the wrappers promise: nominal voltage times the printed capacity of the group that has least of it."""
    rated = [g.rated_ah for g in group_report.groups]
    known = [ah for ah in rated if ah is not None]
    return transport.nominal_energy_wh(pack_nominal_voltage, min(known)) if known and len(known) == len(rated) else None


def claimed_shortfall(claimed_energy: float, delivered_energy: float) -> float:
    """Share of the energy on the wrappers that the test did not give."""
    return worth.claimed_shortfall_share(claimed_energy, delivered_energy)


def money_share(total_cost: float, copy_pack_price: float) -> float:
    """What was spent as a share of a copied pack's price."""
    if not copy_pack_price > 0:
        raise ValueError(f"a copied pack costs {copy_pack_price:g}; the price must be above 0")
    return total_cost / copy_pack_price


def break_even(worth_report: WorthReport) -> float | None:
    """Value of an hour of work above which the cheapest bought way is cheaper."""
    return worth_report.hour_value


WORKINGS = (
    Working(total_cost, STEP, "Cost in all", "money", "sum of the amounts, and of the cells' own prices "
            "where no amount is for cells", "definition", expression=False, digits=4),
    Working(cost_per_wh, STEP, "Cost per measured watt-hour", "money/Wh", "total_cost / delivered_energy",
            "definition"),
    Working(cost_per_wh_new, STEP, "Cost per watt-hour of a new pack", "money/Wh", "new_pack_price / old_energy",
            "definition"),
    Working(mass_change, STEP, "Change of mass", "g", "mass_after - old_mass", "definition"),
    Working(energy_against_old, STEP, "Energy against the old pack when new", "%",
            "delivered_energy / old_energy", "definition"),
    Working(runtime_working, STEP, "Typical work from full to cutoff", "min",
            "delivered_capacity_tested / duty_mean_current * 3600",
            "I = Q / t (OpenStax University Physics 9.1)"),
    Working(runtime_old, STEP, "The same work on the old pack when new", "min",
            "old_capacity / duty_mean_current * 3600", "I = Q / t (OpenStax University Physics 9.1)",
            note="takes the same current, although the old pack's voltage was another"),
    Working(claimed_energy, STEP, "Energy on paper", "Wh", "nominal voltage × least printed capacity of a group",
            "49 CFR 173.185 (nominal voltage × rated capacity)", expression=False),
    Working(claimed_shortfall, STEP, "Energy on paper that is not there", "%",
            "1 - delivered_energy / claimed_energy", "definition"),
    Working(money_share, STEP, "Cost against a copied pack", "%", "total_cost / copy_pack_price", "definition"),
    Working(worth_report, STEP, "Was it worth it", "", "cost / energy; (cost of buying - cost) / hours",
            "definition", expression=False, note="three years of life assumed (common practice, no source)"),
    Working(break_even, STEP, "An hour of work may count up to", "money/h", "(cheapest price - cost) / hours",
            "definition", expression=False),
    Working(label_text, STEP, "Label", "", "measured values of this build only",
            "UN Manual of Tests and Criteria 38.3 (whole watt-hours); IEC 61960-3 (designation)", expression=False),
)
