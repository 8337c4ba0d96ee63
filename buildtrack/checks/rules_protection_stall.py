"""What limits a stall: board, fuse, the tool's own limiter, or only the person who holds it."""

from __future__ import annotations

from buildtrack import units
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.workings.inputs import answer
from buildtrack.workings.wire_fuse import FuseAtStall, words_of

SOON_S = 10.0
"""A fuse that may take longer than this in a stall does not limit it (common practice, no source)."""
USEFUL = 1.6
"""Below so many times its rating a fuse opens after minutes or never (common practice, no source)."""
LIMITER = {"clutch": "the clutch", "electronics": "the tool's electronics"}


def _fuse(context: Context) -> FuseAtStall | None:
    found = context.known("fuse_at_stall")
    return found if isinstance(found, FuseAtStall) else None


def limits_of(context: Context) -> tuple[str, ...]:
    """What of the pack and the tool ends a stall, in words; empty when nothing does."""
    stall, trip = context.number("stall_current"), context.number("board_trip_high")
    found = []
    if stall is not None and trip is not None and trip < stall:
        found.append(f"the board (trips at {units.show(trip, 'A', digits=3)} at the latest)")
    fuse = _fuse(context)
    if fuse is not None and fuse.state.within_s is not None and fuse.state.within_s <= SOON_S:
        found.append(f"the fuse (at {fuse.state.multiple * 100:.0f} % of its rating {words_of(fuse.state)})")
    limiter = answer(context.build, "current_limiter")
    if limiter in LIMITER:
        found.append(LIMITER[limiter])
    return tuple(found)


def ends_stall(context: Context) -> str:
    """When board and fuse end a stall, in one sentence, by what is known of them."""
    stall, trip = context.number("stall_current"), context.number("board_trip_high")
    delay, fuse = context.number("board_trip_delay"), _fuse(context)
    if stall is None or (trip is None and fuse is None):
        return "What fuse and board do is not known yet."
    board = trip is not None and trip < stall
    melts = fuse is not None and fuse.state.state != "carries"
    after = "after its delay" if delay is None else f"after {units.show(delay, 'ms', digits=3)}"
    when = words_of(fuse.state).removeprefix("it opens, ") if fuse is not None else ""
    if board and melts:
        return f"Until the board opens ({after}) or the fuse does ({when}) the cells carry it."
    if board:
        return f"Until the board opens ({after}) the cells carry it."
    return f"Until the fuse opens ({when}) the cells carry it." if melts else "Neither fuse nor board ends it."


def stall_limit(context: Context) -> Ruling:
    """Whether board or fuse ends a stall; where neither does, the limit belongs into the conditions of the verdict."""
    stall = context.number("stall_current")
    if stall is None:
        needs = context.missing("stall_current")
        return Ruling("unknown", {"sentence": ""}, needs or ("stall_current",))
    if context.number("board_trip_high") is None and _fuse(context) is None:
        return Ruling("unknown", {"sentence": ""}, context.missing("board_trip_high", "fuse_at_stall"))
    shown = units.show(stall, "A", digits=3)
    ends = [text for text in limits_of(context) if text.startswith(("the board", "the fuse"))]
    if ends:
        return Ruling("pass", {"sentence": "", "value": shown})
    limiter = LIMITER.get(answer(context.build, "current_limiter"), "")
    other = f"only {limiter} limits it" if limiter else "nothing but the user limits it"
    told = (f"Neither fuse nor board limits a stall of {shown}: {other}. Do not stall the tool; let go of the trigger "
            "at once when it stands still.")
    return Ruling("fail", {"sentence": told, "value": shown})


def fuse_idle(context: Context) -> Ruling:
    """Where nothing else ends a stall, it asks so much of the fuse that it opens usefully."""
    stall, fuse = context.number("stall_current"), _fuse(context)
    if stall is None or fuse is None:
        return context.unknown("stall_current", "fuse_at_stall")
    facts = {"value": units.show(stall, "A", digits=3), "limit": f"{fuse.rating_a:g} A",
             "rows": f"{fuse.state.multiple * 100:.0f} % of its rating: {words_of(fuse.state)}"}
    if fuse.state.multiple >= USEFUL - 1e-9:
        return Ruling("pass", facts)
    limiter, trip = answer(context.build, "current_limiter"), context.number("board_trip_high")
    if limiter in LIMITER or (trip is not None and trip < stall):
        return Ruling("pass", facts)
    if not limiter or trip is None:
        return Ruling("unknown", facts, ("board_trip_high",) if limiter else ("current_limiter",))
    return Ruling("fail", facts)


def stall_ended(context: Context) -> Ruling:
    """A deliberate stall was ended by something; where a limiter is said to be there, it should have been seen."""
    ended = answer(context.build, "stall_ended_by")
    if not ended:
        return context.unknown("stall_ended_by")
    limiter = LIMITER.get(answer(context.build, "current_limiter"), "")
    told = "a deliberate stall went on until something was hot"
    if limiter:
        told += f", although {limiter} is said to limit it"
    return Ruling("fail" if ended == "nothing" else "pass", {"value": told})
