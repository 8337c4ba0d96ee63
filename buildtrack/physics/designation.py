"""The designation of lithium cells and batteries, e.g. INR19/66 and 5INR19/66-2."""

from __future__ import annotations

import math

from buildtrack.data import load


def electrode_letter(family: str) -> str:
    """The letter of the positive electrode's base of a common cathode family.

    Range: NMC, NCA, LCO, LMO and LFP.
    Source: iec-61960-designation (clause 5.1, A2); Fp of iron phosphate: iec-61960-decision.
    """
    letters: dict[str, str] = load("standards")["designation"]["families"]
    if family not in letters:
        raise ValueError(f"{family!r} has no letter in the designation; there are {', '.join(letters)}.")
    return letters[family]


def cell_designation(
    electrode: str,
    diameter_or_thickness_mm: float,
    height_mm: float,
    width_mm: float | None = None,
    system: str = "I",
) -> str:
    """Designation of one cell: A1 A2 A3 N2/N3/N4, every size rounded up to the next whole millimetre.

    Units: mm, the largest outside measures. A width makes it prismatic, without one it is cylindrical.
    Range: sizes above 0; a size below 1 mm is written in tenths with t.
    Source: iec-61960-designation (clause 5.1); F, Fp and Mp: iec-61960-decision.
    """
    letters = load("standards")["designation"]
    electrodes = {**letters["electrodes"], **letters["decided"]["electrodes"]}
    if electrode not in electrodes or system not in letters["systems"]:
        raise ValueError(f"{system + electrode!r} is not in the designation: I or L, then one of "
                         f"{', '.join(electrodes)}.")
    sizes = [diameter_or_thickness_mm, height_mm] if width_mm is None else [
        diameter_or_thickness_mm, width_mm, height_mm]
    shape = "R" if width_mm is None else "P"
    return f"{system}{electrode}{shape}" + "/".join(_size(size) for size in sizes)


def battery_designation(series: int, cell: str, parallel: int = 1) -> str:
    """Designation of a battery: N1 before the cell's designation, -N5 after it for two or more in parallel.

    Range: whole numbers from 1.
    Source: iec-61960-designation (clause 5.1).
    """
    for what, count in (("series", series), ("parallel", parallel)):
        if count != int(count) or count < 1:
            raise ValueError(f"{count:g} in {what} is not allowed: a whole number from 1.")
    return f"{series}{cell}" + (f"-{parallel}" if parallel >= 2 else "")


def _size(millimetres: float) -> str:
    if not millimetres > 0:
        raise ValueError(f"A size of {millimetres:g} mm is not allowed: above 0 mm.")
    # Rounded to the micrometre first, so that 19.000000000000004 does not become 20.
    if millimetres < 1:
        return f"t{math.ceil(round(millimetres * 10, 3))}"
    return str(math.ceil(round(millimetres, 3)))
