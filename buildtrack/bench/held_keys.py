"""Keys pressed while a build is being opened wait for it: nothing on the screen then is what they were meant for."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from textual import events
from textual.app import App

from buildtrack.bench import commands
from buildtrack.bench.commands import Situation

if TYPE_CHECKING:
    from buildtrack.bench.app import BuildtrackApp

AT_ONCE = frozenset({"ctrl+q", "ctrl+c"})
"""Keys that are never kept back: they leave the program."""
WITHOUT_A_BUILD = ("shelf", "welcome")
"""Commands that need no build."""
MOST_LOOKS = 100
"""How often it is looked whether a place stands, before the keys that wait are handed on all the same."""

Held = list[events.Key | events.Paste]


class HeldKeys(App[int]):
    """An app that can keep keys and pastes back, and give them out in their order."""

    def __init__(self) -> None:
        super().__init__()
        self._held: Held | None = None

    def hold_keys(self) -> None:
        """Keep keys back from now on."""
        self._held = self._held if self._held is not None else []

    def held_keys(self) -> Held:
        """Hold no more; returns what was kept back."""
        held, self._held = self._held, None
        return held or []

    @property
    def holds_keys(self) -> bool:
        """Whether keys are kept back."""
        return self._held is not None

    async def on_event(self, event: events.Event) -> None:
        """Keep a key back where that is asked for."""
        kept = isinstance(event, (events.Key, events.Paste)) and not event.is_forwarded
        if self._held is None or not kept or isinstance(event, events.Key) and event.key in AT_ONCE:
            await super().on_event(event)
        elif isinstance(event, (events.Key, events.Paste)):
            self._held.append(event)


class KeysForBuild:
    """The keys that wait for the build which is being opened."""

    def __init__(self, program: BuildtrackApp) -> None:
        self._program = program
        self._opening: Path | None = None
        """The build file that is being opened."""
        self._refused = ""
        """Why it cannot be, until the keys that waited for it are dealt with."""

    def begin(self, path: Path) -> None:
        """From now on keys wait for this build."""
        self._opening = path
        self._program.hold_keys()

    def ended(self, path: Path, refused: str) -> None:
        """A build was opened, or cannot be."""
        self._refused = refused
        self._opening = None if path == self._opening else self._opening

    def give_out(self, looks: int = 0) -> None:
        """Do what was pressed, once the build stands and no key is on its way."""
        program = self._program
        if self._opening is not None:
            return  # another one is opened meanwhile: what waits, waits for that
        if looks < MOST_LOOKS and not getattr(program.screen, "stands", False):
            program.call_after_refresh(self.give_out, looks + 1)
        else:
            program.when_quiet(partial(program.call_later, self._hand_on))

    async def _hand_on(self) -> None:
        held = self._program.held_keys()
        if self._refused:
            held = self._without_a_build(held)
        for event in held:
            await self._program.on_event(event)

    def _without_a_build(self, held: Held) -> Held:
        """Of what was pressed for a build that cannot be opened, what needs none; the text that goes is said."""
        from buildtrack.units import clip  # loaded with the build

        if text := typed_text(held):
            told = f"{self._refused.rstrip('.')}. What was typed meanwhile was not used: {clip(text)}"
            self._program.place_say(told, "bad")
        self._refused = ""
        return ways_on(held, self._program.around.keymap)


def ways_on(held: Held, keymap: Mapping[str, str]) -> Held:
    """Of the keys kept back those that go to a place which needs no build."""
    around = Situation(place="bench", has_file=False)
    return [e for e in held if isinstance(e, events.Key)
            and (c := commands.of_key(e.key, "bench", around, keymap)) is not None and c.id in WITHOUT_A_BUILD]


def typed_text(held: Held) -> str:
    """What of it is text."""
    texts = (e.text if isinstance(e, events.Paste) else (e.character or "") if e.is_printable else " " for e in held)
    return " ".join("".join(texts).split())
