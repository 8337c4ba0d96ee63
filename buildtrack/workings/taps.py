"""Workings of the balance taps: how many there are, and whether every one sits where it belongs."""

from __future__ import annotations

from dataclasses import dataclass

from buildtrack.physics.taps import MOST_GROUPS, Diagnosis, diagnose_taps
from buildtrack.workings.graph import Working
from buildtrack.workings.values import Record, Table

STEP = "wire"
ASSUMED_GAIN, ASSUMED_OFFSET_V = 0.005, 0.003
"""Meter taken where the readings name none: 0.5 % and 3 mV (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class TapReport:
    """The readings of the free connector and what they mean."""

    diagnosis: Diagnosis
    readings_v: tuple[float, ...]
    gain: float
    offset_v: float
    meter_assumed: bool

    @property
    def right(self) -> bool:
        """Whether every tap sits where it belongs."""
        return self.diagnosis.kind == "right"

    @property
    def summary(self) -> str:
        """The finding in one line."""
        assumed = " (meter assumed: 0.5 % + 3 mV)" if self.meter_assumed else ""
        return self.diagnosis.sentence + assumed

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("tap", "against B0", "step")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per tap."""
        steps = ("-", *("-" if s is None else f"{s:+.3f} V" for s in self.diagnosis.steps_v))
        return tuple((f"B{n}", f"{v:.3f} V", step)
                     for n, (v, step) in enumerate(zip(self.readings_v, steps, strict=True)))


def whole_groups(series_count: float) -> int:
    """Groups in series as a whole number; ValueError where no pack of this program can have so many."""
    if not 1 <= series_count <= MOST_GROUPS:
        raise ValueError(f"{series_count:g} groups in series is not allowed: from 1 to {MOST_GROUPS}")
    return int(series_count)


def tap_count(series_count: float) -> float:
    """Balance taps: one below the lowest group and one above each."""
    return series_count + 1


def tap_report(taps: Table, series_count: float, cell_empty: float, cell_full: float) -> TapReport | None:
    """Whether the steps between neighbouring taps are one group each; which taps are wrong where they are not.

    The readings are against B0, so B0 itself counts as 0 V where it was not entered.
    """
    rows = [taps.row(f"B{n}") for n in range(whole_groups(series_count) + 1)]
    numbers = [row.number("voltage") if row is not None else None for row in rows]
    if numbers[0] is None:
        numbers[0] = 0.0
    readings = [n for n in numbers if n is not None]
    if len(readings) != len(numbers):
        return None
    gain, offset, assumed = _meter([r for r in rows if r is not None])
    found = diagnose_taps(readings, cell_empty, cell_full, gain=gain, offset_v=offset)
    return TapReport(found, tuple(readings), gain, offset, assumed)


def _meter(rows: list[Record]) -> tuple[float, float, bool]:
    """Share of the reading and fixed part of the meter's limit of error, the worst of all readings."""
    gain = offset = 0.0
    found = False
    for row in rows:
        value, spread = row.number("voltage"), row.spreads.get("voltage")
        if not spread or value is None:
            continue
        found = True
        scale = sum(limit for source, limit in spread.items() if source.endswith(" scale"))
        gain = max(gain, scale / abs(value) if value else 0.0)
        offset = max(offset, sum(spread.values()) - scale)
    return (gain, offset, False) if found else (ASSUMED_GAIN, ASSUMED_OFFSET_V, True)


WORKINGS = (
    Working(tap_count, STEP, "Balance taps", "", "series_count + 1", "definition", "n"),
    Working(tap_report, STEP, "Taps", "", "every step from tap to tap is one group: empty <= step <= full",
            "Kirchhoff's voltage law; own enumeration of single faults", expression=False),
)
