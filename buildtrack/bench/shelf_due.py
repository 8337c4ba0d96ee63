"""What is due next of a build on the shelf, in a word against the day; and the order the shelf was left in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from buildtrack import units
from buildtrack.bench.due import handed_over, resting
from buildtrack.bench.plain import plain
from buildtrack.model.build import Build
from buildtrack.storage.places import state_folder
from buildtrack.workings.inputs import parse_date

NOW = "▲ now"
"""What stands in the column of a pack in use whose stop is open."""
REST = "rest_duration"
"""Limit that says how long cells rest between two readings."""
USUAL_REST_D = 12.0
"""The same, where a file does not say it [days]; common practice, no source."""


def due_next(build: Build, verdict: str, recheck: str) -> tuple[str, str]:
    """The earliest day on which something is due, as 2026-11-25, and what; both empty where nothing is.

    recheck: day of the next re-check as the summary of the file says it, or empty.
    """
    if build.ended is not None:
        return "", ""
    found = [(on.isoformat(), f"read {cells} again") for on, cells in resting(build, _rest(build))]
    if recheck and (verdict.startswith("cleared") or handed_over(build)):
        found.append((recheck, "re-check the pack"))
    return min(found, default=("", ""))


def _rest(build: Build) -> timedelta:
    outline = build.snapshot.get("checklist_outline", {})
    limits = outline.get("limits", {}) if isinstance(outline, dict) else {}
    changed = build.policy.get(REST)
    text = changed.text if changed is not None else limits.get(REST, "") if isinstance(limits, dict) else ""
    try:
        return timedelta(seconds=units.parse(str(text), "time", "d").value)
    except (units.QuantityError, OverflowError):
        return timedelta(days=USUAL_REST_D)


def _day(text: str) -> date | None:
    try:
        return parse_date(text) if text else None
    except ValueError:
        return None  # a summary written by hand: its text is shown as it is


def is_late(due: str, today: date) -> bool:
    """Whether the day has passed."""
    on = _day(due)
    return on is not None and on < today


def word(due: str, today: date) -> str:
    """What stands in the column: a glyph and a word where it is due, else the day."""
    if is_late(due, today):
        return "▲ overdue"
    return "▲ today" if _day(due) == today else plain(due)


def told(due: str, what: str, today: date) -> str:
    """The whole of it for the line below; empty where nothing is due."""
    if not due:
        return ""
    when = f"overdue since {due}" if is_late(due, today) else "due today" if _day(due) == today else f"due {due}"
    return f"{when}: {what}" if what else when


def _order_file() -> Path:
    return state_folder() / "shelf-order"


def kept_order(columns: Sequence[str], usual: str) -> str:
    """The column the shelf was sorted by when it was left."""
    try:
        kept = _order_file().read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError):
        return usual  # it was never left in another order
    return kept if kept in columns else usual


def keep_order(column: str) -> None:
    """Remember it for the next visit."""
    try:
        _order_file().parent.mkdir(parents=True, exist_ok=True)
        _order_file().write_text(column, encoding="utf-8")
    except OSError:
        return  # the next visit begins in the usual order; nothing else depends on it
