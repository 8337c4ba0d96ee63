"""The wiring of a pack: groups with their taps, board, fuse, switch, tool, charge socket, runs with their sizes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.record.drawings import svg

WIDTH = 170.0
STACK, STACK_WIDTH = 14.0, 27.0
BOARD, BOARD_WIDTH = 74.0, 27.0
TOOL = 146.0
PLUS = 12.0
_MOST_GROUPS = 24
_HEAVY = 0.8


@dataclass(frozen=True, slots=True)
class Tap:
    """One sense wire."""

    name: str
    reading: str = ""
    """Voltage against B0, as typed."""


@dataclass(frozen=True, slots=True)
class Wiring:
    """What is wired, in words as entered; an empty text means that it was not entered."""

    groups: tuple[tuple[str, str], ...]
    """Name and cells of each group, the most negative first."""
    taps: tuple[Tap, ...] = ()
    board: tuple[str, ...] = ()
    fuse: str = ""
    fuse_first: bool = True
    switch: str = ""
    tool: str = "tool"
    connector: str = ""
    charger: str = ""
    separate_port: bool = False
    swapped: bool = False
    runs: tuple[str, ...] = ()


def step(wiring: Wiring) -> float:
    """Height of one group on the paper [mm]."""
    return max(6.5, min(16.0, 64.0 / len(wiring.groups)))


def tap_height(wiring: Wiring, number: int) -> float:
    """Height of tap B<number> on the paper: B0 at the bottom of the stack, the last at its top."""
    return PLUS + 12 + step(wiring) * (len(wiring.groups) - number)


def _stack(wiring: Wiring) -> list[str]:
    parts = []
    size = step(wiring)
    for number, (name, cells) in enumerate(wiring.groups):
        y = tap_height(wiring, number + 1)
        parts.append(svg.rect(STACK, y + 0.8, STACK_WIDTH, size - 1.6, svg.WHITE, svg.INK, 0.3))
        parts.append(svg.text(STACK + 1.5, y + size / 2 + 0.9, name, 2.6, weight="600"))
        parts.append(svg.text(STACK + 8, y + size / 2 + 0.9, cells[:14], 2.3, fill=svg.SOFT))
        parts.append(svg.text(STACK - 2.2, y + 2.9, "+", 2.6, "middle"))
        parts.append(svg.text(STACK - 2.2, y + size - 0.8, "−", 2.6, "middle"))
    return parts


def _node(x: float, y: float) -> str:
    return svg.circle(x, y, 0.7, svg.INK, svg.INK)


def _taps(wiring: Wiring) -> list[str]:
    parts = []
    middle = STACK + STACK_WIDTH / 2
    readings = {tap.name: tap.reading for tap in wiring.taps}
    for number in range(len(wiring.groups) + 1):
        y = tap_height(wiring, number)
        name = f"B{number}"
        parts.append(_node(middle, y))
        end = BOARD if wiring.board else BOARD - 4
        parts.append(svg.line(middle, y, end, y, svg.INK, 0.25))
        parts.append(svg.text(STACK + STACK_WIDTH + 2, y - 0.8, name, 2.5, weight="600"))
        if reading := readings.get(name):
            parts.append(svg.text(BOARD - 2.5, y - 0.8, reading, 2.4, "end", svg.SOFT))
    return parts


def _board(wiring: Wiring, bottom: float) -> list[str]:
    top = tap_height(wiring, len(wiring.groups)) - 4
    if not wiring.board:
        return [svg.rect(BOARD, top, BOARD_WIDTH, bottom - top + 4, "none", svg.FAINT, 0.3, 0.8, "1.5 1"),
                svg.text(BOARD + BOARD_WIDTH / 2, (top + bottom) / 2, "board not entered", 2.4, "middle", svg.SOFT)]
    parts = [svg.rect(BOARD, top, BOARD_WIDTH, bottom - top + 4, svg.PALE, svg.INK, 0.4),
             svg.text(BOARD + BOARD_WIDTH / 2, top + 4.2, "protection board", 2.6, "middle", weight="600")]
    for row, words in enumerate(wiring.board[:6]):
        parts.append(svg.text(BOARD + BOARD_WIDTH / 2, top + 8.4 + 3.3 * row, words, 2.3, "middle"))
    return parts


def _fuse(x: float, y: float, words: str) -> list[str]:
    if not words:
        return [svg.text(x + 7, y - 2.6, "no fuse entered", 2.4, "middle", svg.SOFT, style="italic")]
    return [svg.rect(x, y - 1.8, 14, 3.6, svg.WHITE, svg.INK, 0.35), svg.line(x, y, x + 14, y, svg.INK, 0.35),
            svg.text(x + 7, y - 3, f"fuse {words}", 2.5, "middle", weight="600")]


def _switch(x: float, y: float, words: str) -> list[str]:
    return [svg.rect(x + 0.3, y - 0.9, 10.4, 1.8, svg.WHITE, svg.WHITE, 0.1),
            svg.circle(x, y, 0.8, svg.WHITE, svg.INK, 0.35),
            svg.circle(x + 11, y, 0.8, svg.WHITE, svg.INK, 0.35),
            svg.line(x + 0.7, y - 0.4, x + 10, y - 3.4, svg.INK, 0.5),
            svg.text(x + 5.5, y - 4.4, f"switch {words}".strip(), 2.5, "middle")]


def _plus(wiring: Wiring) -> list[str]:
    """From the top of the stack through fuse and switch to the tool."""
    middle = STACK + STACK_WIDTH / 2
    top = tap_height(wiring, len(wiring.groups))
    fuse_at, switch_at = (48.0, 116.0) if wiring.fuse_first else (96.0, 64.0)
    return [svg.path([(middle, top), (middle, PLUS), (TOOL, PLUS)], svg.INK, _HEAVY),
            svg.text(middle + 2, PLUS - 1.6, "B+", 2.6, weight="600"),
            *_fuse(fuse_at, PLUS, wiring.fuse), *_switch(switch_at, PLUS, wiring.switch)]


def _minus(wiring: Wiring, bottom: float) -> list[str]:
    """From the bottom of the stack through the board to the tool."""
    middle = STACK + STACK_WIDTH / 2
    right = BOARD + BOARD_WIDTH
    first, last = ("P−", "B−") if wiring.swapped else ("B−", "P−")
    parts = [svg.path([(middle, bottom - 6), (middle, bottom), (BOARD, bottom)], svg.INK, _HEAVY),
             svg.path([(right, bottom), (TOOL, bottom)], svg.INK, _HEAVY),
             svg.text(BOARD + 1.2, bottom + 1, first, 2.6, weight="600"),
             svg.text(right - 1.2, bottom + 1, last, 2.6, "end", weight="600")]
    if not wiring.board:
        parts.append(svg.line(BOARD, bottom, right, bottom, svg.INK, _HEAVY, "1.5 1"))
    return parts


def _tool(wiring: Wiring, bottom: float) -> list[str]:
    words = [wiring.tool, wiring.connector]
    parts = [svg.rect(TOOL, PLUS - 4, 22, bottom - PLUS + 8, svg.WHITE, svg.INK, 0.4),
             svg.text(TOOL + 1.5, PLUS + 1, "+", 3.2, weight="600"),
             svg.text(TOOL + 1.5, bottom + 1, "−", 3.2, weight="600")]
    for row, line in enumerate(w for w in words if w):
        parts.append(svg.text(TOOL + 11, (PLUS + bottom) / 2 + 3.4 * row, line[:16], 2.4, "middle",
                              weight="600" if row == 0 else ""))
    return parts


def _socket(wiring: Wiring, bottom: float) -> list[str]:
    """Charge socket between plus behind the fuse and the board's charge terminal."""
    x, y = 118.0, (PLUS + bottom) / 2
    plus_at = 104.0 if wiring.fuse_first else 114.0
    parts = [svg.rect(x, y - 5, 22, 10, svg.WHITE, svg.INK, 0.35),
             svg.text(x + 11, y - 0.6, "charge socket", 2.4, "middle", weight="600"),
             svg.text(x + 11, y + 2.9, wiring.charger[:18], 2.3, "middle", svg.SOFT),
             svg.path([(plus_at, PLUS), (plus_at, y - 2.5), (x, y - 2.5)], svg.INK, 0.35), _node(plus_at, PLUS)]
    right = BOARD + BOARD_WIDTH
    if wiring.separate_port:
        parts += [svg.path([(right, y + 8), (112, y + 8), (112, y + 2.5), (x, y + 2.5)], svg.INK, 0.35),
                  svg.text(right - 1.2, y + 8.9, "C−", 2.6, "end", weight="600")]
    else:
        parts += [svg.path([(x, y + 2.5), (112, y + 2.5), (112, bottom)], svg.INK, 0.35), _node(112, bottom)]
    return parts


