"""One TOML text changed so that it reads as other values; what is not concerned keeps its bytes, comments and order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher
from typing import Any

from buildtrack.storage import toml_blocks as tb
from buildtrack.storage import toml_text

Path = tb.Path
HEADED = 3
"""Depth of an item's own table, [steps.<step>.<item>], which always gets a head line."""
LONGEST = 20_000
"""Longest statement that is handed to tomlkit [characters]; a longer one is written afresh."""
MOST_PAIRS = 4_000_000
"""How many pairs of elements are compared at most to find out which was put in and which taken out."""
_IDENTITY = ("id", "check")
"""Keys by which an element of an array of tables is known again."""


def same(one: Any, other: Any) -> bool:
    """Equal in value and in kind (1 is not true, and a number that is none equals itself)."""
    if one is other:  # most of a tree is carried over as it is
        return True
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(v, other[k]) for k, v in one.items())
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    if type(one) is not type(other):
        return False
    return bool(one == other or (one != one and other != other))


class _Patch:
    """The blocks of a text while they are changed."""

    def __init__(self, cut: tb.Cut) -> None:
        self.cut = cut
    @property
    def blocks(self) -> list[tb.Block]:
        return self.cut.blocks

    def under(self, path: Path) -> list[int]:
        """Where the blocks of `path` stand."""
        return [n for n, block in enumerate(self.blocks) if tb.is_under(block.path, path)]

    def own(self, path: Path) -> tb.Block | None:
        """The block that is the table `path` itself."""
        return next((b for b in self.blocks if b.path == path), None)

    # --- lines of one table ---

    def edit(self, block: tb.Block, put: Mapping[str, Any], drop: Sequence[str]) -> None:
        """Change leaf values of one block in place, through tomlkit, and add the new ones at its end."""
        held = _keys(block.body)
        changed = {k: v for k, v in put.items() if k in held}
        if changed or drop:
            block.body = _edited(block.body, changed, drop)
        block.body += "".join(toml_text.line(k, v) for k, v in put.items() if k not in changed)

    def holds(self, block: tb.Block | None, key: str) -> bool:
        """Whether the lines of a block define `key`, or a part of it by a dotted key."""
        return block is not None and key in _keys(block.body)

    # --- whole tables ---

    def remove(self, path: Path) -> None:
        """Take the blocks of `path` out; comments above them stay."""
        kept: list[tb.Block] = []
        comments = ""
        for block in self.blocks:
            if tb.is_under(block.path, path):
                comments += _comments(block.lead)
                continue
            block.lead, comments = _joined(comments, block.lead), ""
            kept.append(block)
        self.cut.blocks = kept
        self.cut.tail = _joined(comments, self.cut.tail)

    def insert(self, at: int, blocks: list[tb.Block]) -> None:
        """Put new blocks before the one that stands at `at`."""
        self.cut.blocks[at:at] = blocks

    def place(self, parent: Path, key: str, order: Sequence[str]) -> int:
        """Where a new table `key` goes: behind its nearest earlier neighbour, or before the next one."""
        around = self.under(parent)
        deep = len(parent)
        held = {self.blocks[n].path[deep] for n in around if len(self.blocks[n].path) > deep}
        number = order.index(key)
        for neighbour in reversed(order[:number]):
            if neighbour in held:
                return self.under((*parent, neighbour))[-1] + 1
        for neighbour in order[number + 1:]:
            if neighbour in held:
                return self.under((*parent, neighbour))[0]
        return around[-1] + 1 if around else len(self.blocks)

    # --- walking down ---

    def table(self, path: Path, old: Mapping[str, Any], new: Mapping[str, Any]) -> None:
        """Make the table `path`, which reads as `old`, read as `new`."""
        put: dict[str, Any] = {}
        drop: list[str] = []
        block = self.own(path)
        order = list(new)
        for key in [k for k in old if k not in new]:
            self._drop(path, key, block, drop)
        for key, value in new.items():
            if key in old and same(old[key], value):
                continue
            if toml_text.is_leaf(value):
                if key in old and not self.holds(block, key):
                    self.remove((*path, key))
                put[key] = value
            elif key in old and not self.holds(block, key):
                self._deeper((*path, key), old[key], value)
            else:
                self._drop(path, key, block, drop)
                self.insert(self.place(path, key, order), _new_blocks((*path, key), value))
        if put or drop:
            self.edit(block or self._head(path), put, drop)

    def _drop(self, path: Path, key: str, block: tb.Block | None, drop: list[str]) -> None:
        if self.holds(block, key):
            drop.append(key)
        self.remove((*path, key))

    def _head(self, path: Path) -> tb.Block:
        """A head for a table that had none of its own."""
        block = tb.Block(path, "\n", tb.head_line(path, array=False), "")
        around = self.under(path)
        self.insert(around[0] if around else len(self.blocks), [block])
        return block

    def _deeper(self, path: Path, old: Any, new: Any) -> None:
        if isinstance(old, dict) and isinstance(new, dict):
            self.table(path, old, new)
        elif toml_text.is_tables(old) and toml_text.is_tables(new):
            self.elements(path, old, new)
        else:
            at = self.under(path)[0]
            self.remove(path)
            self.insert(at, _new_blocks(path, new))

    def elements(self, path: Path, old: list[Any], new: list[Any]) -> None:
        """Make an array of tables read as `new`: elements are kept, changed, added and taken out one by one.

        It goes from the end to the beginning, so that the numbers of what is still to be done stay true.
        """
        for kind, low, high, new_low, new_high in reversed(steps(old, new)):
            both = min(high - low, new_high - new_low) if kind == "replace" else high - low if kind == "equal" else 0
            for n in range(high - 1, low + both - 1, -1):
                self.remove((*path, n))
            if new_high - new_low > both:
                self._add(path, low + both, new[new_low + both:new_high])
            for n in range(both):
                if not same(old[low + n], new[new_low + n]):
                    self.table((*path, low + n), old[low + n], new[new_low + n])

    def _add(self, path: Path, number: int, elements: list[Any]) -> None:
        before = self.under((*path, number - 1)) if number else []
        after = self.under(path)
        at = before[-1] + 1 if before else after[0] if after else len(self.blocks)
        self.insert(at, tb.fresh_list(path, elements, number))


