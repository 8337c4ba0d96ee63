"""The curves that come with the program, which of them stands for a chemistry, and what a voltage tells without one."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from buildtrack import data
from buildtrack.data.personal import personal_folder
from buildtrack.physics.chemistries import chemistries, chemistry
from buildtrack.physics.ocv import SIMULATION_SOC, Curve, SocRange, make_curve
from buildtrack.physics.ocv_models import nickel_rich_cell_voltage_v, polymer_cell_voltage_v

TABLES = ("nmc_2050", "nca_2730", "nmc_1900", "gauge_default", "nmc_mohtat", "nmc_ecker", "lfp_3000", "lfp_2300")
FORMULAS = ("nmc811_5000", "lco_polymer")

UNKNOWN_CELL = ("nmc_2050", "nca_2730", "nmc_1900", "gauge_default", "nmc811_5000", "lco_polymer")
"""Curves a salvaged 4.2 V cell of unknown type may follow."""


@dataclass(frozen=True, slots=True)
class UnknownCell:
    """What a rested voltage tells of a cell of unknown type: a range over curves, and each curve's own answer."""

    low: float
    high: float
    by_curve: tuple[tuple[str, SocRange], ...]
    sentence: str


def curve_names() -> tuple[str, ...]:
    """Keys of all curves that come with the program."""
    return (*TABLES, *FORMULAS)


@cache
def load_curve(key: str) -> Curve:
    """A curve that comes with the program, by key; an unknown key is refused with the list."""
    if key in TABLES:
        return _from_table(key)
    if key == "nmc811_5000":
        volts = [nickel_rich_cell_voltage_v(s) for s in SIMULATION_SOC]
        return make_curve(
            key, SIMULATION_SOC, volts, title="NMC811 21700, 5 Ah, computed", chemistry="NMC811", source="chen-2020",
            validity="computed from measured electrodes of one 21700 type, 2.5 V to 4.2 V", origin="computed",
        )  # fmt: skip
    if key == "lco_polymer":
        volts = [polymer_cell_voltage_v(s) for s in SIMULATION_SOC]
        return make_curve(
            key, SIMULATION_SOC, volts, title="LCO polymer, 0.85 Ah, fitted", chemistry="LCO",
            source="chen-rincon-mora-2006", origin="computed",
            validity="fit to one polymer type; full is 4.10 V; not valid below 1 % of charge",
        )  # fmt: skip
    own = _own_table(key)
    if own is None:
        raise ValueError(f"there is no curve {key!r}; there are {', '.join(curve_names())}")
    return _curve_of(key, own)


def _from_table(key: str) -> Curve:
    return _curve_of(key, data.load(f"ocv/{key}"))


def _own_table(key: str) -> Mapping[str, Any] | None:
    """A curve file in the folder ocv of the person's configuration folder; None where there is none."""
    path = personal_folder() / "ocv" / f"{key}.toml"
    if re.fullmatch(r"[a-z0-9_]+", key) is None or not path.is_file():
        return None
    try:
        table = tomllib.loads(path.read_text("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ValueError(f"{path}: cannot be read: {error}") from error
    lacking = [k for k in ("soc", "voltage_v", "title", "chemistry", "source", "validity") if k not in table]
    if lacking:
        raise ValueError(f"{path}: lacks {', '.join(lacking)}")
    return table


def _curve_of(key: str, table: Mapping[str, Any]) -> Curve:
    return make_curve(
        key, table["soc"], table["voltage_v"], title=table["title"], chemistry=table["chemistry"],
        source=table["source"], validity=table["validity"],
        origin="computed" if "computed" in table["validity"] else "measured",
    )  # fmt: skip


def generic_curve(name: str) -> Curve:
    """The curve that stands for a chemistry of data/chemistries.toml (nmc, lfp ...); an unknown one is refused."""
    found = chemistry(name)
    if found is None:
        raise ValueError(f"no curve for chemistry {name!r}; there are curves for {', '.join(chemistries())}")
    return load_curve(found.curve)


def soc_of_unknown_cell(
    voltage_v: float, uncertainty_v: float = 0.0, curves: Sequence[str] = UNKNOWN_CELL
) -> UnknownCell:
    """State of charge of a cell of unknown type from a rested voltage: the range over the published curves.

    Never one number: at 3.70 V the curves lie 0.15 to 0.51 apart. Assumes an hour's rest and a 4.2 V chemistry.
    """
    answers = tuple((key, load_curve(key).soc_range(voltage_v, uncertainty_v)) for key in curves)
    low, high = min(r.low for _, r in answers), max(r.high for _, r in answers)
    sentence = f"between {100 * low:.0f} % and {100 * high:.0f} % full, by {len(answers)} published curves"
    return UnknownCell(low, high, answers, sentence)


def fits_chemistry(voltage_v: float, curve: Curve, uncertainty_v: float = 0.0) -> bool:
    """False when a rested voltage lies outside the curve by more than its uncertainty: another type, or a bad cell."""
    return curve.lowest_v - uncertainty_v <= voltage_v <= curve.highest_v + uncertainty_v


def curve_voltage_v(key: str, soc: float) -> float:
    """Open-circuit voltage of a curve that comes with the program, straight between its points [V]."""
    return load_curve(key).voltage(soc)


def curve_soc(key: str, voltage_v: float) -> float:
    """State of charge on a curve that comes with the program, straight between its points [1]."""
    return load_curve(key).soc(voltage_v)
