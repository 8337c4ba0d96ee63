"""A TOML text cut into blocks, a table head with its lines each, so that one table is changed and the rest kept."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from buildtrack.storage import toml_text

Path = tuple[str | int, ...]

_BARE_HEAD = re.compile(r"[A-Za-z0-9_.-]+", re.ASCII)
_TOKEN = re.compile(r'"""|\'\'\'|"(?:[^"\\]|\\.)*"|\'[^\']*\'|#.*|[\[\]{}]')
_LINE = re.compile(r"[^\n]*\n|[^\n]+")
_OPENING = re.compile(r'[\[{]|"""|\'\'\'')
"""What a line holds that a later line may have to close."""
_FENCES = ('"""', "'''")
_REST = {'"""': re.compile(r'(?:[^"\\]|\\.|"(?!""))*+("{3,5})?', re.DOTALL),
         "'''": re.compile(r"(?:[^']|'(?!''))*+('{3,5})?", re.DOTALL)}
"""What follows in a text of several lines, and the marks that close it: up to two more may belong to the text."""
KEY = re.compile(r"""[ \t]*(?:([A-Za-z0-9_-]+)|"((?:[^"\\]|\\.)*)"|'([^']*)')[ \t]*[.=]""", re.ASCII)


@dataclass(slots=True)
class Block:
    """One table of the text."""

    path: Path
    """Keys down to the table; a number counts the elements of an array of tables."""
    lead: str
    """Blank lines and comments above the head."""
    head: str
    """The line with the head; empty for the lines before the first table."""
    body: str

    @property
    def text(self) -> str:
        """The block as it stands in the file."""
        return self.lead + self.head + self.body


@dataclass(slots=True)
class Cut:
    """A whole text in blocks; the first one holds the lines before the first table."""

    blocks: list[Block]
    tail: str = ""
    """Comments and blank lines after the last table."""

    @property
    def text(self) -> str:
        """The text again."""
        return "".join(b.text for b in self.blocks) + self.tail


class _Scan:
    """Whether a line begins inside a text or list that an earlier line opened."""

    def __init__(self) -> None:
        self.fence = ""
        self.depth = 0

    @property
    def inside(self) -> bool:
        return bool(self.fence) or self.depth > 0

    def feed(self, line: str) -> None:
        """Take in one line of keys and values."""
        at = 0
        while at < len(line):
            if self.fence:
                at = self._close(line, at)
                continue
            token = _TOKEN.search(line, at)
            if token is None:
                return
            at = token.end()
            self._take(token.group())

    def _take(self, token: str) -> None:
        if token in _FENCES:
            self.fence = token
        elif token in ("[", "{"):
            self.depth += 1
        elif token in ("]", "}"):
            self.depth -= 1

    def _close(self, line: str, at: int) -> int:
        """Where to go on after the closing fence; the end of the line where it is not there."""
        rest = _REST[self.fence].match(line, at)
        if rest is None or rest[1] is None:
            return len(line)
        self.fence = ""
        return rest.end()


def _lines(text: str) -> Iterator[tuple[str, str]]:
    """Every line with what it is: head, keys, or lead (blank or comment)."""
    scan = _Scan()
    for raw in text.removesuffix("\n").split("\n") if text else ():
        line = raw + "\n"
        bare = line.strip(" \t\r\n")
        if scan.inside:
            scan.feed(line)
            yield "keys", line
        elif not bare or bare[0] == "#":
            yield "lead", line
        elif bare[0] == "[":
            yield "head", line
        else:
            if _OPENING.search(line):
                scan.feed(line)
            yield "keys", line


def _head_keys(head: str) -> tuple[str, ...]:
    inner = head.partition("#")[0].strip().strip("[]").strip()
    if _BARE_HEAD.fullmatch(inner):
        return tuple(inner.split("."))
    found: Any = tomllib.loads(head)
    keys: list[str] = []
    while found:
        name, found = next(iter(found.items()))
        found = found[0] if isinstance(found, list) else found
        keys.append(name)
    return tuple(keys)


