"""Resistance of wires and strips: IEC 60228 sizes, American wire gauge, materials, temperature."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

from buildtrack.data import load

REFERENCE_DEGC = 20.0
COPPER_COEFFICIENT_PER_K = 0.00393
MILLIMETRES_PER_INCH = 25.4


@cache
def _iec60228_column(conductor_class: int, tinned: bool) -> dict[float, float]:
    table = load("conductors")["iec60228"]
    name = f"class_{conductor_class}_{'tinned' if tinned else 'plain'}"
    if name not in table["columns"]:
        raise ValueError(f"Conductor class {conductor_class} is not in the table: it holds class 2 and class 5.")
    column = table["columns"].index(name)
    return {float(row[0]): float(row[column]) for row in table["rows"]}


def resistance_per_km_ohm(area_mm2: float, conductor_class: int = 5, tinned: bool = False) -> float:
    """Highest resistance of a copper conductor of a nominal size at 20 degC.

    Units: area mm2, result ohm/km.
    Range: the ten sizes from 0.5 to 25 mm2, class 2 (stranded) or 5 (flexible); other sizes are refused.
    Source: iec-60228 (Tables 2 and 3, copper, plain and tinned).
    """
    column = _iec60228_column(conductor_class, tinned)
    if area_mm2 not in column:
        sizes = ", ".join(f"{size:g}" for size in column)
        raise ValueError(f"{area_mm2:g} mm2 is no size of the table; take the next smaller of {sizes} mm2.")
    return column[area_mm2]


def awg_diameter_mm(awg: int) -> float:
    """Diameter of a solid wire of an American gauge number.

    d = 0.127 mm * 92 ** ((36 - n) / 39)
    Units: result mm. Range: gauge 0 to 40.
    Source: astm-b258 (the gauge's definition).
    """
    table = load("conductors")["awg"]
    if awg != int(awg) or not table["smallest_gauge"] <= awg <= table["largest_gauge"]:
        raise ValueError(f"AWG {awg:g} is outside the allowed whole gauges 0 to 40.")
    return float(0.005 * MILLIMETRES_PER_INCH * 92.0 ** ((36 - awg) / 39))


def awg_area_mm2(awg: int) -> float:
    """Copper cross-section of a solid wire of an American gauge number.

    A = pi * d ** 2 / 4
    Units: result mm2. Range: gauge 0 to 40.
    Source: astm-b258 (the gauge's definition).
    """
    return math.pi * awg_diameter_mm(awg) ** 2 / 4


def awg_resistance_per_km_ohm(awg: int, material: str = "copper") -> float:
    """Resistance of a solid wire of an American gauge number at 20 degC.

    R' = rho * 1e9 / A
    Units: result ohm/km. Assumes solid wire: real stranded wire of the gauge reads 2 to 5 % more.
    Source: astm-b258 (size). Source: iec-60028 (resistivity of copper).
    """
    return wire_resistance_ohm(resistivity_ohm_m(material), 1000.0, awg_area_mm2(awg))


def wire_resistance_ohm(resistivity_ohm_m: float, length_m: float, area_mm2: float) -> float:
    """Resistance of a uniform conductor.

    R = rho * L / A
    Units: rho ohm m, length m, area mm2 (1e-6 m2), result ohm. Range: area above 0, length from 0.
    Source: openstax-university-physics (section 9.3, resistivity and resistance).
    """
    _require_above_zero("The area", area_mm2, "mm2")
    _require_not_negative("The length", length_m, "m")
    return resistivity_ohm_m * length_m / (area_mm2 * 1e-6)


def resistivity_ohm_m(material: str) -> float:
    """Resistivity at 20 degC of a material of the table (its key, e.g. "copper", "nickel").

    Units: ohm m.
    Source: iec-60028 (copper). Source: openstax-university-physics (Table 9.1). Source: crc-handbook-nickel.
    """
    return float(_material(material)["resistivity_ohm_m"])


def material_source(material: str) -> str:
    """The key of the publication a material's resistivity comes from."""
    return str(_material(material)["source"])


def _material(material: str) -> dict[str, Any]:
    materials = load("materials")
    if material not in materials:
        raise ValueError(f"{material!r} is no material of the table; it holds {', '.join(sorted(materials))}.")
    entry: dict[str, Any] = materials[material]
    return entry


def temperature_factor(temperature_degc: float, coefficient_per_k: float = COPPER_COEFFICIENT_PER_K) -> float:
    """Resistance at a temperature over resistance at 20 degC, by the material law.

    k = 1 + alpha * (t - 20)
    Units: temperature degC, alpha 1/K. Range: -55 to 250 degC, where the law is linear for metals.
    Source: iec-60028 (alpha 0.00393 for annealed copper).
    """
    if not -55.0 <= temperature_degc <= 250.0:
        raise ValueError(f"{temperature_degc:g} °C is outside the allowed -55 to 250 °C of the linear law.")
    return 1.0 + coefficient_per_k * (temperature_degc - REFERENCE_DEGC)


def iec60228_factor_to_20_degc(temperature_degc: float) -> float:
    """Factor that turns a resistance measured at a temperature into the one at 20 degC, by the cable law.

    k = 250 / (230 + t)
    Units: temperature degC. Range: 5 to 100 degC, as printed. Differs from the material law by up to 0.4 %.
    Source: iec-60228 (Annex, temperature correction factors; the law fits every printed figure).
    """
    table = load("conductors")["iec60228_to_20_degc"]
    if not table["lowest_degc"] <= temperature_degc <= table["highest_degc"]:
        raise ValueError(f"{temperature_degc:g} °C is outside the printed 5 to 100 °C.")
    return 250.0 / (230.0 + temperature_degc)


def resistance_at_temperature_ohm(resistance_ohm: float, coefficient_per_k: float, difference_k: float) -> float:
    """Resistance after a change of temperature.

    R = R0 * (1 + alpha * dT)
    Units: ohm, 1/K, K. Assumes a linear law about the temperature of R0.
    Source: openstax-university-physics (section 9.3, temperature dependence of resistance).
    """
    return resistance_ohm * (1.0 + coefficient_per_k * difference_k)


def run_resistance_ohm(
    length_m: float,
    area_mm2: float | None = None,
    awg: int | None = None,
    conductor_class: int = 5,
    tinned: bool = False,
    temperature_degc: float = REFERENCE_DEGC,
    parallel: int = 1,
) -> float:
    """Resistance of a copper run, all its length counted once (there and back is twice the distance).

    R = r20 * L / 1000 * (1 + 0.00393 * (t - 20)) / n
    Units: length m, area mm2 or gauge number, temperature degC, result ohm.
    Assumes a nominal metric size (highest resistance allowed) or a solid wire of the gauge; n equal wires in parallel.
    Source: iec-60228 (metric). Source: astm-b258 (gauge). Source: iec-60028 (temperature law).
    """
    if (area_mm2 is None) == (awg is None):
        raise ValueError("Give the size of a run once: either its area in mm2 or its AWG number.")
    _require_not_negative("The length", length_m, "m")
    if parallel != int(parallel) or parallel < 1:
        raise ValueError(f"{parallel:g} wires in parallel is not allowed: a whole number from 1.")
    per_km = _size_per_km_ohm(area_mm2, awg, conductor_class, tinned)
    return per_km * length_m / 1000.0 * temperature_factor(temperature_degc) / parallel


def _size_per_km_ohm(area_mm2: float | None, awg: int | None, conductor_class: int, tinned: bool) -> float:
    if area_mm2 is not None:
        return resistance_per_km_ohm(area_mm2, conductor_class, tinned)
    assert awg is not None
    return awg_resistance_per_km_ohm(awg)


def strip_resistance_ohm(
    material: str, width_mm: float, thickness_mm: float, length_mm: float, layers: int = 1
) -> float:
    """Resistance at 20 degC of a flat strip between two joints.

    R = rho * L / (w * d * layers)
    Units: mm, result ohm. Assumes current spread evenly over the section. There is no published strip ampacity.
    Source: crc-handbook-nickel (resistivity of nickel). Source: openstax-university-physics (section 9.3).
    """
    _require_above_zero("The width", width_mm, "mm")
    _require_above_zero("The thickness", thickness_mm, "mm")
    if layers != int(layers) or layers < 1:
        raise ValueError(f"{layers:g} layers is not allowed: a whole number from 1.")
    return wire_resistance_ohm(resistivity_ohm_m(material), length_mm / 1000.0, width_mm * thickness_mm * layers)


def _require_above_zero(what: str, value: float, unit: str) -> None:
    if not value > 0:
        raise ValueError(f"{what} is {value:g} {unit}; it must be above 0 {unit}.")


def _require_not_negative(what: str, value: float, unit: str) -> None:
    if not value >= 0:
        raise ValueError(f"{what} is {value:g} {unit}; it must not be negative.")
