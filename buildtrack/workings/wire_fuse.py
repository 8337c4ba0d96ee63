"""The fuse: the ratings that fit between the job and the weakest conductor, and what it does at the stall."""

from __future__ import annotations

from dataclasses import dataclass

from buildtrack import units
from buildtrack.physics import fuse_pulses, fuses
from buildtrack.physics.fuses import FuseState

FAMILY = {"blade": "blade", "cartridge time-lag": "iec60127_2_5", "cartridge ul": "ul248_14"}
"""Family of the fuse table by the answer given."""
FAMILY_NAME = {"blade": "blade fuse (ISO 8820-3)", "cartridge time-lag": "5 × 20 mm time-lag cartridge (IEC 60127-2)",
               "cartridge ul": "supplemental fuse (UL 248-14)"}
PULSES = 10_000
"""Starts in the life of a fuse (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class FuseAdvice:
    """The window of ratings, and where the fitted fuse stands in it."""

    family: str
    lowest_a: float
    highest_a: float
    candidates_a: tuple[float, ...]
    pick_a: float | None
    fitted_a: float | None
    remarks: tuple[str, ...]

    @property
    def inside(self) -> bool | None:
        """Whether the fitted rating lies in the window; None without one."""
        if self.fitted_a is None:
            return None
        return self.lowest_a - 1e-9 <= self.fitted_a <= self.highest_a + 1e-9

    @property
    def summary(self) -> str:
        """The whole in one line."""
        window = f"from {self.lowest_a:.3g} A (the job) to {self.highest_a:.3g} A (the weakest conductor)"
        pick = f"take {self.pick_a:g} A" if self.pick_a is not None else "no standard rating fits"
        word = {True: ", inside", False: ", outside", None: ""}[self.inside]
        fitted = f"; fitted: {self.fitted_a:g} A{word}" if self.fitted_a is not None else ""
        return f"{window}: {pick}{fitted}"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("what", "says")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """Window, candidates and remarks."""
        listed = ", ".join(f"{c:g} A" for c in self.candidates_a) or "none"
        rows = [("family", FAMILY_NAME[self.family]), ("lowest rating", f"{self.lowest_a:.3g} A"),
                ("highest rating", f"{self.highest_a:.3g} A"), ("standard ratings between", listed)]
        return (*rows, *(("remark", r) for r in self.remarks))


@dataclass(frozen=True, slots=True)
class FuseAtStall:
    """What the standard of the fuse promises at the stall current."""

    stall_a: float
    rating_a: float
    state: FuseState

    @property
    def summary(self) -> str:
        """The promise in one sentence."""
        share = f"{self.stall_a:.3g} A is {self.state.multiple * 100:.0f} % of {self.rating_a:g} A"
        return f"{share}: {words_of(self.state)}"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("what", "says")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """Current, share and promise."""
        return (("stall current", units.show(self.stall_a, "A", digits=3)), ("fuse", f"{self.rating_a:g} A"),
                ("share of the rating", f"{self.state.multiple * 100:.0f} %"), ("promise", words_of(self.state)))


def words_of(state: FuseState) -> str:
    """A fuse state as a clause; only the gates the standard prints are told."""
    if state.state == "carries":
        return "it carries this without end, so it does not limit a stall"
    earliest = f"not before {_seconds(state.earliest_s)}" if state.earliest_s else "possibly at once"
    if state.within_s is None:
        return f"it may open, {earliest}; the standard sets no time by which it must"
    return f"it opens, {earliest}, and at the latest after {_seconds(state.within_s)}"


def _seconds(time_s: float | None) -> str:
    if time_s is None:
        return "a time not stated"
    if time_s >= 3600:
        return f"{time_s / 3600:g} h"
    return f"{time_s / 60:g} min" if time_s >= 120 else f"{time_s:g} s"


def fuse_window(lasting_current: float, weakest_conductor: float, fuse_share: float, pack_full_voltage: float,
                fuse_family: str = "blade", fuse_rating: float | None = None, fuse_voltage: float | None = None,
                start_i2t: float | None = None) -> FuseAdvice:
    """Ratings above the lasting current by derating and not above what the weakest conductor carries.

    Without a fuse the window is worked out for a blade fuse, so that the maker sees what to fit.
    """
    family = fuse_family if fuse_family in FAMILY else "blade"
    found = fuses.fuse_window(lasting_current, weakest_conductor, FAMILY[family], fuse_share, pack_full_voltage,
                              fuse_voltage)
    remarks = list(found.reasons[2:])
    if fuse_family not in FAMILY:
        remarks.append("no fuse is fitted: the window is that of a blade fuse")
    remarks.append(_pulse_remark(family, fuse_rating, start_i2t))
    return FuseAdvice(family, found.lowest_a, found.highest_a, found.candidates_a, found.pick_a,
                      fuse_rating if fuse_family in FAMILY else None, tuple(r for r in remarks if r))


def _pulse_remark(family: str, fuse_rating: float | None, start_i2t: float | None) -> str:
    """What can be said of the start pulse against the melting I²t of the fuse."""
    if start_i2t is None:
        return ""
    needed = fuse_pulses.required_melting_i2t_a2s(start_i2t, PULSES)
    share = fuse_pulses.pulse_share_allowed(PULSES)
    said = (f"a start puts {start_i2t:.3g} A²s through it; for {PULSES} starts its melting I²t should be {needed:.3g} "
            f"A²s (the pulse is to be at most {100 * share:.2g} % of it)")
    if fuse_rating is None:
        return said
    try:
        melting = fuses.melting_i2t_a2s(fuse_rating, FAMILY[family])
    except ValueError:
        return f"{said}; none is printed for this fuse: see its sheet"
    word = "enough" if melting >= needed else "too little: it would age with every start"
    return f"{said}; {melting:g} A²s is printed: {word}"


def fuse_at_stall(stall_current: float, fuse_rating: float, fuse_family: str) -> FuseAtStall | None:
    """What the fuse does at the stall current, by the gates of its standard only."""
    if fuse_family not in FAMILY:
        return None
    return FuseAtStall(stall_current, fuse_rating, fuses.fuse_state(stall_current, fuse_rating, FAMILY[fuse_family]))


def fuse_path_resistance(fuse_family: str, fuse_rating: float | None = None, fuse_resistance: float | None = None,
                         ) -> float | None:
    """Resistance of the fuse: as measured or from its sheet, else from the drop its maker prints at the rating.

    None where neither is known; the loop then leaves it out, which makes the stall current come out a little high.
    """
    if fuse_family not in FAMILY:
        return 0.0
    if fuse_resistance is not None:
        return fuse_resistance
    if fuse_rating is None:
        return None
    try:
        return fuses.hot_resistance_ohm(fuse_rating, FAMILY[fuse_family])
    except ValueError:
        return None  # nothing is printed for this rating: not known, as the docstring says
