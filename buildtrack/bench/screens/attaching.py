"""Attaching at the bench and from a followed log: no log is put over another one unless that is said."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from buildtrack.bench.attach import attached_reading, replaced, replacing_text, same_log
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.ask import AskOne
from buildtrack.bench.screens.place import Place
from buildtrack.model.build import Reading
from buildtrack.model.checklist import Item

if TYPE_CHECKING:
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


def ask_at_the_end(place: Place, item: Item, file: str, answered: Callable[[str | None], None]) -> None:
    """Ask whether a followed file becomes the log of the test; where another one is it, that one stays by itself."""
    name, standing = plain(file), place.desk.build.entry(item.id).standing
    choices = [("yes", "attach it, and go back"), ("no", "go back; f attaches it later")]
    more = ""
    if standing:
        stays = plain(standing[-1].text)
        choices = [("no", f"go back; {stays} stays the log"), ("yes", f"attach {name} in its place, and go back")]
        more = f"{stays} is attached already. Replaced, it stays in the build file and its history."
    place.app.push_screen(AskOne(f"Attach {name} as the log of the test?", choices, more), answered)


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
        bench.card.tell(f"{plain(made.text)} is attached already, with the same content.", "fine")
    else:
        bench.keep_draft(item.id, text)
        ask_replaced(bench, item, made, partial(bench.put, item, made), partial(_wait, bench))


def _is_attached(bench: BenchEntry, item: Item, made: Reading) -> bool:
    """Whether this log counts already, and nobody means to confirm it anew."""
    standing = bench.desk.build.entry(item.id).standing
    again = bench.editing == item.id or bench.desk.item_state(item.id).state in ("stale", "expired")
    return item.kind == "file" and not again and bool(standing) and same_log(made, standing[-1])


def _wait(bench: BenchEntry, stays: str) -> None:
    """The name that was typed waits in the field."""
    bench.card.tell(f"{stays} Esc drops the name typed here.", "fine")
    bench.set_focus(bench.card.field)
