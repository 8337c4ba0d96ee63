"""Every command once: one definition gives its key, footer text, palette entry, help line and availability."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from textual.binding import Binding, BindingType


@dataclass(frozen=True, slots=True)
class Situation:
    """Where a person is: all that decides which commands make sense."""

    place: str = "bench"
    kind: str = ""
    """Kind of the current item."""
    need: str = ""
    answered: bool = False
    """Whether the current item has a standing answer or rows."""
    refused: str = ""
    """Why nothing may be entered here."""
    read_only: bool = False
    can_undo: bool = False
    can_redo: bool = False
    unsaved: bool = False
    changed_outside: bool = False
    """Whether somebody else changed the file."""
    left_out: bool = False
    cautions: bool = False
    """Whether a caution of this step stands failed."""
    ended: bool = False
    has_file: bool = True
    rejectable: bool = False
    """Whether rows of the table can be rejected."""
    timed: bool = False
    """Whether this is the log, or the table, of the discharge test: alarm and end can be marked."""
    yes_no: bool = False
    """Whether the current item is answered with yes or no."""
    proposed: bool = False
    """Whether a proposal can be taken over into the table."""
    typing: str = ""
    """What has the keyboard beside the list: `field`, `empty field`, `options`, `panel`."""
    notes: bool = False
    """Whether something was found when the file was opened."""
    words: bool = False
    """Whether letters begin the text of the current item instead of running commands."""
    measured: bool = True
    """Whether the current item, or a column of the table, is read with an instrument."""
    unmetered: bool = False
    """Whether several instruments fit the current item and none is chosen."""
    from_review: bool = False
    """Whether the review led here and Esc leads back to it."""
    choosing: bool = False
    """Whether the shelf is shown to choose the build that a new one starts from."""
    onward: str = ""
    """Where Enter goes after a field of a table: → or ↓."""


def _always(s: Situation) -> bool:
    return True


def _open_build(s: Situation) -> bool:
    return s.has_file


def _writable(s: Situation) -> bool:
    return s.has_file and not s.read_only


def _enterable(s: Situation) -> bool:
    return bool(s.kind) and not s.refused


def _yes_no(s: Situation) -> bool:
    return _enterable(s) and s.yes_no


def _simple(s: Situation) -> bool:
    return _enterable(s) and s.kind != "table"


@dataclass(frozen=True, slots=True)
class Command:
    """One thing a person can do."""

    id: str
    key: str
    """Keys, comma-separated; the first is shown."""
    footer: str
    """Two words for the footer line; empty keeps it out of the footer."""
    help: str
    """One sentence for help and palette."""
    places: tuple[str, ...] = ("bench",)
    available: Callable[[Situation], bool] = _always
    priority: bool = False
    """Whether it also works while a field has the keyboard."""

    @property
    def name(self) -> str:
        """Name of its action, without whose it is."""
        return self.id.replace("-", "_")

    @property
    def action(self) -> str:
        """The action as it is run: of the screen, or of the app for what goes on in every place."""
        return f"app.{self.name}" if self.id in OF_APP else self.name


OF_APP = frozenset(
    {"pictures", "timers", "limits", "review", "shelf", "bench", "record", "save-now", "outside", "help",
     "live-log", "welcome"}
)  # fmt: skip
"""Commands that the app answers, not the place."""
EVERYWHERE = ("bench", "table", "live", "review", "shelf", "welcome")
OPEN_PLACES = ("bench", "table", "live", "review")

COMMANDS: tuple[Command, ...] = (
    Command(
        "answer", "enter", "answer", "Open the current item for typing, choosing or filling.", available=_enterable
    ),
    Command("say-yes", "y", "yes", "Mark yes; Enter takes it.",
            available=_yes_no),
    Command("say-no", "n", "no", "Mark no; Enter takes it.",
            available=_yes_no),
    Command(
        "correct",
        "e",
        "correct",
        "Correct an answer; of several readings you choose which. The old one stays in the file.",
        available=lambda s: _simple(s) and s.answered,
    ),
    Command(
        "same",
        "s",
        "same again",
        "Type the last reading of this item once more; Enter takes it.",
        available=lambda s: _enterable(s) and s.answered and s.kind == "reading",
    ),
    Command(
        "leave-out",
        "l",
        "leave out",
        "Leave an expected or optional item out, with a reason; again takes it up.",
        available=lambda s: _enterable(s) and s.need != "must" and (not s.answered or s.left_out),
    ),
    Command(
        "instrument",
        "i",
        "instrument",
        "Choose the instrument once for this step.",
        available=lambda s: not s.read_only and s.kind in ("reading", "table") and s.measured,
    ),
    Command(
        "waive",
        "w",
        "accept caution",
        "Accept a caution of this step with a written reason. A stop can never be accepted.",
        available=lambda s: _writable(s) and s.cautions,
    ),
    Command(
        "attach",
        "a",
        "attach",
        "Attach a photo or a log that lies beside the build file.",
        available=lambda s: _enterable(s) and s.kind in ("photo", "file"),
    ),
    Command("test-point", "n", "point now", "Start the test by hand and its clock; then take each next point.",
            ("table",), lambda s: s.timed and not s.refused),
    Command("mark-alarm", "m", "alarm now", "Mark this moment as the alarm, with the groups as read just now.",
            ("live", "table"), lambda s: s.timed and not s.refused),
    Command("mark-end", "e", "ended now", "Mark this moment as the end of the test, with the groups just before.",
            ("live", "table"), lambda s: s.timed and not s.refused),
    Command(
        "live-log",
        "f",
        "follow",
        "Follow a log while its logger writes: curve, numbers, alarm and end by one key.",
        ("bench", "table"),
        lambda s: s.has_file and (s.kind == "file" or s.timed),
    ),
    Command("attach-log", "f", "attach", "Attach the file to the build, once the logger has stopped.", ("live",),
            lambda s: s.answered and not s.refused),
    Command("set-columns", "c", "columns", "See which column of the file is what, and set it.", ("live",)),
    Command("name-log", "l", "other file", "Name the file that is followed.", ("live",)),
    Command(
        "withdraw",
        "d",
        "withdraw",
        "Withdraw an answer with a reason; of several readings you choose which. It stays in the file.",
        available=lambda s: _simple(s) and s.answered,
    ),
    Command(
        "remark", "m", "remark", "Write a remark beside an answer.", available=lambda s: _simple(s) and s.answered
    ),
    Command(
        "value-class",
        "v",
        "",
        "Say how the next answer was obtained: measured, taken over or guessed.",
        available=lambda s: _simple(s) and s.kind == "reading",
    ),
    Command(
        "undo",
        "u,ctrl+t",
        "undo",
        "Take the last edit back; the history keeps both. Ctrl-T also in an open field that is empty.",
        ("bench", "table", "live"),
        lambda s: _writable(s) and s.can_undo and s.typing != "field",
    ),
    Command(
        "redo",
        "r",
        "redo",
        "Bring the last undone edit back.",
        ("bench", "table", "live"),
        lambda s: _writable(s) and s.can_redo,
    ),
    Command("next-item", "x", "", "Go to the next thing to do, in any step; first to a stop that has just failed."),
    Command("go", "g", "steps", "Choose a step from the list of steps."),
    Command("previous-step", "left_square_bracket,left", "", "Go to the previous step."),
    Command("next-step", "right_square_bracket,right", "", "Go to the next step."),
    Command("notes", "k", "", "Read what was found when this file was opened.", available=lambda s: s.notes),
    Command("how", "h", "", "Read the whole why, how and caution of the current item."),
    Command(
        "meaning",
        "f2",
        "workings",
        "Go to the workings and checks of this step; Enter explains one.",
        ("bench", "table"),
    ),
    Command(
        "pictures",
        "f3,p",
        "pictures",
        "See the curve, the ladder, the cells and the wiring drawn.",
        OPEN_PLACES,
        _open_build,
    ),
    Command("timers", "f4,t", "", "Start or see a count-down: joint, log interval, rest.", OPEN_PLACES, _open_build),
    Command(
        "limits",
        "o",
        "",
        "See the limits that checks compare with; change one with a reason.",
        ("bench", "review"),
        _open_build,
    ),
    Command(
        "review",
        "f5",
        "review",
        "Judge the build: verdict, findings, the reviewer's questions.",
        EVERYWHERE,
        lambda s: _open_build(s) and s.place != "review",
    ),
    Command("shelf", "f6", "shelf", "Past builds of this folder.", EVERYWHERE, lambda s: s.place != "shelf"),
    Command("welcome", "ctrl+n", "", "Begin another: a sample, a new build, or one from a past build.", EVERYWHERE,
            lambda s: s.place != "welcome"),
    Command("bench", "f7", "bench", "Back to the work.", EVERYWHERE, lambda s: _open_build(s) and s.place != "bench"),
    Command("record", "f9", "record", "Export the build record as a PDF.", OPEN_PLACES, _open_build),
    Command(
        "save-now",
        "ctrl+s",
        "save now",
        "Save again, where the last attempt failed.",
        OPEN_PLACES,
        lambda s: _writable(s) and s.unsaved,
    ),
    Command(
        "outside",
        "f8",
        "file changed",
        "Settle a build file that somebody else changed while it was open here.",
        OPEN_PLACES,
        lambda s: s.has_file and s.changed_outside,
    ),
    Command("currency", "", "", "Say in which currency the prices of this build are.", available=_writable),
    Command("rename", "", "", "Give the build another title.", available=_writable),
    Command(
        "end-early",
        "",
        "",
        "Stop the project for a reason that is recorded.",
        available=lambda s: _writable(s) and not s.ended,
    ),
    Command(
        "reopen", "", "", "Take up a project again that was ended early.", available=lambda s: _writable(s) and s.ended
    ),
    Command(
        "fill-field",
        "enter",
        "fill",
        "Fill the current field; Enter again takes it and goes on.",
        ("table",),
        lambda s: not s.refused,
    ),
    Command("add-row", "a", "add row", "Add a row.", ("table",), lambda s: not s.refused),
    Command("delete-row", "d", "delete row", "Delete the row, with a reason.", ("table",), lambda s: not s.refused),
    Command(
        "reject",
        "x",
        "reject",
        "Mark the row as rejected, with a reason; it stays in the table.",
        ("table",),
        lambda s: not s.refused and s.rejectable,
    ),
    Command(
        "take-grouping",
        "b",
        "best grouping",
        "Take the proposed grouping over into the table, where you confirm it.",
        ("table",),
        lambda s: not s.refused and s.proposed,
    ),
    Command("same-above", "s", "as above", "Type the value of the row above; Enter takes it.", ("table",),
            lambda s: not s.refused),
    Command("clear-field", "delete", "", "Empty the field.", ("table",), lambda s: not s.refused),
    Command(
        "table-instrument",
        "i",
        "instrument",
        "Choose the instrument for this column.",
        ("table",),
        lambda s: not s.refused and s.measured,
    ),
    Command("sort-rows", "o", "", "Show the rows sorted by this column; again turns the order round.", ("table",)),
    Command("import-rows", "c", "import", "Fill the table from a CSV file.", ("table",), lambda s: not s.refused),
    Command("next-question", "x", "next open", "Go to the next question that is not fully answered.", ("review",)),
    Command("question-remark", "m", "", "Write a remark on this question, for your decision.", ("review",),
            _writable),
    Command(
        "decide", "d", "decide", "Write your decision and remarks about exactly what is shown.", ("review",), _writable
    ),
    Command("open-build", "enter", "open", "Open the build.", ("shelf",)),
    Command("recheck-build", "k", "re-check", "Open the build at a new row of its dated re-checks.", ("shelf",),
            lambda s: not s.choosing),
    Command("compare-builds", "c", "compare", "Mark two builds and see them side by side.", ("shelf",)),
    Command(
        "template-build",
        "n",
        "new from it",
        "Start a new build from this one; every reading is asked for again.",
        ("shelf",),
        lambda s: not s.choosing,
    ),
    Command("filter-builds", "slash,f", "filter", "Show only builds that hold a word.", ("shelf",)),
    Command("sort-builds", "o", "sort", "Sort by the next column.", ("shelf",)),
    Command("back", "escape", "", "Back to where you came from.", ("table", "live", "review", "shelf", "welcome")),
    Command("help", "f1,question_mark", "help", "This page: every key and what it does.", EVERYWHERE),
)

BY_ID: Mapping[str, Command] = {c.id: c for c in COMMANDS}
BY_ACTION: Mapping[str, Command] = {c.name: c for c in COMMANDS}


def of_place(place: str) -> tuple[Command, ...]:
    """The commands of one place, in the order of the footer."""
    return tuple(c for c in COMMANDS if place in c.places)


def bindings(place: str) -> list[BindingType]:
    """Bindings of one place for its screen."""
    return [
        Binding(c.key, c.action, c.footer or c.help, show=bool(c.footer), tooltip=c.help, id=c.id, priority=c.priority)
        for c in of_place(place)
        if c.key
    ]


def allowed(action: str, situation: Situation) -> bool | None:
    """What `check_action` answers: True, or None for a command that makes no sense now."""
    command = BY_ACTION.get(action)
    if command is None:
        return True
    return True if command.available(situation) else None


_KEY_WORDS = {
    "enter": "Enter",
    "escape": "Esc",
    "left_square_bracket": "[",
    "right_square_bracket": "]",
    "left": "←",
    "right": "→",
    "question_mark": "?",
    "slash": "/",
    "delete": "Del",
    "space": "Space",
}


def _key_word(key: str) -> str:
    if key.startswith("ctrl+"):
        return f"Ctrl-{key.removeprefix('ctrl+').upper()}"
    return key.upper() if key[:1] == "f" and key[1:].isdigit() else key


def key_text(keys: str, every: bool = False) -> str:
    """Keys for people: the first, or all of them."""
    names = [_KEY_WORDS.get(k, _key_word(k)) for k in keys.split(",") if k]
    return " ".join(names) if every else (names[0] if names else "")


def key_of(command: Command, keymap: Mapping[str, str]) -> str:
    """The keys of a command under a person's keymap."""
    return keymap.get(command.id, command.key)