def _numbered(keys: Sequence[str], array: bool, counts: dict[Path, int]) -> Path:
    """The path of a table with the numbers of the array elements it stands in."""
    path: Path = ()
    for depth, name in enumerate(keys):
        path = (*path, name)
        if array and depth == len(keys) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def cut(text: str) -> Cut:
    """Cut a valid TOML text with LF line ends; joined again it is the same text, with a line end at the end."""
    blocks = [Block((), "", "", "")]
    counts: dict[Path, int] = {}
    body: list[str] = []
    waiting: list[str] = []
    for kind, line in _lines(text):
        if kind == "lead":
            waiting.append(line)
        elif kind == "head":
            blocks[-1].body = "".join(body)
            path = _numbered(_head_keys(line), line.lstrip().startswith("[["), counts)
            blocks.append(Block(path, "".join(waiting), line, ""))
            body, waiting = [], []
        else:
            body += [*waiting, line]
            waiting = []
    blocks[-1].body = "".join(body)
    return Cut(blocks, "".join(waiting))


def is_under(path: Path, top: Path) -> bool:
    """Whether `path` is `top` or lies in it."""
    return path[:len(top)] == top


def key_of(line: str) -> str | None:
    """First part of the key of a `key = value` line."""
    match = KEY.match(line)
    return None if match is None or match.lastindex is None else match[match.lastindex]


@lru_cache(maxsize=4)  # one table is asked about its keys several times before it changes
def statements(body: str) -> tuple[tuple[str | None, str], ...]:
    """The lines of one table, parted: each key with all the lines of its value; None for blank lines and comments.

    The key is the first part of a dotted one. Joined again the texts are the body.
    """
    parted: list[tuple[str | None, str]] = []
    scan, key, open_lines = _Scan(), None, list[str]()
    for line in _LINE.findall(body):
        key = key if open_lines else _decoded_key(line)
        if open_lines or _OPENING.search(line):
            scan.feed(line)
            open_lines.append(line)
            if scan.inside:
                continue
            line, open_lines = "".join(open_lines), []
        parted.append((key, line))
    return (*parted, (key, "".join(open_lines))) if open_lines else tuple(parted)


def _decoded_key(line: str) -> str | None:
    """First part of the key that a line begins with; None for a blank line or a comment."""
    key = key_of(line)
    if key is not None and "\\" in key and line.lstrip(" \t")[0] == '"':
        return next(iter(tomllib.loads(f'"{key}" = 1')))
    return key


def line_of(text: str, path: Path) -> int:
    """Number (from 1) of the line on which `path` stands, or of the nearest table around it."""
    number, best, found = 1, -1, 1
    for block in cut(text).blocks:
        head_at = number + block.lead.count("\n")
        body_at = head_at + block.head.count("\n")
        if best < len(path) and is_under(block.path, path) and block.head:
            return head_at
        if is_under(path, block.path) and len(block.path) > best:
            best, found = len(block.path), head_at
            key = path[len(block.path)] if len(path) > len(block.path) else None
            within = (n for n, line in enumerate(block.body.split("\n")) if key is not None and key_of(line) == key)
            found = body_at + at if (at := next(within, None)) is not None else head_at
        number = body_at + block.body.count("\n")
    return found


def head_line(path: Path, array: bool) -> str:
    """The head of a table."""
    name = ".".join(toml_text.key(part) for part in path if isinstance(part, str))
    return f"[[{name}]]\n" if array else f"[{name}]\n"


def fresh(path: Path, table: Mapping[str, Any], array: bool = False, headed: int = 0, lead: str = "\n") -> list[Block]:
    """New blocks for a table and all that lies in it.

    headed: tables this many keys deep get a head line even where they only hold further tables.
    """
    leaves = "".join(toml_text.line(k, v) for k, v in table.items() if toml_text.is_leaf(v))
    blocks: list[Block] = []
    only_tables = bool(table) and not leaves
    if array or not only_tables or (path and len(path) == headed):
        blocks.append(Block(path, lead if path else "", head_line(path, array) if path else "", leaves))
    bare_head = bool(blocks) and bool(path) and not leaves
    for name, value in table.items():
        inner: list[Block] = []
        if toml_text.is_tables(value):
            inner = fresh_list((*path, name), value)
        elif isinstance(value, dict):
            inner = fresh((*path, name), value, headed=headed, lead="" if array else "\n")
        if inner and bare_head:
            inner[0].lead, bare_head = "", False
        blocks += inner
    return blocks


def fresh_list(path: Path, elements: Sequence[Mapping[str, Any]], first: int = 0) -> list[Block]:
    """New blocks for the elements of an array of tables, counted from `first`."""
    return [b for n, element in enumerate(elements) for b in fresh((*path, first + n), element, array=True)]
