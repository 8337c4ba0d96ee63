"""Running totals of a log: charge, energy, gaps, load steps, lowest voltages and an outline for drawing.

Blocks of rows come in cleaned: times rising, values finite. Everything is kept in bounded memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf
from operator import add, mul, sub

from buildtrack.physics.log_errors import Warnings
from buildtrack.physics.log_records import Gap, LoadStep, Mark, Point, Row, Unload
from buildtrack.physics.log_rows import Block

MOST_POINTS = 2000
MOST_STEPS = 400
MOST_GAPS = 100
LOADED_SHARE = 0.05
STEP_SHARE = 0.2
COLLAPSE = 0.3
ROUNDED_V = 0.005
"""Half a digit of a log with two decimals: so much each column may be rounded off."""


@dataclass(slots=True)
class Outline:
    """At most 2000 stretches of equal row count; the count doubles whenever they would become too many."""

    points: list[Point] = field(default_factory=list)
    size: int = 1
    _open: int = 0

    def take(self, block: Block) -> Point:
        """Add rows to the outline; gives the extremes of all of them."""
        t, v, i = block.t, block.v, block.i
        at, count, whole = 0, len(t), None
        while at < count:
            end = min(count, at + self.size - self._open)
            volts, amperes = v[at:end], i[at:end]
            lows = tuple([min(group[at:end]) for group in block.groups])
            new = Point(t[at], min(volts), max(volts), min(amperes), max(amperes), lows)
            whole = new if whole is None else _joined(whole, new)
            if self._open:
                new = _joined(self.points.pop(), new)
            self.points.append(new)
            self._open = (self._open + end - at) % self.size
            at = end
            if self._open == 0 and len(self.points) >= MOST_POINTS:
                pairs = zip(self.points[::2], self.points[1::2], strict=True)
                self.points = [_joined(a, b) for a, b in pairs]
                self.size *= 2
        if whole is None:
            raise ValueError("an empty block has no outline")
        return whole


def _joined(a: Point, b: Point) -> Point:
    groups = tuple(map(min, zip(a.groups_v, b.groups_v, strict=True)))
    return Point(
        a.time_s, min(a.lowest_v, b.lowest_v), max(a.highest_v, b.highest_v),
        min(a.lowest_a, b.lowest_a), max(a.highest_a, b.highest_a), groups,
    )  # fmt: skip


@dataclass(slots=True)
class Totals:
    """Sums over all rows so far, currents with the sign of the file."""

    gap_limit_s: float
    warnings: Warnings
    watch_v: tuple[float, ...] = ()
    watch_s: tuple[float, ...] = ()
    marks: list[Mark] = field(default_factory=list)
    used: int = 0
    first: Row | None = None
    last: Row | None = None
    charge_ah: float = 0.0
    charge_any_way_ah: float = 0.0
    energy_wh: float = 0.0
    energy_any_way_wh: float = 0.0
    largest_a: float = 0.0
    first_loaded: Row | None = None
    last_loaded: Row | None = None
    gaps: list[Gap] = field(default_factory=list)
    gap_count: int = 0
    gap_charge_ah: float = 0.0
    longest_s: float = 0.0
    medians: list[tuple[float, int]] = field(default_factory=list)
    steps: list[LoadStep] = field(default_factory=list)
    step_count: int = 0
    unload: Unload | None = None
    lowest_v: float = inf
    group_lowest: list[tuple[float, float]] = field(default_factory=list)
    outline: Outline = field(default_factory=Outline)
    pack_is_sum: bool = True
    """Whether the pack's voltage was the sum of two or more groups in every row, within rounding."""

    def take(self, block: Block) -> None:
        """Add a block of cleaned rows."""
        if not block.t:
            return
        self._follow_unload(block.v)
        extremes = self.outline.take(block)
        self._lowest(block, extremes)
        highest = max(extremes.highest_a, -extremes.lowest_a)
        self.largest_a = max(self.largest_a, highest)
        if self.last is None:
            self.first = _row(block, 0)
        else:
            self._bridge(self.last, block)
        self._loaded(block, highest)
        self._against_groups(block)
        self._watch(block, extremes)
        self._integrate(block, extremes)
        self._changes(block, extremes)
        self.used += len(block.t)
        self.last = _row(block, -1)

    def _against_groups(self, block: Block) -> None:
        if not self.pack_is_sum:
            return
        doubt = ROUNDED_V * (len(block.groups) + 1) + 1e-9
        self.pack_is_sum = len(block.groups) >= 2 and all(
            abs(pack - total) <= doubt for pack, total in zip(block.v, map(sum, zip(*block.groups, strict=True)),
                                                              strict=True))

    def ends(self) -> tuple[Row, Row]:
        """First and last row; refused when there is none."""
        if self.first is None or self.last is None:
            raise ValueError("no row was used")
        return self.first, self.last

    def _watch(self, block: Block, extremes: Point) -> None:
        """Mark the wanted moments that lie in this block; called before the block is added up."""
        if not (self.watch_v or self.watch_s):
            return
        done = {(mark.asked, mark.value) for mark in self.marks}
        for limit in self.watch_v:
            if ("voltage", limit) not in done and block.groups and min(extremes.groups_v) <= limit:
                columns = zip(block.i, *block.groups, strict=True)
                bare = self.loaded_limit_a()
                k = next((k for k, (i, *g) in enumerate(columns) if abs(i) > bare and 0.05 < min(g) <= limit), None)
                if k is not None:
                    self._mark("voltage", limit, block, k)
        start = self.ends()[0].time_s if self.last is not None else block.t[0]
        for moment in self.watch_s:
            if ("time", moment) not in done and block.t[-1] - start >= moment:
                k = next(k for k, t in enumerate(block.t) if t - start >= moment)
                self._mark("time", moment, block, k)

    def _mark(self, asked: str, value: float, block: Block, k: int) -> None:
        i, v, t = block.i, block.v, block.t
        charge = sum((t[j] - t[j - 1]) * (i[j] + i[j - 1]) for j in range(1, k + 1)) / 7200
        energy = sum((t[j] - t[j - 1]) * (i[j] * v[j] + i[j - 1] * v[j - 1]) for j in range(1, k + 1)) / 7200
        row = _row(block, k)
        lowest = min(range(len(row.groups_v)), key=row.groups_v.__getitem__) if row.groups_v else None
        self.marks.append(Mark(asked, value, row, lowest, self.charge_ah + charge, self.energy_wh + energy))

    def _bridge(self, last: Row, block: Block) -> None:
        """The span between the last row so far and the first of the block."""
        row = _row(block, 0)
        span = row.time_s - last.time_s
        charge = span * (last.current_a + row.current_a) / 7200
        before_w, after_w = last.voltage_v * last.current_a, row.voltage_v * row.current_a
        self.charge_ah += charge
        self.energy_wh += span * (before_w + after_w) / 7200
        self.charge_any_way_ah += span * (abs(last.current_a) + abs(row.current_a)) / 7200
        self.energy_any_way_wh += span * (abs(before_w) + abs(after_w)) / 7200
        self.longest_s = max(self.longest_s, span)
        if span > self.gap_limit_s:
            self._gap(Gap(block.lines[0], row.time_s, span, charge))
        self._change(block.lines[0], last, row, block.v[:3])

    def _integrate(self, block: Block, extremes: Point) -> None:
        """Trapezoids within a block: each value counts with the spans on both sides of it."""
        spans, i, v = block.spans, block.i, block.v
        if not spans:
            return
        count, longest = len(spans), spans[0]
        if spans.count(longest) == count:
            median = longest
            charge = longest * (sum(i) - (i[0] + i[-1]) / 2) / 3600
            energy = longest * (sum(map(mul, v, i)) - (v[0] * i[0] + v[-1] * i[-1]) / 2) / 3600
        else:
            longest, median = max(spans), sorted(spans)[count // 2]
            weights = _weights(spans)
            charge = sum(map(mul, weights, i)) / 7200
            energy = sum(map(mul, weights, map(mul, v, i))) / 7200
        self.longest_s = max(self.longest_s, longest)
        self.medians.append((median, count))
        self._add(charge, energy, extremes, block)
        if longest > self.gap_limit_s:
            for k, span in enumerate(spans):
                if span > self.gap_limit_s:
                    self._gap(Gap(block.lines[k + 1], block.t[k + 1], span, span * (i[k] + i[k + 1]) / 7200))

    def _add(self, charge: float, energy: float, extremes: Point, block: Block) -> None:
        self.charge_ah += charge
        self.energy_wh += energy
        if extremes.lowest_a < 0 < extremes.highest_a:
            sizes = list(map(abs, block.i))
            weights = _weights(block.spans)
            self.charge_any_way_ah += sum(map(mul, weights, sizes)) / 7200
            self.energy_any_way_wh += sum(map(mul, weights, map(mul, block.v, sizes))) / 7200
        else:
            self.charge_any_way_ah += abs(charge)
            self.energy_any_way_wh += abs(energy)

    def _gap(self, gap: Gap) -> None:
        self.gap_count += 1
        self.gap_charge_ah += gap.charge_ah
        if len(self.gaps) < MOST_GAPS:
            self.gaps.append(gap)

    def loaded_limit_a(self) -> float:
        """Current above which a row counts as under load [A]."""
        return max(0.02, LOADED_SHARE * self.largest_a)

    def _loaded(self, block: Block, highest: float) -> None:
        """First and last row under load; rows after a collapse of the voltage do not count."""
        limit = self.loaded_limit_a()
        if highest <= limit:
            return
        if self.first_loaded is None:
            self.first_loaded = _row(block, next(k for k, current in enumerate(block.i) if abs(current) > limit))
        floor = COLLAPSE * self.first_loaded.voltage_v
        for k in range(len(block.i) - 1, -1, -1):
            if abs(block.i[k]) > limit and block.v[k] >= floor:
                self.last_loaded = _row(block, k)
                return

    def _changes(self, block: Block, extremes: Point) -> None:
        """Load steps and the moments the load goes away; looked for only where current or voltage jumps."""
        limit = max(0.1, STEP_SHARE * self.largest_a)
        bare = self.loaded_limit_a()
        steady = extremes.highest_a - extremes.lowest_a <= limit and extremes.lowest_v > COLLAPSE * extremes.highest_v
        if steady and (extremes.lowest_a > bare or extremes.highest_a <= bare):
            return
        i, v = block.i, block.v
        for k, jump in enumerate(map(sub, i[1:], i)):
            if abs(jump) > limit or v[k + 1] < COLLAPSE * v[k] or (abs(i[k]) > bare >= abs(i[k + 1])):
                self._change(block.lines[k + 1], _row(block, k), _row(block, k + 1), v[k + 1 : k + 4])

    def _change(self, line: int, before: Row, after: Row, following_v: list[float]) -> None:
        limit, bare = max(0.1, STEP_SHARE * self.largest_a), self.loaded_limit_a()
        collapsed = after.voltage_v < COLLAPSE * before.voltage_v
        if abs(after.current_a - before.current_a) > limit and not collapsed:
            self.step_count += 1
            if len(self.steps) < MOST_STEPS:
                self.steps.append(_step(line, before, after))
        if abs(before.current_a) > bare and (abs(after.current_a) <= bare or collapsed):
            self.unload = Unload(before, line, after.time_s, list(following_v), *_tail(before, after))

    def _follow_unload(self, v: Sequence[float]) -> None:
        if self.unload is not None and len(self.unload.after_v) < 3:
            self.unload.after_v.extend(v[: 3 - len(self.unload.after_v)])

    def _lowest(self, block: Block, extremes: Point) -> None:
        self.lowest_v = min(self.lowest_v, extremes.lowest_v)
        if not self.group_lowest:
            self.group_lowest = [(inf, 0.0)] * len(block.groups)
        for number, least in enumerate(extremes.groups_v):
            readings = block.groups[number]
            if least <= 0.05:
                where = block.lines[readings.index(least)]
                text = f"group {number + 1} reads {least:g} V; not taken as its lowest"
                self.warnings.add("no group reading", where, text)
                least = min((x for x in readings if x > 0.05), default=inf)
            if least < self.group_lowest[number][0]:
                self.group_lowest[number] = (least, block.t[readings.index(least)])

    def median_interval_s(self) -> float:
        """Median time between rows, over blocks [s]."""
        half, seen = sum(count for _, count in self.medians) / 2, 0
        for median, count in sorted(self.medians):
            seen += count
            if seen >= half:
                return median
        return 0.0


def _row(block: Block, k: int) -> Row:
    return Row(block.t[k], block.i[k], block.v[k], tuple([group[k] for group in block.groups]))


def _tail(before: Row, after: Row) -> tuple[float, float]:
    """Charge [Ah] and energy [Wh] of the trapezoid between two rows."""
    span = after.time_s - before.time_s
    watts = before.voltage_v * before.current_a + after.voltage_v * after.current_a
    return span * (before.current_a + after.current_a) / 7200, span * watts / 7200


def _weights(spans: list[float]) -> list[float]:
    """Twice the trapezoid weight of every row: the span before it plus the span after it."""
    return [spans[0], *map(add, spans[1:], spans), spans[-1]]


def _step(line: int, before: Row, after: Row) -> LoadStep:
    return LoadStep(
        line, after.time_s, after.time_s - before.time_s, before.current_a, after.current_a,
        before.voltage_v, after.voltage_v, before.groups_v, after.groups_v,
    )  # fmt: skip
