"""Workings of the pack in service: re-checks, drift, fade, when to look again and when to retire it."""

from __future__ import annotations

from buildtrack.workings.aftercare_ageing import fade_per_month, next_recheck, resistance_growth, retire_report
from buildtrack.workings.aftercare_rechecks import drift_report, recheck_report
from buildtrack.workings.aftercare_upkeep import next_top_up
from buildtrack.workings.graph import Working

STEP = "aftercare"
END_OF_LIFE = "battery encyclopaedias: 80 % of the capacity or 200 % of the resistance"

WORKINGS = (
    Working(recheck_report, STEP, "Re-checks", "", "spread = highest group - lowest group", "definition",
            expression=False),
    Working(drift_report, STEP, "Drift of the groups", "",
            "((group - middle) at the later - the same at the earlier) / days × 30", "definition", expression=False,
            note="a difference of readings of one meter: its scale error cancels"),
    Working(fade_per_month, STEP, "Capacity lost a month", "%", "(1 - Q_last / Q_first) / days × 30", "definition",
            expression=False, tables=True),
    Working(resistance_growth, STEP, "Resistance gained a month", "%", "(R_last / R_first - 1) / days × 30",
            "definition", expression=False, tables=True, note="compare only readings of the same kind and temperature"),
    Working(retire_report, STEP, "End of service", "", "capacity <= limit of the first, or resistance >= limit",
            END_OF_LIFE, expression=False, note="a straight line is hopeful: below 80 % cells fade faster"),
    Working(next_recheck, STEP, "Next re-check", "", "hand-over + a week, 1, 3, 6, 12 months, then every year",
            "common practice, no source", expression=False,
            note="months of the calendar; 31 January and a month is the last of February"),
    Working(next_top_up, STEP, "Look and top up by", "", "last look (hand-over or re-check) + the interval agreed",
            "definition", expression=False),
)
