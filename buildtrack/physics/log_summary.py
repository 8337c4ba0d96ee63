"""The summary of a log: everything counted from the first row, discharge positive."""

from __future__ import annotations

from dataclasses import dataclass, replace

from buildtrack.physics.log_columns import Mapping
from buildtrack.physics.log_direction import end_kind
from buildtrack.physics.log_errors import LogWarning, Warnings
from buildtrack.physics.log_records import Gap, LoadStep, Mark, Point, Row
from buildtrack.physics.log_rows import Cleaner
from buildtrack.physics.log_totals import Totals


@dataclass(frozen=True, slots=True)
class LogSummary:
    """What a log says. Charge, energy and currents count discharge as positive; times in seconds from the first row.

    `charge_ah` is net over all rows; `discharged_ah` and `charged_ah` are its two directions. Discharge ends at the
    last row under load: when the load went away between it and the next row is not known.
    `group_lowest` holds (volts, seconds) for each group.
    """

    file: str
    sha256: str
    mapping: Mapping
    assumptions: tuple[str, ...]
    warnings: tuple[LogWarning, ...]
    warning_counts: tuple[tuple[str, int], ...]
    rows: int
    used: int
    ignored: int
    duration_s: float
    loaded_s: float
    charge_ah: float
    discharged_ah: float
    charged_ah: float
    energy_wh: float
    discharged_wh: float
    mean_v: float | None
    gaps: tuple[Gap, ...]
    gap_charge_ah: float
    interval_median_s: float
    interval_longest_s: float
    first: Row
    last: Row
    first_loaded: Row | None
    last_loaded: Row | None
    lowest_v: float
    group_lowest: tuple[tuple[float, float], ...]
    end_kind: str
    pack_is_sum: bool
    """Whether the pack's voltage is the sum of the groups in every row: read at the balance plug, not at the output."""
    end_line: int | None
    steps: tuple[LoadStep, ...]
    step_count: int
    outline: tuple[Point, ...]
    marks: tuple[Mark, ...]
    counter_ah: float | None
    counter_wh: float | None
    temperature_first_degc: tuple[float, ...]
    temperature_highest_degc: tuple[float, ...]


class Extremes:
    """First and highest value of the temperature columns."""

    def __init__(self, count: int) -> None:
        self.first: list[float] = []
        self.highest: list[float] = [float("-inf")] * count

    def take(self, columns: list[list[float]]) -> None:
        """Add the temperature columns of a block."""
        if columns and columns[0]:
            self.first = self.first or [column[0] for column in columns]
            self.highest = [max(old, *column) for old, column in zip(self.highest, columns, strict=True)]


def summarise(
    name: str,
    digest: str,
    mapping: Mapping,
    assumptions: tuple[str, ...],
    warnings: Warnings,
    cleaner: Cleaner,
    totals: Totals,
    heat: Extremes,
    sign: int,
) -> LogSummary:
    first, last = totals.ends()
    start = first.time_s
    charge, energy = sign * totals.charge_ah, sign * totals.energy_wh
    out, energy_out = (totals.charge_any_way_ah + charge) / 2, (totals.energy_any_way_wh + energy) / 2
    counters = _counters(mapping, cleaner)
    _compare_counter(counters[0], totals.charge_any_way_ah, warnings)
    tail = tail_of(totals, sign)
    drawn, drawn_wh = out - tail[0], energy_out - tail[1]
    loaded = [row for row in (totals.first_loaded, totals.last_loaded) if row is not None]
    unload = totals.unload
    return LogSummary(
        file=name,
        sha256=digest,
        mapping=mapping,
        assumptions=assumptions,
        warnings=tuple(warnings.kept),
        warning_counts=tuple(sorted(warnings.counts.items())),
        rows=cleaner.rows_seen,
        used=totals.used,
        ignored=cleaner.ignored,
        duration_s=last.time_s - start,
        loaded_s=loaded[-1].time_s - loaded[0].time_s if len(loaded) == 2 else 0.0,
        charge_ah=charge,
        discharged_ah=drawn,
        charged_ah=totals.charge_any_way_ah - out,
        energy_wh=energy,
        discharged_wh=drawn_wh,
        mean_v=drawn_wh / drawn if drawn > 0 else None,
        gaps=tuple(replace(gap, time_s=gap.time_s - start, charge_ah=sign * gap.charge_ah) for gap in totals.gaps),
        gap_charge_ah=sign * totals.gap_charge_ah,
        interval_median_s=totals.median_interval_s(),
        interval_longest_s=totals.longest_s,
        first=_row(first, start, sign),
        last=_row(last, start, sign),
        first_loaded=_row(totals.first_loaded, start, sign) if totals.first_loaded else None,
        last_loaded=_row(totals.last_loaded, start, sign) if totals.last_loaded else None,
        lowest_v=totals.lowest_v,
        group_lowest=tuple((volts, time_s - start) for volts, time_s in totals.group_lowest),
        end_kind=end_kind(unload, totals.pack_is_sum),
        pack_is_sum=totals.pack_is_sum,
        end_line=unload.line if unload else None,
        steps=tuple(_step(step, start, sign) for step in totals.steps),
        step_count=totals.step_count,
        outline=tuple(_point(point, start, sign) for point in totals.outline.points),
        marks=tuple(_mark(mark, start, sign) for mark in totals.marks),
        counter_ah=counters[0],
        counter_wh=counters[1],
        temperature_first_degc=tuple(heat.first),
        temperature_highest_degc=tuple(heat.highest) if heat.first else (),
    )


def tail_of(totals: Totals, sign: int) -> tuple[float, float]:
    """Charge and energy summed from the last row under load into the next, where that was a discharge."""
    end, last = totals.unload, totals.last_loaded
    if end is None or last is None or end.before.time_s != last.time_s or sign * end.tail_ah <= 0:
        return 0.0, 0.0
    return sign * end.tail_ah, sign * end.tail_wh


def _counters(mapping: Mapping, cleaner: Cleaner) -> tuple[float | None, float | None]:
    values = list(cleaner.last_counters)
    charge = values.pop(0) if mapping.capacity is not None and values else None
    return charge, (values.pop(0) if mapping.energy is not None and values else None)


def _compare_counter(counter_ah: float | None, charge_ah: float, warnings: Warnings) -> None:
    if counter_ah and charge_ah > 0 and abs(abs(counter_ah) / charge_ah - 1) > 0.02:
        text = f"the file's own counter ends at {abs(counter_ah):.4g} Ah, the rows add up to {charge_ah:.4g} Ah"
        warnings.add("counter differs", 0, text)


def _row(row: Row, start: float, sign: int) -> Row:
    return Row(row.time_s - start, sign * row.current_a, row.voltage_v, row.groups_v)


def _step(step: LoadStep, start: float, sign: int) -> LoadStep:
    before, after = sign * step.current_before_a, sign * step.current_after_a
    return replace(step, time_s=step.time_s - start, current_before_a=before, current_after_a=after)


def _mark(mark: Mark, start: float, sign: int) -> Mark:
    row = _row(mark.row, start, sign)
    return replace(mark, row=row, charge_ah=sign * mark.charge_ah, energy_wh=sign * mark.energy_wh)


def _point(point: Point, start: float, sign: int) -> Point:
    low, high = sorted((sign * point.lowest_a, sign * point.highest_a))
    return replace(point, time_s=point.time_s - start, lowest_a=low, highest_a=high)
