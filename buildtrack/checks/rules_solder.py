"""Coded rules over cells that were soldered: what shows whether the heat harmed them."""

from __future__ import annotations

import statistics

from buildtrack import units
from buildtrack.checks.rules_general_words import PASS, found, listed
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.workings.pack_groups import GroupReport

SISTERS_V = 0.005
"""So much further than the middle of all a cell may fall in a day: chosen, no source."""
TABLE = "soldered_cells"


def _falls(context: Context) -> dict[str, float]:
    """How far each cell fell from an hour to a day after soldering [V]."""
    pairs = ((r.id, r.number("after_hour"), r.number("after_day")) for r in context.rows(TABLE))
    return {name: first - later for name, first, later in pairs if first is not None and later is not None}


def soldered_on_cells(context: Context) -> Ruling:
    """Cells were soldered: always a caution, which names whether they were read again a day after."""
    if context.known("joining_method") != "solder":
        return PASS
    if not context.has(TABLE):
        return Ruling("fail", {"value": "read every cell an hour and a day after it"})
    report, falls = context.known("group_report"), _falls(context)
    in_pack = [c for g in report.groups for c in g.cells] if isinstance(report, GroupReport) else []
    lacking = [c for c in in_pack if c not in falls] or [r.id for r in context.rows(TABLE) if r.id not in falls]
    if not falls:
        told = "no cell is read again an hour and a day after it"
    elif lacking:
        told = f"not read again an hour and a day after it: {listed(lacking)}"
    else:
        told = (f"{units.counted(len(falls), 'cell')} read again after a day, the largest fall "
                f"{units.show(max(falls.values()), 'mV', digits=2)}")
    return Ruling("fail", {"value": told})


def soldered_cell_falls(context: Context) -> Ruling:
    """No soldered cell falls away from its sisters within the day after."""
    falls = _falls(context)
    if not falls:
        return Ruling("unknown", needs=(f"{TABLE}.after_hour", f"{TABLE}.after_day"))
    if len(falls) < 2:
        return PASS
    middle = statistics.median(falls.values())
    apart = [f"{name} fell {units.show(fall - middle, 'mV', digits=2)} more" for name, fall in falls.items()
             if fall - middle > SISTERS_V + 1e-9]
    return found(apart, limit=units.show(SISTERS_V, "mV"))
