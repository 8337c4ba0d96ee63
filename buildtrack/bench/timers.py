"""Count-downs by the clock that was passed in: a timer is only the moment at which it ends."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta


@dataclass(frozen=True, slots=True)
class CountDownTimer:
    """One running count-down."""

    name: str
    ends: datetime
    repeat_s: float = 0.0
    """Begins anew after so many seconds; 0 for once."""


class Timers:
    """The count-downs of a session."""

    def __init__(self, clock: Callable[[], datetime]) -> None:
        self._clock = clock
        self.running: tuple[CountDownTimer, ...] = ()

    def start(self, name: str, seconds: float, repeat: bool = False) -> None:
        """Start a count-down; one of the same name begins anew."""
        self.stop(name)
        ends = self._clock() + timedelta(seconds=seconds)
        self.running = (*self.running, CountDownTimer(name, ends, seconds if repeat else 0.0))

    def stop(self, name: str) -> None:
        """Stop a count-down."""
        self.running = tuple(t for t in self.running if t.name != name)

    def nearest(self, but: str = "") -> CountDownTimer | None:
        """The count-down that ends first, but for the one of that name; None where none runs."""
        return min((t for t in self.running if t.name != but), key=lambda t: t.ends, default=None)

    def left_s(self, timer: CountDownTimer) -> float:
        """Seconds that are left; never below 0."""
        return max(0.0, (timer.ends - self._clock()).total_seconds())

    def rang(self) -> list[str]:
        """Names of the count-downs that ended since the last look; repeating ones begin anew from their own end."""
        now = self._clock()
        ended = [t for t in self.running if t.ends <= now]
        kept = [t for t in self.running if t.ends > now]
        for timer in ended:
            if timer.repeat_s > 0:
                passed = (now - timer.ends).total_seconds() // timer.repeat_s + 1
                kept.append(replace(timer, ends=timer.ends + timedelta(seconds=passed * timer.repeat_s)))
        self.running = tuple(kept)
        return [t.name for t in ended]


def clock_text(seconds: float) -> str:
    """Seconds for people: 0:07, 12:30, 3 h 05 min, 11 d 4 h."""
    whole = int(seconds + 0.999)
    if whole >= 86400:
        return f"{whole // 86400} d {whole % 86400 // 3600} h"
    if whole >= 3600:
        return f"{whole // 3600} h {whole % 3600 // 60:02d} min"
    return f"{whole // 60}:{whole % 60:02d}"
