"""The wiring diagram: sizes stand at their runs, and nothing lies on anything else for every pack the program knows."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.model.build import Cell, Entry
from buildtrack.record.content import gather
from buildtrack.record.drawings import wiring
from buildtrack.record.drawings.wiring_runs import Run, link_of, stretch_of
from tests import record_builds
from tests.drawn_labels import NS, labels, outside, overlaps

WIRES = ("pack plus to fuse", "fuse to switch", "switch to contact plus", "pack minus to board", "board to contact minus",
         "tap leads", "charge socket plus to fuse", "charge socket to board C-", "lamp to reed relay")
COLOURS = ("black", "red", "white", "yellow-green")


def pack(series: int, parallel: int, *, port: bool = False, fuse_first: bool = True, switch: str = "15 A") -> wiring.Wiring:
    """A pack of so many groups with everything entered, its words as long as they get."""
    groups = tuple((f"g{k + 1}", " ".join(f"c{k * parallel + n + 1:03}" for n in range(parallel))) for k in range(series))
    taps = tuple(wiring.Tap(f"B{k}", f"{3.712 * k:.3f} V", COLOURS[k % 4]) for k in range(series + 1))
    runs = tuple(Run(f"w{n + 1}", run, "2.5 mm² ×2", "160 mm") for n, run in enumerate(WIRES))
    strips = tuple(Run(f"t{k}", f"g{k} to g{k + 1}", "8.0×0.15 mm ×2", "nickel, 20 mm") for k in range(1, series))
    ends = (Run("t98", "pack plus", "8.0×0.15 mm", "nickel"), Run("t99", "pack minus", "8.0×0.15 mm", "nickel"))
    board = (f"{series} groups", "20 A continuous", "over-charge 4.25 V", "cutoff 2.80 V", "balance 4.18 V")
    return wiring.Wiring(groups, taps, "Balance plug brought out", "3.20 V each group", board, "cartridge time-lag 15 A",
                         fuse_first, switch, "30 A", f"{4.2 * series:.1f} V 2.00 A", port, False, runs, (*strips, *ends))


@pytest.mark.parametrize("series", [1, 2, 3, 4, 7, 10, 13, 16, 20])
@pytest.mark.parametrize(("parallel", "port", "fuse_first"), [(1, False, True), (2, True, True), (10, True, False)])
def test_no_label_lies_on_another_or_off_the_paper(series: int, parallel: int, port: bool, fuse_first: bool) -> None:
    drawing = wiring.wiring_diagram(pack(series, parallel, port=port, fuse_first=fuse_first))
    assert overlaps(drawing) == []
    assert outside(drawing) == []
    assert float(ET.fromstring(drawing).attrib["viewBox"].split()[3]) <= 225, "fits one page of Letter with its heading"


def test_two_labels_on_one_spot_are_found() -> None:
    again = wiring.wiring_diagram(pack(3, 2)).replace("</svg>", '<text x="67" y="25" font-size="3">again</text></svg>')
    assert overlaps(again)


def near(drawing: str, words: str, x: float, y: float, reach: float) -> bool:
    """Whether a label stands so near to a point [mm]."""
    return any(t.words.startswith(words) and t.left - reach <= x <= t.right + reach and t.top - reach <= y <= t.bottom + reach
               for t in labels(drawing))


def test_the_size_of_each_wire_stands_at_its_stretch() -> None:
    told = pack(3, 2)
    drawing = wiring.wiring_diagram(told)
    bottom = wiring.minus_height(told)
    for words, x, y in (("w1 2.5 mm²", wiring.MIDDLE + 4, wiring.PLUS), ("w2 2.5 mm²", 90, wiring.PLUS),
                        ("w3 2.5 mm²", wiring.SWITCH + 4, wiring.PLUS), ("w4 2.5 mm²", wiring.MIDDLE + 6, bottom),
                        ("w5 2.5 mm²", wiring.RIGHT + 8, bottom), ("w6", wiring.PLUG, wiring.tap_height(told, 0)),
                        ("w7", wiring.BRANCH, (wiring.PLUS * 3 + bottom) / 4), ("w8", wiring.BRANCH, (wiring.PLUS + bottom * 3) / 4)):
        assert near(drawing, words, x, y, 5), words
    assert any("w9: lamp to reed relay" in t.words for t in labels(drawing)), "what has no place is in the list"


def test_no_two_words_stand_in_one_place_whatever_the_runs_are_called() -> None:
    """Two runs from the same end of the pack, one as far as the board and one all the way, as a person named them."""
    for one, other in (("pack minus to board", "minus back"), ("pack plus to board", "plus"), ("pack plus to fuse", "plus")):
        told = wiring.Wiring((("g1", "c1"), ("g2", "c2")), board=("2 groups",), fuse="blade 20 A",
                             runs=(Run("w1", one, "2.5 mm²"), Run("w2", other, "14 AWG")))
        drawing = wiring.wiring_diagram(told)
        assert overlaps(drawing) == [], (one, other)
        assert any(t.words == "w1 2.5 mm² +1" for t in labels(drawing))


def test_strips_stand_at_the_groups_they_join() -> None:
    told = pack(4, 2)
    drawing = wiring.wiring_diagram(told)
    for words, tap in (("t2 ", 2), ("t98 ", 4), ("t99 ", 0)):
        assert near(drawing, words, wiring.STACK - 6, wiring.tap_height(told, tap), 1.5), words


@pytest.mark.parametrize(("run", "place"), [
    ("pack plus to fuse", ("plus", 0, 1)), ("fuse to tool contact plus", ("plus", 1, 3)), ("plus", ("plus", 0, 3)),
    ("pack plus to fuse and switch", ("plus", 0, 2)), ("plus to fuse and lamp", ("plus", 0, 3)),
    ("pack minus to board", ("minus", 0, 1)), ("board to motor", ("minus", 1, 2)), ("minus", ("minus", 0, 2)),
    ("pack plus to board", ("plus", 0, 3)), ("minus to board and motor", ("minus", 0, 2)),
    ("B- to board", ("minus", 0, 1)), ("tap leads", ("taps", 0, 0)), ("charge socket plus", ("charge plus", 0, 0)),
    ("socket to board C-", ("charge minus", 0, 0)), ("lamp to relay", None), ("", None), ("surplus wire", None)])
def test_the_words_of_a_run_say_where_it_lies(run: str, place: tuple[str, int, int] | None) -> None:
    assert stretch_of(run) == place


@pytest.mark.parametrize(("run", "tap"), [("g1 to g2", 1), ("g3 - g2", 2), ("pack plus", 4), ("pack minus", 0),
                                          ("g1 to g4", None), ("g8 to g9", None), ("series links", None)])
def test_a_strip_lies_between_neighbours_only(run: str, tap: int | None) -> None:
    assert link_of(run, 4) == tap


def test_what_was_not_entered_is_not_drawn() -> None:
    words = [t.words for t in labels(wiring.wiring_diagram(wiring.Wiring((("g1", "c1"), ("g2", "c2")))))]
    assert not [w for w in words if w.startswith(("switch", "charge socket", "alarm", "protection board"))]
    assert {"no fuse entered", "board not entered", "B0", "B1", "B2"} <= set(words)


def test_it_is_told_without_colour() -> None:
    drawn = ET.fromstring(wiring.wiring_diagram(pack(3, 2)))
    greys = {e.attrib[k] for e in drawn.iter() for k in ("fill", "stroke") if k in e.attrib and e.attrib[k] != "none"}
    darkness = {g: sum(w * int(g[i:i + 2], 16) for w, i in ((0.299, 1), (0.587, 3), (0.114, 5))) for g in greys}
    texts = {e.attrib["fill"] for e in drawn.iter(f"{NS}text")}
    assert all(darkness[t] < 110 for t in texts), "every word is dark on white in grey (luma of ITU-R BT.601)"


def test_the_colour_of_each_tap_wire_stands_in_a_word_in_the_drawing_and_in_the_table(tmp_path: Path) -> None:
    judged = record_builds.full_judged(tmp_path)
    colours = dict(zip(("B0", "B1", "B2", "B3"), ("black", "green", "grey", "red"), strict=True))
    rows = tuple(replace(r, cells={**r.cells, "colour": Cell(colours[r.id])}) for r in judged.build.entry("taps").rows)
    build = replace(judged.build, entries={**judged.build.entries, "taps": Entry(rows=rows)})
    pages = gather(replace(judged, build=build), b"x")
    wire = next(s for s in pages.steps if s.id == "wire")
    table = next(g for g in wire.grids if g.title == "Taps at the open plug")
    assert [row[table.head.index("colour")] for row in table.rows] == list(colours.values())
    drawing = next(f.svg for f in wire.figures if f.title == "Wiring diagram")
    at = {label.words: label.bottom for label in labels(drawing)}
    # each word stands on the line of its own tap: as high as its voltage
    assert [at[c] for c in colours.values()] == [at[r.text("voltage")] for r in rows]
