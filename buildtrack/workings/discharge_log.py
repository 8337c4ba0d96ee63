"""The attached log of a discharge test, as read from its file and handed to the workings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from buildtrack import units
from buildtrack.model.instruments import Instrument, contributions, pick
from buildtrack.physics.log_records import Point, Row
from buildtrack.physics.logs import LogSummary


@dataclass(frozen=True, slots=True)
class LogData:
    """One log: where it lies, how large it is, and what it says."""

    path: str
    """Relative to the build file, as attached."""
    size: int
    log: LogSummary
    charge_errors: Mapping[str, float] = field(default_factory=dict)
    """Limit of error of the charge by source, from the accuracy of the instrument named with the log [Ah]."""
    voltage_errors: Mapping[str, float] = field(default_factory=dict)
    """Limit of error of the mean voltage by source [V]."""
    columns: tuple[str, ...] = ()
    """Which column was taken for what, in words."""
    set_by_hand: str = ""
    """The columns that were set by hand, as typed; empty where all were told from the file."""

    @property
    def begin_s(self) -> float:
        """When the load came on."""
        return self.log.first_loaded.time_s if self.log.first_loaded is not None else 0.0

    @property
    def end_s(self) -> float:
        """When the load went off."""
        return self.log.last_loaded.time_s if self.log.last_loaded is not None else self.log.duration_s

    @property
    def has_groups(self) -> bool:
        """Whether it holds a voltage of every group."""
        return bool(self.log.mapping.groups)

    @property
    def summary(self) -> str:
        """The whole in one line."""
        log = self.log
        told = (f"{self.path}: {log.used} of {log.rows} rows, {(self.end_s - self.begin_s) / 60:.1f} min under load, "
                f"{units.show(log.discharged_ah, 'Ah')}, {units.show(log.discharged_wh, 'Wh')}")
        gaps = f", {len(log.gaps)} gaps" if log.gaps else ""
        by_hand = f"; columns set by hand: {self.set_by_hand}" if self.set_by_hand else ""
        return f"{told}{gaps}; {log.end_kind}{by_hand}"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("what", "says")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """What was read and how it was understood."""
        log = self.log
        rows = [
            ("rows used", f"{log.used} of {log.rows}"),
            ("interval", f"{log.interval_median_s:.3g} s, longest {log.interval_longest_s:.3g} s"),
            ("charge out", units.show(log.discharged_ah, "Ah")), ("energy out", units.show(log.discharged_wh, "Wh")),
            ("end", log.end_kind), ("SHA-256", log.sha256)]
        rows += [("column", text) for text in self.columns if not text.split(", times")[0].endswith("not in the file")]
        rows += [("taken as", text) for text in log.assumptions]
        rows += [(w.name, f"line {w.line}: {w.text}" if w.line else w.text) for w in log.warnings]
        return tuple(rows)

    def groups_at(self, time_s: float) -> tuple[float, ...]:
        """Voltages of the groups at a time since the load came on, straight between two points of the outline."""
        if not self.has_groups or not self.log.outline:
            return ()
        wanted = self.begin_s + time_s
        points = self.log.outline
        after = next((k for k, p in enumerate(points) if p.time_s >= wanted), len(points) - 1)
        if after == 0 or points[after].time_s <= wanted:
            return points[after].groups_v
        return _between(points[after - 1], points[after], wanted)

    def charge_at(self, time_s: float) -> float | None:
        """Charge drawn until a time since the load came on [Ah], by the outline's mean currents, scaled to the sum."""
        whole = self._charge(self.end_s)
        if whole <= 0:
            return None
        return self._charge(min(self.begin_s + time_s, self.end_s)) * self.log.discharged_ah / whole

    def _charge(self, until_s: float) -> float:
        points = self.log.outline
        total = 0.0
        for here, there in zip(points, points[1:], strict=False):
            begin, end = max(here.time_s, self.begin_s), min(there.time_s, until_s)
            if end > begin:
                total += (here.lowest_a + here.highest_a) / 2 * (end - begin) / 3600
        return total


@dataclass(frozen=True, slots=True)
class OwnLogs:
    """The attached logs of one cell, the slow one first."""

    logs: tuple[LogData, ...]

    @property
    def summary(self) -> str:
        """The whole in one line."""
        return "; ".join(data.summary for data in self.logs)


def _between(a: Point, b: Point, time_s: float) -> tuple[float, ...]:
    share = (time_s - a.time_s) / (b.time_s - a.time_s)
    return tuple(x + (y - x) * share for x, y in zip(a.groups_v, b.groups_v, strict=True))


def groups_of(row: Row | None) -> tuple[float, ...]:
    """Voltages of the groups in a row; empty without a row."""
    return row.groups_v if row is not None else ()


def logger_errors(log: LogSummary, meters: Mapping[str, Instrument], name: str,
                  ) -> tuple[dict[str, float], dict[str, float]]:
    """Limits of error of charge and mean voltage that the logger's accuracy leaves.

    What is common to all rows stays: dQ = share × Q + constant × t; dU = share × U + constant. The steps of the last
    digit even out over many rows. Empty where no instrument, or one without accuracy, is named.
    Source: GUM 5.2 (errors common to all readings add up).
    """
    hours, mean_v = log.loaded_s / 3600, log.mean_v
    if not name or not hours > 0 or mean_v is None:
        return {}, {}
    mean_a = log.discharged_ah / hours
    charge = {source: limit * hours for source, limit in _common(meters, name, "current", mean_a).items()}
    return charge, _common(meters, name, "voltage", mean_v)


def _common(meters: Mapping[str, Instrument], name: str, quantity: str, value: float) -> dict[str, float]:
    meter = pick(meters, name, quantity, value)
    if meter is None or meter.accuracy is None:
        return {}
    return {source: limit for source, limit in contributions(meter, value, 0.0, "").items()
            if not source.startswith("last digit")}
