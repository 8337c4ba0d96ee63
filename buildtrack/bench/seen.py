"""Since when something is on the screen, by the clock of the keys: what was pressed before is no answer to it."""

from __future__ import annotations

import math
from functools import partial

from textual._time import get_time

from buildtrack.bench.turns import KeysInTurn


class Seen:
    """What is shown, and when the frame with it was drawn."""

    def __init__(self) -> None:
        self._what: object = None
        self._since = math.inf
        """By the clock of `events.Key.time` [s]."""

    def show(self, what: object, program: KeysInTurn) -> None:
        """This is shown from the next frame on; nothing changes where it is already."""
        if what != self._what:
            self._what, self._since = what, math.inf
            program.when_drawn(partial(self._drawn, what))

    def _drawn(self, what: object) -> None:
        if what == self._what and self._since == math.inf:
            self._since = get_time()

    def pressed_before(self, what: object, program: KeysInTurn) -> bool:
        """Whether the key, paste or click that is dealt with was made before this was seen."""
        return what != self._what or program.acted_at <= self._since
