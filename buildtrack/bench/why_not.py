"""Why a command does nothing now, and what would: one line for a key that has no use where it is pressed."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from buildtrack.bench.commands import Command, Situation

KINDS = {
    "reading": "a reading", "choice": "a choice", "tick": "a tick", "text": "a text", "table": "a table",
    "photo": "a photo", "file": "a log",
}  # fmt: skip
"""Kinds of items, as they are said in a sentence."""


def why_not(command: Command, s: Situation) -> str:
    """One line: why the command does nothing here and what would; empty where it is available."""
    if command.available(s):
        return ""
    if not s.has_file:
        return "No build is open: Ctrl-N begins one, F6 shows those there are."
    if s.read_only and command.id in WRITES:
        return _sentence(s.refused) if s.refused else "This build is open read-only: nothing can be entered."
    special = REASONS.get(command.id)
    told = special(s) if special is not None else ""
    rest = f"'{command.footer or command.help}' has nothing to do here."
    return told or (_held(s) if s.refused else "") or _answer(s) or rest


def _held(s: Situation) -> str:
    """The refusal, with the key that leads to what is missing."""
    way = " x goes to what is missing." if s.place == "bench" and not s.read_only else ""
    return f"{_sentence(s.refused)}{way}"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"


def _kind(s: Situation) -> str:
    return KINDS.get(s.kind, "no item")


def _is_table(s: Situation, there: str) -> str:
    return f"This is a table: Enter opens it; {there} there." if s.kind == "table" else ""


def _unanswered(s: Situation, verb: str) -> str:
    return f"Nothing is answered here yet, so nothing can be {verb}. Enter answers." if not s.answered else ""


def _no_yes(s: Situation) -> str:
    return "" if s.refused else f"y and n are for yes or no; this is {_kind(s)}: Enter answers it."


def _answer(s: Situation) -> str:
    return "" if s.kind else "There is no item here: ] goes to the next step."


def _correct(s: Situation) -> str:
    return _is_table(s, "Enter on a field corrects it") or ("" if s.refused else _unanswered(s, "corrected"))


def _withdraw(s: Situation) -> str:
    return _is_table(s, "d deletes a row") or ("" if s.refused else _unanswered(s, "withdrawn"))


def _remark(s: Situation) -> str:
    if s.kind == "table":
        return "A remark stands beside a single answer; a table has none. Its rows may have a column for notes."
    return "" if s.refused else _unanswered(s, "remarked on")


def _same(s: Situation) -> str:
    if s.kind != "reading":
        return f"s types the last reading once more; this is {_kind(s)}."
    return "" if s.refused else "There is no reading here yet to be typed once more. Enter answers."


def _leave_out(s: Situation) -> str:
    if s.refused:
        return ""
    if s.need == "must":
        return "This item must be answered: it cannot be left out."
    return "This item is answered. Only what is not answered can be left out."


def _instrument(s: Situation) -> str:
    if s.kind in ("reading", "table"):
        return "This is printed, set or agreed, or shown by the part itself: no instrument of the list reads it."
    return f"Only readings have an instrument; this is {_kind(s)}."


def _attach(s: Situation) -> str:
    return "" if s.kind in ("photo", "file") else f"a attaches a photo or a log; this is {_kind(s)}."


def _follow(s: Situation) -> str:
    where = "this table is not that of the test" if s.place == "table" else f"this is {_kind(s)}"
    return f"f follows a log while it is written; {where}. Go to the item of the log first."


def _value_class(s: Situation) -> str:
    return "" if s.kind == "reading" else f"v says how a reading was obtained; this is {_kind(s)}."


def _of_test(s: Situation) -> str:
    return "" if s.timed else "This is for the table of the discharge test. Enter fills or corrects a field."


def _mark(s: Situation) -> str:
    return "" if s.timed else "This is for the discharge test. Enter fills or corrects a field."


REASONS: Mapping[str, Callable[[Situation], str]] = {
    "answer": _answer, "say-yes": _no_yes, "say-no": _no_yes, "correct": _correct, "withdraw": _withdraw,
    "remark": _remark, "same": _same, "leave-out": _leave_out, "instrument": _instrument, "attach": _attach,
    "live-log": _follow, "value-class": _value_class, "test-point": _of_test, "mark-alarm": _mark, "mark-end": _mark,
    "waive": lambda s: "No caution of this step waits for a decision. F2 lists them; Enter, then w changes a reason.",
    "undo": lambda s: "There is nothing to take back." if not s.can_undo else "A text is open: Esc drops it.",
    "redo": lambda s: "There is nothing to bring back.",
    "notes": lambda s: "Nothing was found when this file was opened.",
    "save-now": lambda s: "Everything is saved.",
    "outside": lambda s: "The build file was not changed by anybody else.",
    "attach-log": lambda s: "" if s.refused else "There is nothing to attach yet: no row was read.",
    "reject": lambda s: "" if s.refused else "Rows of this table are not rejected: d deletes one.",
    "take-grouping": lambda s: "" if s.refused else "There is no grouping to take over into this table.",
    "review": lambda s: "This is the review: Esc goes back to the work.",
    "shelf": lambda s: "This is the shelf: Enter opens a build.",
    "welcome": lambda s: "This is where another build is begun: choose a line with Enter.",
    "bench": lambda s: "This is the bench.",
    "end-early": lambda s: "This project was ended already.",
    "reopen": lambda s: "This project was not ended.",
}  # fmt: skip
"""What is said of a command where something else than a held or read-only build stands against it."""

WRITES = frozenset(
    {
        "answer", "say-yes", "say-no", "correct", "same", "leave-out", "instrument", "waive", "attach", "withdraw",
        "remark", "value-class", "undo", "redo", "save-now", "currency", "rename", "end-early", "reopen", "decide",
        "test-point", "mark-alarm", "mark-end", "attach-log", "fill-field", "add-row", "delete-row", "reject",
        "take-grouping", "same-above", "clear-field", "table-instrument", "import-rows",
        "question-remark",
    }
)  # fmt: skip
"""Commands that enter something: nothing of them works in a build that is open read-only."""
