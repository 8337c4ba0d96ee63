"""What a discharge test says: charge and energy with their uncertainty, who went down first, resistances, errors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from statistics import median

from buildtrack.physics.log_records import LoadStep, Mark, Row
from buildtrack.physics.logs import LogSummary
from buildtrack.physics.ocv import Curve


@dataclass(frozen=True, slots=True)
class Meter:
    """What is known of the instruments: share of reading and constant part, for current and voltage.

    The results carry the same kind of uncertainty as these figures (limits give limits, standard gives standard).
    """

    current_gain: float = 0.0
    current_offset_a: float = 0.0
    voltage_gain: float = 0.0
    voltage_offset_v: float = 0.0


@dataclass(frozen=True, slots=True)
class Measured:
    """A value with its uncertainty."""

    value: float
    uncertainty: float


def charge_with_uncertainty(charge_ah: float, duration_s: float, meter: Meter) -> Measured:
    """Charge with u = sqrt((g Q)^2 + (I0 t)^2): gain and offset of the current meter act on all rows alike [Ah].

    Source: arithmetic, first-order propagation of errors common to all rows.
    """
    return Measured(charge_ah, hypot(meter.current_gain * charge_ah, meter.current_offset_a * duration_s / 3600))


def energy_with_uncertainty(energy_wh: float, charge_ah: float, duration_s: float, meter: Meter) -> Measured:
    """Energy with u = sqrt((g_I E)^2 + (g_U E)^2 + (I0 U t)^2 + (U0 Q)^2), U the mean voltage [Wh].

    Source: arithmetic, first-order propagation of errors common to all rows.
    """
    mean_v = energy_wh / charge_ah if charge_ah else 0.0
    parts = (
        meter.current_gain * energy_wh,
        meter.voltage_gain * energy_wh,
        meter.current_offset_a * mean_v * duration_s / 3600,
        meter.voltage_offset_v * charge_ah,
    )
    return Measured(energy_wh, hypot(*parts))


@dataclass(frozen=True, slots=True)
class StepResistance:
    """Resistance from load steps: median, smallest and largest of the steps used, and how many."""

    resistance_ohm: float
    lowest_ohm: float
    highest_ohm: float
    steps: int


def step_resistance_ohm(
    voltage_before_v: float, voltage_after_v: float, current_before_a: float, current_after_a: float
) -> float:
    """Resistance from one load step: R = (U1 - U2) / (I2 - I1), discharge current positive [ohm].

    Refused for an unchanged current. Source: iec-61960-3, DC method with two currents.
    """
    change_a = current_after_a - current_before_a
    if change_a == 0:
        raise ValueError("the current does not change between the two rows; a load step is needed")
    return (voltage_before_v - voltage_after_v) / change_a


def resistances_from_steps(
    steps: Sequence[LoadStep], *, within_s: float = 5.0, least_a: float = 0.2
) -> tuple[StepResistance | None, tuple[StepResistance | None, ...]]:
    """Resistance of the pack and of every group from the load steps of a log; None where no step can be used.

    Steps over more than `within_s` or by less than `least_a` are left out; the median is taken.
    """
    used = [s for s in steps if s.seconds_apart <= within_s and abs(s.current_after_a - s.current_before_a) >= least_a]
    pack = _spread([_one(s, s.voltage_before_v, s.voltage_after_v) for s in used])
    count = len(used[0].groups_before_v) if used else 0
    groups = tuple(_spread([_one(s, s.groups_before_v[g], s.groups_after_v[g]) for s in used]) for g in range(count))
    return pack, groups


def _one(step: LoadStep, before_v: float, after_v: float) -> float:
    return step_resistance_ohm(before_v, after_v, step.current_before_a, step.current_after_a)


def _spread(values: Sequence[float]) -> StepResistance | None:
    real = [value for value in values if value > 0]
    return StepResistance(median(real), min(real), max(real), len(real)) if real else None


@dataclass(frozen=True, slots=True)
class Spread:
    """Difference between highest and lowest group at a moment, and the two groups (from 0)."""

    volts: float
    lowest: int
    highest: int


def spread_of(row: Row | None) -> Spread | None:
    """Spread of the group voltages of a row; None without groups [V]."""
    if row is None or len(row.groups_v) < 2:
        return None
    order = sorted(range(len(row.groups_v)), key=row.groups_v.__getitem__)
    return Spread(row.groups_v[order[-1]] - row.groups_v[order[0]], order[0], order[-1])


@dataclass(frozen=True, slots=True)
class DischargeResult:
    """A discharge test in figures; group numbers count from 0; None where the log does not tell."""

    charge: Measured
    energy: Measured
    duration_s: float
    mean_v: float | None
    first_down: int | None
    lowest_end_v: float | None
    spread_start: Spread | None
    spread_alarm: Spread | None
    spread_end: Spread | None
    pack_resistance: StepResistance | None
    group_resistance: tuple[StepResistance | None, ...]
    temperature_rise_k: float | None
    alarm_at_s: float | None
    alarm_error_v: float | None
    alarm_to_end_ah: float | None
    alarm_to_end_s: float | None
    cutoff_error_v: float | None
    usable_share: float | None
    board_opened: bool
    notes: tuple[str, ...]


def evaluate(
    log: LogSummary,
    *,
    meter: Meter | None = None,
    alarm_v: float | None = None,
    alarm_heard_s: float | None = None,
    cutoff_v: float | None = None,
    nominal_ah: float | None = None,
) -> DischargeResult:
    """Evaluate a discharge test. `alarm_heard_s` is when the alarm sounded (read the log with `watch_s`), `alarm_v` its
    setting; without it the first row at or below the setting is taken (read the log with `watch_v`). Errors are
    measured minus setting of the lowest group.
    """
    meter = meter or Meter()
    notes: list[str] = []
    last = log.last_loaded
    alarm = _alarm_mark(log, alarm_v, alarm_heard_s)
    lowest_end = min(last.groups_v) if last is not None and last.groups_v else None
    pack, groups = resistances_from_steps(log.steps)
    board = log.end_kind == "board opened"
    if not board:
        notes.append(f"who ended the test: {log.end_kind}; the board's cutoff is not shown by this log")
    if lowest_end is None:
        notes.append("no group voltages in this log: it cannot tell which group went down first")
    heard = alarm is not None and alarm_heard_s is not None
    return DischargeResult(
        charge=charge_with_uncertainty(log.discharged_ah, log.duration_s, meter),
        energy=energy_with_uncertainty(log.discharged_wh, log.discharged_ah, log.duration_s, meter),
        duration_s=log.loaded_s,
        mean_v=log.mean_v,
        first_down=last.groups_v.index(lowest_end) if last is not None and lowest_end is not None else None,
        lowest_end_v=lowest_end,
        spread_start=spread_of(log.first_loaded),
        spread_alarm=spread_of(alarm.row) if alarm is not None else None,
        spread_end=spread_of(last),
        pack_resistance=pack,
        group_resistance=groups,
        temperature_rise_k=_rise(log),
        alarm_at_s=alarm.row.time_s if alarm is not None else None,
        alarm_error_v=_error(alarm.row, alarm_v) if alarm is not None and heard else None,
        alarm_to_end_ah=log.charge_ah - alarm.charge_ah if alarm is not None else None,
        alarm_to_end_s=last.time_s - alarm.row.time_s if alarm is not None and last is not None else None,
        cutoff_error_v=_error(last, cutoff_v) if board else None,
        usable_share=log.discharged_ah / nominal_ah if nominal_ah else None,
        board_opened=board,
        notes=tuple(notes),
    )


def _rise(log: LogSummary) -> float | None:
    pairs = zip(log.temperature_first_degc, log.temperature_highest_degc, strict=True)
    return max((high - first for first, high in pairs), default=None)


def _error(row: Row | None, setting_v: float | None) -> float | None:
    return min(row.groups_v) - setting_v if row is not None and row.groups_v and setting_v is not None else None


def _alarm_mark(log: LogSummary, alarm_v: float | None, heard_s: float | None) -> Mark | None:
    wanted = ("time", heard_s) if heard_s is not None else ("voltage", alarm_v)
    return next((mark for mark in log.marks if (mark.asked, mark.value) == wanted), None)


@dataclass(frozen=True, slots=True)
class Stranded:
    """Charge left in a group after the test: range from its rested voltage, and what limits the answer."""

    low_ah: float
    high_ah: float
    note: str


def stranded_charge(
    rested_v: Sequence[float], capacity_ah: Sequence[float], curve: Curve, uncertainty_v: float = 0.005
) -> tuple[Stranded, ...]:
    """Charge left in every group by its rested voltage: Q_left = soc(U) Q, as a range [Ah].

    Assumes half an hour's rest at least. Source: the curve's own.
    """
    answers = []
    for volts, capacity in zip(rested_v, capacity_ah, strict=True):
        told = curve.soc_range(volts, uncertainty_v)
        answers.append(Stranded(told.low * capacity, told.high * capacity, told.note))
    return tuple(answers)
