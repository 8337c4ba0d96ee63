"""The forecast of the discharge test: the groups as simulated, alarm and cutoff, what is delivered and what stays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from buildtrack import units
from buildtrack.physics import forecast as physics
from buildtrack.physics.forecast_loads import Duty, checked_duty, constant_current
from buildtrack.physics.forecast_string import Group
from buildtrack.physics.ocv import Curve, make_curve
from buildtrack.workings.cells_curve import curve_for
from buildtrack.workings.cells_own import OwnCurves
from buildtrack.workings.cells_report import CellReport
from buildtrack.workings.pack_groups import GroupReport
from buildtrack.workings.values import Record, Table

TAIL_V_PER_SHARE = 12.2
"""Fall below the end of a published curve: 0.12 V for each 1 % of charge, as the computed curve of a nickel-rich cell
falls over its last 5 % (3.109 V to 2.500 V, parameters of Chen et al. 2020); see `reaching_down`."""
OWN = "own log"
"""Origin of a curve from a log of the maker's."""
DOUBT_SOURCE = ("the forecast's own error, always hopeful: 2 % up to 1C, 5 % at 2C; from a study against a physics "
                "model of a 5 Ah NMC cell (+0.9 % at 1C, +4.3 % at 2C with its logged C/2 curve)")
EXTRAPOLATED = "extrapolated: the current lies beyond twice the logged one, or beyond 2C"
LOWEST_V = 2.0
"""The tail is drawn down to here."""
SHORTEST_S = 1.0
"""Pieces of the duty shorter than this do not sound an alarm or open a board by under-voltage (their delays)."""