def _runs(runs: Sequence[str], top: float) -> list[str]:
    parts = [svg.text(STACK, top, "Conductors as entered", 2.5, fill=svg.SOFT)] if runs else []
    half = -(-len(runs) // 2)
    for number, words in enumerate(runs):
        column, row = divmod(number, half)
        parts.append(svg.text(STACK + 80 * column, top + 4 + 3.5 * row, words[:58], 2.4))
    return parts


def wiring_diagram(wiring: Wiring) -> str:
    """Draw the diagram; ValueError where the number of groups is not known or beyond what fits."""
    if not wiring.groups:
        raise ValueError("the number of groups in series is not known yet")
    if len(wiring.groups) > _MOST_GROUPS:
        raise ValueError(f"{len(wiring.groups)} groups in series are more than the drawing shows")
    bottom = tap_height(wiring, 0) + 6
    parts = [*_plus(wiring), *_minus(wiring, bottom), *_taps(wiring), *_stack(wiring), *_board(wiring, bottom),
             *_socket(wiring, bottom), *_tool(wiring, bottom)]
    first, last = ("P−", "B−") if wiring.swapped else ("B−", "P−")
    right = BOARD + BOARD_WIDTH
    if wiring.board:
        parts += [svg.text(BOARD + 1.2, bottom + 1, first, 2.6, weight="600"),
                  svg.text(right - 1.2, bottom + 1, last, 2.6, "end", weight="600")]
    if wiring.separate_port and wiring.board:
        parts.append(svg.text(right - 1.2, (PLUS + bottom) / 2 + 8.9, "C−", 2.6, "end", weight="600"))
    rows = -(-len(wiring.runs) // 2)
    height = bottom + 7 + (4 + 3.5 * rows + 2 if wiring.runs else 0)
    return svg.document(WIDTH, height, [*parts, *_runs(wiring.runs, bottom + 9)], "Wiring diagram")
