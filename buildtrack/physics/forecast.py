"""Forecast of a discharge: when the alarm sounds, when the board opens, what is delivered and what stays behind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.physics.forecast_loads import (
    Duty,
    Moment,
    duty_charge_at,
    duty_end,
    duty_heat_wh,
    duty_moment,
)
from buildtrack.physics.forecast_power import PowerCourse, power_course, power_moment
from buildtrack.physics.forecast_string import Group, String, make_string

BAND_TO_1C = 0.02
BAND_AT_2C = 0.05
"""The model's own error, always on the hopeful side: found against a physics model of a 5 Ah NMC cell; own study."""

BEYOND_LOGGED = 2.0
"""Above this multiple of the logged rate a forecast is an extrapolation."""


@dataclass(frozen=True, slots=True)
class GroupState:
    """One group at a moment: open-circuit and terminal voltage, state of charge, charge left."""

    ocv_v: float
    terminal_v: float
    soc: float
    left_ah: float


@dataclass(frozen=True, slots=True)
class Event:
    """A moment of the forecast: kind (start, alarm, cutoff, empty, power), the group concerned (from 0), all groups."""

    kind: str
    time_s: float
    charge_ah: float
    current_a: float
    group: int | None
    pack_v: float
    groups: tuple[GroupState, ...]


@dataclass(frozen=True, slots=True)
class Forecast:
    """Result of a forecast; group numbers count from 0.

    `band_ah` is the delivered charge with the model's own error, which lies on the hopeful side only.
    """

    alarm_s: float | None
    alarm_group: int | None
    cutoff_s: float
    ended_by_group: int | None
    ended_by: str
    delivered_ah: float
    delivered_wh: float
    mean_v: float
    left_ah: tuple[float, ...]
    heat_wh: float
    band_ah: tuple[float, float]
    extrapolated: bool
    events: tuple[Event, ...]
    notes: tuple[str, ...]

    def event(self, kind: str) -> Event | None:
        """The event of a kind, None if it does not happen."""
        return next((event for event in self.events if event.kind == kind), None)


def forecast(
    groups: Sequence[Group],
    load: Duty | float,
    *,
    cutoff_v: float | Sequence[float],
    alarm_v: float | Sequence[float] | None = None,
    rest_ohm: float = 0.0,
) -> Forecast:
    """Discharge a series string until a group reaches its cutoff, is empty, or the power cannot be delivered.

    `load` is a duty cycle [s, A] or a constant power [W] at the pack's terminals; `rest_ohm` is links, board and wire.
    V_g = U_g(soc_g) - I R_g; event times solved, not sampled; no relaxation, no temperature.
    Source: Kirchhoff's laws; curves by their own sources.
    """
    string = make_string(groups, rest_ohm)
    cutoff = _limits(cutoff_v, len(groups), "cutoff")
    alarm = _limits(alarm_v, len(groups), "alarm") if alarm_v is not None else None
    if isinstance(load, Duty):
        return _by_duty(string, load, cutoff, alarm)
    return _by_power(string, float(load), cutoff, alarm)


def _limits(value: float | Sequence[float], count: int, what: str) -> tuple[float, ...]:
    limits = (float(value),) * count if isinstance(value, int | float) else tuple(value)
    if len(limits) != count:
        raise ValueError(f"{len(limits)} {what} voltages for {count} groups; give one for all or one per group")
    return limits


def _by_duty(string: String, duty: Duty, cutoff: Sequence[float], alarm: Sequence[float] | None) -> Forecast:
    empty = duty_end(string, duty)
    stopped = duty_moment(string, duty, cutoff)
    end, kind = (stopped, "cutoff") if stopped is not None and stopped.time_s <= empty.time_s else (empty, "empty")
    heard = duty_moment(string, duty, alarm) if alarm is not None else None
    heat = duty_heat_wh(string, duty, end)
    delivered = string.energy_wh(end.charge_ah) - heat
    notes = (
        []
        if string.falls_throughout(duty.peak_a)
        else ["a group's voltage does not fall throughout; the first crossing is taken"]
    )
    return _result(
        string, duty.segments[0][1], heard, end, kind, delivered, heat, (duty.mean_while_drawing_a, duty.peak_a), notes
    )


def _by_power(string: String, power_w: float, cutoff: Sequence[float], alarm: Sequence[float] | None) -> Forecast:
    course = power_course(string, power_w)
    stopped = power_moment(string, course, cutoff)
    if stopped is not None:
        end, kind = stopped, "cutoff"
    else:
        last = Moment(course.time_s[-1], course.charge_ah[-1], course.current_a[-1], None)
        kind = "power" if course.gives_out else "empty"
        end = last if course.gives_out else Moment(last.time_s, last.charge_ah, last.current_a, string.empty_first)
    heard = power_moment(string, course, alarm) if alarm is not None else None
    notes = [f"{power_w:g} W can no longer be delivered"] if kind == "power" else []
    mean_a = end.charge_ah * 3600 / end.time_s if end.time_s > 0 else end.current_a
    heat = course.heat_at(string, end.charge_ah)
    return _result(
        string, course.current_a[0], heard, end, kind, power_w * end.time_s / 3600, heat, (mean_a, end.current_a), notes
    )


