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
        self.written: Mapping[Where, str] = dict(desk.session.typed)
        self.wanted: Mapping[Where, str] = self.written
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
        self._before: frozenset[Where] = frozenset()
        """Where something was typed at the last opening."""
        self._homeless = ""
        """What was typed then where nothing can be typed now, in words."""
        self.item = ""
        """The item where something was typed."""

    def begin(self, desk: Desk) -> None:
        """Put what was typed at the last opening back in its place; what has none any more is told and dropped."""
        from buildtrack.bench.typed_places import has_place, item_of, told_all  # loaded with the build

        self._texts = _Texts(desk)
        typed = self._texts.written
        lost = {place: text for place, text in typed.items() if not has_place(place, desk)}
        for place in (p for p in typed if p not in lost):
            desk.drafts.restore(place, typed[place])
        told = "; ".join(told_all(lost, desk))
        self._homeless = f"typed before, and there is no place for it any more: {told}" if lost else ""
        self._before = frozenset(desk.drafts.kept())
        self.item = next((name for p in reversed([*typed]) if p not in lost and (name := item_of(p, desk))), "")

    def notes(self) -> list[str]:
        """What was typed at the last opening and is not taken to this moment; and what has no place any more."""
        from buildtrack.bench.typed_places import told_all  # loaded with the build

        found = [self._homeless] if self._homeless else []
        desk = self._texts.desk if self._texts is not None else None
        still = {p: t for p, t in desk.drafts.kept().items() if p in self._before} if desk is not None else {}
        if desk is not None and still:
            told = told_all(still, desk)
            more = f" (and {len(told) - 1} more)" if len(told) > 1 else ""
            found.append(f"typed before and not taken yet: {told[-1]}{more}")
        return found

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
