"""The drawings: where a value is drawn is where its scale puts it; nothing from outside; hostile words stay words."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.judging import judge
from buildtrack.record.drawings import bars, cell_map, curves, fit_plan, ladder, svg, wiring
from buildtrack.record.drawings.of_build import figures
from buildtrack.record.drawings.wiring_runs import Run
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from tests.drawn_labels import outside, overlaps

NS = "{http://www.w3.org/2000/svg}"
ALLOWED = {"svg", "title", "line", "rect", "circle", "path", "text"}
HOSTILE = "<script>alert(1)</script>&\"'</text>\x00\u202e"


def elements(drawing: str, name: str) -> list[ET.Element]:
    """All elements of one kind."""
    return list(ET.fromstring(drawing).iter(f"{NS}{name}"))


def words(drawing: str) -> list[str]:
    """All words in a drawing."""
    return [e.text or "" for e in elements(drawing, "text")]


def number(element: ET.Element, name: str) -> float:
    """A coordinate."""
    return float(element.attrib[name])


POINTS = tuple((float(t), 4.1 - 0.01 * t) for t in range(0, 101, 10))
DISCHARGE = curves.Curves((curves.Curve("g1", POINTS), curves.Curve("g2", tuple((t, v - 0.05) for t, v in POINTS))),
                          (curves.Curve("g1", POINTS),), 0.0, 3.30, 2.80, (curves.Mark("alarm sounded", 80.0),))
GROUPS = (("g1", "c1 c2"), ("g2", "c3 c4"), ("g3", "c5 c6"))
WIRED = wiring.Wiring(GROUPS, tuple(wiring.Tap(f"B{n}", f"{3.7 * n:.2f} V") for n in range(4)),
                      "Balance plug brought out", "3.30 V each group", ("3 groups", "12 A"), "blade 10 A", True, "15 A", "20 A",
                      "12.6 V", runs=(Run("w1", "pack plus to fuse", "1.5 mm²", "60 mm"),))
RUNGS = (ladder.Rung("over-charge cut", 4.25, 0.025, 0.025, True), ladder.Rung("alarm", 3.3, 0.01, 0.01, True),
         ladder.Rung("cutoff", 2.8, 0.08, 0.08, True))
DRAWINGS: dict[str, Callable[[], str]] = {
    "curves": lambda: curves.discharge_curves(DISCHARGE),
    "ladder": lambda: ladder.threshold_ladder(RUNGS, 3),
    "cells": lambda: cell_map.cell_map([cell_map.MapGroup("g1", (cell_map.MapCell("c1", 2.4), cell_map.MapCell("c2")))]),
    "wiring": lambda: wiring.wiring_diagram(WIRED),
    "load": lambda: bars.load_profile([bars.Stage(2.0, 4.0, 5.0)], [bars.Level("rms", 3.0)]),
    "charge": lambda: bars.charge_spread([bars.GroupCharge("g1", (("end", 4.15), ("rested", 4.14)))], 4.15, 4.25),
    "chain": lambda: bars.chain_of_ratings([bars.Part("fuse", 7.5), bars.Part("strips", None)], [bars.Level("rms", 3.6)]),
    "fit": lambda: fit_plan.fit_plan(fit_plan.FitPlan(((9.2, 9.2), (28.0, 9.2)), 18.4, (60.0, 40.0), ("length", "width"), 1)),
}


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_is_well_formed_and_refers_to_nothing(name: str) -> None:
    drawing = DRAWINGS[name]()
    root = ET.fromstring(drawing)
    assert {e.tag.removeprefix(NS) for e in root.iter()} <= ALLOWED
    for element in root.iter():
        assert not [k for k in element.attrib if k.startswith("on") or "href" in k or k == "style"], element.attrib
    assert "url(" not in drawing and "var(" not in drawing


@pytest.mark.parametrize("name", DRAWINGS)
def test_everything_lies_on_the_paper(name: str) -> None:
    root = ET.fromstring(DRAWINGS[name]())
    width, height = (float(v) for v in root.attrib["viewBox"].split()[2:])
    for line in root.iter(f"{NS}line"):
        for key, most in (("x1", width), ("x2", width), ("y1", height), ("y2", height)):
            assert -0.01 <= number(line, key) <= most + 0.01
    for text in root.iter(f"{NS}text"):
        assert 0 <= number(text, "x") <= width and 0 <= number(text, "y") <= height


def test_alarm_and_cutoff_lie_at_their_voltages() -> None:
    drawing = curves.discharge_curves(DISCHARGE)
    _, y = curves.axes(DISCHARGE)
    accents = [e for e in elements(drawing, "line") if e.attrib["stroke"] == svg.ACCENT]
    assert [number(e, "y1") for e in accents] == pytest.approx([y.at(3.30), y.at(2.80)], abs=0.006)
    assert y.at(3.30) < y.at(2.80), "the higher voltage is drawn higher"
    assert "alarm 3.30 V" in words(drawing) and "cutoff 2.80 V" in words(drawing)


def test_a_curve_passes_through_its_readings() -> None:
    x, y = curves.axes(DISCHARGE)
    lines = [e.attrib["d"] for e in elements(curves.discharge_curves(DISCHARGE), "path")]
    spot = f"{svg.number(x.at(50.0))} {svg.number(y.at(3.6))}"
    assert any(spot in d for d in lines)


def test_curves_are_told_apart_without_colour() -> None:
    drawn = [e for e in elements(curves.discharge_curves(DISCHARGE), "path") if e.attrib.get("stroke-width") == "0.4"]
    assert len(drawn) == 2
    assert drawn[0].attrib.get("stroke-dasharray") != drawn[1].attrib.get("stroke-dasharray")
    assert {"g1", "g2", "g1 forecast"} <= set(words(curves.discharge_curves(DISCHARGE)))


@settings(derandomize=True, deadline=None, max_examples=50)
@given(st.lists(st.floats(2.5, 4.2), min_size=2, max_size=9000))
def test_thinning_keeps_the_ends_and_every_extreme(volts: list[float]) -> None:
    points = [(float(n), v) for n, v in enumerate(volts)]
    kept = curves.thinned(points)
    assert len(kept) <= curves.MOST_POINTS + 4
    assert kept[0] == points[0] and kept[-1] == points[-1]
    assert min(v for _, v in kept) == min(volts) and max(v for _, v in kept) == max(volts)
    assert list(kept) == sorted(kept)


def test_rungs_stand_at_their_voltage_with_their_tolerance() -> None:
    drawing = ladder.threshold_ladder(RUNGS, 3)
    y = ladder.scale(RUNGS)
    boxes = {round(number(e, "y"), 1): number(e, "height") for e in elements(drawing, "rect")}
    top, bottom = y.at(2.88), y.at(2.72)
    assert boxes[round(top, 1)] == pytest.approx(bottom - top, abs=0.02)
    assert {"2.800 V ± 80 mV", "8.40 V", "over-charge cut"} <= set(words(drawing))


def test_labels_of_a_crowded_ladder_do_not_overlap() -> None:
    crowd = [ladder.Rung(f"rung {n}", 4.10 + 0.005 * n) for n in range(12)]
    drawing = ladder.threshold_ladder(crowd, 3)
    heights = sorted(number(e, "y") for e in elements(drawing, "text") if (e.text or "").startswith("rung"))
    assert min(b - a for a, b in zip(heights, heights[1:], strict=False)) > 3


def test_taps_rise_from_minus_to_plus() -> None:
    heights = [wiring.tap_height(WIRED, n) for n in range(4)]
    assert heights == sorted(heights, reverse=True)
    drawing = wiring.wiring_diagram(WIRED)
    assert {"B0", "B1", "B2", "B3", "3.70 V", "11.10 V", "fuse blade 10 A", "w1: pack plus to fuse, 1.5 mm², 60 mm"} <= set(words(drawing))


def test_the_charge_socket_follows_the_port_of_the_board() -> None:
    separate = wiring.wiring_diagram(wiring.Wiring(GROUPS, board=("3 groups",), charger="12.6 V", separate_port=True))
    assert "C−" in words(separate) and "C−" not in words(wiring.wiring_diagram(WIRED))


def test_a_missing_fuse_and_board_are_said() -> None:
    bare = wiring.wiring_diagram(wiring.Wiring(GROUPS))
    assert {"no fuse entered", "board not entered"} <= set(words(bare))


def test_neighbouring_groups_are_turned() -> None:
    groups = [cell_map.MapGroup(f"g{n}", (cell_map.MapCell(f"c{n}"),)) for n in range(3)]
    discs = [e for e in elements(cell_map.cell_map(groups), "circle") if number(e, "r") > 4]
    assert [e.attrib["fill"] for e in discs] == [svg.WHITE, svg.PALE, svg.WHITE]


@pytest.mark.parametrize(("series", "parallel"), [(1, 1), (3, 2), (10, 4), (13, 3), (20, 1), (20, 10), (2, 10)])
def test_a_map_of_any_pack_fits_a_page_with_its_words_apart(series: int, parallel: int) -> None:
    groups = [cell_map.MapGroup(f"g{g + 1}", tuple(cell_map.MapCell(f"c{g * parallel + n:03}", 2.471) for n in range(parallel)),
                                2.471 * parallel) for g in range(series)]
    drawing = cell_map.cell_map(groups)
    assert overlaps(drawing) == [] and outside(drawing) == []
    width, height = (float(v) for v in ET.fromstring(drawing).attrib["viewBox"].split()[2:])
    assert height <= 225
    discs = [e for e in elements(drawing, "circle") if e.attrib["stroke"] == svg.INK]
    assert len(discs) == series * parallel
    assert all(number(e, "r") <= number(e, "cx") <= width - number(e, "r") for e in discs)
    assert {f"to g{g + 2}" for g in range(series - 1)} & set(words(drawing)) or len({number(e, "cy") for e in discs}) <= parallel


@pytest.mark.parametrize("sample", ["garden-screwdriver-cleared", "drill-not-cleared", "shed-light-cleared"])
def test_no_label_of_a_samples_drawings_lies_on_another(sample: str) -> None:
    path = shipped_samples() / f"{sample}.toml"
    build = read_build(path).build
    judged = judge(build, find_checklist(build.checklist.id), path.parent, datetime(2026, 11, 25, tzinfo=UTC))
    drawn = [f for found in figures(judged).values() for f in found if f.svg]
    assert len(drawn) >= 5
    assert [(f.title, pair) for f in drawn for pair in overlaps(f.svg)] == []
    assert [(f.title, label) for f in drawn for label in outside(f.svg)] == []


def test_a_drawing_the_checklist_does_not_ask_for_is_left_out_without_a_word() -> None:
    path = shipped_samples() / "path-light-cleared.toml"
    build = read_build(path).build
    judged = judge(build, find_checklist(build.checklist.id), path.parent, datetime(2026, 11, 25, tzinfo=UTC))
    assert "charge_groups" not in judged.checklist.items and "charge" in {s.id for s in judged.checklist.steps}
    titles = [f.title for found in figures(judged).values() for f in found]
    assert "Groups at the end of the charge" not in titles and "Wiring diagram" in titles


def test_a_link_over_the_end_of_a_row_is_named_at_both_ends() -> None:
    groups = [cell_map.MapGroup(f"g{g + 1}", (cell_map.MapCell(f"c{g}"),)) for g in range(16)]
    told = words(cell_map.cell_map(groups))
    assert {"to g9", "g8 to", "B−", "B+"} <= set(told)


def test_the_forecasts_doubt_is_a_band_towards_the_sooner_end() -> None:
    doubtful = replace(DISCHARGE, doubt_share=0.05)
    x, _ = curves.axes(doubtful)
    band = next(e.attrib["d"] for e in elements(curves.discharge_curves(doubtful), "path") if e.attrib["fill"] == svg.BAND)
    reached = [float(v) for v in re.findall(r"[M ](\d+\.?\d*) \d", band)]
    # the forecast ends at 100 min; 5 % sooner is 95 min
    assert max(reached) == pytest.approx(x.at(100.0), abs=0.02)
    assert any(v == pytest.approx(x.at(95.0), abs=0.02) for v in reached)
    assert svg.BAND not in curves.discharge_curves(DISCHARGE)


def test_every_cell_of_every_group_is_on_the_map() -> None:
    groups = [cell_map.MapGroup(f"g{g}", tuple(cell_map.MapCell(f"c{g}{n}") for n in range(4))) for g in range(10)]
    drawing = cell_map.cell_map(groups)
    assert {f"c{g}{n}" for g in range(10) for n in range(4)} <= set(words(drawing))
    width = float(ET.fromstring(drawing).attrib["viewBox"].split()[2])
    assert all(number(e, "cx") + number(e, "r") <= width for e in elements(drawing, "circle"))


def test_bars_of_the_chain_are_as_long_as_their_ratings() -> None:
    parts, currents = [bars.Part("fuse", 7.5, True), bars.Part("board", 15.0)], [bars.Level("rms", 3.6)]
    drawing = bars.chain_of_ratings(parts, currents)
    fuse, board = (number(e, "width") for e in elements(drawing, "rect") if e.attrib["fill"] != svg.WHITE)
    assert board == pytest.approx(2 * fuse, abs=0.02)
    assert "7.5 A governs" in words(drawing)


def test_the_load_profile_has_the_area_of_its_stages() -> None:
    stages, levels = [bars.Stage(2.0, 4.0, 5.0), bars.Stage(1.0, 1.0, 5.0)], [bars.Level("mean", 2.0)]
    x, y = bars.profile_scales(stages, levels)
    drawing = bars.load_profile(stages, levels)
    outline = next(e.attrib["d"] for e in elements(drawing, "path"))
    assert f"{svg.number(x.at(5.0))} {svg.number(y.at(4.0))}" in outline
    level = next(e for e in elements(drawing, "line") if e.attrib["stroke"] == svg.ACCENT)
    assert number(level, "y1") == pytest.approx(y.at(2.0), abs=0.006)


def test_groups_at_the_end_of_charge_lie_at_their_voltages() -> None:
    groups = [bars.GroupCharge("g1", (("end", 4.151), ("rested", 4.146)))]
    x = bars.spread_scale(groups, 4.15)
    drawing = bars.charge_spread(groups, 4.15, 4.25)
    places = {round(number(e, "cx"), 1) for e in elements(drawing, "circle")}
    assert {round(x.at(4.151), 1), round(x.at(4.146), 1)} <= places | {round(x.at(4.151), 1)}
    assert any("4.151" in w for w in words(drawing))


@pytest.mark.parametrize("call", [
    lambda: curves.discharge_curves(curves.Curves(())), lambda: ladder.threshold_ladder((), 3),
    lambda: cell_map.cell_map(()), lambda: wiring.wiring_diagram(wiring.Wiring(())), lambda: bars.load_profile((), ()),
    lambda: bars.charge_spread((), None, None), lambda: bars.chain_of_ratings([bars.Part("strips", None)], ()),
    lambda: fit_plan.fit_plan(fit_plan.FitPlan((), 18.0, (60.0, 40.0), ("length", "width"), 1))])
def test_missing_data_is_a_sentence_and_no_drawing(call: Callable[[], str]) -> None:
    with pytest.raises(ValueError, match="[a-z]"):
        call()


def test_hostile_words_stay_words() -> None:
    hostile = [curves.discharge_curves(curves.Curves((curves.Curve(HOSTILE, POINTS),))),
               wiring.wiring_diagram(wiring.Wiring(
                   ((HOSTILE, HOSTILE),), (wiring.Tap("B0", HOSTILE, HOSTILE),), HOSTILE, HOSTILE, (HOSTILE,), HOSTILE, True,
                   HOSTILE, HOSTILE, HOSTILE, runs=(Run(HOSTILE, "plus" + HOSTILE, HOSTILE),))),
               ladder.threshold_ladder([ladder.Rung(HOSTILE, 3.0)], 1),
               cell_map.cell_map([cell_map.MapGroup(HOSTILE, (cell_map.MapCell(HOSTILE),))]),
               bars.chain_of_ratings([bars.Part(HOSTILE, 3.0)], [bars.Level(HOSTILE, 1.0)])]
    for drawing in hostile:
        assert {e.tag.removeprefix(NS) for e in ET.fromstring(drawing).iter()} <= ALLOWED
        assert "\u202e" not in drawing and "\x00" not in drawing


@settings(derandomize=True, deadline=None, max_examples=100)
@given(st.floats(-1e6, 1e6), st.floats(1e-6, 1e6), st.integers(2, 14))
def test_ticks_are_few_round_and_inside(low: float, width: float, most: int) -> None:
    found = svg.ticks(low, low + width, most)
    assert len(found) <= most + 1
    assert all(low - 1e-6 * width <= v <= low + width * (1 + 1e-6) for v in found)


def test_labels_that_fit_are_kept_apart() -> None:
    placed = svg.spread_apart([5.0, 5.1, 5.2, 9.0], 2.0, 0.0, 20.0)
    assert placed == pytest.approx([5.0, 7.0, 9.0, 11.0])
    squeezed = svg.spread_apart([19.0, 19.5], 2.0, 0.0, 20.0)
    assert squeezed == pytest.approx([18.0, 20.0])


def test_coordinates_are_short() -> None:
    assert not re.search(r"\d\.\d{3}", "".join(DRAWINGS["curves"]().split('d="')[1:2]))
