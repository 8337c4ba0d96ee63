"""Keys in turn: each key is handed on when what the one before it set going has come to an end.

Textual posts a key to whatever has the keyboard when the key arrives. Of a maker who types ahead, or on a slow machine,
keys arrive before a field has opened; they would go to the list behind it and be lost.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable

from textual import events
from textual.app import App
from textual.message_pump import MessagePump

ROUNDS = 4
"""How often the way from the focus to the app is walked: a key, what it submits, what that opens, its first focus."""
PATIENCE_S = 0.5
"""How long a widget that is going away may keep the next key waiting [s]."""


class KeysInTurn(App[int]):
    """An app that hands on one key, or one paste, at a time."""

    def __init__(self) -> None:
        super().__init__()
        self._typed_ahead: deque[events.Event] = deque()
        self._turn: asyncio.Task[None] | None = None
        self._when_quiet: list[Callable[[], None]] = []

    def when_quiet(self, do: Callable[[], None]) -> None:
        """Do something when no key is on its way any more."""
        if self.keys_waiting:
            self._when_quiet.append(do)
        else:
            do()

    @property
    def keys_waiting(self) -> bool:
        """Whether a key is on its way or waits for its turn."""
        return self._turn is not None

    async def on_event(self, event: events.Event) -> None:
        """Keep a key back while another is on its way."""
        if not isinstance(event, (events.Key, events.Paste)) or event.is_forwarded:
            await super().on_event(event)
            return
        self._typed_ahead.extend(as_typed(event))
        if not self.keys_waiting:
            await self._hand_on(self._typed_ahead.popleft())

    async def _hand_on(self, event: events.Event) -> None:
        await super().on_event(event)
        self._turn = asyncio.create_task(self._end_turn())

    async def _end_turn(self) -> None:
        try:
            await self._all_worked_off()
        finally:
            following = self._typed_ahead.popleft() if self._typed_ahead else None
            if following is None or not self.call_later(self._hand_on, following):
                self._turn = None
                waiting, self._when_quiet = self._when_quiet, []
                for do in waiting:
                    self.call_later(do)

    async def _all_worked_off(self) -> None:
        """Wait until what the last key set going has come to an end."""
        for _ in range(ROUNDS):
            if not (self.is_running and self.screen_stack):
                return  # it is being left
            for node in (self.focused or self.screen).ancestors_with_self:
                await _worked_off(node)


def as_typed(event: events.Key | events.Paste) -> list[events.Event]:
    """The keys an event stands for.

    A terminal sends Esc and a letter close behind it as the same bytes as Alt and that letter. No command has
    a key with Alt, so it is always the two.
    """
    if not (isinstance(event, events.Key) and event.key.startswith("alt+") and event.is_printable):
        return [event]
    return [events.Key("escape", "\x1b"), events.Key(event.key.removeprefix("alt+"), event.character)]


class _WorkedOff:
    """Told by a widget that it has dealt with the messages it had.

    By a method, because Textual looks up the parameters of a method once; those of anything else at every call.
    """

    def __init__(self) -> None:
        self.done: asyncio.Future[None] = asyncio.get_running_loop().create_future()

    def tell(self) -> None:
        """The widget is through."""
        if not self.done.done():
            self.done.set_result(None)


async def _worked_off(pump: MessagePump) -> None:
    """Wait until a widget has dealt with the messages it has now."""
    waiting = _WorkedOff()
    if pump.is_running and pump.call_later(waiting.tell):
        patience = asyncio.get_running_loop().call_later(PATIENCE_S, waiting.tell)
        await waiting.done
        patience.cancel()
