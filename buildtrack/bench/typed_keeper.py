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


class _Texts:
    """The typed texts of one build: as they are to be on the disk, and as they are there."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.wanted: Mapping[Where, str] = dict(desk.session.typed)
        self.written = self.wanted
        self._one = threading.Lock()
        """One thread writes at a time."""

    @property
    def differ(self) -> bool:
        """Whether the disk has something else than it should."""
        return self.wanted != self.written

    def write(self) -> str:
        """Write what is wanted by now, where the disk does not have it; returns why that failed, or nothing."""
        with self._one:
            texts = self.wanted
            if texts == self.written:
                return ""
            failed = self.desk.session.keep_typed(texts)
            if not failed:
                self.written = texts
            return failed


class TypedKeeper:
    """Keeps the typed texts of the open build for its next opening."""

    def __init__(self, program: BuildtrackApp) -> None:
        self.program = program
        self._timer: Timer | None = None
        self._texts: _Texts | None = None
        """Those of the open build; a thread that comes late still writes those it was begun for."""
        self.told = ""
        """What was typed at the last opening, in words."""
        self.item = ""
        """The item where that was typed."""

    def begin(self, desk: Desk) -> None:
        """Put what was typed at the last opening back in its place."""
        from buildtrack.bench.words import typed_texts  # loaded with the build, after the first frame

        self._texts = _Texts(desk)
        typed = self._texts.written
        for place, text in typed.items():
            desk.drafts.restore(place, text)
        told = typed_texts(desk)
        more = f" (and {len(told) - 1} more)" if len(told) > 1 else ""
        self.told = f"typed before and not taken yet: {told[-1]}{more}" if told else ""
        self.item = next((p[0] for p in reversed(typed) if p[0] in desk.checklist.items), "")

    @property
    def waits(self) -> bool:
        """Whether what is typed is about to be kept."""
        return self._timer is not None

    @property
    def is_done(self) -> bool:
        """Whether all that is typed is on the disk."""
        return self._texts is not None and self.program.texts_typed() == self._texts.written

    def key_came(self) -> None:
        """Something was typed: keep it in a moment."""
        if self._timer is None and self._texts is not None:
            self._timer = self.program.set_timer(self.program.around.typed_after_s, self._keep)

    def _keep(self) -> None:
        self._timer = None
        texts = self._texts
        if texts is None:
            return
        texts.wanted = self.program.texts_typed()
        if texts.differ:
            self.program.run_worker(lambda: self._write(texts), thread=True, group="typed", exit_on_error=True)

    def _write(self, texts: _Texts) -> None:
        if failed := texts.write():
            self.program.call_later(self.program.place_say, plain(failed), "bad")

    def end(self, wanted: bool) -> None:
        """The build is being closed: keep what is typed, or forget it where the person said so."""
        if self._timer is not None:
            self._timer.stop()
            self._timer = None
        texts, self._texts = self._texts, None
        if texts is not None:
            texts.wanted = self.program.texts_typed() if wanted else {}
            self._write(texts)
