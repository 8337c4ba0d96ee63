"""Why: a working or a check told in full, with formula, numbers, source, and inputs to jump to."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, ClassVar, cast

from textual import on
from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from buildtrack.bench.desk import Desk
from buildtrack.bench.meaning import acceptable, item_about, result_look, result_sign, result_word
from buildtrack.bench.plain import fit, plain
from buildtrack.bench.screens.reading import PAGE_BREAKPOINTS, PAGE_CSS, WIDE_PAGE
from buildtrack.bench.wide_table import table_lines
from buildtrack.bench.widgets.line_text import Line, Piece, line, prose
from buildtrack.bench.widgets.lines import LineList
from buildtrack.checks.engine import looked_at
from buildtrack.workings.explain import explain, label_of, show_value, unit_of
from buildtrack.workings.graph import needs

if TYPE_CHECKING:
    from buildtrack.bench.app import BuildtrackApp


class Why(ModalScreen[str | None]):
    """One value or check in full; answers with where to go next (`item:x`, `waive:x`)."""

    CSS = PAGE_CSS.format(name="Why")
    HORIZONTAL_BREAKPOINTS = PAGE_BREAKPOINTS
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q", "leave", "close", show=False),
        Binding("w", "accept", "accept", show=False),
        Binding("backspace", "one_back", "one back", show=False),
    ]

    def __init__(self, kind: str, name: str) -> None:
        super().__init__()
        self.trail: list[tuple[str, str]] = [(kind, name)]

    @property
    def desk(self) -> Desk:
        """The open build."""
        desk = cast("BuildtrackApp", self.app).desk
        assert desk is not None, "only an open build has values to explain"
        return desk

    def compose(self) -> ComposeResult:
        """Title, lines, keys."""
        with Vertical():
            yield Static("", markup=False, classes="page-title")
            yield LineList(id="why-lines")
            yield Static("", markup=False, classes="page-keys")

    def on_mount(self) -> None:
        """Show the first."""
        self._show()
        self.query_one(LineList).focus()

    def _room(self) -> int:
        """Width of a line on the page, as PAGE_CSS lays it out [cells]."""
        return (self.size.width if self.size.width < WIDE_PAGE else min(94, self.size.width * 96 // 100)) - 8

    def _show(self) -> None:
        kind, name = self.trail[-1]
        desk = self.desk
        lines = list(working_lines(desk, name, self._room()) if kind == "working" else check_lines(desk, name))
        title = (
            label_of(name, desk.judged.assessment.sheet, desk.checklist)
            if kind == "working"
            else headline(desk, name)
        )
        self.query_one(".page-title", Static).update(plain(title))
        self.query_one(LineList).show(lines, "")
        keys = "Enter: go there    Esc: close" if any(entry.key for entry in lines) else "Esc: close"
        if len(self.trail) > 1:
            keys += "    Backspace: one back"
        if self._can_accept():
            keys += "    w: accept this caution"
        self.query_one(".page-keys", Static).update(keys)

    def dismiss(self, result: str | None = None) -> AwaitComplete:
        """Close; which check was explained is known where one goes from here."""
        checks = [name for kind, name in self.trail if kind == "check"]
        self.desk.finding = checks[-1] if checks else ""
        return super().dismiss(result)

    def _can_accept(self) -> bool:
        kind, name = self.trail[-1]
        rule = self.desk.checklist.check.get(name)
        if kind != "check" or rule is None or self.desk.refusal():
            return False
        return any(r.check == name for r in acceptable(self.desk, rule.step))

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        kind, _, name = event.key.partition(":")
        if kind in ("working", "check"):
            self.trail.append((kind, name))
            self._show()
        else:
            self.dismiss(event.key)

    def action_one_back(self) -> None:
        """Back to the value before."""
        if len(self.trail) > 1:
            self.trail.pop()
            self._show()

    def action_accept(self) -> None:
        """Accept the caution."""
        if self._can_accept():
            self.dismiss(f"waive:{self.trail[-1][1]}")

    def action_leave(self) -> None:
        """Close."""
        self.dismiss(None)


def working_lines(desk: Desk, name: str, room: int) -> Iterator[Line]:
    """A working told in full, on lines of so many cells."""
    told = explain(name, desk.judged.assessment.sheet, desk.checklist)
    yield prose(told.shown, "accent" if told.state == "known" else "warn")
    yield from _structured(told.value, room)
    yield line("")
    yield line("Formula", "head")
    yield prose(told.formula)
    if told.substituted:
        yield prose(told.substituted, "muted")
    yield line("")
    yield line("Rests on", "head")
    yield from input_lines(desk, needs(desk.judged.assessment.sheet.workings[name]))
    yield line("")
    yield line("Source", "head")
    yield prose(told.source)
    if told.note:
        yield prose(told.note, "muted")
    yield from _used_by(desk, name)


def _structured(value: Any, room: int) -> Iterator[Line]:
    head, rows = getattr(value, "head", None), getattr(value, "lines", None)
    if isinstance(head, tuple) and isinstance(rows, tuple) and rows:
        yield line("")
        yield from table_lines(head, rows, room)


def input_lines(desk: Desk, names: tuple[str, ...]) -> Iterator[Line]:
    """Inputs with their values; each can be jumped to."""
    sheet, checklist = desk.judged.assessment.sheet, desk.checklist
    for name in names:
        kind = "working" if name in sheet.workings else "item" if name in checklist.items else ""
        shown = show_value(sheet.value(name), unit_of(name, sheet, checklist))
        if shown.startswith("needs "):
            shown = "not yet"
        label = label_of(name, sheet, checklist)
        yield line(label, "plain", fit(plain(shown), 50), f"{kind}:{name}" if kind else "")


def _used_by(desk: Desk, name: str) -> Iterator[Line]:
    sheet = desk.judged.assessment.sheet
    users = [w.id for w in sheet.workings.values() if name in needs(w)]
    checks = [r for r in desk.judged.assessment.results if _rule_uses(desk, r.check, name)]
    if users or checks:
        yield line("")
        yield line("What would change with it", "head")
    for result in checks:
        text = f"{result_sign(result)} {result.headline}"
        yield line(text, result_look(result), result_word(result), f"check:{result.check}")
    for user in users:
        yield line(label_of(user, sheet, desk.checklist), "plain", key=f"working:{user}")


def _rule_uses(desk: Desk, check: str, name: str) -> bool:
    rule = desk.checklist.check.get(check)
    return rule is not None and name in (rule.value.partition(".")[0], rule.at_most, rule.at_least)


def headline(desk: Desk, name: str) -> str:
    """What a check is called: its fault, or that it was not found."""
    result = next((r for r in desk.judged.assessment.results if r.check == name), None)
    rule = desk.checklist.check.get(name)
    return result.headline if result is not None else rule.title if rule is not None else name


FEW_PARTS = 3
"""A message of fewer parts is one sentence."""


def in_parts(message: str) -> list[str]:
    """The message of a check in its parts, one a line, where it tells of several pairs, rows or readings."""
    parts = message.split("; ")
    return [message] if len(parts) < FEW_PARTS else [f"· {part}" for part in parts]


def check_lines(desk: Desk, name: str) -> Iterator[Line]:
    """A check told in full."""
    result = next((r for r in desk.judged.assessment.results if r.check == name), None)
    rule = desk.checklist.check.get(name)
    if result is None or rule is None:
        yield prose("This check does not apply to this build.")
        return
    yield Line((Piece(f"{result_sign(result)} {result_word(result)}", result_look(result)),))
    if result.outcome != "pass":
        yield from (prose(part, hang=2) for part in in_parts(result.message))
    if result.advice and result.outcome != "pass":
        yield line("")
        yield line("What to do", "head")
        yield prose(result.advice)
    if result.waiver is not None:
        yield line("")
        yield line("Accepted", "head")
        yield prose(f"{result.waiver.by or 'the maker'}: {result.waiver.reason}")
    if rule.severity == "stop":
        yield line("")
        yield prose("A stop can never be accepted" + ("." if rule.ends else ": it has to be mended."), "muted")
    looked = looked_at(rule, desk.build, desk.judged.assessment, desk.checklist, desk.judged.now)
    inputs = [*_check_inputs(desk, rule.value, rule.at_most, rule.at_least, *result.needs, result.item, *looked)]
    yield from inputs
    about = item_about(desk, name)
    if about and not any(entry.key for entry in inputs):
        yield line("")
        yield line("Where it is entered", "head")
        yield from input_lines(desk, (about,))
    if rule.mistakes:
        yield line("")
        yield line("Usual mistakes it catches", "head")
        for number in rule.mistakes:
            yield prose(f"{number}  {desk.checklist.mistakes.get(number, '')}", "muted", 0)


def _check_inputs(desk: Desk, *names: str) -> Iterator[Line]:
    known = desk.judged.assessment.sheet.values
    roots = dict.fromkeys(n.partition(".")[0] for n in names if n)
    found = tuple(n for n in roots if n in known)
    if found:
        yield line("")
        yield line("Compares", "head")
        yield from input_lines(desk, found)