def of_key(key: str, place: str, situation: Situation, keymap: Mapping[str, str]) -> Command | None:
    """The command of a key that makes sense now; None where it has none."""
    fits = (c for c in of_place(place) if key in key_of(c, keymap).split(",") and c.available(situation))
    return next(fits, None)


PALETTE: Mapping[str, str] = {"rename": "rename: the title of this build"}
"""Names in the palette of commands that are looked for by another word; those with words in the footer have them."""
WORTH: Mapping[str, int] = {
    "outside": 0, "save-now": 0, "answer": 1, "fill-field": 1, "say-yes": 2, "say-no": 2, "live-log": 2, "attach": 2,
    "correct": 2, "review": 3, "record": 4, "leave-out": 5, "meaning": 5, "undo": 6, "shelf": 7, "go": 8,
    "pictures": 9,
}  # fmt: skip
"""What stands first in the footer of the bench, where not all has room; the rest follows in the order of the table.

What serves at the current item comes first, then what judges the build, then the other places.
"""
OF_ITEM = ("live-log", "attach", "correct")
"""What serves at an item, but not while the panel is read."""
TABLE_WORTH: Mapping[str, int] = {
    "outside": 0, "save-now": 0, "test-point": 1, "mark-alarm": 1, "mark-end": 1, "take-grouping": 1, "live-log": 2,
    "add-row": 2, "import-rows": 3, "reject": 4, "delete-row": 5, "undo": 6, "meaning": 7,
}  # fmt: skip
"""The same for a table."""


