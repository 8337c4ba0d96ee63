"""Typed text that is no answer yet: kept where it was typed, and brought back where it was dropped. Knows no screen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from buildtrack.storage.typed_file import QUESTION

if TYPE_CHECKING:
    from buildtrack.model.build import Build

Place = tuple[str, ...]
"""Where something is typed: an item; an item and the answer it corrects; an item, a row and a column; or a question.

The place of a question is QUESTION, what it asks, and what it is about: an item, a row and a column of its table, a
check, a limit, or the build. A question about none of them is not kept for the next opening: it may never come again.
"""
THE_BUILD = ("",)
"""What a question about the build itself is about."""


@dataclass(frozen=True, slots=True)
class Dropped:
    """A text that was left with Esc."""

    place: Place
    text: str
    build: Build
    """The build as it stood then."""
    corrects: str = ""
    """The answer that it was to correct."""


class Drafts:
    """What was typed and is not taken yet."""

    def __init__(self) -> None:
        self._kept: dict[Place, str] = {}
        self._corrects: dict[Place, str] = {}
        """The answers that are being corrected, by where the text is typed."""
        self._dropped: list[Dropped] = []
        self._overtaken: list[Dropped] = []
        """Texts brought back whose field took the one dropped before them."""

    def of(self, place: Place) -> str:
        """The text kept for a place; empty where there is none."""
        return self._kept.get(place, "")

    def corrects(self, place: Place) -> str:
        """The answer that the text kept for a place is to correct; empty where it is an answer of its own."""
        return self._corrects.get(place, "")

    def kept(self) -> dict[Place, str]:
        """Every text that is kept, by where it was typed; a correction also by the answer it corrects."""
        return {self._whole(place): text for place, text in self._kept.items()}

    def _whole(self, place: Place) -> Place:
        return (*place, self._corrects[place]) if place in self._corrects else place

    def keep(self, place: Place, text: str, corrects: str = "") -> None:
        """Keep a text for a place; an empty one takes what was kept away. corrects: the answer it is to correct."""
        self._corrects.pop(place, None)
        if text:
            self._kept[place] = text
        else:
            self._kept.pop(place, None)
        if text and corrects:
            self._corrects[place] = corrects

    def restore(self, place: Place, text: str) -> None:
        """Keep a text of the last opening, by its place as `kept` names it."""
        if len(place) == 2 and place[0] != QUESTION:
            self.keep(place[:1], text, place[1])
        else:
            self.keep(place, text)

    def drop(self, place: Place, text: str, build: Build, corrects: str = "") -> None:
        """A text is not wanted; until the next edit it can be brought back."""
        self.keep(place, "")
        if text:
            self._dropped.append(Dropped(place, text, build, corrects))

    @property
    def last_dropped(self) -> Dropped | None:
        """The text dropped last."""
        return self._dropped[-1] if self._dropped else None

    def can_pick_up(self, build: Build) -> bool:
        """Whether the last thing done was to drop a text."""
        return bool(self._dropped) and self._dropped[-1].build is build

    def rebind(self, build: Build) -> None:
        """The text dropped last can be brought back in this build: it is as it was but for the row typed into."""
        self._dropped[-1] = replace(self._dropped[-1], build=build)

    def pick_up(self, build: Build) -> Dropped | None:
        """Bring the text back that was dropped last, where nothing was entered since."""
        if not self.can_pick_up(build):
            return None
        found = self._dropped.pop()
        before = self._standing(found.place, build)
        if before.text:
            self._overtaken.append(before)
        self.keep(found.place, found.text, found.corrects)
        return found

    def can_pick_again(self, build: Build) -> bool:
        """Whether the last thing done was to bring a text back in place of another one that had been."""
        return bool(self._overtaken) and self._overtaken[-1].build is build

    def pick_again(self, build: Build, item: str = "") -> Dropped | None:
        """The way back from `pick_up`: the text it took the place of; what stands can be picked up once more.

        item: where it must have been typed; empty for anywhere.
        """
        if not self.can_pick_again(build) or item and self._overtaken[-1].place[0] != item:
            return None
        found = self._overtaken.pop()
        self._dropped.append(self._standing(found.place, build))
        self.keep(found.place, found.text, found.corrects)
        return found

    def _standing(self, place: Place, build: Build) -> Dropped:
        return Dropped(place, self.of(place), build, self.corrects(place))
