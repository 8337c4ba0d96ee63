"""A stylesheet that parses each source once.

Textual parses every source anew whenever a screen with styles of its own is entered, though only another look changes
what the sources mean.
"""

from __future__ import annotations

from textual.cache import LRUCache
from textual.css.stylesheet import Stylesheet

SOURCES = 256
"""So many parsed sources are kept; every class of widgets and every screen has one."""


class ParsedOnce(Stylesheet):
    """What was parsed stays until the variables change."""

    def __init__(self, *, variables: dict[str, str] | None = None) -> None:
        super().__init__(variables=variables)
        self._parse_cache = LRUCache(SOURCES)

    def set_variables(self, variables: dict[str, str]) -> None:
        """Take the variables of a look; nothing is parsed anew where they are those there were."""
        if variables != self._variables:
            super().set_variables(variables)

    def reparse(self) -> None:
        """Put the rules of all sources together; what was not parsed yet is."""
        self.parse()
