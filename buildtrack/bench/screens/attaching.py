"""Attaching at the bench and from a followed log: no log is put over another one unless that is said."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from buildtrack.bench.attach import attached_reading, replaced, replacing_text, same_log
from buildtrack.bench.marks import LOG
from buildtrack.bench.marks_log import Log, head_of, others_text
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.ask import ASK_CSS, AskOne
from buildtrack.bench.screens.place import Place
from buildtrack.model.build import Reading
from buildtrack.model.checklist import Item

if TYPE_CHECKING:
    from buildtrack.bench.desk import Desk
    from buildtrack.bench.screens.bench_entry import BenchEntry


def ask_replaced(
    place: Place, item: Item, made: Reading, take: Callable[[], None], leave: Callable[[str], None]
) -> None:
    """Take a log at once where no other one stands; else where that is said.

    leave: called with the sentence that says what stays, where it is not to be replaced.
    """
    before = replaced(place.desk.build, item, made)
    if before is None:
        take()
        return
    stays = plain(before.text)

    def answered(answer: str | None) -> None:
        if answer == "yes":
            take()
        else:
            leave(f"{stays} stays the log.")

    choices = [("no", f"keep {stays}"), ("yes", f"attach {plain(made.text)} in its place")]
    title = f"{plain(item.label)}: there is one already"
    place.app.push_screen(AskOne(title, choices, replacing_text(before, made)), answered)


class AskYes(ModalScreen[str | None]):
    """A question that takes nothing but a plain y; Esc, like n, leaves without it, and no digit means anything."""

    CSS = ASK_CSS.replace("AskOne", "AskYes")
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y", "answer('yes')", "yes", show=False), Binding("n,escape", "answer('no')", "no", show=False),
    ]  # fmt: skip

    def __init__(self, title: str, yes: str, no: str, more: str = "") -> None:
        super().__init__()
        self.title_text, self.yes, self.no, self.more = title, yes, no, more

    def compose(self) -> ComposeResult:
        """Title, more, and what each key does."""
        with Vertical():
            yield Static(plain(self.title_text), markup=False, classes="ask-title")
            if self.more:
                yield Static(plain(self.more), markup=False, classes="ask-more")
            keys = f"y: {plain(self.yes)}\nn or Esc: {plain(self.no)}"
            yield Static(keys, markup=False, classes="ask-keys")

    def action_answer(self, answer: str) -> None:
        """Close with it."""
        self.dismiss(answer)


def ask_at_the_end(
    place: Place, item: Item, file: str, growing: bool, answered: Callable[[str | None], None]
) -> None:
    """Ask, on leaving, whether a followed file becomes the log of the test; only a plain y attaches it."""
    name, standing = plain(file), place.desk.build.entry(item.id).standing
    more = f"{name} is still growing: what is written later would not be in the record. " if growing else ""
    yes, no = f"attach {name}, then leave", "leave without attaching; f attaches it later"
    if standing:
        stays = plain(standing[-1].text)
        more += f"{stays} is attached already. Replaced, it stays in the build file and its history."
        yes, no = f"attach {name} in place of {stays}, then leave", f"leave; {stays} stays the log"
    place.app.push_screen(AskYes(f"You are leaving. Attach {name} as the log of the test?", yes, no, more), answered)


def enter_file(bench: BenchEntry, item: Item, text: str) -> None:
    """Attach a photo or log by its name, as typed in the field of the bench."""
    if refused := bench.desk.refusal(item):
        bench.card.tell(refused)
        return
    made = attached_reading(bench.desk.session.path, text, bench.desk.hand().at, item.kind)
    if isinstance(made, str):
        bench.keep_draft(item.id, text)
        bench.card.tell(made)
    elif _is_attached(bench, item, made):
        bench.back_to_list(item)
        bench.card.tell(attached_text(made), "fine")
    else:
        bench.keep_draft(item.id, text)
        ask_replaced(bench, item, made, partial(_put, bench, item, made), partial(_wait, bench))


def _put(bench: BenchEntry, item: Item, made: Reading) -> None:
    """Attach it; where marks of the test are of another log, that is said."""
    bench.put(item, made)
    path = bench.desk.folder / made.text
    if item.id == LOG and (told := others_text(bench.desk.build, Log(path.name, head_of(path)))):
        bench.say(told, "bad")


def _is_attached(bench: BenchEntry, item: Item, made: Reading) -> bool:
    """Whether this log counts already, and nobody means to confirm it anew."""
    return bench.editing != item.id and attached_already(bench.desk, item, made)


def attached_already(desk: Desk, item: Item, made: Reading) -> bool:
    """Whether this log counts already, and need not be confirmed anew."""
    standing = desk.build.entry(item.id).standing
    again = desk.item_state(item.id).state in ("stale", "expired")
    return item.kind == "file" and not again and bool(standing) and same_log(made, standing[-1])


def attached_text(made: Reading) -> str:
    """What is said then."""
    return f"{plain(made.text)} is attached already, with the same content."


def _wait(bench: BenchEntry, stays: str) -> None:
    """The name that was typed waits in the field."""
    bench.card.tell(f"{stays} Esc drops the name typed here.", "fine")
    bench.set_focus(bench.card.field)
