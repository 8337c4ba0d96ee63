"""What a fuse does at a current: the gates of its family's standard, derating and its place in a build."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from buildtrack.data import load

State = Literal["carries", "may open", "must open"]


@dataclass(frozen=True, slots=True)
class FuseState:
    """What a standard promises about a fuse at one current."""

    state: State
    multiple: float
    """Current over rating."""
    earliest_s: float | None
    """It opens no sooner than this; None when it carries the current without a time limit."""
    within_s: float | None
    """It has opened after this; None when the standard sets no such limit."""


@dataclass(frozen=True, slots=True)
class FuseWindow:
    """The ratings a build allows and the one to take."""

    lowest_a: float
    highest_a: float
    candidates_a: tuple[float, ...]
    pick_a: float | None
    reasons: tuple[str, ...]


def families() -> tuple[str, ...]:
    """The keys of the fuse families of the data file."""
    return tuple(load("fuses")["families"])


def family_source(family: str) -> str:
    """The key of the standard behind a family's gates."""
    return str(_family(family)["source"])


def standard_ratings_a(family: str = "blade") -> tuple[float, ...]:
    """The standard ratings of a family in ascending order.

    Units: A.
    Source: iso-8820-3 (blade). Source: iec-60127-2-sheet-5 (cartridge). Source: ul-248-14 (supplemental).
    """
    return tuple(float(rating) for rating in _family(family)["ratings_a"])


def family_voltage_v(family: str) -> float | None:
    """The direct voltage a family is usually rated for, or None where the standard sets none.

    Units: V.
    Source: blade-maker-sheet (32 V).
    """
    voltage = _family(family).get("voltage_v")
    return None if voltage is None else float(voltage)


def _family(family: str) -> dict[str, Any]:
    known: dict[str, dict[str, Any]] = load("fuses")["families"]
    if family not in known:
        raise ValueError(f"{family!r} is no fuse family of the table; there are {', '.join(known)}.")
    return known[family]


def fuse_state(current_a: float, rating_a: float, family: str = "blade") -> FuseState:
    """What the family's standard promises at a steady current.

    At m = I / rating: carries up to the family's lasting multiple; otherwise it opens no sooner than the
    longest minimum of any gate at or above m, and within the shortest maximum of any gate at or below m.
    Units: A, result s. Range: the ratings the standard covers.
    Source: iso-8820-3 (gates 110, 135 and 200 %). Source: iec-60127-2-sheet-5 (gates). Source: ul-248-14 (gates).
    """
    entry = _family(family)
    _require_rating(rating_a, family, entry)
    if current_a < 0:
        raise ValueError(f"The current is {current_a:g} A; it must not be negative.")
    # Nine digits are kept so that 22 A of 20 A counts as the printed 110 %.
    multiple = round(current_a / rating_a, 9)
    if multiple <= entry["forever"]:
        return FuseState("carries", multiple, None, None)
    gates = [gate for gate in entry["gates"] if _gate_covers(gate, rating_a)]
    earliest_s = max((gate["carries_s"] for gate in gates if gate["multiple"] >= multiple and "carries_s" in gate),
                     default=0.0)
    limits = [gate["opens_s"] for gate in gates if gate["multiple"] <= multiple and "opens_s" in gate]
    if not limits:
        return FuseState("may open", multiple, earliest_s, None)
    return FuseState("must open", multiple, earliest_s, min(limits))


def _require_rating(rating_a: float, family: str, entry: dict[str, Any]) -> None:
    lowest, highest = entry["lowest_rating_a"], entry["highest_rating_a"]
    if not (rating_a > 0 and lowest <= rating_a <= highest):
        raise ValueError(f"A rating of {rating_a:g} A is outside {family}, which covers {lowest:g} to {highest:g} A.")


def _gate_covers(gate: dict[str, float], rating_a: float) -> bool:
    return gate.get("from_a", 0.0) <= rating_a < gate.get("below_a", float("inf"))


def minimum_rating_a(current_a: float, share: float = 0.75) -> float:
    """Lowest rating for a lasting current, leaving a margin at 25 degC.

    rating = I / share
    Units: A. Range: share above 0 up to 1. Meant for UL-type ratings; IEC-rated fuses usually need no margin.
    Source: edn-fuse-checklist (operate at no more than 75 % of the rating).
    """
    if not 0 < share <= 1:
        raise ValueError(f"A share of {share:g} is outside the allowed range above 0 up to 1.")
    if current_a < 0:
        raise ValueError(f"The current is {current_a:g} A; it must not be negative.")
    return current_a / share


def minimum_rating_in_heat_a(current_a: float, temperature_share: float, share: float = 0.7) -> float:
    """Lowest rating for a lasting current in a warm place.

    rating = I / (share * temperature_share)
    Units: A. Range: both shares above 0 up to 1.2 and 1; the temperature share is read from the fuse's curve.
    Source: fuse-maker-derating (page 10, rating above I / (0.7 x temperature factor)).
    """
    if not 0 < temperature_share <= 1.2:
        raise ValueError(f"A temperature share of {temperature_share:g} is outside the allowed range above 0 to 1.2.")
    return minimum_rating_a(current_a, share) / temperature_share


def military_share(rating_a: float) -> float:
    """Share of a small fuse's rating used in military practice.

    Range: the printed ratings from 0.125 to 2 A.
    Source: military-fuse-derating (table; its "0.50 %" is a misprint for 0.50).
    """
    for rating, share in load("fuses")["military_derating"]["rows"]:
        if rating == rating_a:
            return float(share)
    raise ValueError(f"{rating_a:g} A is not in the small-fuse table, which covers 0.125 to 2 A.")


