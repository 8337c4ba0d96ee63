"""The protection board against the load: what it carries, when it trips, and what it leaves unprotected."""

from __future__ import annotations

from dataclasses import dataclass

from buildtrack import units

OVERCHARGE_TOLERANCE_V, CUTOFF_TOLERANCE_V = 0.050, 0.100
"""Tolerances taken where the board's are not known: those of a common protection circuit (sheet of the DW01A)."""
BALANCE_TOLERANCE_V = 0.025
"""The same for the start of balancing: a one-cell balance circuit has 4.20 V ± 25 mV (title of the HY2213 sheet)."""


@dataclass(frozen=True, slots=True)
class BoardReport:
    """The board's figures beside what the pack asks of it."""

    rows: tuple[tuple[str, str, str, str], ...]
    """What, the board's figure, the pack's figure, what follows."""
    limits_stall: bool | None
    """Whether its highest trip lies below the stall current; None while one of the two is not known."""

    @property
    def summary(self) -> str:
        """The whole in one line."""
        wrong = [r[0] for r in self.rows if r[3].startswith("no:")]
        stall = {True: "its trip lies below the stall current", None: "",
                 False: "it does not limit a stall"}[self.limits_stall]
        told = f"not fitting: {', '.join(wrong)}" if wrong else "fits as far as known"
        return "; ".join(t for t in (told, stall) if t)

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("what", "board", "pack", "fits")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per figure."""
        return self.rows


def _amps(value: float) -> str:
    return units.show(value, "A", digits=3)


def board_report(board_series: float, series_count: float, board_continuous: float | None = None,
                 lasting_current: float | None = None, board_trip_low: float | None = None,
                 board_trip_high: float | None = None, board_trip_delay: float | None = None,
                 start_peak: float | None = None, stall_current: float | None = None,
                 cell_current_stall: float | None = None, start_peak_current: float | None = None,
                 start_carried: float | None = None, start_peak_time: float | None = None) -> BoardReport:
    """The board's sheet beside the load: groups, lasting current, start peak against trip, stall against trip."""
    rows = [("groups", f"{board_series:.0f}", f"{series_count:.0f}",
             "yes" if board_series == series_count else "no: a board watches exactly its own number of groups")]
    if board_continuous is not None and lasting_current is not None:
        fits = "yes" if board_continuous >= lasting_current else "no: it runs hot at work"
        rows.append(("lasting current", _amps(board_continuous), _amps(lasting_current), fits))
    if board_trip_low is not None and start_peak is not None:
        origin = start_origin(start_peak, start_peak_current, start_carried, stall_current)
        over = start_peak_time is not None and board_trip_delay is not None and start_peak_time < board_trip_delay
        rows.append(("start against lowest trip", _amps(board_trip_low), f"{_amps(start_peak)} {origin}",
                     _start_words(board_trip_low, start_peak, board_trip_delay, over)))
    limits = None
    if board_trip_high is not None and stall_current is not None:
        limits = board_trip_high < stall_current
        rows.append(("stall against highest trip", _amps(board_trip_high), _amps(stall_current),
                     _stall_words(limits, cell_current_stall)))
    return BoardReport(tuple(rows), limits)


def start_origin(peak: float, measured: float | None, carried: float | None, stall: float | None) -> str:
    """Where the start peak comes from, in words that follow its figure."""
    if measured is None:
        return "at most, from the stall current"
    if peak > measured:
        how = f"from {_amps(measured)} measured, carried over to the new pack, full"
        return how if carried is not None else f"at most, from the stall current; {_amps(measured)} measured"
    if carried is None and stall is None:
        return "measured; on the new pack it may be more"
    return "measured"


def _start_words(trip_low: float, peak: float, delay_s: float | None, over: bool) -> str:
    if trip_low > peak:
        return "yes"
    if over:
        return f"yes: it is over before the delay of {units.show(delay_s or 0.0, 'ms', digits=3)}"
    delay = f" when it lasts longer than {units.show(delay_s, 'ms', digits=3)}" if delay_s is not None else ""
    return f"no: a start may trip it{delay}"


def _stall_words(limits: bool, cell_current_stall: float | None) -> str:
    if limits:
        return "yes: it opens in a stall after its delay"
    each = f", {_amps(cell_current_stall)} in each cell" if cell_current_stall is not None else ""
    return f"it never opens in a stall{each}: the board does not protect the cells from it"
