"""The steps and the items of a step in lines: rail, strip, list. Knows no screen."""

from __future__ import annotations

from rich.cells import cell_len

from buildtrack.bench import words
from buildtrack.bench.desk import Desk
from buildtrack.bench.faults import faults_sign, faults_text
from buildtrack.bench.meaning import standing_faults
from buildtrack.bench.onward import lacking_in, lacking_text
from buildtrack.bench.plain import fit, plain
from buildtrack.bench.widgets.line_text import Line, Piece
from buildtrack.model.checklist import Item, Step
from buildtrack.workings.status import ItemState

STATE_LOOKS = {
    "done": "good",
    "outside": "warn",
    "misfit": "bad",
    "stale": "warn",
    "expired": "warn",
    "partly": "accent",
    "left out": "muted",
    "held": "muted",
}
ROOMY = 60
"""A list so wide has room for a long title, an answer and the word 'done' [cells]."""
NOT_FULL = "not full"
"""Said of a table in which a check waits for a field that the table itself does not ask for."""
FAULT_LOOKS = {"stop": "bad", "caution": "warn", NOT_FULL: "accent"}
STATE_WORDS = {"partly": "begun", "outside": "unusual", "misfit": "wrong"}


def item_line(desk: Desk, item: Item, state: ItemState, draft: str, width: int, fault: str = "") -> Line:
    """One item in one line of `width` cells: label, answer or what is typed and not taken, state.

    fault: severity of a check that stands failed about this item, or NOT_FULL where one waits for a field of it.
    """
    told = fault if state.state == "done" else ""
    look = FAULT_LOOKS.get(told) or STATE_LOOKS.get(state.state, "muted")
    sign = {**words.SEVERITY_GLYPHS, NOT_FULL: words.glyph("partly")}[told] if told else words.glyph(state.state)
    left = (Piece(f"{sign} ", look), Piece(plain(item.label)))
    brief = width < ROOMY and state.state == "done" and not told  # then the answer and ✓ say it, and the title is whole
    room = max(8, min(34, width - cell_len(item.label) - (7 if brief else 20)))
    full = f"› {plain(draft)}" if draft else words.list_text(item, desk, room)
    word = "" if brief and full else f"  {told or _state_word(item, state):<8}"
    # where there is no room for both, an answer that one row holds stands below its title; a longer one is cut
    whole = width < ROOMY and cell_len(full + word) <= width - 8
    return Line(left, (Piece(full if whole else fit(full, room)), Piece(word, look)), item.id, whole=whole)


def _state_word(item: Item, state: ItemState) -> str:
    if state.lacks:
        return "early"
    if state.state == "partly" and item.several > 1:
        return state.why.replace(" readings", "")
    if state.state == "open" and item.need == "optional":
        return "optional"
    return STATE_WORDS.get(state.state, state.state)


def rail_lines(desk: Desk, here: str) -> list[Line]:
    """The steps one below the other, each with what is left of it; `here` is the step on the screen."""
    found = []
    for number, step in enumerate(desk.checklist.steps, 1):
        state = desk.step_state(step.id)
        look = "head" if step.id == here else "muted" if state.state == "held" else "plain"
        glyph, look_of = step_sign(desk, step)
        sign, faults = Piece(f"{glyph} ", look_of), standing_faults(desk, step.id)
        word = f"{desk.left(step.id)} left" if state.state == "partly" else words.STEP_WORDS[state.state]
        worst = [r for r in faults if r.severity == faults[0].severity]  # the rail has room for one word
        word = faults_text(worst) if faults and state.state == "done" else word
        missing = lacking_in(desk, step) if state.state == "done" and not faults else []
        word = NOT_FULL if missing else word
        left = (sign, Piece(f"{number} {plain(step.title)}", look))
        found.append(Line(left, (Piece(word, "muted"),), step.id, whole=True))
    return found


def step_sign(desk: Desk, step: Step) -> tuple[str, str]:
    """Sign and look of a step: a stop or caution that stands, or a field still waited for, takes the place of done."""
    state = desk.step_state(step.id).state
    faults = standing_faults(desk, step.id) if state in ("done", "held") else []
    if state == "held":
        faults = [r for r in faults if r.severity == "stop"]
    if not faults and state == "done" and lacking_in(desk, step):
        return words.glyph("partly"), STATE_LOOKS["partly"]
    if not faults:
        return words.glyph(state), STATE_LOOKS.get(state, "plain")
    return faults_sign(faults)


def step_words(desk: Desk, step: Step) -> str:
    """The step in words: its place among all, what is open, how long it takes."""
    steps = desk.checklist.steps
    number = next((n for n, s in enumerate(steps, 1) if s.id == step.id), 1)
    open_ = desk.left(step.id)
    faults = standing_faults(desk, step.id)
    missing = lacking_text(lacking_in(desk, step)) if not open_ else ""
    left = f"{open_} open" if open_ else missing or f"all settled{' but' if faults else ''}"
    left += f" {faults_text(faults)}" if faults and not open_ and not missing else ""
    left += f", {faults_text(faults)}" if faults and (open_ or missing) else ""
    return f"Step {number} of {len(steps)}: {plain(step.title)} · {left} · usually {step.minutes} min"


def step_strip(desk: Desk, here: Step) -> tuple[tuple[Piece, str], ...]:
    """The steps beside each other by number, the one on the screen by name; each with its id."""
    found: list[tuple[Piece, str]] = []
    for number, step in enumerate(desk.checklist.steps, 1):
        (sign, look), is_here = step_sign(desk, step), step.id == here.id
        text = f"{sign}{number} {plain(step.title)}  " if is_here else f"{sign}{number} "
        look = look if look in ("warn", "bad") else "muted"
        found.append((Piece(text, "accent" if is_here else look), step.id))
    return tuple(found)
