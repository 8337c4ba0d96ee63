"""The wiring of a pack: groups, taps, plug, alarm, board, fuse, switch, tool, charge socket, the size of each run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.record.drawings import svg
from buildtrack.record.drawings.wiring_runs import Run, by_stretch, link_of

WIDTH = 170.0
STACK, STACK_WIDTH = 27.0, 25.0
MIDDLE = STACK + STACK_WIDTH / 2
PLUG, PLUG_WIDTH = 63.0, 8.0
BOARD, BOARD_WIDTH = 91.0, 29.0
RIGHT = BOARD + BOARD_WIDTH
BRANCH = 130.0
SOCKET, SOCKET_WIDTH = 125.0, 22.0
TOOL, TOOL_WIDTH = 152.0, 17.0
PLUS = 12.0
MOST_GROUPS = 20
MOST_LISTED = 20
"""How many wires and strips are listed under the drawing."""
_HEAVY = 0.8
_SMALL = 2.2


@dataclass(frozen=True, slots=True)
class Tap:
    """One sense wire."""

    name: str
    reading: str = ""
    """Voltage against B0, as typed."""
    note: str = ""
    """The colour of its wire, in a word; else what was noted of it."""


@dataclass(frozen=True, slots=True)
class Wiring:
    """What is wired, in words as entered; an empty text means that it was not entered."""

    groups: tuple[tuple[str, str], ...]
    """Name and cells of each group, the most negative first."""
    taps: tuple[Tap, ...] = ()
    plug: str = ""
    """How the taps can be reached later."""
    alarm: str = ""
    board: tuple[str, ...] = ()
    fuse: str = ""
    fuse_first: bool = True
    switch: str = ""
    connector: str = ""
    charger: str = ""
    separate_port: bool = False
    swapped: bool = False
    runs: tuple[Run, ...] = ()
    strips: tuple[Run, ...] = ()


def step(wiring: Wiring) -> float:
    """Height of one group on the paper [mm]."""
    return max(6.5, min(16.0, 64.0 / len(wiring.groups)))


def tap_height(wiring: Wiring, number: int) -> float:
    """Height of tap B<number> on the paper: B0 at the bottom of the stack, the last at its top."""
    return PLUS + 12 + step(wiring) * (len(wiring.groups) - number)


def minus_height(wiring: Wiring) -> float:
    """Height of the minus line on the paper."""
    return tap_height(wiring, 0) + 6


def _small(x: float, y: float, words: str, room: float, anchor: str = "start", fill: str = svg.INK) -> str:
    """Small words that take no more than `room` [mm]."""
    return svg.text(x, y, svg.fitted(words, room, _SMALL), _SMALL, anchor, fill)


def _node(x: float, y: float) -> str:
    return svg.circle(x, y, 0.7, svg.INK, svg.INK)


def _stack(wiring: Wiring) -> list[str]:
    parts = []
    size = step(wiring)
    for number, (name, cells) in enumerate(wiring.groups):
        y = tap_height(wiring, number + 1)
        named = svg.fitted(name, 7.5, 2.5)
        left = STACK + 2.5 + svg.text_width(named, 2.5)
        parts += [svg.rect(STACK, y + 0.8, STACK_WIDTH, size - 1.6, svg.WHITE, svg.INK, 0.3),
                  svg.text(STACK + 1.2, y + size / 2 + 0.9, named, 2.5, weight="600"),
                  svg.text(left, y + size / 2 + 0.9, _cells(cells, STACK + STACK_WIDTH - 1 - left), _SMALL,
                           fill=svg.SOFT),
                  svg.text(STACK - 2.2, y + 2.7, "+", 2.4, "middle"),
                  svg.text(STACK - 2.2, y + size - 0.9, "−", 2.4, "middle")]
    return parts


def _cells(ids: str, room: float) -> str:
    """The ids where there is room for all of them, else how many they are: the cell map names them."""
    return ids if svg.text_width(ids, _SMALL) <= room else f"{len(ids.split())} cells"


def _links(wiring: Wiring) -> list[str]:
    """Strips beside the place where they lie."""
    found: dict[int, list[str]] = {}
    for strip in wiring.strips:
        place = link_of(strip.run, len(wiring.groups))
        if place is not None:
            found.setdefault(place, []).append(strip.tag)
    return [_small(STACK - 4.5, tap_height(wiring, place) + 0.8, _several(tags), STACK - 5.5, "end", svg.SOFT)
            for place, tags in found.items()]


def _several(tags: Sequence[str]) -> str:
    """One tag, or the first and how many more there are."""
    return tags[0] if len(tags) == 1 else f"{tags[0]} +{len(tags) - 1}"


def _taps(wiring: Wiring) -> list[str]:
    """Sense wires in their order, from the stack through the plug to the board."""
    count = len(wiring.groups) + 1
    told = {tap.name: tap for tap in wiring.taps}
    top, bottom = tap_height(wiring, count - 1) - 2.6, tap_height(wiring, 0) + 2.6
    parts = [svg.rect(PLUG, top, PLUG_WIDTH, bottom - top, svg.PALE, svg.INK, 0.3, 0.8)]
    for number in range(count):
        y, name = tap_height(wiring, number), f"B{number}"
        end = BOARD if wiring.board else BOARD - 4
        parts += [_node(MIDDLE, y), svg.line(MIDDLE, y, PLUG, y, svg.INK, 0.25),
                  svg.line(PLUG + PLUG_WIDTH, y, end, y, svg.INK, 0.25),
                  svg.text(PLUG + PLUG_WIDTH / 2, y + 0.9, name, 2.4, "middle", weight="600")]
        tap = told.get(name, Tap(name))
        parts += [_small(BOARD - 2, y - 0.8, tap.reading, 17, "end", svg.SOFT),
                  _small(PLUG - 1, y - 0.8, tap.note, PLUG - STACK - STACK_WIDTH - 2, "end", svg.SOFT)]
    parts.append(_small(PLUG + PLUG_WIDTH / 2, top - 1.2, wiring.plug or "taps", 27, "middle"))
    return parts


def _alarm(wiring: Wiring) -> list[str]:
    """The alarm under the plug, on all its wires."""
    if not wiring.alarm:
        return []
    x, y = PLUG + PLUG_WIDTH / 2, minus_height(wiring) + 8
    top = tap_height(wiring, 0) + 2.6
    return [svg.line(x, top, x, y, svg.INK, 0.35), svg.line(x - 1.2, y - 2.2, x + 1.2, y - 3.8, svg.INK, 0.25),
            svg.text(x + 2, y - 2.2, f"{len(wiring.groups) + 1} wires", _SMALL, fill=svg.SOFT),
            svg.rect(x - 20, y, 40, 6, svg.WHITE, svg.INK, 0.35),
            svg.text(x, y + 3.9, svg.fitted(f"alarm {wiring.alarm}", 38, 2.4), 2.4, "middle", weight="600")]


def _board(wiring: Wiring) -> list[str]:
    top, bottom = tap_height(wiring, len(wiring.groups)) - 4, minus_height(wiring)
    middle = BOARD + BOARD_WIDTH / 2
    if not wiring.board:
        return [svg.rect(BOARD, top, BOARD_WIDTH, bottom - top + 4, "none", svg.FAINT, 0.3, 0.8, "1.5 1"),
                svg.text(middle, (top + bottom) / 2, "board not entered", 2.4, "middle", svg.SOFT)]
    parts = [svg.rect(BOARD, top, BOARD_WIDTH, bottom - top + 4, svg.PALE, svg.INK, 0.4),
             svg.text(middle, top + 4.2, "protection board", 2.6, "middle", weight="600")]
    for row, words in enumerate(wiring.board[:5]):
        parts.append(_small(middle, top + 8 + 3.2 * row, words, BOARD_WIDTH - 2, "middle"))
    first, last = ("P−", "B−") if wiring.swapped else ("B−", "P−")
    parts += [svg.text(BOARD + 1.2, bottom + 1, first, 2.6, weight="600"),
              svg.text(RIGHT - 1.2, bottom + 1, last, 2.6, "end", weight="600")]
    if wiring.separate_port:
        parts.append(svg.text(RIGHT - 1.2, bottom - 4.1, "C−", 2.6, "end", weight="600"))
    return parts


def fuse_place(wiring: Wiring) -> float:
    """Where the fuse begins on the plus line."""
    return 56.0 if wiring.fuse_first else 96.0


SWITCH = 135.0


def _plus(wiring: Wiring) -> list[str]:
    """From the top of the stack through fuse and switch to the tool."""
    top, x = tap_height(wiring, len(wiring.groups)), fuse_place(wiring)
    parts = [svg.path([(MIDDLE, top), (MIDDLE, PLUS), (TOOL, PLUS)], svg.INK, _HEAVY),
             svg.text(MIDDLE + 1, PLUS - 1.6, "B+", 2.6, weight="600")]
    if wiring.fuse:
        parts += [svg.rect(x, PLUS - 1.8, 14, 3.6, svg.WHITE, svg.INK, 0.35),
                  svg.line(x, PLUS, x + 14, PLUS, svg.INK, 0.35),
                  svg.text(x + 7, PLUS - 3, svg.fitted(f"fuse {wiring.fuse}", 38, 2.4), 2.4, "middle", weight="600")]
    else:
        parts.append(svg.text(x + 7, PLUS - 2.6, "no fuse entered", 2.4, "middle", svg.SOFT, style="italic"))
    if wiring.switch:
        parts += [svg.rect(SWITCH + 0.3, PLUS - 0.9, 8.4, 1.8, svg.WHITE, svg.WHITE, 0.1),
                  svg.circle(SWITCH, PLUS, 0.8, svg.WHITE, svg.INK, 0.35),
                  svg.circle(SWITCH + 9, PLUS, 0.8, svg.WHITE, svg.INK, 0.35),
                  svg.line(SWITCH + 0.7, PLUS - 0.4, SWITCH + 8, PLUS - 3.2, svg.INK, 0.5),
                  svg.text(SWITCH + 4.5, PLUS - 4.4, svg.fitted(f"switch {wiring.switch}", 26, 2.4), 2.4, "middle")]
    return parts


def _minus(wiring: Wiring) -> list[str]:
    """From the bottom of the stack through the board to the tool."""
    bottom = minus_height(wiring)
    parts = [svg.path([(MIDDLE, bottom - 6), (MIDDLE, bottom), (BOARD, bottom)], svg.INK, _HEAVY),
             svg.path([(RIGHT, bottom), (TOOL, bottom)], svg.INK, _HEAVY)]
    return parts if wiring.board else [*parts, svg.line(BOARD, bottom, RIGHT, bottom, svg.INK, _HEAVY, "1.5 1")]


def _tool(wiring: Wiring) -> list[str]:
    bottom = minus_height(wiring)
    middle = (PLUS + bottom) / 2
    parts = [svg.rect(TOOL, PLUS - 4, TOOL_WIDTH, bottom - PLUS + 8, svg.WHITE, svg.INK, 0.4),
             svg.text(TOOL + 1.5, PLUS + 1, "+", 3.2, weight="600"),
             svg.text(TOOL + 1.5, bottom + 1, "−", 3.2, weight="600"),
             svg.text(TOOL + TOOL_WIDTH / 2, middle, "tool", 2.4, "middle", weight="600")]
    if wiring.connector:
        parts += [_small(TOOL + TOOL_WIDTH / 2, middle + 3.2, "contacts", TOOL_WIDTH - 2, "middle"),
                  _small(TOOL + TOOL_WIDTH / 2, middle + 6.2, wiring.connector, TOOL_WIDTH - 2, "middle")]
    return parts


def _socket(wiring: Wiring) -> list[str]:
    """Charge socket between plus behind the fuse and the board's charge terminal."""
    bottom = minus_height(wiring)
    y = (PLUS + bottom) / 2
    if not wiring.charger:
        return []
    middle = SOCKET + SOCKET_WIDTH / 2
    parts = [svg.rect(SOCKET, y - 5, SOCKET_WIDTH, 10, svg.WHITE, svg.INK, 0.35),
             svg.text(middle, y - 0.6, "charge socket", 2.4, "middle", weight="600"),
             _small(middle, y + 2.9, wiring.charger, SOCKET_WIDTH - 2, "middle", svg.SOFT),
             svg.line(BRANCH, PLUS, BRANCH, y - 5, svg.INK, 0.35), _node(BRANCH, PLUS)]
    if wiring.separate_port:
        return [*parts, svg.path([(RIGHT, bottom - 5), (BRANCH, bottom - 5), (BRANCH, y + 5)], svg.INK, 0.35)]
    return [*parts, svg.line(BRANCH, y + 5, BRANCH, bottom, svg.INK, 0.35), _node(BRANCH, bottom)]