def _result(
    string: String,
    first_a: float,
    heard: Moment | None,
    end: Moment,
    kind: str,
    delivered_wh: float,
    heat_wh: float,
    currents_a: tuple[float, float],
    notes: list[str],
) -> Forecast:
    if heard is not None and heard.time_s > end.time_s:
        heard = None
    start = Moment(0.0, 0.0, first_a, None)
    moments = [("start", start), *([("alarm", heard)] if heard else []), (kind, end)]
    events = tuple(_event(string, name, moment) for name, moment in moments)
    mean_a, peak_a = currents_a
    band = max(model_band(mean_a / group.capacity_ah) for group in string.groups)
    logged = [g.curve.logged_rate_c for g in string.groups]
    beyond = any(
        rate and peak_a / g.capacity_ah > BEYOND_LOGGED * rate for rate, g in zip(logged, string.groups, strict=True)
    )
    beyond = beyond or max(peak_a / g.capacity_ah for g in string.groups) > 2.0
    if beyond:
        notes.append("extrapolated: the current lies beyond what the curve or the model was examined at")
    if kind == "empty":
        notes.append("the curve ends above the cutoff: the voltage falls steeply from there")
    return Forecast(
        alarm_s=heard.time_s if heard else None,
        alarm_group=heard.group if heard else None,
        cutoff_s=end.time_s,
        ended_by_group=end.group,
        ended_by=kind,
        delivered_ah=end.charge_ah,
        delivered_wh=delivered_wh,
        mean_v=delivered_wh / end.charge_ah if end.charge_ah > 0 else events[-1].pack_v,
        left_ah=tuple(state.left_ah for state in events[-1].groups),
        heat_wh=heat_wh,
        band_ah=(end.charge_ah * (1 - band), end.charge_ah),
        extrapolated=beyond,
        events=events,
        notes=tuple(notes),
    )


def _event(string: String, kind: str, moment: Moment) -> Event:
    states = group_states(string, moment.charge_ah, moment.current_a)
    pack_v = sum(state.terminal_v for state in states) - moment.current_a * string.rest_ohm
    return Event(kind, moment.time_s, moment.charge_ah, moment.current_a, moment.group, pack_v, states)


def group_states(string: String, charge_ah: float, current_a: float) -> tuple[GroupState, ...]:
    """Every group after a charge was drawn, at a current."""
    states = []
    for g, group in enumerate(string.groups):
        soc = string.soc(g, charge_ah)
        emf, ohm = group.curve.voltage(soc), group.resistance_at(soc)
        states.append(GroupState(emf, emf - current_a * ohm, soc, soc * group.capacity_ah))
    return tuple(states)


def model_band(rate_c: float) -> float:
    """The model's own error as a share of the delivered charge: 2 % to 1C, straight on to 5 % at 2C and beyond.

    Source: own study against a physics model of a 5 Ah NMC cell with its logged curve; always hopeful.
    """
    if rate_c <= 1.0:
        return BAND_TO_1C
    return BAND_TO_1C + (BAND_AT_2C - BAND_TO_1C) * (rate_c - 1.0)


@dataclass(frozen=True, slots=True)
class Sample:
    """The exact solution at one time, for drawing."""

    time_s: float
    charge_ah: float
    current_a: float
    pack_v: float
    group_v: tuple[float, ...]


def sample(
    groups: Sequence[Group], load: Duty | float, times_s: Sequence[float], *, rest_ohm: float = 0.0
) -> tuple[Sample, ...]:
    """The forecast's solution at wanted times, not stopped by any limit; times beyond the empty group are left out."""
    string = make_string(groups, rest_ohm)
    course = None if isinstance(load, Duty) else power_course(string, float(load))
    samples = []
    for time_s in times_s:
        if isinstance(load, Duty):
            charge, current = duty_charge_at(load, time_s)
        else:
            charge, current = _power_at(course, time_s)
        if time_s < 0 or charge > string.end_ah * (1 + 1e-12):
            continue
        states = group_states(string, min(charge, string.end_ah), current)
        volts = tuple(state.terminal_v for state in states)
        samples.append(Sample(time_s, charge, current, sum(volts) - current * string.rest_ohm, volts))
    return tuple(samples)


def _power_at(course: PowerCourse | None, time_s: float) -> tuple[float, float]:
    """Charge and current at a time under constant power: cubic between panel ends, whose slopes are known."""
    if course is None or time_s > course.time_s[-1]:
        return float("inf"), 0.0
    k = max(i for i, t in enumerate(course.time_s) if t <= time_s or i == 0)
    k = min(k, len(course.time_s) - 2)
    span = course.time_s[k + 1] - course.time_s[k]
    u = (time_s - course.time_s[k]) / span
    q0, q1 = course.charge_ah[k], course.charge_ah[k + 1]
    m0, m1 = course.current_a[k] * span / 3600, course.current_a[k + 1] * span / 3600
    charge = (
        (2 * u**3 - 3 * u**2 + 1) * q0 + (u**3 - 2 * u**2 + u) * m0 + (3 * u**2 - 2 * u**3) * q1 + (u**3 - u**2) * m1
    )
    slope = (6 * u**2 - 6 * u) * (q0 - q1) + (3 * u**2 - 4 * u + 1) * m0 + (3 * u**2 - 2 * u) * m1
    return charge, slope * 3600 / span
