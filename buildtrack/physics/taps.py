"""What is wrong with the balance taps, told from the readings of B0..BS against B0.

Each fault predicts which steps between neighbouring taps are one group, two groups, none or backwards.
Every single fault is tried; the diagnosis is the one that explains all readings, or "cannot tell" with the candidates.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

MOST_GROUPS = 20


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Kind of finding, the taps or groups it concerns, a sentence, the steps read, and other findings that would fit.

    Kinds: right, swapped, connector reversed, missing, reversed group, doubled step, no step, group off, cannot tell.
    Positions are tap numbers (0..S) for swapped and missing, group numbers (1..S) for the others.
    """

    kind: str
    positions: tuple[int, ...]
    sentence: str
    steps_v: tuple[float | None, ...]
    alternatives: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Window:
    low_v: float
    high_v: float
    gain: float
    offset_v: float

    def holds(self, step_v: float, groups: int = 1) -> bool:
        """True when the step can be `groups` groups in series, with the meter's uncertainty."""
        slack = self.gain * abs(step_v) + 2 * self.offset_v
        low, high = sorted((self.low_v * groups, self.high_v * groups))
        return low - slack <= step_v <= high + slack

    def zero(self, step_v: float) -> bool:
        """True when the step cannot be told from nothing."""
        return abs(step_v) <= max(self.gain * abs(step_v) + 2 * self.offset_v, 0.02 * self.low_v)


def diagnose_taps(
    readings_v: Sequence[float | None],
    low_v: float,
    high_v: float,
    *,
    gain: float = 0.005,
    offset_v: float = 0.003,
) -> Diagnosis:
    """Tell from S+1 tap readings against B0 whether the taps are right, and which single fault explains them.

    A step is b_k - b_(k-1); one group lies in [low_v, high_v]. Meter: share of reading `gain`, plus `offset_v` per
    reading; the same meter reads all, so a step carries gain * |step| + 2 * offset. None is a reading not taken.
    Range: 1 to 20 groups. Source: Kirchhoff's voltage law; own enumeration of single faults.
    """
    groups = len(readings_v) - 1
    if not 1 <= groups <= MOST_GROUPS:
        raise ValueError(f"{groups + 1} readings; B0 to BS for 1 to {MOST_GROUPS} groups are needed")
    if not 0 < low_v <= high_v:
        raise ValueError(f"group window {low_v} to {high_v} V; low must be above zero and not above high")
    window = _Window(low_v, high_v, gain, offset_v)
    steps = _steps(readings_v)
    if 2 * offset_v + gain * high_v >= low_v / 2:
        return Diagnosis("cannot tell", (), "cannot tell: the meter is too coarse for one group", steps)
    if all(step is not None and window.holds(step) for step in steps):
        return Diagnosis("right", (), f"right: {groups} steps of one group each", steps)
    findings = list(_findings(readings_v, steps, window))
    if len(findings) == 1:
        kind, positions, sentence = findings[0]
        return Diagnosis(kind, positions, sentence, steps)
    return _undecided(findings, steps, window)


def _undecided(
    findings: list[tuple[str, tuple[int, ...], str]], steps: tuple[float | None, ...], window: _Window
) -> Diagnosis:
    if findings:
        texts = tuple(sentence for _, _, sentence in findings)
        return Diagnosis("cannot tell", (), "cannot tell between: " + "; or ".join(texts), steps, texts)
    odd = tuple(k for k, step in enumerate(steps, 1) if step is None or not window.holds(step))
    named = ", ".join(str(k) for k in odd)
    return Diagnosis("cannot tell", odd, f"cannot tell: more than one fault; look at the steps of group {named}", steps)


def _steps(readings_v: Sequence[float | None]) -> tuple[float | None, ...]:
    return tuple(
        None if upper is None or lower is None else upper - lower
        for lower, upper in zip(readings_v, readings_v[1:], strict=False)
    )


