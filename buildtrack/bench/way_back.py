"""The way back to the review, for who came to an item from there: it lasts until other work goes on."""

from __future__ import annotations

from dataclasses import dataclass

from buildtrack.model.build import Build, Entry


@dataclass(frozen=True, slots=True)
class WayBack:
    """An item that a line of the review led to, and the build as it was then."""

    item: str
    build: Build

    def holds(self, build: Build) -> bool:
        """Whether nothing was entered since but at the item itself: looking at others is no other work."""
        same = {self.item: Entry()}
        return {**self.build.entries, **same} == {**build.entries, **same}
