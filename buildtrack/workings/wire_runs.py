"""Conductors, strips and joints of the main path: resistance of each, and the current each may carry."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack import units
from buildtrack.physics import ampacity, circuit, conductors
from buildtrack.workings.values import Record, Table

REFERENCE_DEGC = 20.0
INSULATION_DEGC = 70.0
"""What ordinary (PVC) insulation stands, IEC 60364-5-52."""
CLASS_OF = {"flexible": 5, "stranded": 2}
"""Conductor class of IEC 60228 by how the wire is built."""
STRIP_MATERIAL = {"nickel": "nickel", "plated steel": "nickel_plated_steel", "copper": "copper"}
STRIP_NAME = {"nickel": "pure nickel, 6.99e-8 Ω m", "plated steel": "nickel-plated steel, 1.43e-7 Ω m",
              "copper": "annealed copper, 1.72e-8 Ω m"}
STRIP_A_PER_MM2 = {"nickel": 5.0, "plated steel": 3.5, "copper": 10.0}
"""Cautious current density of strips: nickel common practice, no source; the others make the same heat (J² × ρ)."""
ODD_JOINT = 3.0
"""A joint with so many times the resistance of the others is to be made again (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Run:
    """One run of wire as laid, one way."""

    id: str
    name: str
    area_mm2: float
    length_m: float
    parallel: float
    resistance_ohm: float
    allowed_a: float | None
    """Current all its parallel wires may carry together; None where no table covers the size."""
    basis: str


@dataclass(frozen=True, slots=True)
class RunReport:
    """Every run of the main path."""

    runs: tuple[Run, ...]
    total_ohm: float
    temperature_degc: float
    temperature_stated: bool
    weakest: str
    """Id of the run that may carry the least; empty where no table covers any."""
    incomplete: tuple[str, ...]
    """Rows without size or length."""

    @property
    def summary(self) -> str:
        """The whole in one line."""
        assumed = "" if self.temperature_stated else ", assumed"
        lacking = f"; {', '.join(self.incomplete)} not counted: size or length missing" if self.incomplete else ""
        return (f"{units.counted(len(self.runs), 'run')}, {units.show(self.total_ohm, 'mΩ')} at "
                f"{self.temperature_degc:.0f} °C{assumed}{lacking}")

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("run", "size", "length", "wires", "resistance", "may carry", "by")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per run."""
        return tuple((
            f"{r.id} {r.name}".strip(), units.show(r.area_mm2, "mm²", digits=3), units.show(r.length_m, "mm", digits=3),
            f"{r.parallel:.0f}", units.show(r.resistance_ohm, "mΩ", digits=3),
            units.show(r.allowed_a, "A", digits=3) if r.allowed_a is not None else "no table", r.basis)
            for r in self.runs)


@dataclass(frozen=True, slots=True)
class Strip:
    """One strip link."""

    id: str
    name: str
    resistance_ohm: float
    allowed_a: float
    """Current it may carry by the cautious density; no table is published for strips."""
    basis: str


@dataclass(frozen=True, slots=True)
class StripReport:
    """Every strip the main current passes."""

    strips: tuple[Strip, ...]
    total_ohm: float
    incomplete: tuple[str, ...]

    @property
    def summary(self) -> str:
        """The whole in one line."""
        lacking = f"; {', '.join(self.incomplete)} not counted: a size is missing" if self.incomplete else ""
        return f"{units.counted(len(self.strips), 'strip')}, {units.show(self.total_ohm, 'mΩ')} at 20 °C{lacking}"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("strip", "resistance", "may carry", "by")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per strip."""
        return tuple((f"{s.id} {s.name}".strip(), units.show(s.resistance_ohm, "mΩ", digits=3),
                      units.show(s.allowed_a, "A", digits=3), s.basis) for s in self.strips)


@dataclass(frozen=True, slots=True)
class Joint:
    """One joint by its measured drop."""

    id: str
    name: str
    resistance_ohm: float
    verdict: str
    """good, high (above the limit) or odd (several times the others)."""


@dataclass(frozen=True, slots=True)
class JointReport:
    """Every measured joint."""

    joints: tuple[Joint, ...]
    total_ohm: float
    limit_ohm: float
    incomplete: tuple[str, ...]

    @property
    def bad(self) -> tuple[str, ...]:
        """Ids of the joints to make again."""
        return tuple(j.id for j in self.joints if j.verdict != "good")

    @property
    def summary(self) -> str:
        """The whole in one line."""
        again = f"; make again: {', '.join(self.bad)}" if self.bad else ""
        return (f"{units.counted(len(self.joints), 'joint')} measured, {units.show(self.total_ohm, 'mΩ')} together, "
                f"limit {units.short(self.limit_ohm, 'mΩ')} each{again}")

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("joint", "resistance", "verdict")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per joint."""
        return tuple((f"{j.id} {j.name}".strip(), units.show(j.resistance_ohm, "mΩ", digits=3), j.verdict)
                     for j in self.joints)


def run_report(conductors: Table, conductor_temperature: float | None = None, stranding: str = "flexible",
               ) -> RunReport | None:
    """Resistance and allowed current of every run as laid, each row counted once and one way."""
    temperature_degc = REFERENCE_DEGC if conductor_temperature is None else conductor_temperature
    runs = tuple(_run(r, temperature_degc, stranding) for r in conductors if _complete(r, "size", "length"))
    if not runs:
        return None
    rated = [r for r in runs if r.allowed_a is not None]
    weakest = min(rated, key=lambda r: r.allowed_a or 0.0).id if rated else ""
    return RunReport(runs, math.fsum(r.resistance_ohm for r in runs), temperature_degc,
                     conductor_temperature is not None, weakest, _lacking(conductors, "size", "length"))


def _complete(row: Record, *columns: str) -> bool:
    return all(row.number(c) is not None for c in columns)


def _lacking(table: Table, *columns: str) -> tuple[str, ...]:
    return tuple(r.id for r in table if not _complete(r, *columns))


def _count(row: Record, column: str) -> float:
    number = row.number(column)
    return 1.0 if number is None else number


def _run(row: Record, temperature_degc: float, stranding: str) -> Run:
    area_mm2, length_m = row.number("size") or 0.0, row.number("length") or 0.0
    parallel = _count(row, "parallel")
    if parallel < 1 or area_mm2 <= 0:
        raise ValueError(f"run {row.id}: {parallel:g} wires of {area_mm2:g} mm²: at least one wire, above 0 mm²")
    per_km, basis = resistance_per_km_ohm(area_mm2, stranding)
    resistance = per_km * length_m / 1000.0 * conductors.temperature_factor(temperature_degc) / parallel
    allowed, table = allowed_current_a(area_mm2, parallel, _count(row, "bundle"), temperature_degc)
    told = f"{per_km:.3g} Ω/km at 20 °C, {basis}; {table}"
    return Run(row.id, row.text("run"), area_mm2, length_m, parallel, resistance, allowed, told)


def resistance_per_km_ohm(area_mm2: float, stranding: str) -> tuple[float, str]:
    """Resistance of copper wire at 20 °C and what it rests on.

    Sizes of IEC 60228 take the standard's figure; sizes between take rho / A times the class factor, which is
    interpolated between the neighbouring rows (beyond the table the nearest row's factor holds).
    Units: mm², Ω/km. Solid wire: rho / A alone.
    Source: IEC 60228 Tables 2 and 3; IEC 60028 (resistivity of copper).
    """
    plain = conductors.wire_resistance_ohm(conductors.resistivity_ohm_m("copper"), 1000.0, area_mm2)
    if stranding not in CLASS_OF:
        return plain, "solid, ρ/A"
    conductor_class = CLASS_OF[stranding]
    sizes = _factors(conductor_class)
    exact = next((f for size, f in sizes if abs(size - area_mm2) < 1e-9), None)
    if exact is not None:
        return plain * exact, f"IEC 60228 class {conductor_class}"
    factor = _between(sizes, area_mm2)
    return plain * factor, f"ρ/A × {factor:.3f}, class {conductor_class} factor"


def _factors(conductor_class: int) -> list[tuple[float, float]]:
    """How much more each size of the standard has than rho / A."""
    found = []
    for size in (0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0):
        plain = conductors.wire_resistance_ohm(conductors.resistivity_ohm_m("copper"), 1000.0, size)
        found.append((size, conductors.resistance_per_km_ohm(size, conductor_class) / plain))
    return found


def _between(points: Sequence[tuple[float, float]], x: float) -> float:
    for (x1, y1), (x2, y2) in zip(points, points[1:], strict=False):
        if x1 <= x <= x2:
            return y1 + (y2 - y1) * (x - x1) / (x2 - x1)
    return points[0][1] if x < points[0][0] else points[-1][1]


def allowed_current_a(area_mm2: float, parallel: float, bundle: float,
                      ambient_degc: float = REFERENCE_DEGC) -> tuple[float | None, str]:
    """Current a run may carry, by the chassis column (next smaller gauge), derated for bundles and warm places.

    Units: mm², A, °C. Above the column's largest gauge that gauge's figure is taken; below its smallest there is none,
    nor at the temperature that ordinary insulation stands.
    Source: electronic tables handbook, chassis wiring column (single wires in open air); bundles of up to 15: the
    SAE AS50881 curve at full load; warm places: IEC 60364-5-52 (PVC, from 30 °C), as wires of a drawer are not known.
    """
    if ambient_degc >= INSULATION_DEGC:
        return None, f"at {ambient_degc:.0f} °C: no table for PVC wire"
    largest = conductors.awg_area_mm2(10)
    try:
        found = ampacity.chassis_ampacity(min(area_mm2, largest))
    except ValueError:
        return None, "thinner than AWG 30: no table"
    beyond = ", its largest" if area_mm2 > largest * (1 + 1e-9) else ""
    basis = f"chassis, {found.row}{beyond}: {found.current_a:g} A"
    factor = 1.0
    if bundle > 1:
        factor = ampacity.bundle_factor(int(bundle))
        basis += f", bundle of {bundle:.0f}: × {factor:g}"
    warm = min(1.0, ampacity.ambient_factor(max(ambient_degc, REFERENCE_DEGC)))
    if warm < 1.0:
        basis += f", at {ambient_degc:.0f} °C: × {warm:.2f}"
    return found.current_a * parallel * factor * warm, basis


def strip_report(strips: Table) -> StripReport | None:
    """Resistance of every strip by its material and size, and what it may carry by a cautious current density."""
    needed = ("width", "thickness", "length")
    whole = [r for r in strips if _complete(r, *needed) and r.text("material") in STRIP_MATERIAL]
    if not whole:
        return None
    found = tuple(_strip(r) for r in whole)
    lacking = tuple(r.id for r in strips if r not in whole)
    return StripReport(found, math.fsum(s.resistance_ohm for s in found), lacking)


def _strip(row: Record) -> Strip:
    width, thickness, length = (1000.0 * (row.number(c) or 0.0) for c in ("width", "thickness", "length"))
    material = row.text("material")
    layers = _count(row, "parallel")
    resistance = conductors.strip_resistance_ohm(STRIP_MATERIAL[material], width, thickness, length, int(layers))
    alike = max(_count(row, "alike"), 1.0)
    size = f"{width:g} × {thickness:g} × {length:g} mm" + (f", {layers:.0f} beside" if layers > 1 else "")
    size = f"{alike:.0f} in a row of {size}" if alike > 1 else size
    density = STRIP_A_PER_MM2[material]
    return Strip(row.id, row.text("run"), alike * resistance, width * thickness * layers * density,
                 f"{size}, {STRIP_NAME[material]}; {density:g} A/mm², common practice, no source")


def joint_report(joints: Table, joint_drop_per_amp: float) -> JointReport | None:
    """Resistance of every joint from its drop at a known current, against the limit and against its sisters."""
    whole = [r for r in joints if _complete(r, "drop", "current")]
    if not whole:
        return None
    values = [circuit.joint_resistance_ohm(r.number("drop") or 0.0, r.number("current") or 0.0) for r in whole]
    found = tuple(Joint(r.id, r.text("joint"), value, _joint_verdict(value, _others(values, n), joint_drop_per_amp))
                  for n, (r, value) in enumerate(zip(whole, values, strict=True)))
    return JointReport(found, math.fsum(values), joint_drop_per_amp, _lacking(joints, "drop", "current"))


def _others(values: Sequence[float], index: int) -> float | None:
    rest = [v for n, v in enumerate(values) if n != index]
    return statistics.median(rest) if len(rest) >= 2 else None


def _joint_verdict(value: float, others: float | None, limit: float) -> str:
    if value > limit + 1e-12:
        return "high"
    # Below a third of the limit a ratio only compares the meter's last digits.
    odd = others is not None and value > ODD_JOINT * others and value > limit / 3
    return "odd" if odd else "good"
