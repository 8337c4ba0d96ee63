"""What is typed and not taken yet goes to the disk a moment after the key, beside the build file, never into it."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from typing import TYPE_CHECKING

from textual.timer import Timer

from buildtrack.bench.plain import plain

if TYPE_CHECKING:
    from buildtrack.bench.app import BuildtrackApp
    from buildtrack.bench.desk import Desk
    from buildtrack.bench.drafts import Place as Where


class TypedKeeper:
    """Keeps the typed texts of the open build for its next opening."""

    def __init__(self, program: BuildtrackApp) -> None:
        self.program = program
        self._timer: Timer | None = None
        self._one = threading.Lock()
        """One thread writes at a time."""
        self._wanted: Mapping[Where, str] = {}
        """What is to be on the disk: whichever thread writes last writes this."""
        self.told = ""
        """What was typed at the last opening, in words."""
        self.item = ""
        """The item where that was typed."""

    def begin(self, desk: Desk) -> None:
        """Put what was typed at the last opening back in its place."""
        from buildtrack.bench.words import typed_texts  # loaded with the build, after the first frame

        self._wanted = dict(desk.session.typed)
        for place, text in self._wanted.items():
            desk.drafts.restore(place, text)
        told = typed_texts(desk)
        more = f" (and {len(told) - 1} more)" if len(told) > 1 else ""
        self.told = f"typed before and not taken yet: {told[-1]}{more}" if told else ""
        self.item = next((p[0] for p in reversed(self._wanted) if p[0] in desk.checklist.items), "")

    @property
    def waits(self) -> bool:
        """Whether what is typed is about to be kept."""
        return self._timer is not None

    def key_came(self) -> None:
        """Something was typed: keep it in a moment."""
        if self._timer is None and self.program.desk is not None:
            self._timer = self.program.set_timer(self.program.around.typed_after_s, self._keep)

    def _keep(self) -> None:
        self._timer = None
        desk = self.program.desk
        if desk is None or not self._is_news(self.program.texts_typed()):
            return
        self.program.run_worker(lambda: self._write(desk), thread=True, group="typed", exit_on_error=True)

    def _is_news(self, texts: Mapping[Where, str]) -> bool:
        news = texts != self._wanted
        self._wanted = texts
        return news

    def _write(self, desk: Desk) -> None:
        with self._one:
            failed = desk.session.keep_typed(self._wanted)
        if failed:
            self.program.call_later(self.program.place_say, plain(failed), "bad")

    def end(self, desk: Desk, wanted: bool) -> None:
        """The build is being closed: keep what is typed, or forget it where the person said so."""
        if self._timer is not None:
            self._timer.stop()
            self._timer = None
        if self._is_news(self.program.texts_typed() if wanted else {}):
            self._write(desk)
        self._wanted = {}
