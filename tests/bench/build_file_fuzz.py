"""Build files spoiled in every way a seed can think of: each gives a build or one clear line, in bounded time.

`python -m tests.bench.build_file_fuzz 100000` reads so many and prints what was found.
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from buildtrack.model.build import Cell, Entry, Event, LeftOut, PolicyChange, Reading, Review, Row, Waiver
from buildtrack.storage.build_file import BuildFileError, Opened, open_text, read_build
from buildtrack.storage.write import rewrite, to_text
from tests.storage_cases import AT, HOSTILE, small_build

TOKENS = (
    "[", "]", "[[", "]]", "{", "}", "=", ".", ",", '"', "'", '"""', "'''", "#", "\n", "\r", "\\", "\0", "\x1b",
    "\u202e", "true", "nan", "-1", "1e999", "0x", "99999999999999999999", "2026-13-45", "2026-11-03", "[[history]]",
    "[steps]", "[steps.load.a]", "format = 2", "id = 1", 'class = "?"', "é", " ", "taken", "with", "readings", "rows")
LINES = (
    "# remark", "", "mine = 1", "mine.yours = 1", 'mine = {a = "]"}', "mine = [\n 1, # x\n]", "[mine]", "[[mine]]",
    "[a.b.c]", '"a b" = """\n[x]\n"""', "   ", "[steps.load.current.mine]", "[snapshot.mine]")
VALUES = (
    "1", "true", '""', "[]", "{}", "[{}]", "[[]]", "nan", "2026-11-03", "2026-11-03T18:20:00", "18:20:00", "{a = {}}",
    "2026-11-03T18:20:00Z", "0001-01-01T00:00:00+23:59", '"""\n[x]\n"""', "[1, {a = 1}]", "-0.0", "1e400")


def full_text() -> str:
    """A build file with everything in it."""
    slipped = Reading("1.4 A", AT, withdrawn="slipped", value_class="guessed")
    entries = {
        "current": Entry((Reading("1.3 A", AT, "m1", "hot"), slipped)),
        "photo": Entry((Reading("a_files/p.jpg", AT, sha256="ab" * 32, size=12345),)),
        "parts": Entry(rows=(Row("c01", {"v": Cell("3.7 V", AT, "m1"), "note": Cell("blue", note="x")}), Row("c02"))),
        "brake": Entry(left_out=LeftOut("none", AT, "me"), expected="1 s", expected_rows=(Row("r", {"a": Cell("1")}),)),
        "instruments": Entry(rows=(Row("m1-20v", {"kind": Cell("multimeter")}),))}
    build = small_build(
        created=AT, maker="me", currency="EUR", notice="invented", entries=entries,
        policy={"stop": PolicyChange("2.6 V", "colder", AT, "me")},
        waivers=(Waiver("warm", "cools", "me", AT),),
        reviews=(Review("r", "agree", "fine", AT, "cd" * 32),),
        snapshot={"verdict": "cleared", "workings": {"a": "1 V"}},
        history=tuple(Event(AT, "entered", "load", "current", before=str(n), after="x") for n in range(4)))
    return to_text(build, None)


def _bytes(text: str, chance: random.Random) -> str:
    data = bytearray(text.encode("utf-8", "surrogateescape"))
    for _ in range(chance.randint(1, 4)):
        data[chance.randrange(len(data))] = chance.randrange(256)
    return data.decode("utf-8", "surrogateescape")


def _token(text: str, chance: random.Random) -> str:
    at = chance.randrange(len(text))
    return text[:at] + chance.choice((*TOKENS, *HOSTILE)) + text[at + chance.choice((0, 0, 1, 5)):]


def _value(text: str, chance: random.Random) -> str:
    lines = text.split("\n")
    at = chance.randrange(len(lines))
    lines[at] = lines[at].partition(" = ")[0] + " = " + chance.choice(VALUES)
    return "\n".join(lines)


def _key(text: str, chance: random.Random) -> str:
    lines = text.split("\n")
    at = chance.randrange(len(lines))
    key = chance.choice(("id", "taken", "a.b", '""', "x", "class", "rows"))
    lines[at] = f"{key} = " + lines[at].partition(" = ")[2]
    return "\n".join(lines)


def _letter(text: str, chance: random.Random) -> str:
    at = chance.randrange(len(text))
    return text[:at] + chance.choice("abcxyz019 ") + text[at + 1:]


def _line(text: str, chance: random.Random) -> str:
    lines = text.split("\n")
    lines.insert(chance.randrange(len(lines) + 1), chance.choice(LINES))
    return "\n".join(lines)


def _structure(text: str, chance: random.Random) -> str:
    blocks = text.split("\n\n")
    one, other = chance.randrange(len(blocks)), chance.randrange(len(blocks))
    kind = chance.randrange(4)
    if kind == 0:
        blocks[one], blocks[other] = blocks[other], blocks[one]
    elif kind == 1:
        blocks.insert(one, blocks[other])
    elif kind == 2:
        del blocks[one]
    else:
        blocks[one] = blocks[one].replace("[[", "[").replace("]]", "]") if "[[" in blocks[one] else f"[{blocks[one]}]"
    return "\n\n".join(blocks)


def _cut(text: str, chance: random.Random) -> str:
    low, high = sorted((chance.randrange(len(text)), chance.randrange(len(text))))
    return text[:low] + text[high:] if chance.random() < 0.5 else text[:high]


CHANGES: tuple[Callable[[str, random.Random], str], ...] = (
    _bytes, _token, _value, _value, _key, _structure, _cut, _letter, _line, _line)


def fuzz(cases: int, path: Path, seed: int = 1) -> dict[str, float]:
    """Spoil a build file in so many ways and read it; returns how often it was read and how often refused.

    Whatever is read must be written back as the same build, with another title put in.
    """
    good, chance = full_text(), random.Random(seed)
    found: dict[str, float] = {"read": 0, "refused": 0, "afresh": 0, "longest_s": 0.0}
    for number in range(cases):
        text = good
        for _ in range(chance.choice((1, 1, 1, 2, 3))):
            text = chance.choice(CHANGES)(text, chance) or "\n"
        began = time.process_time()
        opened = _read(text, path, number)
        found["longest_s"] = max(found["longest_s"], time.process_time() - began)
        if opened is None:
            found["refused"] += 1
            continue
        found["read"] += 1
        changed = replace(opened.build, title="changed", snapshot={"verdict": "new"})
        written = rewrite(changed, None, opened)
        assert open_text(written.text).build == changed, f"case {number}"
        found["afresh"] += written.fresh
    return found


def _read(text: str, path: Path, number: int) -> Opened | None:
    path.write_bytes(text.encode("utf-8", "surrogateescape"))
    try:
        return read_build(path)
    except BuildFileError as error:
        said = str(error)
        assert said.startswith(f"{path}: "), f"case {number}"
        assert all(c.isprintable() for c in said), f"case {number}: {said!r}"
        assert len(said) < 600 + len(os.fspath(path)), f"case {number}"
        return None


def main(cases: int) -> int:
    """Run it in a folder of its own and print what was found."""
    with tempfile.TemporaryDirectory() as name:
        print(fuzz(cases, Path(name) / "spoiled.toml", seed=7))
    return 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000))