def _new_blocks(path: Path, value: Any) -> list[tb.Block]:
    if toml_text.is_tables(value):
        return tb.fresh_list(path, value)
    in_row = len(path) > 1 and isinstance(path[-2], int)
    return tb.fresh(path, value, headed=HEADED, lead="" if in_row else "\n")


def _keys(body: str) -> frozenset[str | None]:
    """First parts of the keys that the lines of a block define."""
    return frozenset(key for key, _statement in tb.statements(body))


def _edited(body: str, changed: Mapping[str, Any], drop: Sequence[str]) -> str:
    """Lines of one table with values changed in place; comments and layout of the others stay.

    Each statement is taken for itself: tomlkit takes a minute for a table of two megabytes, and what it captures after
    a dotted key (tomlkit 556) is not there to be captured.
    """
    lines: list[str] = []
    done: set[str] = set()
    for key, statement in tb.statements(body):
        if key is None or (key not in changed and key not in drop):
            lines.append(statement)
        elif key in changed and key not in done:
            lines.append(_changed(statement, key, changed[key]))
            done.add(key)
    return "".join(lines)


def _changed(statement: str, key: str, value: Any) -> str:
    """One `key = value` with another value; tomlkit keeps the remark behind it."""
    match = tb.KEY.match(statement)
    if len(statement) > LONGEST or match is None or statement[match.end() - 1] == ".":
        return toml_text.line(key, value)
    import tomlkit

    document = tomlkit.parse(statement)
    document[key] = tomlkit.value(toml_text.value(value))
    return tomlkit.dumps(document)


def _comments(lead: str) -> str:
    return "".join(line + "\n" for line in lead.split("\n") if line.lstrip().startswith("#"))


def _joined(comments: str, lead: str) -> str:
    return f"\n{comments}{lead}" if comments else lead


def steps(old: Sequence[Any], new: Sequence[Any]) -> list[tuple[str, int, int, int, int]]:
    """How to come from one list of tables to the other: equal, replace, delete, insert with their ranges.

    An element is known by its id (or check) where all have one, the second of the same id as the second; else by its
    number. What differs is looked for between the first and the last difference only, and taken as replaced where that
    would be long (difflib's time grows with the product of both lengths).
    """
    names, others = _names(old, new)
    head = _alike(names, others)
    tail = _alike(names[head:][::-1], others[head:][::-1])
    low, high, new_low, new_high = head, len(names) - tail, head, len(others) - tail
    found = [("equal", 0, head, 0, head)]
    if (high - low) * (new_high - new_low) > MOST_PAIRS:
        found.append(("replace", low, high, new_low, new_high))
    else:
        matcher = SequenceMatcher(None, names[low:high], others[new_low:new_high], autojunk=False)
        found += [(kind, low + a, low + b, new_low + c, new_low + d) for kind, a, b, c, d in matcher.get_opcodes()]
    found.append(("equal", high, len(names), new_high, len(others)))
    return [op for op in found if op[1] < op[2] or op[3] < op[4]]


def _names(old: Sequence[Any], new: Sequence[Any]) -> tuple[list[object], list[object]]:
    """By what the elements of both lists are known: a name and its number among its like, or the number alone."""
    named = next((k for k in _IDENTITY if all(isinstance(e.get(k), str) for e in (*old, *new))), None)
    if named is None:
        return list(range(len(old))), list(range(len(new)))
    return _counted([e[named] for e in old]), _counted([e[named] for e in new])


def _counted(names: Sequence[str]) -> list[object]:
    seen: Counter[str] = Counter()
    found: list[object] = []
    for name in names:
        found.append((name, seen[name]))
        seen[name] += 1
    return found


def _alike(names: Sequence[object], others: Sequence[object]) -> int:
    """How many elements at the beginning of both are the same."""
    both = min(len(names), len(others))
    return next((n for n in range(both) if names[n] != others[n]), both)


def patch(text: str, old: Mapping[str, Any], new: Mapping[str, Any], whole: frozenset[str] = frozenset()) -> str:
    """The text, which reads as `old`, changed so that it reads as `new` (the caller proves it by reading it).

    whole: keys of the top level whose table is written anew where it differs.
    """
    work = _Patch(tb.cut(text))
    kept = {k: v for k, v in old.items() if k not in whole or (k in new and same(v, new[k]))}
    for key in [k for k in old if k not in kept]:
        drop: list[str] = []
        work._drop((), key, work.blocks[0], drop)
        if drop:
            work.edit(work.blocks[0], {}, drop)
    work.table((), kept, new)
    return work.cut.text


def write(tree: Mapping[str, Any]) -> str:
    """A fresh text for a whole tree."""
    blocks = tb.fresh((), tree, headed=HEADED)
    return "".join(b.text for b in blocks).lstrip("\n")
