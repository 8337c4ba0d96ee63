"""What can be drawn of a build: discharge curve, thresholds, cells, wiring, charge spread; numbers beside."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from typing import Any

from rich.cells import cell_len

from buildtrack import units
from buildtrack.bench.chart import Chart, Limit, Moment, Series, draw, group_curve
from buildtrack.bench.plain import pad, plain
from buildtrack.bench.wide_table import table_lines
from buildtrack.bench.widgets.line_text import Line, Piece, line, prose
from buildtrack.judging import Judged
from buildtrack.workings.inputs import LOG_DATA
from buildtrack.workings.values import Known, Record, Table

GROUP_SIGNS = "●▲■◆○△□◇★☆"
"""A sign for each group: colour alone never tells them apart."""


def known(judged: Judged, name: str) -> Any:
    """A known value of the sheet, or None."""
    value = judged.assessment.sheet.values.get(name)
    return value.value if isinstance(value, Known) else None


def table(judged: Judged, name: str) -> tuple[Record, ...]:
    """Rows of a table item."""
    found = known(judged, name)
    return found.rows if isinstance(found, Table) else ()


# -- discharge -------------------------------------------------------------------------------------------------


def discharge_series(judged: Judged) -> tuple[Series, ...]:
    """Voltage over minutes: each group where groups were read, else the pack; from the log, else by hand."""
    data = known(judged, LOG_DATA)
    if data is not None:
        return tuple(_log_series(data))
    return tuple(_hand_series(table(judged, "discharge_points")))


def _log_series(data: Any) -> Iterator[Series]:
    outline = data.log.outline
    count = len(outline[0].groups_v) if outline else 0
    for number in range(count):
        points = tuple((p.time_s / 60, p.groups_v[number]) for p in outline if p.groups_v[number] > 0.05)
        if points:
            yield group_curve(number, points)
    if not count:
        yield Series("pack", tuple((p.time_s / 60, p.lowest_v) for p in outline))


def _hand_series(rows: Sequence[Record]) -> Iterator[Series]:
    names = [f"g{n}" for n in range(1, 11)]
    found = False
    for number, name in enumerate(names):
        points = _points(rows, name)
        if points:
            found = True
            yield group_curve(number, points)
    if not found and (points := _points(rows, "pack")):
        yield Series("pack", points)


def _points(rows: Sequence[Record], column: str) -> tuple[tuple[float, float], ...]:
    return tuple(
        sorted(
            (t / 60, v) for r in rows if (t := r.number("minute")) is not None and (v := r.number(column)) is not None
        )
    )


def discharge(judged: Judged, width: int, height: int) -> Iterator[Line]:
    """The discharge curve with alarm, cutoff, and where the forecast ends."""
    series = discharge_series(judged)
    if not series:
        yield prose("Nothing is drawn yet: attach the log of the test, or fill the readings by hand.", "muted")
        return
    sheet = judged.assessment.sheet
    of_groups = series[0].name != "pack"
    limits = tuple(
        Limit(word, value)
        for word, name in (("alarm", "alarm_setting"), ("cutoff", "board_cutoff"))
        if of_groups and (value := sheet.number(name)) is not None
    )
    yield from draw(Chart(series, limits, tuple(_moments(judged))), width, height).lines()
    yield line("")
    yield Line(tuple(p for s in series for p in (Piece(*s.legend),)))
    rows = [
        (
            s.name,
            f"{s.points[0][1]:.3f} V",
            f"{min(y for _, y in s.points):.3f} V",
            f"{s.points[-1][1]:.3f} V",
            f"{s.points[-1][0]:.1f} min",
        )
        for s in series
    ]
    yield from table_lines(("", "at start", "lowest", "at end", "after"), rows, width)
    for name in ("test_report", "forecast", "forecast_difference"):
        told = getattr(known(judged, name), "summary", "")
        if told:
            yield prose(f"{sheet.workings[name].label}: {told}", "muted", 0, f"working:{name}")


def _moments(judged: Judged) -> Iterator[Moment]:
    sheet = judged.assessment.sheet
    for word, name in (("alarm", "alarm_after"), ("cutoff", "cutoff_after")):
        if (seconds := sheet.number(name)) is not None:
            yield Moment(word, seconds / 60)
    forecast = known(judged, "forecast")
    ends = getattr(forecast, "cutoff_s", None)
    if ends is not None:
        low, high = forecast.band_ah
        delivered = forecast.delivered_ah or 1.0
        yield Moment("forecast from", ends * low / delivered / 60, "muted")
        yield Moment("forecast to", ends * high / delivered / 60, "muted")


# -- thresholds ------------------------------------------------------------------------------------------------


def ladder(judged: Judged, width: int, height: int) -> Iterator[Line]:
    """All thresholds on one upright scale with their tolerances."""
    found = known(judged, "ladder")
    rungs = getattr(found, "rungs", ())
    if not rungs:
        yield prose("Nothing is drawn yet: the thresholds of board and alarm are not entered.", "muted")
        return
    low = min(r.voltage_v - r.minus_v for r in rungs)
    high = max(r.voltage_v + r.plus_v for r in rungs)
    bar = max(10, min(46, width - 44))
    for rung in sorted(rungs, key=lambda r: -r.voltage_v):
        yield Line(
            (
                Piece(pad(plain(rung.name), 26)),
                Piece(f"{rung.voltage_v:6.3f} V  ", "accent"),
                Piece(_rung_bar(rung, low, high, bar)),
            )
        )
    yield Line((Piece(" " * 36 + f"{low:.2f} V" + " " * max(1, bar - 12) + f"{high:.2f} V", "muted"),))
    yield line("")
    for each in getattr(found, "contradictions", ()):
        yield prose(f"▲ {each}", "warn", hang=2)
    yield from table_lines(found.head, found.lines, width)


def _rung_bar(rung: Any, low: float, high: float, length: int) -> str:
    span = (high - low) or 1.0
    first = round((rung.voltage_v - rung.minus_v - low) / span * (length - 1))
    last = round((rung.voltage_v + rung.plus_v - low) / span * (length - 1))
    middle = round((rung.voltage_v - low) / span * (length - 1))
    marks = ["·"] * length
    for place in range(first, last + 1):
        marks[place] = "━"
    marks[middle] = "╋" if last > first else "┃"
    return "".join(marks)


# -- cells -----------------------------------------------------------------------------------------------------


def cells(judged: Judged, width: int, height: int) -> Iterator[Line]:
    """The cells in their groups, each with capacity and resistance; what is not in a group below."""
    report = known(judged, "group_report")
    groups = [(g.id, g.cells, g) for g in getattr(report, "groups", ())] or _typed_groups(judged)
    rows = {r.id: r for r in table(judged, "candidates")}
    if not rows:
        yield prose("Nothing is drawn yet: no cells are entered.", "muted")
        return
    used: set[str] = set()
    for number, (name, members, group) in enumerate(groups):
        used.update(members)
        sign = GROUP_SIGNS[number % len(GROUP_SIGNS)]
        yield Line((Piece(f"{sign} {plain(name)}  ", "head"), Piece(_group_words(group), "muted")))
        yield from _cell_rows([_cell_words(c, rows.get(c)) for c in members], sign, width)
        yield line("")
    left = [r for r in rows.values() if r.id not in used]
    if left:
        yield line("not in a group", "muted")
        yield from _cell_rows([_cell_words(r.id, r) for r in left], "–", width)


def _typed_groups(judged: Judged) -> list[tuple[str, tuple[str, ...], None]]:
    return [(r.id, tuple(r.text("cells").replace(",", " ").split()), None) for r in table(judged, "groups")]


def _group_words(group: Any) -> str:
    if group is None:
        return ""
    parts = []
    if group.capacity_ah is not None:
        parts.append(units.show(group.capacity_ah, "mAh"))
    if group.resistance_ohm is not None:
        parts.append(units.show(group.resistance_ohm, "mΩ", digits=3))
    return " · ".join(parts)


def _cell_words(name: str, row: Record | None) -> str:
    parts = [plain(name)]
    if row is not None:
        if (capacity := row.number("capacity")) is not None:
            parts.append(units.show(capacity, "mAh"))
        if (resistance := row.number("resistance")) is not None:
            parts.append(units.show(resistance, "mΩ", digits=3))
        if row.text("decision") in ("reject", "spare"):
            parts.append(row.text("decision"))
    return " ".join(parts)


def _cell_rows(words: Sequence[str], sign: str, width: int) -> Iterator[Line]:
    room = max((len(w) for w in words), default=8) + 4
    across = max(1, (width - 2) // room)
    for start in range(0, len(words), across):
        yield line("  " + "".join(pad(f"{sign} {w}", room) for w in words[start : start + across]).rstrip())


# -- wiring ----------------------------------------------------------------------------------------------------


def wiring(judged: Judged, width: int, height: int) -> Iterator[Line]:
    """The string of groups with its taps, fuse and board; the tap voltages measured beside it."""
    count = judged.assessment.sheet.number("series_count")
    if count is None or not 1 <= count <= 40:
        yield prose("Nothing is drawn yet: the number of groups in series is not entered.", "muted")
        return
    series = int(count)
    taps = {r.id: r.number("voltage") for r in table(judged, "taps")}
    groups = {r.id: r.text("cells") for r in table(judged, "groups")}
    fuse = judged.assessment.sheet.number("fuse_rating")
    rating = f" {fuse:g} A" if fuse is not None else ""
    plus, minus = f"  pack plus (P+)  ──[ fuse{rating} ]", "  pack minus (P−) ──[ board ]"
    yield line(plus + "─" * (COLUMN - len(plus)) + "┐")
    report = known(judged, "tap_report")
    bad_taps, bad_groups = _faults(report)
    members = {n: plain(groups.get(f"g{n}", "")) or "no cells named" for n in range(1, series + 1)}
    room = min(max(cell_len(text) for text in members.values()), max(8, width - COLUMN - 22))
    for number in range(series, 0, -1):
        yield _tap(number, taps.get(f"B{number}"), number in bad_taps)
        yield _group(number, taps, pad(members[number], room), number in bad_groups)
    yield _tap(0, taps.get("B0"), 0 in bad_taps)
    yield line(minus + "─" * (COLUMN - len(minus)) + "┘")
    yield line("")
    if getattr(report, "summary", ""):
        sign, look = ("", "muted") if report.right else ("✗ ", "bad")
        yield prose(f"{sign}{report.summary}", look, 0, "working:tap_report")


COLUMN = 37
"""Where the string of groups stands."""


OF_TAPS = ("swapped", "missing")
"""Kinds of findings whose places are taps; those of the others are groups."""


def _faults(report: Any) -> tuple[Sequence[int], Sequence[int]]:
    """The taps and the groups a finding is about."""
    if report is None or report.right:
        return (), ()
    found = report.diagnosis
    return (found.positions, ()) if found.kind in OF_TAPS else ((), found.positions)


def _tap(number: int, voltage: float | None, is_bad: bool) -> Line:
    shown = f"{voltage:.3f} V" if voltage is not None else "not measured"
    rest = COLUMN - 21
    head, look = ("✗", "bad") if is_bad else (" ", "head")
    return Line((Piece(f"{head} B{number:<2} ", look), Piece(f"{shown:<14} ", "bad" if is_bad else "plain"),
                 Piece("─" * rest + "┤", "muted")))  # fmt: skip


def _group(number: int, taps: dict[str, float | None], members: str, is_bad: bool) -> Line:
    above = taps.get(f"B{number}")
    below = taps.get(f"B{number - 1}")
    if number == 1 and below is None and above is not None:
        below = 0.0  # the first tap is pack minus itself
    step = f"{above - below:.3f} V" if above is not None and below is not None else ""
    sign = GROUP_SIGNS[(number - 1) % len(GROUP_SIGNS)]
    return Line(
        (
            Piece(" " * COLUMN + f"{sign} ", "accent"),
            Piece(f"g{number:<2} {members}  "),
            Piece(f"{step:>9}{'  ✗' if is_bad else ''}", "bad" if is_bad else "muted"),
        )
    )


# -- charge ----------------------------------------------------------------------------------------------------


def charge(judged: Judged, width: int, height: int) -> Iterator[Line]:
    """Each group at the end of the charge and after rest, against the target."""
    rows = [r for r in table(judged, "charge_groups") if r.number("at_end") is not None]
    if not rows:
        yield prose("Nothing is drawn yet: the groups were not read while charging.", "muted")
        return
    ends = [v for r in rows if (v := r.number("at_end")) is not None]
    target = judged.assessment.sheet.number("charge_policy")
    low, high = min([*ends, target or ends[0]]) - 0.02, max([*ends, target or ends[0]]) + 0.02
    bar = max(10, width - 32)
    for number, row in enumerate(rows):
        value = row.number("at_end") or 0.0
        length = round((value - low) / (high - low) * bar)
        yield Line(
            (
                Piece(f"{GROUP_SIGNS[number % len(GROUP_SIGNS)]} {pad(row.id, 6)}", "head"),
                Piece(f"{value:.3f} V  ", "accent"),
                Piece("█" * length),
            )
        )
    if target is not None:
        place = round((target - low) / (high - low) * bar)
        yield Line((Piece(" " * (18 + max(0, place - 1)) + f"↑ target {target:.3f} V", "warn"),))
    yield line(f"{' ' * 17}bars begin at {low:.3f} V", "muted")
    yield line("")
    columns = [
        c
        for c in ("after_5min", "after_15min", "after_30min", "at_end", "rested")
        if any(r.number(c) is not None for r in rows)
    ]
    head = ("group", *(c.replace("_", " ") for c in columns))
    body = [(r.id, *(f"{v:.3f} V" if (v := r.number(c)) is not None else "-" for c in columns)) for r in rows]
    yield from table_lines(head, body, width)
    yield prose(f"apart at the end: {units.show(max(ends) - min(ends), 'mV', digits=3)}", "muted")


# -- aftercare -------------------------------------------------------------------------------------------------


def rechecks(judged: Judged, width: int, height: int) -> Iterator[Line]:
    """Resting voltage of every group over the days of the re-checks."""
    undated = [r.id for r in table(judged, "rechecks") if r.typed_on is not None]
    if undated:
        yield prose(f"▲ Not drawn, because it has no date: {', '.join(undated)}", "warn")
    rows = [r for r in table(judged, "rechecks") if r.number("on") is not None]
    series = []
    first = min((r.number("on") or 0.0 for r in rows), default=0.0)
    for number in range(10):
        points = tuple(
            sorted(((r.number("on") or 0.0) - first, v) for r in rows if (v := r.number(f"g{number + 1}")) is not None)
        )
        if points:
            series.append(group_curve(number, points))
    if not series:
        yield prose("Nothing is drawn yet: no re-check was made.", "muted")
        return
    yield from draw(Chart(tuple(series), x_unit="days since the first"), width, height).lines()
    yield line("")
    yield from _read_last(rows, width)
    for name in ("drift_report", "retire_report", "fade_per_month"):
        told = getattr(known(judged, name), "summary", "")
        if told:
            yield prose(told, "muted", 0, f"working:{name}")


MOST_READ = 6
"""So many re-checks stand beneath their picture, the latest of them."""


def _read_last(rows: Sequence[Record], width: int) -> Iterator[Line]:
    """The voltages of each group, under the days on which they were read."""
    last = sorted(rows, key=lambda r: r.number("on") or 0.0)[-MOST_READ:]
    days = [date.fromordinal(int(r.number("on") or 1)).isoformat() for r in last]
    names = [f"g{n}" for n in range(1, 11) if any(r.number(f"g{n}") is not None for r in last)]
    body = [(n, *(f"{v:.3f} V" if (v := r.number(n)) is not None else "-" for r in last)) for n in names]
    yield from table_lines(("group", *days), body, width)


PICTURES: tuple[tuple[str, str, Callable[[Judged, int, int], Iterator[Line]]], ...] = (
    ("curve", "Discharge curve", discharge),
    ("thresholds", "Thresholds", ladder),
    ("cells", "Cells in their groups", cells),
    ("wiring", "Wiring and taps", wiring),
    ("spread", "Spread while charging", charge),
    ("re-checks", "Re-checks since hand-over", rechecks),
)
"""Id, title and drawing of every picture."""
