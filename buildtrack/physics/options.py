"""All series x parallel counts a lot of cells, a tool and a housing allow, what refuses each, and which to take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

from buildtrack.physics.fit import Box, most_cells
from buildtrack.physics.grouping import best_grouping
from buildtrack.physics.sharing import group_allowance

MOST_SERIES = 20
GROUPING_STEPS = 2_000
"""Enough for a good grouping of every option; the proof is made for the option that is taken."""

WANTED_HEADROOM = 1.25
"""Allowance over working current aimed at by the recommendation; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Lot:
    """Cells at hand. Capacities as measured; resistances one per cell or none; one rating for all or one per cell."""

    capacity_ah: tuple[float, ...]
    rated_a: tuple[float, ...]
    resistance_ohm: tuple[float, ...] = ()
    mass_g: float = 46.0
    price: float = 0.0
    diameter_mm: float = 18.5
    length_mm: float = 65.5
    full_v: float = 4.2
    nominal_v: float = 3.6
    empty_v: float = 3.0


@dataclass(frozen=True, slots=True)
class Tool:
    """Old pack full and empty, working (RMS) and peak current, and how far above the old full voltage one may go."""

    old_full_v: float
    old_empty_v: float
    working_a: float
    peak_a: float = 0.0
    over_full_share: float = 0.0


@dataclass(frozen=True, slots=True)
class Housing:
    """Free space and the clearance between cells."""

    box: Box
    clearance_mm: float = 0.5


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why an option is refused: code (voltage high, voltage low, current, fit), the number and its limit."""

    code: str
    value: float
    limit: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Option:
    """One series x parallel count with its figures and refusals."""

    series: int
    parallel: int
    full_v: float
    nominal_v: float
    empty_v: float
    smallest_group_ah: float
    allowance_a: float
    allowance_by: str
    headroom: float
    peak_share: float | None
    energy_wh: float
    mass_g: float
    cost: float
    cells: int
    places: int | None
    refusals: tuple[Refusal, ...]
    groups: tuple[tuple[int, ...], ...] = ()
    """The best grouping for capacity alone, as positions in the lot; no limit of a stop is kept in it."""


@dataclass(frozen=True, slots=True)
class Options:
    """The table, the recommended option (None if all are refused) and the reason."""

    table: tuple[Option, ...]
    recommended: Option | None
    reason: str


def most_series(old_full_v: float, full_v: float = 4.2) -> int:
    """Most groups in series whose full voltage stays within the old pack's: S = floor(U_full / U_cell).

    Source: common-practice; from full voltages, never from nominal ones.
    """
    return floor(old_full_v / full_v + 1e-9)


def list_options(lot: Lot, tool: Tool, housing: Housing | None = None) -> Options:
    """Every S x P the lot can fill, from the S that reaches the old empty voltage to one above the old full voltage.

    Allowance: min over groups of min(rating / share) when resistances are known, else P times the smallest rating.
    Energy: S * U_nominal * smallest group. Source: own rules; formulas by their own sources.
    """
    _check(lot, tool)
    places = None
    if housing is not None:
        places = most_cells(housing.box, lot.diameter_mm, lot.length_mm, housing.clearance_mm)
    limit = tool.old_full_v * (1 + tool.over_full_share)
    lowest = max(1, ceil(tool.old_empty_v / lot.full_v - 1e-9))
    highest = min(MOST_SERIES, max(lowest, most_series(limit, lot.full_v) + 1))
    table = []
    for series in range(lowest, highest + 1):
        for parallel in range(1, len(lot.capacity_ah) // series + 1):
            table.append(_option(series, parallel, lot, tool, limit, places))
    recommended, reason = _recommend(table, limit)
    return Options(tuple(table), recommended, reason)


def _check(lot: Lot, tool: Tool) -> None:
    count = len(lot.capacity_ah)
    if len(lot.rated_a) not in (1, count) or len(lot.resistance_ohm) not in (0, count):
        raise ValueError(f"{count} cells: give one rating for all or one each, and one resistance each or none")
    if not tool.old_full_v > tool.old_empty_v > 0 or not tool.working_a > 0:
        raise ValueError(
            "the old pack's full voltage above its empty one, and a working current above zero, are needed"
        )


def _option(series: int, parallel: int, lot: Lot, tool: Tool, limit_v: float, places: int | None) -> Option:
    cells = series * parallel
    grouping = best_grouping([1000 * q for q in lot.capacity_ah], series, parallel, steps=GROUPING_STEPS)
    smallest = grouping.smallest_mah / 1000
    allowance, by = _allowance(grouping.groups, lot, parallel)
    full, nominal, empty = (series * v for v in (lot.full_v, lot.nominal_v, lot.empty_v))
    refusals = _refusals(full, nominal, allowance, cells, tool, limit_v, places)
    return Option(
        series, parallel, full, nominal, empty, smallest, allowance, by, allowance / tool.working_a,
        tool.peak_a / allowance if tool.peak_a > 0 else None, nominal * smallest, cells * lot.mass_g,
        cells * lot.price, cells, places, tuple(refusals),
        tuple(tuple(group) for group in grouping.groups),
    )  # fmt: skip


def _allowance(groups: Sequence[Sequence[int]], lot: Lot, parallel: int) -> tuple[float, str]:
    rated = lot.rated_a if len(lot.rated_a) > 1 else lot.rated_a * len(lot.capacity_ah)
    if lot.resistance_ohm:
        limits = [group_allowance([rated[i] for i in g], [lot.resistance_ohm[i] for i in g]).current_a for g in groups]
        return min(limits), "current shared by conductance"
    return parallel * min(rated[i] for g in groups for i in g), "P times the rated current"


def _refusals(
    full_v: float, nominal_v: float, allowance_a: float, cells: int, tool: Tool, limit_v: float, places: int | None
) -> list[Refusal]:
    found = []
    if full_v > limit_v * (1 + 1e-9):
        found.append(Refusal("voltage high", full_v, limit_v, f"full {full_v:.1f} V, the old pack had {limit_v:.1f} V"))
    if nominal_v < tool.old_empty_v:
        words = f"nominal {nominal_v:.1f} V, the old pack was empty at {tool.old_empty_v:.1f} V"
        found.append(Refusal("voltage low", nominal_v, tool.old_empty_v, words))
    if allowance_a < tool.working_a:
        words = f"may carry {allowance_a:.1f} A, the work draws {tool.working_a:.1f} A"
        found.append(Refusal("current", allowance_a, tool.working_a, words))
    if places is not None and cells > places:
        found.append(Refusal("fit", cells, places, f"{cells} cells, the housing holds {places}"))
    return found


def _recommend(table: Sequence[Option], limit_v: float) -> tuple[Option | None, str]:
    allowed = [option for option in table if not option.refusals]
    if not allowed:
        if not table:
            return None, "there are too few cells for any count in series"
        nearest = min(table, key=lambda option: (len(option.refusals), -option.headroom))
        words = "; ".join(refusal.sentence for refusal in nearest.refusals)
        return None, f"every option is refused; nearest is {nearest.series}S{nearest.parallel}P: {words}"
    best = max(allowed, key=lambda o: (o.series, o.headroom >= WANTED_HEADROOM, o.energy_wh))
    words = (
        f"{best.full_v:.1f} V full is the highest within {limit_v:.1f} V; {best.energy_wh:.0f} Wh is the most of these"
    )
    return best, f"{words}; allowance {best.headroom:.2f} times the working current"