def voltage_rating_allows(fuse_voltage_v: float, pack_full_v: float) -> bool:
    """Whether a fuse can break the pack's highest voltage.

    allowed = V_fuse >= V_full
    Units: V, the fuse's direct-voltage rating.
    Source: blade-maker-sheet (32 V direct voltage, 1 kA).
    """
    return fuse_voltage_v >= pack_full_v


def largest_series_for_voltage(fuse_voltage_v: float, group_full_v: float = 4.20) -> int:
    """Most lithium groups in series whose full voltage a fuse can break.

    S = floor(V_fuse / V_group)
    Units: V. Range: both above 0.
    Source: blade-maker-sheet (32 V, so 7 groups).
    """
    if not (fuse_voltage_v > 0 and group_full_v > 0):
        raise ValueError("Both voltages must be above 0 V.")
    return int(fuse_voltage_v / group_full_v + 1e-9)


def fuse_window(
    rms_current_a: float,
    weakest_conductor_a: float,
    family: str = "blade",
    share: float = 0.75,
    pack_full_v: float | None = None,
    fuse_voltage_v: float | None = None,
) -> FuseWindow:
    """Standard ratings above the working current and not above the weakest conductor; the smallest is picked.

    I_rms / share <= rating <= I_conductor
    Units: A, V. The voltage rating is the family's usual one unless given.
    Source: edn-fuse-checklist (75 %). Source: common-practice (a fuse protects the weakest conductor).
    """
    lowest_a = minimum_rating_a(rms_current_a, share)
    series = standard_ratings_a(family)
    candidates = tuple(rating for rating in series if lowest_a <= rating <= weakest_conductor_a)
    reasons = _window_reasons(lowest_a, weakest_conductor_a, candidates, series)
    rated_v = fuse_voltage_v if fuse_voltage_v is not None else family_voltage_v(family)
    if pack_full_v is not None and rated_v is not None and not voltage_rating_allows(rated_v, pack_full_v):
        reasons += (f"The fuse is rated {rated_v:g} V, the full pack has {pack_full_v:g} V: too much to break.",)
        candidates = ()
    pick_a = candidates[0] if candidates else None
    return FuseWindow(lowest_a, weakest_conductor_a, candidates, pick_a, reasons)


def _window_reasons(
    lowest_a: float, highest_a: float, candidates: tuple[float, ...], series: tuple[float, ...]
) -> tuple[str, ...]:
    reasons: tuple[str, ...] = (f"At least {lowest_a:.3g} A, so that it carries the job.",)
    reasons += (f"At most {highest_a:.3g} A, so that the weakest conductor outlives it.",)
    if lowest_a > highest_a:
        return (*reasons, "No rating fits: the weakest conductor is too weak for the working current.")
    if not candidates:
        listed = ", ".join(f"{rating:g}" for rating in series)
        return (*reasons, f"No standard rating lies between: {listed} A.")
    return reasons


def cold_resistance_ohm(rating_a: float, family: str = "blade") -> float:
    """Cold resistance a maker prints for a fuse.

    Units: ohm. Range: only the printed ratings; a hot blade fuse has 40 to 50 % more.
    Source: blade-maker-sheet (1, 2 and 4 A). Source: iec-60127-2-sheet-5 (typical data).
    """
    return _printed(family, rating_a, "cold_resistance_ohm")


def rated_drop_v(rating_a: float, family: str = "blade") -> float:
    """Voltage a maker prints across a fuse at its rated current.

    Units: V. Range: only the printed ratings.
    Source: blade-maker-sheet (1, 2, 4 and 10 A). Source: iec-60127-2-sheet-5 (typical data).
    """
    if family == "blade":
        for rating, drop_v in load("fuses")["blade_maker"]["drop_only"]:
            if rating == rating_a:
                return float(drop_v)
    return _printed(family, rating_a, "drop_v")


def hot_resistance_ohm(rating_a: float, family: str = "blade") -> float:
    """Resistance of a fuse carrying its rated current.

    R = V_drop / rating
    Units: ohm. Range: only ratings with a printed drop.
    Source: blade-maker-sheet (drop at rated current).
    """
    return rated_drop_v(rating_a, family) / rating_a


def melting_i2t_a2s(rating_a: float, family: str = "iec60127_2_5") -> float:
    """Nominal melting I2t a maker prints for a fuse.

    Units: A2s. Range: only the printed ratings of the 5 x 20 mm time-lag cartridge.
    Source: iec-60127-2-sheet-5 (typical data, under 10 ms).
    """
    return _printed(family, rating_a, "melting_i2t_a2s")


def _printed(family: str, rating_a: float, column: str) -> float:
    table = load("fuses")[{"blade": "blade_maker", "iec60127_2_5": "cartridge_maker"}.get(family, "derating")]
    columns: list[str] = table.get("columns", [])
    if column not in columns:
        raise ValueError(f"No {column} is printed for the fuse family {family!r}.")
    for row in table["rows"]:
        if row[0] == rating_a:
            return float(row[columns.index(column)])
    printed = ", ".join(f"{row[0]:g}" for row in table["rows"])
    raise ValueError(f"Nothing is printed for {rating_a:g} A; there are {printed} A.")