def _findings(
    readings_v: Sequence[float | None], steps: tuple[float | None, ...], window: _Window
) -> Iterator[tuple[str, tuple[int, ...], str]]:
    known = [value for value in readings_v if value is not None]
    if len(known) == len(readings_v):
        if all(window.zero(value) for value in known):
            yield "missing", (0,), "B0 is missing (or no tap has contact): every tap reads nothing against it"
            return
        yield from _order_faults(known, window)
        yield from _step_faults(known, [b - a for a, b in zip(known, known[1:], strict=False)], window)
    yield from _missing_taps(readings_v, window)


def _fits(readings_v: Sequence[float], window: _Window) -> bool:
    return all(window.holds(b - a) for a, b in zip(readings_v, readings_v[1:], strict=False))


def _order_faults(readings_v: list[float], window: _Window) -> Iterator[tuple[str, tuple[int, ...], str]]:
    count = len(readings_v)
    if count > 2 and _fits(readings_v[::-1], window):
        yield "connector reversed", tuple(range(count)), "the whole row is the wrong way round: B0 sits at the top"
        return
    for i in range(count):
        for j in range(i + 1, count):
            trial = list(readings_v)
            trial[i], trial[j] = trial[j], trial[i]
            if _fits(trial, window):
                yield "swapped", (i, j), f"B{i} and B{j} are swapped"


def _step_faults(
    readings_v: list[float], steps: list[float], window: _Window
) -> Iterator[tuple[str, tuple[int, ...], str]]:
    odd = [k for k, step in enumerate(steps, 1) if not window.holds(step)]
    if len(odd) == 1:
        yield from _one_odd_step(odd[0], steps[odd[0] - 1], len(steps), window)
    if len(odd) == 2 and odd[1] == odd[0] + 1:
        first, second = steps[odd[0] - 1], steps[odd[1] - 1]
        low, high = odd
        if window.zero(first) and window.holds(second, 2):
            yield (
                "no step",
                (low, high),
                f"B{low} sits on the point of B{low - 1}: no step at {low}, a double one at {high}",
            )
        if window.holds(first, 2) and window.zero(second):
            yield (
                "doubled step",
                (low, high),
                f"B{low} sits on the point of B{high}: a double step at {low}, none at {high}",
            )


def _one_odd_step(k: int, step: float, count: int, window: _Window) -> Iterator[tuple[str, tuple[int, ...], str]]:
    if count == 1 and window.holds(-step):
        return  # one group backwards is the two taps swapped, already found
    if window.holds(step, -1):
        yield "reversed group", (k,), f"group {k} is the wrong way round: its step is {step:.3f} V"
    elif window.holds(step, 2):
        yield "doubled step", (k,), f"the step at group {k} is two groups: a tap is left out below B{k}"
    elif window.zero(step):
        yield "no step", (k,), f"B{k} reads as B{k - 1}: both on one point, or group {k} is at 0 V"
    elif step > 0:
        yield "group off", (k,), f"group {k} reads {step:.3f} V, outside {window.low_v:g} to {window.high_v:g} V"


def _missing_taps(readings_v: Sequence[float | None], window: _Window) -> Iterator[tuple[str, tuple[int, ...], str]]:
    """Exactly one tap whose reading means nothing (not taken, or floating between 0 and the tap above)."""
    count = len(readings_v)
    for k in range(1, count):
        value = readings_v[k]
        rest = [(i, v) for i, v in enumerate(readings_v) if i != k]
        known = [(i, v) for i, v in rest if v is not None]
        if len(known) < len(rest):
            continue
        fits = all(window.holds(v - u, j - i) for (i, u), (j, v) in zip(known, known[1:], strict=False))
        if fits and (value is None or _floats(value)):
            how = "was not read" if value is None else f"reads {value:.3f} V"
            yield "missing", (k,), f"B{k} {how} although its neighbours are right: no contact"


def _floats(value_v: float) -> bool:
    """A tap without contact reads close to nothing on a 10 Mohm meter."""
    return abs(value_v) < 0.5