def _worth(place: str, command: Command, s: Situation) -> int:
    """Where a command stands in the footer: at the bench by its worth, elsewhere what is the place's own first."""
    if command.key.split(",")[0] == "enter":
        return 0
    if command.id == "correct" and s.yes_no or s.typing == "panel" and command.id in OF_ITEM:
        return WORTH["undo"]  # y and n correct it as well; or the panel is read, not the item
    if s.unmetered and command.id in ("instrument", "table-instrument"):
        return 1  # without one what the meter's maker says of it is never used
    own = 20 if len(command.places) <= 2 else 30
    return {"bench": WORTH, "table": TABLE_WORTH}.get(place, {}).get(command.id, own)


def footer(place: str, situation: Situation, keymap: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """Key, words and action of what can be done now, most wanted first; help stands last."""
    if situation.typing in ("field", "empty field"):
        return [*_typing_keys(situation), _entry(BY_ID["help"], keymap)]
    first = _typing_keys(situation) if situation.typing else _list_keys(situation)
    shown = [c for c in of_place(place) if c.footer and key_of(c, keymap) and c.available(situation)]
    shown.sort(key=lambda c: _worth(place, c, situation))
    shown = [c for c in shown if not (situation.typing and c.key == "enter")]
    if situation.choosing:
        shown = [replace(c, footer="start from it") if c.id == "open-build" else c for c in shown]
        first = [*first, ("Esc", "back", "back")]
    entries = (_entry(c, keymap, situation.words and not situation.typing) for c in shown)
    return [*first, *(entry for entry in entries if entry[0])]


WORDS_KEYS = [("letters", "begin the text", ""), ("Esc", "letter keys", "app.simulate_key('escape')")]
"""What the keys do on an item that is answered in words."""
BACK_KEY = ("Esc", "back to the review", "app.simulate_key('escape')")
"""What Esc does where a line of the review led to; on an item of words letters begin the text all the same."""


def _list_keys(situation: Situation) -> list[tuple[str, str, str]]:
    """What stands first in the footer while the list of items has the keyboard."""
    words = WORDS_KEYS if situation.words else []
    return [BACK_KEY, *words[:1]] if situation.from_review else words


def _entry(command: Command, keymap: Mapping[str, str], no_letters: bool = False) -> tuple[str, str, str]:
    keys = key_of(command, keymap).split(",")
    keys = [k for k in keys if not (no_letters and len(k) == 1 and k.isalpha())]
    return key_text(",".join(keys)), command.footer, command.action


def running_entry(text: str, keymap: Mapping[str, str]) -> tuple[str, str, str]:
    """The count-down that runs, as an entry of the bottom line: it leads to them all."""
    key, _, action = _entry(BY_ID["timers"], keymap)
    return key, text, action


def _typing_keys(situation: Situation) -> list[tuple[str, str, str]]:
    """What Enter, Esc and the arrows do while something is typed, chosen or read."""
    enter, escape = "app.simulate_key('enter')", "app.simulate_key('escape')"
    undo = [("Ctrl-T", "undo", "undo")] if situation.can_undo else []
    onward = f", then {situation.onward}" if situation.onward else ""
    return {
        "field": [("Enter", f"take it{onward}", enter), ("Esc", "drop it", escape), ("↑ ↓", "leave it for later", "")],
        "empty field": [("Enter", f"leave it empty{onward}", enter) if onward else ("Enter", "take it", enter),
                        ("Esc", "stop typing", escape), *undo, ("↑ ↓", "move", "")],
        "options": [("↑ ↓", "move", ""), ("Enter", "take it", enter), ("Esc", "back to the list", escape)],
        "panel": [("Enter", "explain", enter), ("Esc", "back to the work", escape)],
    }[situation.typing]  # fmt: skip


def help_lines(place: str, keymap: Mapping[str, str], around: Situation | None = None) -> Iterable[tuple[str, str]]:
    """Keys and sentence of every command of a place; around: only of those that can do something in it."""
    for command in of_place(place):
        if around is not None and not command.available(around):
            continue
        yield key_text(key_of(command, keymap), every=True) or "palette", command.help