def _tag(x: float, y: float, runs: Sequence[Run], room: float, anchor: str = "start") -> str:
    return _small(x, y, _several([r.tag for r in runs]), room, anchor, svg.ACCENT)


def _sizes(wiring: Wiring) -> list[str]:
    """The size of each wire beside the stretch it makes."""
    present = {"fuse": bool(wiring.fuse), "switch": bool(wiring.switch), "board": bool(wiring.board)}
    found = by_stretch(wiring.runs, present)
    below, bottom = PLUS + 3.4, minus_height(wiring)
    middle = (PLUS + bottom) / 2
    fuse = fuse_place(wiring)
    spots = {("plus", 0): (MIDDLE + 1.2, fuse - MIDDLE - 2), ("plus", 1): (fuse + 16, BRANCH - fuse - 18),
             ("plus", 2): (BRANCH + 2, TOOL - BRANCH - 3), ("minus", 0): (MIDDLE + 1.2, 20.0),
             ("minus", 1): (RIGHT + 2, TOOL - RIGHT - 3)}
    parts = []
    beginning: dict[tuple[str, int], list[Run]] = {}  # runs that begin at one place share a spot, wherever they end
    for (line, begin, _), runs in sorted(found.items()):
        beginning.setdefault((line, begin), []).extend(runs)
    for (line, begin), runs in beginning.items():
        if line in ("plus", "minus"):
            x, room = spots[line, begin]
            parts.append(_tag(x, below if line == "plus" else bottom + 3.4, runs, room))
        elif line == "taps":
            parts.append(_tag(PLUG - 1, tap_height(wiring, 0) + 3.4, runs, PLUG - MIDDLE - 3, "end"))
        elif wiring.charger:
            y = (PLUS + middle) / 2 + 1 if line == "charge plus" else (middle + bottom) / 2 + 3
            parts.append(_tag(BRANCH + 1.2, y, runs, TOOL - BRANCH - 3))
    return parts


