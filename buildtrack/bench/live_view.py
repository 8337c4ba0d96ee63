"""What is shown of a log while it is written: the numbers, the curves, what is to be done now. Knows no screen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from buildtrack import units
from buildtrack.bench.chart import Chart, Limit, Moment, Series, draw, group_curve
from buildtrack.bench.desk import Desk
from buildtrack.bench.marks import ALARM, END, marked_s
from buildtrack.bench.marks_log import Log, of_others
from buildtrack.bench.plain import plain
from buildtrack.bench.timers import clock_text
from buildtrack.bench.widgets.line_text import Line, Piece, line, prose
from buildtrack.physics.log_follow import Seen, seconds_to

STILL_S = 5.0
"""Seconds without a new row, or two intervals of the log where those are longer, after which that is said."""


@dataclass(frozen=True, slots=True)
class Levels:
    """What the lowest group is compared with, and the moments marked so far."""

    alarm_v: float | None = None
    cutoff_v: float | None = None
    series: int | None = None
    alarm_s: float | None = None
    end_s: float | None = None
    least_v: float | None = None
    """Below this no group may go, whatever board and alarm are set to."""
    others: tuple[tuple[str, float, str], ...] = ()
    """Moments in the build that belong to another log: alarm or end, seconds, name of that log."""

    def level(self, volts: float | None, seen: Seen) -> float | None:
        """A level of one group as the log shows it: of the group, or of so many alike ones where only the pack is."""
        if volts is None or seen.now is None:
            return None
        if seen.now.groups_v:
            return volts
        return volts * self.series if self.series else None


def levels_of(desk: Desk, log: Log) -> Levels:
    """The levels of a build, with the moments marked that belong to the log followed."""
    number = desk.judged.assessment.sheet.number
    others = of_others(desk.build, log)
    elsewhere = {name for name, _, _ in others}
    alarm, end = (None if name in elsewhere else marked_s(kind, desk.build)
                  for name, kind in (("alarm", ALARM), ("end", END)))
    series = number("series_count")
    return Levels(
        number("alarm_setting"), number("board_cutoff"), int(series) if series else None,
        alarm, end, number("group_minimum") or number("cell_minimum"), others,
    )  # fmt: skip


def numbers(seen: Seen, levels: Levels, still_s: float, narrow: bool, grown: bool = True) -> list[Line]:
    """The numbers of this moment. grown: whether a row has come since the file is followed here."""
    now = seen.now
    if now is None:
        return [prose(f"{seen.file}: {plain(seen.problem)}. Looking every second.", "accent")]
    told = _narrow(seen, levels) if narrow else _wide(seen, levels)
    return [*told, *_state(seen, still_s, grown)]


def _groups(seen: Seen) -> list[tuple[str, float, bool]]:
    """Name, volts and whether it is the lowest, of each group; of the pack where there are none."""
    now = seen.now
    if now is None:
        return []
    if not now.groups_v:
        return [("pack", now.voltage_v, False)]
    low = min(now.groups_v)
    return [(f"g{n}", v, v == low and len(now.groups_v) > 1) for n, v in enumerate(now.groups_v, 1)]


def _to_level(name: str, volts: float | None, seen: Seen, levels: Levels) -> tuple[str, str]:
    """Words and look of the time to a level; a curve falls ever faster near its end, so it is the longest."""
    level = levels.level(volts, seen)
    if level is None or volts is None:
        return (f"{name} level not entered", "muted") if volts is None else ("", "muted")
    alike = "" if seen.now is not None and seen.now.groups_v else " if all groups are alike"
    if not seen.under_load:
        return f"{name} {volts:.2f} V: no load now", "muted"
    left = seconds_to(level, seen.lowest)
    if left is None:
        return f"{name} {volts:.2f} V: no slope yet", "muted"
    if left <= 0:
        return f"{name} {volts:.2f} V: reached{alike}", "warn"
    shown = f"{left:.0f} s" if left < 60 else f"{left / 60:.0f} min" if left >= 600 else f"{left / 60:.1f} min"
    return f"{name} {volts:.2f} V: in at most {shown} at this slope{alike}", "warn" if left < 120 else "plain"


def _wide(seen: Seen, levels: Levels) -> Iterator[Line]:
    now = seen.now
    assert now is not None
    yield line("since the load came on", "muted", clock_text(max(0.0, now.time_s)), right_look="head")
    yield line("current", "muted", f"{now.current_a:.3f} A", right_look="plain")
    yield line("charge so far", "muted", units.show(seen.charge_ah, "Ah"), right_look="plain")
    yield line("")
    for name, volts, low in _groups(seen):
        yield line(f"{name}{'  ◂ lowest' if low else ''}", "accent" if low else "plain", f"{volts:.3f} V",
                   right_look="accent" if low else "plain")  # fmt: skip
    yield line("")
    for name, level in (("alarm", levels.alarm_v), ("cutoff", levels.cutoff_v)):
        text, look = _to_level(name, level, seen, levels)
        if text:
            yield prose(text, look, hang=2)
    yield line("")
    yield from _marks(levels)


def _narrow(seen: Seen, levels: Levels) -> Iterator[Line]:
    now = seen.now
    assert now is not None
    yield Line((Piece(f"{clock_text(max(0.0, now.time_s))}  ", "head"), Piece(f"{now.current_a:.3f} A  "),
                Piece(f"{units.show(seen.charge_ah, 'Ah')} so far")))  # fmt: skip
    pieces = [Piece(f"{name} {volts:.3f} V{' ◂' if low else ''}  ", "accent" if low else "plain")
              for name, volts, low in _groups(seen)]  # fmt: skip
    for begin in range(0, len(pieces), 5):
        yield Line(tuple(pieces[begin : begin + 5]))
    told = [_to_level(name, level, seen, levels) for name, level in (("alarm", levels.alarm_v),)]
    yield Line(tuple(Piece(f"{text}  ", look) for text, look in told if text))
    if levels.alarm_s is not None or levels.end_s is not None or levels.others:
        yield Line(tuple(Piece(f"{p.text}   ", p.look) for entry in _marks(levels) for p in entry.left))


def _marks(levels: Levels) -> Iterator[Line]:
    for name, key, at in (("alarm", "m", levels.alarm_s), ("end", "e", levels.end_s)):
        if at is None:
            yield line(f"· {name} not marked: {key}", "muted")
        else:
            yield line(f"✓ {name} marked at {at / 60:.2f} min", "good")
    for name, at, owner in levels.others:
        yield line(f"· {name} at {at / 60:.2f} min is of {plain(owner)}", "muted")


def _state(seen: Seen, still_s: float, grown: bool) -> Iterator[Line]:
    """How the file is doing."""
    for text in seen.remarks:
        yield prose(f"▲ {plain(text)}", "warn", hang=2)
    counts = " that counts" if seen.remarks else ""
    anew = f"; begun anew {seen.begun_anew}×" if seen.begun_anew else ""
    more = f"{f', {seen.ignored} not used' if seen.ignored else ''}{anew}"
    rows = f"{seen.rows} rows{more}"
    if seen.problem:
        yield prose(f"▲ {plain(seen.problem)}; what was read stands ({rows})", "warn", hang=2)
    elif still_s > max(STILL_S, 2 * seen.interval_s):
        since = "" if grown else ", not since it is followed here"
        yield prose(f"▲ no new row{counts} for {clock_text(still_s)}{since} ({rows})", "warn", hang=2)
    elif not grown:
        yield prose(f"· {seen.rows} rows read{more}; the next one is waited for", "muted", hang=2)
    else:
        yield prose(f"● growing: {rows}", "good", hang=2)


def series(seen: Seen) -> tuple[Series, ...]:
    """The curves over minutes: each group, or the pack."""
    count = len(seen.points[0].groups_v) if seen.points else 0
    if not count:
        return (Series("pack", tuple((p.time_s / 60, p.lowest_v) for p in seen.points)),) if seen.points else ()
    return tuple(
        group_curve(n, [(p.time_s / 60, p.groups_v[n]) for p in seen.points if p.groups_v[n] > 0.05])
        for n in range(count)
    )


def chart(seen: Seen, levels: Levels, width: int, height: int) -> list[Line]:
    """The curves drawn, with the levels and the marked moments; nothing where there is nothing to draw."""
    curves = [s for s in series(seen) if len(s.points) > 1]
    if not curves or width < 20 or height < 6:
        return []
    shown = [("alarm", levels.level(levels.alarm_v, seen)), ("cutoff", levels.level(levels.cutoff_v, seen))]
    limits = tuple(Limit(name, value) for name, value in shown if value is not None)
    marks = (("alarm", levels.alarm_s), ("end", levels.end_s))
    moments = tuple(Moment(name, at / 60) for name, at in marks if at is not None)
    names = Line(tuple(piece for s in curves for piece in (Piece(*s.legend),)))
    return [*draw(Chart(tuple(curves), limits, moments), width, height - 1).lines(), names]


def to_do(seen: Seen, levels: Levels) -> tuple[str, str, str]:
    """What asks for a hand now: id, sentence, look; all empty where nothing does."""
    if seen.now is None or levels.end_s is not None:
        return "", "", ""
    if not seen.under_load and seen.loaded is not None:
        return "off", "The load went away. e marks the end; then stop the logger and attach the file with f.", ""
    low = seen.lowest[-1][1] if seen.lowest else None
    cutoff, alarm, least = (levels.level(v, seen) for v in (levels.cutoff_v, levels.alarm_v, levels.least_v))
    if low is not None and least is not None and low < least:
        return "floor", f"{low:.3f} V is below {least:.2f} V, the least a group may have: take the load off now.", "bad"
    if low is not None and cutoff is not None and low < cutoff:
        return "low", f"{low:.3f} V is below the cutoff {cutoff:.2f} V: if the board stays closed, stop by hand.", "bad"
    if low is not None and alarm is not None and low <= alarm and levels.alarm_s is None:
        return "alarm", f"{low:.3f} V: the alarm should sound now. m marks it when it does.", ""
    return "", "", ""


def columns_lines(columns: Sequence[str], notes: Sequence[str]) -> str:
    """The columns as understood, for the question that sets them."""
    return "\n".join(plain(text) for text in (*(c for c in columns if "not in the file" not in c), *notes[-3:]))
