"""A build file that cannot be read, and of which copies are kept: they are offered where it was opened."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from buildtrack.bench.plain import plain

if TYPE_CHECKING:
    from buildtrack.bench.app import BuildtrackApp

MOST = 20
"""So many copies are offered; the command lists all."""


def offer_copies(program: BuildtrackApp, path: Path, sentence: str) -> None:
    """Ask which of the copies kept is to be opened, where that is why the file was refused; nothing is marked."""
    from buildtrack.bench.screens.ask import AskOne
    from buildtrack.storage.kept_copies import about_copies, copies_of, put_beside
    from buildtrack.storage.places import state_folder

    if "buildtrack restore" not in sentence:
        return
    found = copies_of(path, state_folder())

    def chosen(answer: str | None) -> None:
        if not answer:
            program.place_say(sentence, "bad")
            return
        try:
            made = put_beside(path, found[int(answer)])
        except (ValueError, OSError) as error:
            program.place_say(str(error), "bad")
            return
        begun = f"This is a copy of {found[int(answer)].told}. {path.name} stays as it is."
        program.open_build(made, begun=begun)

    if found:
        choices = [(str(n), f"the copy of {copy.told}") for n, copy in enumerate(found[:MOST])]
        why = sentence.removesuffix(f". {about_copies(path, state_folder())}").removeprefix(f"{path}: ")
        more = f"{why}.\nA copy is written beside as a file of its own and opened. The damaged file stays as it is."
        program.push_screen(AskOne(f"{plain(path.name)} cannot be read", choices, more, firm=True), chosen)
