"""Keys in turn: each key is handed on when what the one before it set going has come to an end.

Textual posts a key to whatever has the keyboard when the key arrives. Of a maker who types ahead, or on a slow machine,
keys arrive before a field has opened; they would go to the list behind it and be lost.

A key is one frame. Left to itself Textual draws when the first widget of several has changed, and what changes after
that waits for a clock of 1/60 s, of which it skips a beat: 17 to 33 ms (`Timer._run`, Textual 8.2).
"""

from __future__ import annotations

import asyncio
import gc
import math
from collections import deque
from collections.abc import Callable
from typing import Any

from rich.console import RenderableType
from textual import events
from textual.app import App
from textual.message_pump import MessagePump
from textual.screen import Screen

ROUNDS = 4
"""How often it is looked for more: a key, what it submits, what that opens, its first focus."""
GARBAGE_AFTER = 20_000
"""So many new objects before Python looks for garbage by itself; by its own 700 it does so amid most keys."""
OLD_GARBAGE = 50
"""After so many keys older objects are looked through as well; that takes 5 ms."""
PATIENCE_S = 0.5
"""How long a widget that is going away may keep the next key waiting [s]."""


class KeysInTurn(App[int]):
    """An app that hands on one key, or one paste, at a time."""

    def __init__(self) -> None:
        super().__init__()
        self._typed_ahead: deque[events.Event] = deque()
        self._turn: asyncio.Task[None] | None = None
        self._when_quiet: list[Callable[[], object]] = []
        self._before_frame: dict[Callable[[], object], None] = {}
        self._when_drawn: list[Callable[[], object]] = []
        self._dropped = False
        self._keys_since = 0
        self.acted_at = math.inf
        """When the key, paste or click that is dealt with was made; later than everything before the first one [s]."""
        gc.set_threshold(GARBAGE_AFTER, *gc.get_threshold()[1:])

    def before_frame(self, do: Callable[[], object]) -> None:
        """Do something once before what the key on its way has changed is drawn, however often it is asked for."""
        if self.keys_waiting:
            self._before_frame[do] = None
        else:
            do()

    def when_drawn(self, do: Callable[[], object]) -> None:
        """Do something when what the key on its way has changed is seen; it may take its time."""
        if self.keys_waiting:
            self._when_drawn.append(do)
        else:
            self.call_after_refresh(do)

    def when_quiet(self, do: Callable[[], object]) -> None:
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
        if isinstance(event, events.MouseDown):
            self.acted_at = event.time
        if not isinstance(event, (events.Key, events.Paste)) or event.is_forwarded:
            await super().on_event(event)
            return
        self._typed_ahead.extend(as_typed(event))
        if not self.keys_waiting:
            await self._hand_on(self._typed_ahead.popleft())

    async def _hand_on(self, event: events.Event) -> None:
        self.acted_at = event.time
        await super().on_event(event)
        self._turn = asyncio.create_task(self._end_turn())

    async def _end_turn(self) -> None:
        try:
            with self.batch_update():
                await self._all_worked_off()
                for _ in range(ROUNDS):
                    asked, self._before_frame = self._before_frame, {}
                    for do in asked:
                        do()
                    await self._queues_empty(everywhere=True)
                    if not self._before_frame:
                        break  # else what one of them set going asked for another
            self._draw()
        except Exception as error:
            self._handle_exception(error)
        finally:
            drawn, self._when_drawn = self._when_drawn, []
            for do in drawn:
                self.call_later(do)
            following = self._typed_ahead.popleft() if self._typed_ahead else None
            if following is None or not self.call_later(self._hand_on, following):
                self._turn = None
                waiting, self._when_quiet = self._when_quiet, []
                for do in (*waiting, self._look_for_garbage):
                    self.call_later(do)

    def _look_for_garbage(self) -> None:
        """What a key leaves behind is looked for when it is seen."""
        self._keys_since = (self._keys_since + 1) % OLD_GARBAGE
        gc.collect(1 if self._keys_since else 2)

    def _draw(self) -> None:
        """Draw what has changed now, not at the next beat of Textual's clock."""
        if not self._is_there():
            return
        if self._dropped:
            self._dropped = False
            self.screen.refresh()
        self.screen._on_timer_update()

    def _display(self, screen: Screen[Any], renderable: RenderableType | None) -> None:
        """A screen that is shown for the first time draws itself; Textual drops that while a key is on its way."""
        self._dropped = self._dropped or bool(self._batch_count) and renderable is not None
        super()._display(screen, renderable)

    def _is_there(self) -> bool:
        return self.is_running and bool(self.screen_stack)

    async def _all_worked_off(self) -> None:
        """Wait until what the last key set going has come to an end."""
        for _ in range(ROUNDS):
            await self._queues_empty()
            if not self._is_there():
                return  # it is being left
            for pump in (self.focused or self.screen, self.screen, self):
                await _worked_off(pump)  # also what it waits for in the middle of a message
            if not self._has_message():
                return

    async def _queues_empty(self, everywhere: bool = False) -> None:
        """Wait until no widget on the way from the keyboard to the app, or none on the screen, has a message left."""
        loop = asyncio.get_running_loop()
        patient_until = loop.time() + PATIENCE_S
        while self._is_there() and self._has_message(everywhere) and loop.time() < patient_until:
            await asyncio.sleep(0)

    def _has_message(self, everywhere: bool = False) -> bool:
        """Whether a widget on the way, or any on the screen, has a message left."""
        screen = self.screen
        nodes = screen.walk_children(with_self=True) if everywhere else (self.focused or screen).ancestors_with_self
        return bool(self.message_queue_size) or any(node.message_queue_size for node in nodes)


def as_typed(event: events.Key | events.Paste) -> list[events.Event]:
    """The keys an event stands for.

    A terminal sends Esc and a letter close behind it as the same bytes as Alt and that letter. No command has
    a key with Alt, so it is always the two.
    """
    if not (isinstance(event, events.Key) and event.key.startswith("alt+") and event.is_printable):
        return [event]
    letter = events.Key(event.key.removeprefix("alt+"), event.character)
    keys: list[events.Event] = [events.Key("escape", "\x1b"), letter]
    for key in keys:
        key.time = event.time
    return keys


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
    if pump.is_running and pump.post_message(events.Callback(callback=waiting.tell)):
        patience = asyncio.get_running_loop().call_later(PATIENCE_S, waiting.tell)
        await waiting.done
        patience.cancel()