@dataclass(frozen=True, slots=True)
class Simulated:
    """The groups as the forecast sees them."""

    names: tuple[str, ...]
    groups: tuple[Group, ...]
    curve_title: str
    curve_source: str
    tail: bool
    """Whether the curve was drawn on below its end."""
    own: bool = False
    """Whether every group stands on the maker's own curve."""

    @property
    def summary(self) -> str:
        """The whole in one line."""
        tail = "; below its end drawn on at 0.12 V for each 1 %" if self.tail else ""
        return f"{units.counted(len(self.groups), 'group')} on the {self.curve_title}{tail}"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("group", "charge down to 2.0 V", "resistance", "full to")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per group."""
        return tuple((n, units.show(g.capacity_ah, "mAh"), units.show(g.resistance_ohm, "mΩ", digits=3),
                      units.show(g.start_soc, "%", digits=3))
                     for n, g in zip(self.names, self.groups, strict=True))


@lru_cache(maxsize=16)
def reaching_down(curve: Curve, lowest_v: float = LOWEST_V) -> Curve:
    """A resting curve that goes on steeply below its end, its charge counted down to there.

    Published curves are read at rest and end at 3.2 to 3.4 V, where a cell that was emptied under load recovers to;
    under load it falls on to its cutoff within a few per cent. Own curves end where the log did. Capacity of the
    result: 1 + tail of the original; a logged rate is counted in it.
    """
    if curve.lowest_v <= lowest_v:
        return curve
    tail = (curve.lowest_v - lowest_v) / TAIL_V_PER_SHARE
    states = (0.0, *((tail + s) / (1 + tail) for s in curve.soc_points))
    return make_curve(curve.key, states, (lowest_v, *curve.voltage_points_v), title=curve.title,
                      chemistry=curve.chemistry, source=curve.source, validity=curve.validity, origin=curve.origin,
                      logged_rate_c=curve.logged_rate_c / (1 + tail))


def _whole_capacity_ah(capacity_ah: float, curve: Curve, end_v: float, current_a: float,
                       resistance_ohm: float) -> float:
    """Charge of the whole curve; the capacity test took the part above its end voltage: Q = Q_test / (1 - s)."""
    at_end = end_v + current_a * resistance_ohm
    left = curve.soc(min(max(at_end, curve.lowest_v), curve.highest_v))
    if left >= 0.5:
        raise ValueError(f"a capacity test that ends at {end_v:g} V with {current_a:g} A leaves half the charge behind")
    return capacity_ah / (1 - left)


def forecast_groups(group_report: GroupReport, cell_report: CellReport, candidates: Table, cell_full: float,
                    cell_empty: float, charge_policy: float | None = None, own_curve: OwnCurves | None = None,
                    test_current: float | None = None) -> Simulated | None:
    """Each group with its charge, resistance and curve; the capacity tests of its cells are put back on the curve.

    The maker's own curve counts where it stands for every cell of a group: of several, the one logged nearest to the
    test's rate. Else it is the published curve of the chemistry.
    """
    target = cell_full if charge_policy is None else charge_policy
    found, curves = [], []
    for group in group_report.groups:
        if group.resistance_ohm is None or group.capacity_ah is None:
            return None
        cells = [c for name in group.cells if (c := cell_report.cell(name)) is not None]
        rate = test_current / group.capacity_ah if test_current and group.capacity_ah else None
        found_own = [own_curve.nearest(c.id, rate) if own_curve else None for c in cells]
        chosen = (found_own[0] if all(found_own) else None) or curve_for(cells[0].chemistry)
        curve = reaching_down(chosen)
        whole = 0.0
        for cell in cells:
            row = candidates.row(cell.id)
            if cell.capacity_ah is None or row is None:
                return None
            end, current = row.number("capacity_end_voltage"), row.number("capacity_current")
            whole += _whole_capacity_ah(cell.capacity_ah, curve, cell_empty if end is None else end, current or 0.0,
                                        cell.resistance_ohm or 0.0)
        start = curve.soc(min(target, curve.highest_v))
        found.append(Group(whole, curve, group.resistance_ohm, start))
        curves.append(chosen)
    names = tuple(g.id for g in group_report.groups)
    titles = " and ".join(dict.fromkeys(curve_words(c) for c in curves))
    sources = ", ".join(dict.fromkeys(c.source for c in curves))
    return Simulated(names, tuple(found), titles, sources, any(c.lowest_v > LOWEST_V for c in curves),
                     all(c.origin == OWN for c in curves))


def curve_words(curve: Curve) -> str:
    """How a curve is named where it is used: an own one by its title, a published one as such."""
    return curve.title if curve.origin == OWN else f"published curve of {curve.title}"


@dataclass(frozen=True, slots=True)
class GroupEnd:
    """One group at the end of the forecast."""

    group: str
    ocv_v: float
    terminal_v: float
    left_ah: float


@dataclass(frozen=True, slots=True)
class ForecastReport:
    """What the test should show, worked out before it is run."""

    current_a: float
    alarm_s: float | None
    alarm_ah: float | None
    cutoff_s: float
    delivered_ah: float
    delivered_wh: float
    mean_v: float
    ended_by_group: str
    ended_by: str
    """cutoff (the board opens), or empty (a group has nothing left)."""
    band_ah: tuple[float, float]
    """Delivered charge with the model's own error, which always lies on the hopeful side."""
    doubt_share: float
    """The model's own error as a share of the delivered charge, one-sided: the true charge is at most so much less."""
    doubt_source: str
    own_curve: bool
    """Whether it stands on the maker's own curve."""
    extrapolated: bool
    """Whether the test current lies beyond twice the logged current, or beyond 2C."""
    duty_extrapolated: bool
    """The same for the work."""
    groups: tuple[GroupEnd, ...]
    left_ah: tuple[float, ...]
    duty_alarm_s: float | None
    duty_cutoff_s: float | None
    duty_delivered_ah: float | None
    curve: str
    solution: physics.Forecast
    """The forecast at the test current as solved, with its events and notes."""

    @property
    def summary(self) -> str:
        """The whole in one line."""
        low, high = self.band_ah
        told = (f"at {units.show(self.current_a, 'A', digits=3)}: {self._alarm()}end after {_minutes(self.cutoff_s)} "
                f"by {self.ended_by_group}, {units.show(low, 'Ah', digits=3)} to {units.show(high, 'Ah', digits=3)} "
                f"(own error {100 * self.doubt_share:.2g} %, downwards only), by the {self.curve}")
        if self.extrapolated:
            told += f"; {EXTRAPOLATED}"
        if self.duty_cutoff_s is not None:
            told += f"; at work {_minutes(self.duty_cutoff_s)}"
            if self.duty_alarm_s is not None:
                told += f", alarm after {_minutes(self.duty_alarm_s)}"
            if self.duty_extrapolated and not self.extrapolated:
                told += f" ({EXTRAPOLATED})"
        return told

    def _alarm(self) -> str:
        """When the alarm sounds, and what is left from there to the end."""
        if self.alarm_s is None or self.alarm_ah is None:
            return ""
        left = units.show(self.delivered_ah - self.alarm_ah, "mAh", digits=2)
        before = _minutes(self.cutoff_s - self.alarm_s)
        return f"alarm after {_minutes(self.alarm_s)} ({left} and {before} before the end), "

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("group", "at the end", "at rest", "charge left")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per group at the end of the test."""
        return tuple((g.group, f"{g.terminal_v:.3f} V", f"{g.ocv_v:.3f} V", units.show(g.left_ah, "mAh", digits=3))
                     for g in self.groups)


def _minutes(time_s: float) -> str:
    return f"{time_s / 60:.0f} min"


def duty_pieces(duty: Table) -> Duty | None:
    """The duty as pieces of constant current: a ramp counts with its mean, a short pulse goes into the next piece."""
    rows = [(r.number("seconds") or 0.0, _mean_a(r)) for r in duty if r.number("current") is not None]
    pieces: list[tuple[float, float]] = []
    held_s = held_as = 0.0
    for seconds, amperes in rows:
        if seconds <= 0:
            continue
        held_s, held_as = held_s + seconds, held_as + seconds * amperes
        if held_s >= SHORTEST_S:
            pieces.append((held_s, held_as / held_s))
            held_s = held_as = 0.0
    if held_s:
        pieces.append((held_s, held_as / held_s))
    return checked_duty(pieces) if any(a > 0 for _, a in pieces) else None


def _mean_a(row: Record) -> float:
    begin, end = row.number("current") or 0.0, row.number("end_current")
    return begin if end is None else (begin + end) / 2


def forecast(forecast_groups: Simulated, test_current: float, board_cutoff: float, rest_resistance: float = 0.0,
             alarm_setting: float | None = None, duty: Table | None = None) -> ForecastReport:
    """Discharge at the test current, and by the duty, until the first group reaches the board's cutoff."""
    groups, names = forecast_groups.groups, forecast_groups.names
    alarm = alarm_setting if alarm_setting is None or alarm_setting > 0 else None
    found = physics.forecast(groups, constant_current(test_current), cutoff_v=board_cutoff, alarm_v=alarm,
                             rest_ohm=rest_resistance)
    work = _work(groups, duty, board_cutoff, alarm, rest_resistance)
    heard, end = found.event("alarm"), found.events[-1]
    by = names[found.ended_by_group] if found.ended_by_group is not None else "the pack"
    ends = tuple(GroupEnd(n, s.ocv_v, s.terminal_v, s.left_ah) for n, s in zip(names, end.groups, strict=True))
    return ForecastReport(
        test_current, found.alarm_s, heard.charge_ah if heard else None, found.cutoff_s, found.delivered_ah,
        found.delivered_wh, found.mean_v, by, found.ended_by, found.band_ah, 1 - found.band_ah[0] / found.band_ah[1],
        DOUBT_SOURCE, forecast_groups.own, found.extrapolated, bool(work and work.extrapolated), ends, found.left_ah,
        work.alarm_s if work else None, work.cutoff_s if work else None, work.delivered_ah if work else None,
        forecast_groups.curve_title, found)


