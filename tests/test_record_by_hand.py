"""A stranger with the printed tables alone: what stands in a cell of a table is worked out from other cells, in this file.

Nothing of the program computes here: numbers are read from the texts of the pages, as they are printed.
"""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from itertools import pairwise

import pytest

from buildtrack.judging import Judged
from buildtrack.record.content import gather
from buildtrack.record.pages import Grid, Pages, WorkingBlock
from tests.redo import TO_CANONICAL, plain
from tests.test_record_redo import judged_of

Row = dict[str, str]


@pytest.fixture(scope="module")
def cleared() -> Pages:
    return pages_of("garden-screwdriver-cleared")


def pages_of(name: str) -> Pages:
    judged: Judged = judged_of(name)
    return gather(judged, b"x")


def rows_of(grid: Grid | None) -> list[Row]:
    assert grid is not None
    return [{plain(h): plain(c) for h, c in zip(grid.head, row, strict=True)} for row in grid.rows]


def tables(pages: Pages, title: str) -> list[Row]:
    """The rows of a table, its continued parts laid beside each other."""
    parts = [rows_of(g) for s in pages.steps for g in s.grids if g.title.removesuffix(", continued") == title]
    assert parts, title
    return [{k: v for part in lines for k, v in part.items()} for lines in zip(*parts, strict=True)]


def working(pages: Pages, name: str) -> WorkingBlock:
    return next(w for s in pages.steps for w in s.workings if w.id == name)


def number(text: str, unit: str = "") -> float:
    """The first number of a text, in V, A, Ah and so on; `unit` where the head of the column has it."""
    found = re.match(r"[←●=?]? ?([+-]?[\d.]+)(?: ± [\d.]+)? ?(\S*)", plain(text))
    assert found is not None, text
    return float(found.group(1)) * TO_CANONICAL.get(unit or found.group(2), 1.0)


def straight(x: float, xs: list[float], ys: list[float]) -> float:
    at = min(max(bisect_left(xs, x), 1), len(xs) - 1)
    return ys[at - 1] + (ys[at] - ys[at - 1]) * (x - xs[at - 1]) / (xs[at] - xs[at - 1])


class PrintedCurve:
    """The table of the own curve, drawn on to 2.0 V as the note of the forecast says: 12.2 V for the whole charge."""

    def __init__(self, pages: Pages) -> None:
        rows = list(reversed(rows_of(working(pages, "own_curve").grid)))
        shares = [number(r["charge left"]) for r in rows]
        self.volts = [2.0] + [number(r["own curve"]) for r in rows]
        tail = (self.volts[1] - 2.0) / 12.2
        self.shares = [0.0] + [(tail + s) / (1 + tail) for s in shares]

    def left(self, volts: float) -> float:
        """Share of the whole charge that is left at a voltage at rest."""
        return straight(volts, self.volts, self.shares)


def accuracy(row: Row) -> tuple[float, float, float]:
    """Share, fixed part and step of an instrument as printed."""
    share = fixed = 0.0
    step = number(row["step"])
    for part in row["accuracy"].split(" + "):
        if part.endswith("%"):
            share = number(part)
        elif "digit" in part:
            fixed += number(part) * step
        else:
            fixed += number(part)
    return share, fixed, step


def test_the_limits_of_error_follow_from_the_table_of_instruments(cleared: Pages) -> None:
    """The rule beside "How to read the values": the statement added up, half a step, as root of the sum of squares."""
    instruments = {r["instrument"]: r for r in tables(cleared, "Instruments")}
    wrong, redone = [], 0
    for line in (i for s in cleared.steps for i in s.items):
        for reading in line.readings:
            if reading.instrument not in instruments or not reading.plus_minus or "·" in reading.text or "–" in reading.plus_minus:
                continue
            share, fixed, step = accuracy(instruments[reading.instrument])
            limit = math.hypot(share * abs(number(reading.text)) + fixed, step / 2)
            printed = number(reading.plus_minus.replace("±", "").strip().replace("\u00a0", " ").strip())
            redone += 1
            if abs(limit - printed) > 0.06 * limit:  # two digits are printed
                wrong.append((line.label, reading.text, reading.plus_minus, limit))
    assert wrong == []
    assert redone >= 30


def test_the_leak_of_every_cell_follows_from_its_two_voltages_and_the_printed_slope(cleared: Pages) -> None:
    typed = {r["cell"]: r for r in tables(cleared, "Candidate cells")}
    told = {r["cell"]: r for r in rows_of(working(cleared, "cell_report").grid) if r["leak per day"] != "-"}
    assert len(told) == 10
    for name, line in told.items():
        drop_mv = 1000 * (number(typed[name]["rest1 V"]) - number(typed[name]["rest2 V"]))
        percent_a_day = drop_mv / number(line["slope [mV per 1 %]"]) / 14  # 2026-07-14 to 2026-07-28
        assert percent_a_day / 100 * number(typed[name]["mAh"]) == pytest.approx(number(line["leak per day"]), rel=0.008)


def test_the_slope_follows_from_the_printed_curve(cleared: Pages) -> None:
    rows = list(reversed(rows_of(working(cleared, "own_curve").grid)))
    shares, volts = [100 * number(r["charge left"]) for r in rows], [1000 * number(r["own curve"]) for r in rows]
    for row in rows:
        middle = 100 * number(row["charge left"])
        if 8 <= middle < 97:
            continue  # here the table leaves out points of the curve
        # 2.5 % to either side, up to the end
        low, high = max(0.0, middle - 2.5), min(100.0, middle + 2.5)
        slope = (straight(high, shares, volts) - straight(low, shares, volts)) / (high - low)
        assert slope == pytest.approx(number(row["slope [mV per 1 %]"]), rel=0.02), row


