"""The drawings of a build: plain data gathered from its readings and workings, per step of the checklist."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from buildtrack.judging import Judged
from buildtrack.model.build import Row
from buildtrack.physics.chain import Chain
from buildtrack.record.drawings import bars, cell_map, curves, fit_plan, ladder, wiring
from buildtrack.record.drawings.of_discharge import discharge_data
from buildtrack.record.drawings.wiring_runs import Run
from buildtrack.record.gather_values import option_label
from buildtrack.record.pages import Figure
from buildtrack.record.text import line
from buildtrack.units import unit_taken
from buildtrack.workings.alarm_ladder import ALARM, CUT, CUTOFF, END, Ladder
from buildtrack.workings.explain import label_of
from buildtrack.workings.pack_groups import GroupReport, cell_names
from buildtrack.workings.pack_layout import PackLayout
from buildtrack.workings.values import Known, Missing, Table
from buildtrack.workings.wire_chain import ChainReport

MOST_RUNS = 200
"""So many wires or strips of one table are looked at for the drawing."""
MOST_IN_GROUP = 16
"""So many cells of one group are drawn."""
STRONG = (CUT, END, ALARM, CUTOFF)


def known(judged: Judged, name: str) -> Any:
    """A known value of the sheet, or None."""
    value = judged.assessment.sheet.values.get(name)
    return value.value if isinstance(value, Known) else None


def needed(judged: Judged, name: str) -> str:
    """The sentence that says what a drawing needs."""
    value = judged.assessment.sheet.value(name)
    if isinstance(value, Missing):
        names = ", ".join(label_of(n, judged.assessment.sheet, judged.checklist) for n in sorted(value.inputs))
        return f"not drawn; it needs {names}"
    return "not drawn; " + (f"{value.why}" if not isinstance(value, Known) else "nothing is known to draw")


def _rows(judged: Judged, name: str) -> Table:
    found = known(judged, name)
    return found if isinstance(found, Table) else Table(())


def _typed(judged: Judged, item: str) -> str:
    """The answer of an item as typed; a number without a unit gets the one it was taken in."""
    standing, asked = judged.build.entry(item).standing, judged.checklist.items.get(item)
    return _in_unit(line(standing[-1].text, 40), asked.unit if asked is not None else "") if standing else ""


def _in_unit(text: str, unit: str) -> str:
    return f"{text} {taken}" if (taken := unit_taken(text, unit) if unit else "") else text


def _cell(judged: Judged, item: str, row: Row, column: str) -> str:
    """A field of a table as typed, with the unit it was taken in."""
    asked = judged.checklist.items.get(item)
    units = [c.unit for c in asked.columns if c.id == column] if asked is not None else []
    return _in_unit(row.text(column), units[0] if units else "")


def _load(judged: Judged) -> str:
    stages = []
    for row in _rows(judged, "duty"):
        start, end, seconds = row.number("current"), row.number("end_current"), row.number("seconds")
        if start is not None and seconds is not None:
            stages.append(bars.Stage(start, start if end is None else end, seconds))
    named = (("mean", "duty_mean_current", "2 1"), ("rms", "duty_rms_current", ""),
             ("peak", "duty_peak_current", "0.6 0.8"))
    levels = [bars.Level(word, value, dash) for word, name, dash in named
              if (value := judged.assessment.sheet.number(name)) is not None]
    return bars.load_profile(stages, levels)


def map_groups(judged: Judged) -> tuple[cell_map.MapGroup, ...]:
    """The groups as assigned, with what was measured of each cell."""
    candidates = _rows(judged, "candidates")
    report = known(judged, "group_report")
    sums = {g.id: g.capacity_ah for g in report.groups} if isinstance(report, GroupReport) else {}
    groups = []
    for row in _rows(judged, "groups"):
        cells = []
        for name in cell_names(row.text("cells"))[:MOST_IN_GROUP]:
            found = candidates.row(name)
            cells.append(cell_map.MapCell(name, found.number("capacity") if found else None))
        groups.append(cell_map.MapGroup(row.id, tuple(cells), sums.get(row.id)))
    return tuple(groups)


def _cells(judged: Judged) -> str:
    return cell_map.cell_map(map_groups(judged))


def fit_data(judged: Judged) -> fit_plan.FitPlan:
    """The tightest layout that holds all cells; ValueError where none is known."""
    found = known(judged, "layout")
    if not isinstance(found, PackLayout):
        raise ValueError(needed(judged, "layout"))
    if not found.layouts:
        raise ValueError(f"not drawn; {found.summary}")
    best = found.layouts[0]
    axis = "xyz".index(best.axis)
    first, second = (k for k in range(3) if k != axis)
    nearest = min(p[axis] for p in best.positions_mm)
    layer = tuple((p[first], p[second]) for p in best.positions_mm if p[axis] - nearest < best.length_mm / 2)
    names = ("length", "width", "height")
    return fit_plan.FitPlan(layer, best.diameter_mm, (found.free_mm[first], found.free_mm[second]),
                            (names[first], names[second]), best.layers)


def _fit(judged: Judged) -> str:
    return fit_plan.fit_plan(fit_data(judged))


def _board_lines(judged: Judged) -> tuple[str, ...]:
    told = (("", "board_series", " groups"), ("", "board_continuous", " continuous"),
            ("over-charge ", "board_overcharge", ""), ("cutoff ", "board_cutoff", ""),
            ("balance ", "board_balance_start", ""))
    return tuple(f"{before}{text}{after}" for before, item, after in told if (text := _typed(judged, item)))


def _wired_groups(judged: Judged) -> tuple[tuple[str, str], ...]:
    rows = [(r.id, r.text("cells")) for r in _rows(judged, "groups")]
    series = judged.assessment.sheet.number("series_count")
    if series is None or not 0 < series <= 100:
        return tuple(rows)
    parallel = judged.assessment.sheet.number("parallel_count")
    cells = f"{parallel:.0f} cells" if parallel else ""
    named = dict(rows)
    return tuple((f"g{n + 1}", named.get(f"g{n + 1}", "") or cells) for n in range(int(series)))


def _runs(judged: Judged, item: str, size: Callable[[Callable[[str], str]], str],
          rest: Callable[[Callable[[str], str]], str]) -> tuple[Run, ...]:
    """Wires or strips of a table; `size` and `rest` are told by the text of a field."""
    found = []
    for row in judged.build.entry(item).rows[:MOST_RUNS]:
        text = partial(_cell, judged, item, row)
        several = f" ×{row.text('parallel')}" if row.text("parallel") not in ("", "1") else ""
        found.append(Run(line(row.id, 12), line(row.text("run"), 60), line(size(text) + several, 30),
                         line(rest(text), 40)))
    return tuple(found)


def _joined(*texts: str) -> str:
    return ", ".join(t for t in texts if t)


def _strip_size(text: Callable[[str], str]) -> str:
    """Width and thickness, the unit once where it is the same."""
    width, thickness = text("width"), text("thickness")
    unit = thickness.partition(" ")[2]
    if unit and width.endswith(f" {unit}"):
        width = width.removesuffix(f" {unit}")
    return "×".join(t for t in (width, thickness) if t)


def _plug(judged: Judged) -> str:
    item = judged.checklist.items.get("balance_access")
    answer = _typed(judged, "balance_access")
    return "" if item is None or not answer else option_label(item, answer)


def _tap(judged: Judged, row: Row) -> wiring.Tap:
    voltage = row.cells.get("voltage")
    noted = voltage.note if voltage else ""
    return wiring.Tap(row.id, line(_cell(judged, "taps", row, "voltage"), 12), line(row.text("colour") or noted, 20))


def wiring_data(judged: Judged) -> wiring.Wiring:
    """What the wiring diagram shows."""
    def typed(*items: str) -> str:
        return " ".join(t for i in items if (t := _typed(judged, i)))

    return wiring.Wiring(
        groups=_wired_groups(judged), taps=tuple(_tap(judged, r) for r in judged.build.entry("taps").rows),
        plug=_plug(judged),
        alarm=typed("alarm_setting", "alarm_scope"), board=_board_lines(judged),
        fuse=typed("fuse_family", "fuse_rating") if typed("fuse_family") not in ("", "none") else "",
        fuse_first=typed("fuse_position") != "elsewhere", switch=typed("switch_rating"),
        connector=typed("connector_rating"), charger=typed("charger_voltage", "charger_current"),
        separate_port=typed("board_port") == "separate", swapped=typed("board_wired_as") == "swapped",
        runs=_runs(judged, "conductors", lambda text: text("size"), lambda text: text("length")),
        strips=_runs(judged, "strips", _strip_size, lambda text: _joined(text("material"), text("length"))))


def _wire(judged: Judged) -> str:
    return wiring.wiring_diagram(wiring_data(judged))


def _chain(judged: Judged) -> str:
    report = known(judged, "chain")
    if not isinstance(report, ChainReport):
        raise ValueError(needed(judged, "chain"))
    found: Chain = report.chain
    parts = tuple(bars.Part(part.name, part.rating_a, part.name == found.governing) for part in found.links)
    c = report.currents
    given = (("mean", c.mean_a, "2 1"), ("rms", c.rms_a, ""), ("peak", c.peak_a, "0.6 0.8"),
             ("stall", c.stall_a, "4 1 1 1"))
    return bars.chain_of_ratings(parts, [bars.Level(n, v, d) for n, v, d in given if v is not None])


def _ladder(judged: Judged) -> str:
    found = known(judged, "ladder")
    if not isinstance(found, Ladder):
        raise ValueError(needed(judged, "ladder"))
    rungs = tuple(ladder.Rung(r.name, r.voltage_v, r.minus_v, r.plus_v, r.name in STRONG) for r in found.rungs)
    return ladder.threshold_ladder(rungs, int(found.series))


def _discharge(judged: Judged) -> str:
    return curves.discharge_curves(discharge_data(judged))


def _charge(judged: Judged) -> str:
    groups = tuple(bars.GroupCharge(r.id, tuple(
        (word, value) for word, column in (("end", "at_end"), ("rested", "rested"))
        if (value := r.number(column)) is not None)) for r in _rows(judged, "charge_groups"))
    sheet = judged.assessment.sheet
    target = sheet.number("charge_policy")
    return bars.charge_spread(groups, target if target is not None else sheet.number("cell_full"),
                              sheet.number("charge_stop"))


Drawer = Callable[[Judged], str]
NEEDS: Mapping[Drawer, tuple[str, ...]] = {
    _load: ("duty",), _cells: ("groups",), _fit: ("layout",), _chain: ("chain",), _ladder: ("ladder",),
    _discharge: ("discharge_points", "discharge_log", "forecast"), _charge: ("charge_groups",)}
"""Items or workings of which one must be asked for by the checklist, else the drawing is left out without a word."""
DRAWINGS: tuple[tuple[str, str, Drawer, str], ...] = (
    ("load", "Load profile: one duty cycle", _load, "Mean sets the run time, rms the heating, the peak what trips."),
    ("cells", "Cell map", _cells, "Seen from the end at which the plus of the first group shows. Plain: plus towards "
     "the viewer; grey: minus. Links on the far side are dashed. Under each id the measured capacity [mAh]."),
    ("cells", "Places in the housing", _fit, "One layer seen along the cells, with the room kept free around them."),
    ("wire", "Wiring diagram", _wire, "Schematic, not to scale. At the taps the voltage against B0 as measured before "
     "the board was connected; left of the plug the colour of the wire, where it was entered."),
    ("wire", "Chain of ratings", _chain, "What every part may carry beside the currents of the duty cycle."),
    ("alarm", "Ladder of voltages", _ladder,
     "Boxes show the tolerance of each threshold; heavy lines are what was set."),
    ("discharge", "Discharge curves", _discharge, "Full lines and markers: measured, one pattern a group. Grey dots: "
     "forecast from the cells' own measurements; the grey band: its own error, which lies on the hopeful side."),
    ("charge", "Groups at the end of the charge", _charge, "Filled: end of charge; open: rested."),
)


def _figure(judged: Judged, title: str, draw: Callable[[Judged], str], caption: str) -> Figure:
    try:
        return Figure(title, draw(judged), caption)
    except ValueError as error:
        return Figure(title, "", f"{line(str(error))}.")


def figures(judged: Judged) -> Mapping[str, tuple[Figure, ...]]:
    """The drawings of each step by step id; one that cannot be drawn is a sentence."""
    steps = {s.id for s in judged.checklist.steps}
    found: dict[str, tuple[Figure, ...]] = {}
    for step, title, draw, caption in DRAWINGS:
        asked = NEEDS.get(draw, ())
        known_here = any(n in judged.checklist.items or n in judged.assessment.sheet.workings for n in asked)
        if step in steps and (known_here or not asked):
            found[step] = (*found.get(step, ()), _figure(judged, title, draw, caption))
    return found