def _work(groups: Sequence[Group], duty: Table | None, cutoff_v: float, alarm_v: float | None,
          rest_ohm: float) -> physics.Forecast | None:
    pieces = duty_pieces(duty) if duty is not None else None
    if pieces is None:
        return None
    return physics.forecast(groups, pieces, cutoff_v=cutoff_v, alarm_v=alarm_v, rest_ohm=rest_ohm)


def _charge_to(groups: Sequence[Group], current_a: float, limit_v: float) -> float:
    """Charge until the first group falls to a voltage at a constant current: least of (s_0 - s(V + I R)) × Q."""
    found = []
    for group in groups:
        rested = limit_v + current_a * group.resistance_ohm
        left = group.curve.soc(min(max(rested, group.curve.lowest_v), group.curve.highest_v))
        found.append(max(0.0, group.start_soc - left) * group.capacity_ah)
    return min(found)


def alarm_cost(forecast_groups: Simulated, duty_rms_current: float, alarm_recommended: float, board_cutoff: float,
               ) -> float | None:
    """Share of the charge that is still there when the recommended alarm sounds, at the rms current."""
    end = _charge_to(forecast_groups.groups, duty_rms_current, board_cutoff)
    heard = _charge_to(forecast_groups.groups, duty_rms_current, alarm_recommended)
    return 1 - heard / end if end > 0 else None
