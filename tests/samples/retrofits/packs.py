"""The invented batteries behind the readings: groups that discharge and charge along a published curve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.physics.ocv_library import generic_curve
from tests.samples.retrofits.fill import Answer


@dataclass(frozen=True, slots=True)
class Group:
    """One group as it really is."""

    capacity_ah: float
    resistance_ohm: float
    soc: float = 1.0


@dataclass(frozen=True, slots=True)
class Moment:
    """All groups at one moment of a run."""

    minutes: float
    groups_v: tuple[float, ...]
    warmest_degc: float


@dataclass(frozen=True, slots=True)
class Battery:
    """Groups in series of one chemistry."""

    chemistry: str
    groups: tuple[Group, ...]

    def rested(self, soc: float) -> float:
        curve = generic_curve(self.chemistry)
        if soc >= 0:
            return curve.voltage(min(soc, 1.0))
        return curve.voltage(0.0) + 40.0 * soc  # below empty a real cell falls away steeply

    def discharged(self, current_a: float, cutoff_v: float, ambient_degc: float, step_s: float = 5.0) -> list[Moment]:
        """Constant current until the first group is at the cutoff."""
        found: list[Moment] = []
        seconds, warm = 0.0, ambient_degc
        heat_w = current_a**2 * sum(g.resistance_ohm for g in self.groups)
        mass_kg = 0.092 * len(self.groups)
        while True:
            drawn = current_a * seconds / 3600
            volts = tuple(self.rested(g.soc - drawn / g.capacity_ah) - current_a * g.resistance_ohm for g in self.groups)
            if min(volts) <= cutoff_v:
                return found
            found.append(Moment(seconds / 60, volts, warm))
            seconds += step_s
            warm += step_s * (heat_w / (mass_kg * 1000.0) - (warm - ambient_degc) / 1500.0)

    def charging(self, current_a: float, socs: Sequence[float], minutes: float) -> tuple[float, ...]:
        """Group voltages so many minutes into a charge that began at these states of charge."""
        put_in = current_a * minutes / 60
        return tuple(self.rested(s + put_in / g.capacity_ah) + current_a * g.resistance_ohm
                     for s, g in zip(socs, self.groups, strict=True))


def volts(value: float, places: int = 3) -> str:
    return f"{value:.{places}f} V"


def row_of(names: Sequence[str], values: Sequence[float]) -> dict[str, str]:
    return {n: volts(v) for n, v in zip(names, values, strict=True)}


def discharge_answers(battery: Battery, current_a: float, cutoff_v: float, alarm_v: float | None, every_min: int,
                      ambient_degc: float = 21.0) -> tuple[dict[str, Answer], list[Moment], Moment | None]:
    """Answers of the discharge step, read by hand every few minutes and closer towards the end."""
    run = battery.discharged(current_a, cutoff_v, ambient_degc)
    last = run[-1]
    alarm = next((m for m in run if alarm_v is not None and min(m.groups_v) <= alarm_v), None)
    names = [f"g{n}" for n in range(1, len(battery.groups) + 1)]
    fine = [m for m in run if m.minutes >= last.minutes - 4]
    chosen = [m for m in run if abs(m.minutes / every_min - round(m.minutes / every_min)) < 1e-6 and m.minutes < last.minutes - 4]
    points = [*chosen, *fine[:: max(1, len(fine) // 6)], last]
    rows = {f"p{n}": {"minute": f"{m.minutes:.1f} min", "current": f"{current_a:.2f} A", "pack": volts(sum(m.groups_v), 2),
                      **row_of(names, m.groups_v), "warmest": f"{m.warmest_degc:.0f} °C"} for n, m in enumerate(points, 1)}
    drawn = current_a * last.minutes / 60
    empty = [battery.rested(g.soc - drawn / g.capacity_ah) for g in battery.groups]
    events = {}
    for i, name in enumerate(names):
        rebound = max(empty[i], last.groups_v[i]) + 0.06
        events[name] = {"at_start": volts(battery.rested(battery.groups[i].soc) - 0.003), "before_cutoff": volts(last.groups_v[i]),
                        "rebound_10min": volts(rebound + 0.10), "rebound_60min": volts(rebound + 0.13)}
        if alarm is not None:
            events[name]["at_alarm"] = volts(alarm.groups_v[i])
    answers: dict[str, Answer] = {
        "test_point": "P+ and P-", "test_load": f"electronic load at the output, {current_a:.2f} A, groups read by hand at the plug",
        "test_current": f"{current_a:.2f} A", "rest_before_test": "12 h", "test_temperature": f"{ambient_degc:.0f} °C",
        "log_kind": "by hand", "discharge_points": rows, "cutoff_after": f"{last.minutes + 0.1:.1f} min", "ended_by": "board",
        "pack_after_cutoff": "0.12 V", "event_groups": events, "delivered_capacity": f"{drawn:.2f} Ah",
        "release_behaviour": "needs charger", "warmest_cell": f"{last.warmest_degc:.0f} °C",
        "board_temperature": f"{last.warmest_degc + 6:.0f} °C",
    }
    if alarm is not None:
        answers["alarm_after"] = f"{alarm.minutes:.1f} min"
    return answers, run, alarm