def test_the_forecast_follows_from_the_printed_curve_and_the_groups(cleared: Pages) -> None:
    curve, groups = PrintedCurve(cleared), rows_of(working(cleared, "forecast_groups").grid)
    cells = {r["cell"]: r for r in rows_of(working(cleared, "cell_report").grid)}
    members = {r["group"]: r["cells"].split() for r in tables(cleared, "Groups")}
    for group in groups:
        # each cell was tested down to 2.80 V at 1.00 A, as its row says
        whole = sum(number(cells[c]["capacity"]) / (1 - curve.left(2.80 + 1.00 * number(cells[c]["R (dc)"])))
                    for c in members[group["group"]])
        assert whole == pytest.approx(number(group["charge down to 2.0 V"]), rel=4e-4)

    def drawn(volts: float, amperes: float) -> float:
        return min((1 - curve.left(volts + amperes * number(g["resistance"]))) * number(g["charge down to 2.0 V"])
                   for g in groups)

    told = {r["what"]: r["charge"] for r in rows_of(working(cleared, "forecast_difference").grid)}
    assert drawn(2.80, 2.00) == pytest.approx(number(told["forecast"]), abs=1e-3)
    # own error 2 %, limit of error of a group's capacity 38 mAh of 3833 mAh
    assert 0.97 * drawn(2.80, 2.00) == pytest.approx(number(told["agrees from"]), abs=2e-3)
    assert 1.01 * drawn(2.80, 2.00) == pytest.approx(number(told["agrees to"]), abs=2e-3)
    rms = number(working(cleared, "duty_rms_current").shown)
    left = 1 - drawn(3.26, rms) / drawn(2.80, rms)
    assert left == pytest.approx(number(working(cleared, "alarm_cost").shown), abs=5e-4)


def test_the_time_at_work_follows_from_the_heaviest_line_of_the_duty(cleared: Pages) -> None:
    """The screw's last second at 10 A is what first brings a group to a limit; the mean current sets the time until then."""
    curve, groups = PrintedCurve(cleared), rows_of(working(cleared, "forecast_groups").grid)
    mean = number(working(cleared, "duty_mean_current").shown)
    told = re.search(r"at work (\d+) min, alarm after (\d+) min", plain(working(cleared, "forecast").shown))
    assert told is not None
    for volts, minutes in zip((2.80, 3.20), told.groups(), strict=True):
        drawn = min((1 - curve.left(volts + 10.0 * number(g["resistance"]))) * number(g["charge down to 2.0 V"])
                    for g in groups)
        assert 60 * drawn / mean == pytest.approx(int(minutes), abs=1.0)


def test_the_energy_of_the_test_follows_from_the_log_in_short(cleared: Pages) -> None:
    rows = tables(cleared, "The log in short")
    assert 12 <= len(rows) <= 20
    charge = [number(r["charge so far"]) for r in rows]
    volts, amperes, minutes = ([number(r[k]) for r in rows] for k in ("pack", "current", "after"))
    energy = sum((a + b) / 2 * (d - c) for (a, b), (c, d) in zip(pairwise(volts), pairwise(charge), strict=True))
    assert energy == pytest.approx(number(working(cleared, "delivered_energy").shown), rel=2e-3)
    drawn = sum((a + b) / 2 * (d - c) / 3600 for (a, b), (c, d) in zip(pairwise(amperes), pairwise(minutes), strict=True))
    assert drawn == pytest.approx(number(working(cleared, "delivered_capacity_tested").shown), rel=2e-3)
    # the moment at which the groups were widest apart while the lowest still had 3.5 V is one of the lines
    groups = [[number(r[g]) for g in ("g1", "g2", "g3")] for r in rows]
    widest = max(max(g) - min(g) for g in groups[1:-1] if min(g) >= 3.5)
    assert widest == pytest.approx(number(working(cleared, "spread_before_knee").shown), abs=6e-4)


def test_the_charge_the_groups_are_apart_follows_from_the_printed_slope(cleared: Pages) -> None:
    rows = rows_of(working(cleared, "balance_report").grid)
    capacity = {r["group"]: number(r["capacity"]) for r in rows_of(working(cleared, "group_report").grid)}
    lowest = min(number(r["voltage"]) for r in rows)
    for row in rows:
        percent = 1000 * (number(row["voltage"]) - lowest) / number(row["slope [mV per 1 %]"])
        assert percent / 100 * capacity[row["group"]] == pytest.approx(number(row["above the lowest"]), abs=5e-4)


def test_a_published_curve_that_stands_for_the_cells_is_printed_with_its_source() -> None:
    pages = pages_of("drill-not-cleared")
    grids = [g for s in pages.steps for g in s.grids if g.title.startswith("Published curve")]
    assert len(grids) == 1 and "2014" in grids[0].notes[0]
    rows = rows_of(grids[0])
    # Schmalstieg et al. 2014 as carried by simses: full at 4.161 V, empty at 3.328 V
    assert (rows[0]["at rest"], rows[-1]["at rest"]) == ("4.161 V", "3.328 V")
    told = {r["cell"]: r for r in rows_of(working(pages, "cell_report").grid) if r["leak per day"] != "-"}
    assert told and all(number(r["slope [mV per 1 %]"]) > 1 for r in told.values())


def test_what_the_fuse_needs_follows_from_the_start_and_the_printed_share(cleared: Pages) -> None:
    remark = next(r["says"] for r in rows_of(working(cleared, "fuse_window").grid) if r["what"] == "remark")
    printed = re.search(r"puts ([\d.]+) A²s .* should be ([\d.]+) A²s .* at most ([\d.]+) %", plain(remark))
    assert printed is not None, remark
    pulse, needed, percent = (float(n) for n in printed.groups())
    assert pulse / percent * 100 == pytest.approx(needed, rel=0.005)