def listed(wiring: Wiring) -> tuple[str, ...]:
    """Every wire and strip in words, those beyond what there is room for counted."""
    every = [f"{r.id}: " + ", ".join(w for w in (r.run, r.size, r.words) if w) for r in (*wiring.runs, *wiring.strips)]
    left = len(every) - MOST_LISTED
    return (*every[:MOST_LISTED], *((f"and {left} more, see the tables of this step",) if left > 0 else ()))


def _list(words: Sequence[str], top: float) -> list[str]:
    parts = [svg.text(4, top, "Wires and strips as entered", 2.5, fill=svg.SOFT)] if words else []
    half = -(-len(words) // 2)
    for number, text in enumerate(words):
        column, row = divmod(number, half)
        parts.append(svg.text(4 + 84 * column, top + 4 + 3.5 * row, svg.fitted(text, 80, 2.3), 2.3))
    return parts


def wiring_diagram(wiring: Wiring) -> str:
    """Draw the diagram; ValueError where the number of groups is not known or beyond what fits."""
    if not wiring.groups:
        raise ValueError("the number of groups in series is not known yet")
    if len(wiring.groups) > MOST_GROUPS:
        raise ValueError(f"{len(wiring.groups)} groups in series are more than the drawing shows")
    words = listed(wiring)
    top = minus_height(wiring) + (20 if wiring.alarm else 10)
    height = top + 2 + 3.5 * (-(-len(words) // 2)) + 2 if words else top - 2
    parts = [*_plus(wiring), *_minus(wiring), *_taps(wiring), *_alarm(wiring), *_stack(wiring), *_links(wiring),
             *_board(wiring), *_socket(wiring), *_tool(wiring), *_sizes(wiring), *_list(words, top)]
    return svg.document(WIDTH, height, parts, "Wiring diagram")
