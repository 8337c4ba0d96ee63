"""What can be wrong with a log: errors that stop the reading, and named warnings that do not."""

from __future__ import annotations

from dataclasses import dataclass

MOST_KEPT = 20
LONGEST = 300
"""So much of a file's own text is repeated in a message [characters]."""


def plain(text: str, most: int = LONGEST) -> str:
    """Text from a log made fit to stand in one line: what cannot be printed as a dot, not too long."""
    shown = "".join(c if c.isprintable() else "·" for c in text[:most])
    return shown if len(text) <= most else shown[:-1] + "…"


class LogError(ValueError):
    """The log cannot be read: says the file, the line and what would be right."""

    def __init__(self, file: str, line: int, what: str, right: str) -> None:
        self.file, self.line, self.what, self.right = plain(file), line, plain(what), plain(right)
        place = f"{self.file}, line {line}" if line else self.file
        super().__init__(f"{place}: {self.what}; {self.right}")


class LogCancelled(Exception):
    """The reading was stopped on request."""


@dataclass(frozen=True, slots=True)
class LogWarning:
    """A named oddity of the log with its line and how it was treated."""

    name: str
    line: int
    text: str


class Warnings:
    """Collects warnings: the first 20 of every name are kept, all are counted."""

    def __init__(self) -> None:
        self.kept: list[LogWarning] = []
        self.counts: dict[str, int] = {}

    def add(self, name: str, line: int, text: str) -> None:
        """Note one oddity."""
        count = self.counts.get(name, 0) + 1
        self.counts[name] = count
        if count <= MOST_KEPT:
            self.kept.append(LogWarning(name, line, plain(text)))
