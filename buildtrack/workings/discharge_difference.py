"""Forecast beside test: how far they are apart, and what the difference looks like."""

from __future__ import annotations

import math
from dataclasses import dataclass

from buildtrack import units
from buildtrack.physics.discharge import DischargeResult, Measured, Spread, StepResistance
from buildtrack.physics.discharge_verdict import compare
from buildtrack.workings.discharge_forecast import ForecastReport
from buildtrack.workings.discharge_groups import GroupResistances
from buildtrack.workings.discharge_log import LogData
from buildtrack.workings.discharge_test import TestReport
from buildtrack.workings.pack_groups import Group, GroupReport

GENERIC_CURVE = 0.02
"""Further doubt of a forecast on a published curve of another cell of the same chemistry (our own choice)."""

SUSPICIOUS = ("counter differs", "backward time", "clock restarted", "sign")
"""Warnings of a log that put its charge in doubt."""
APART = 0.02
"""Log and display may differ by so much (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class ForecastDifference:
    """Delivered charge of the test against the forecast."""

    forecast_ah: float
    tested_ah: float
    low_ah: float
    high_ah: float
    """Charges that would agree with the forecast: the model's own error and the capacities' limits of error."""
    verdict: str
    """agrees, capacity short, one group weak, resistance high, or log suspicious."""
    sentence: str

    @property
    def share(self) -> float:
        """Tested over forecast, less one."""
        return self.tested_ah / self.forecast_ah - 1

    @property
    def summary(self) -> str:
        """The whole in one line."""
        return f"{self.verdict}: {self.sentence}"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("what", "charge")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """Forecast, range and test."""
        return (("forecast", units.show(self.forecast_ah, "Ah", digits=4)),
                ("agrees from", units.show(self.low_ah, "Ah", digits=4)),
                ("agrees to", units.show(self.high_ah, "Ah", digits=4)),
                ("tested", units.show(self.tested_ah, "Ah", digits=4)), ("verdict", self.verdict))


def forecast_difference(forecast: ForecastReport, test_report: TestReport, delivered_capacity_tested: float,
                        group_report: GroupReport, group_resistances: GroupResistances | None = None,
                        discharge_log_data: LogData | None = None,
                        delivered_capacity: float | None = None) -> ForecastDifference:
    """Delivered charge against the forecast, with both doubts, and the likeliest reason of a difference."""
    if not forecast.delivered_ah > 0:
        raise ValueError("the forecast delivers nothing: resistance, test current or cutoff cannot be right")
    doubt = max((_doubt(g) for g in group_report.groups), default=0.0) + (0.0 if forecast.own_curve else GENERIC_CURVE)
    gaps = 0.0
    if discharge_log_data is not None and discharge_log_data.log.discharged_ah > 0:
        gaps = abs(discharge_log_data.log.gap_charge_ah) / discharge_log_data.log.discharged_ah
    found = compare(
        forecast.solution, _result(test_report, delivered_capacity_tested, group_resistances), gap_share=gaps,
        assumed_resistance_ohm=[g.resistance_ohm or 0.0 for g in group_report.groups], capacity_uncertainty=doubt,
        suspect=_suspect(discharge_log_data, delivered_capacity))
    low = forecast.band_ah[0] - doubt * forecast.delivered_ah
    high = forecast.delivered_ah * (1 + doubt)
    return ForecastDifference(forecast.delivered_ah, delivered_capacity_tested, low, high, found.kind, found.sentence)


def _suspect(data: LogData | None, displayed_ah: float | None) -> str:
    """What speaks against the log's own charge: the load's display, the file's own counter, times that run back."""
    if data is None:
        return ""
    logged = data.log.discharged_ah
    if displayed_ah is not None and abs(displayed_ah - logged) > APART * logged:
        return f"the load's display says {units.show(displayed_ah, 'Ah', digits=3)}; set the log's columns right"
    return next((w.text for w in data.log.warnings if w.name in SUSPICIOUS), "")


def _doubt(group: Group) -> float:
    if not group.capacity_ah:
        return 0.0
    return math.sqrt(math.fsum(e * e for e in group.capacity_errors.values())) / group.capacity_ah


def _result(test: TestReport, tested_ah: float, measured: GroupResistances | None) -> DischargeResult:
    """The test as the comparison sees it, whatever it was recorded by."""
    ends = [g.cutoff_v for g in test.groups]
    known = [v for v in ends if v is not None]
    whole = len(known) == len(ends) and len(known) >= 2
    order = sorted(range(len(known)), key=known.__getitem__)
    resistances = tuple(
        None if g.measured_ohm is None else StepResistance(g.measured_ohm, g.measured_ohm, g.measured_ohm, g.readings)
        for g in measured.groups) if measured is not None else ()
    return DischargeResult(
        charge=Measured(tested_ah, 0.0), energy=Measured(test.delivered_wh or 0.0, 0.0), duration_s=test.duration_s,
        mean_v=test.mean_v, first_down=order[0] if whole else None, lowest_end_v=min(known, default=None),
        spread_start=None, spread_alarm=None,
        spread_end=Spread(known[order[-1]] - known[order[0]], order[0], order[-1]) if whole else None,
        pack_resistance=None, group_resistance=resistances, temperature_rise_k=None, alarm_at_s=test.alarm_s,
        alarm_error_v=None, alarm_to_end_ah=test.after_alarm_ah, alarm_to_end_s=None, cutoff_error_v=None,
        usable_share=None, board_opened=test.ended_by_log == "board opened", notes=test.remarks)
