"""Checklists, logs and lists of cells spoiled like build files: read, or refused in one line; no value changes unseen.

`python -m tests.bench.other_files_fuzz 60000` shares so many cases out among the three and prints what was found; with the
40,000 of `python -m tests.bench.build_file_fuzz 40000` that makes 100,000.
"""

from __future__ import annotations

import csv
import math
import random
import sys
import tempfile
import time
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from buildtrack.physics.log_errors import LogError
from buildtrack.physics.logs import read_log
from buildtrack.storage.cell_list import CellListError, read_cells
from buildtrack.storage.checklist_file import ChecklistError, parse_checklist, read_text
from tests.bench.build_file_fuzz import CHANGES
from tests.small import TEXT

FIELDS = ("", "0", "-1", "1e999", "nan", "1,234", "1.234,5", "99999999", "=1+1", "@x", "3.3 V", "\u202e3", "\x00", "é",
          '"', '"a', "'", "1_000", "\uff13", "2026-11-03", "12:00:00", "1e-9", "--", "OL", "x" * 3000)
MARKS = (";", ",", "\t", "|", " ", "\n", "\r\n", "\r", '"', "\x1a", "\ufeff", "\x85", "\u2028")


T = TypeVar("T")


@dataclass(slots=True)
class Tally:
    """What came of one kind of file."""

    read: int = 0
    refused: int = 0
    proven: int = 0
    """How often what was read could be compared with a plain reading of the same file."""
    longest_s: float = 0.0


# ------------------------------------------------------------------------------------------ how tables are spoiled


def _field(text: str, chance: random.Random) -> str:
    lines = text.split("\n")
    at = chance.randrange(len(lines))
    fields = lines[at].split(";")
    fields[chance.randrange(len(fields))] = chance.choice(FIELDS)
    lines[at] = ";".join(fields)
    return "\n".join(lines)


def _mark(text: str, chance: random.Random) -> str:
    at = chance.randrange(len(text))
    return text[:at] + chance.choice(MARKS) + text[at + chance.choice((0, 1)):]


def _everywhere(text: str, chance: random.Random) -> str:
    return text.replace(chance.choice((";", ".", "\n", "A", "0")), chance.choice((*MARKS, ",", ".", "", "9")))


def _lines(text: str, chance: random.Random) -> str:
    lines = text.split("\n")
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    kind = chance.randrange(4)
    if kind == 0:
        lines[one], lines[other] = lines[other], lines[one]
    elif kind == 1:
        lines.insert(one, lines[other])
    elif kind == 2:
        del lines[one]
    else:
        lines[one] += ";" + lines[other]
    return "\n".join(lines)


TABLE_CHANGES = (_field, _field, _mark, _everywhere, _lines, CHANGES[0], CHANGES[6], CHANGES[7])


def _spoiled(good: str, chance: random.Random, changes: tuple[Callable[[str, random.Random], str], ...]) -> str:
    text = good
    for _ in range(chance.choice((0, 1, 1, 1, 2, 3))):
        text = chance.choice(changes)(text, chance) or "\n"
    return text


def _one_line(error: Exception, number: int) -> None:
    said = str(error)
    assert said and len(said) < 900, f"case {number}: {said!r}"
    assert "\n" not in said and "\r" not in said, f"case {number}: {said!r}"


# ------------------------------------------------------------------------------------------------- the three kinds


def checklists(cases: int, path: Path, seed: int) -> Tally:
    """The small checklist spoiled; one without a problem says what its tables say."""
    chance, found = random.Random(seed), Tally()
    for number in range(cases):
        path.write_bytes(_spoiled(TEXT, chance, CHANGES).encode("utf-8", "surrogateescape"))
        began = time.process_time()
        try:
            text = read_text(path)
            checklist, problems = parse_checklist(text, str(path))
        except ChecklistError as error:
            checklist, problems = None, list(error.problems)
            _one_line(error, number)
        except ValueError as error:
            checklist, problems = None, []
            _one_line(error, number)
        found.longest_s = max(found.longest_s, time.process_time() - began)
        for problem in problems:
            _one_line(ValueError(str(problem)), number)
        if checklist is None or problems:
            found.refused += 1
            continue
        found.read += 1
        raw = tomllib.loads(text)
        assert [s.title for s in checklist.steps] == [s["title"] for s in raw["steps"]], f"case {number}"
        items = [i for s in raw["steps"] for i in s["items"]]
        assert [(i.id, i.label, i.hold) for i in checklist.all_items()] == [
            (i["id"], i["label"], i.get("hold", False)) for i in items], f"case {number}"
        assert {p.id: p.text for p in checklist.policies} == {
            n: p["value"] for n, p in raw.get("policy", {}).items()}, f"case {number}"
        found.proven += 1
    return found


LOG = "time [s];voltage [V];current [A]\n" + "\n".join(
    f"{10 * k};{4.1 - 0.01 * k:.3f};{1.5 + 0.1 * (k % 3):.2f}" for k in range(40)) + "\n"
CELLS = "id;capacity (mAh);resistance (mOhm);type\n" + "\n".join(
    f"c{k:02d};{2000 + 13 * k};{40 + k / 2};blue" for k in range(20)) + "\n"


def _plain_rows(text: str) -> list[list[float]] | None:
    """The rows where nothing about them is open: the header as it was, three plain numbers a line, time rising."""
    head, _, body = text.partition("\n")
    if head != LOG.partition("\n")[0] or not body.isascii() or '"' in body or "," in body or "\r" in body:
        return None
    try:
        rows = [[float(field) for field in line.split(";")] for line in body.split("\n") if line]
    except ValueError:
        return None
    plain = all(len(row) == 3 and all(map(math.isfinite, row)) for row in rows) and "_" not in body
    rising = all(b[0] > a[0] for a, b in zip(rows, rows[1:], strict=False))
    return rows if plain and rising and len(rows) > 5 else None


def _tables_read(good: str, cases: int, path: Path, seed: int, read: Callable[[Path], T],
                 refusal: type[ValueError], found: Tally) -> Iterator[tuple[int, str, T]]:
    """Each spoiled table that is read, with its number and text; a refusal must be one line."""
    chance = random.Random(seed)
    for number in range(cases):
        text = _spoiled(good, chance, TABLE_CHANGES)
        path.write_bytes(text.encode("utf-8", "surrogateescape"))
        began = time.process_time()
        try:
            made = read(path)
        except refusal as error:
            found.refused += 1
            _one_line(error, number)
            continue
        finally:
            found.longest_s = max(found.longest_s, time.process_time() - began)
        found.read += 1
        yield number, text, made


def logs(cases: int, path: Path, seed: int) -> Tally:
    """A short log spoiled; one that is plain and read without a warning has the charge of its trapezoids."""
    found = Tally()
    for number, text, summary in _tables_read(LOG, cases, path, seed, read_log, LogError, found):
        for value in (summary.charge_ah, summary.energy_wh, summary.duration_s):
            assert math.isfinite(value), f"case {number}: {value}"
        rows = _plain_rows(text)
        if rows is None or summary.warnings or summary.ignored:
            continue
        charge = sum((a[2] + b[2]) / 2 * (b[0] - a[0]) for a, b in zip(rows, rows[1:], strict=False)) / 3600
        assert math.isclose(abs(summary.charge_ah), abs(charge), rel_tol=1e-9, abs_tol=1e-12), f"case {number}"
        found.proven += 1
    return found


def cells(cases: int, path: Path, seed: int) -> Tally:
    """A list of cells spoiled; a cell whose line is plain has the capacity that stands on it."""
    found = Tally()
    for number, text, listed in _tables_read(CELLS, cases, path, seed, read_cells, CellListError, found):
        assert all(math.isfinite(c.capacity_ah) for c in listed.cells), f"case {number}"
        found.proven += _cells_agree(text, {c.id: c.capacity_ah for c in listed.cells}, number)
    return found


def _cells_agree(text: str, capacities: dict[str, float], number: int) -> bool:
    if text.partition("\n")[0] != CELLS.partition("\n")[0] or '"' in text or not text.isascii() or "\r" in text:
        return False
    compared = 0
    for row in csv.reader(text.split("\n")[1:], delimiter=";"):
        plain = len(row) >= 2 and row[0].strip() in capacities and row[1].strip().isdecimal()
        if plain and 50 <= int(row[1]) <= 50_000:  # what no cell can have is passed over, and said
            assert math.isclose(capacities[row[0].strip()], int(row[1]) / 1000), f"case {number}: {row}"
            compared += 1
    return compared > 5


ROOMS: dict[str, Callable[[int, Path, int], Tally]] = {"cells": cells, "checklists": checklists, "logs": logs}
SHARES = {"cells": 2, "checklists": 3, "logs": 1}
"""Of six parts each: a log takes ten times as long as the others."""


def main(cases: int) -> int:
    """Run all three in a folder of its own and print what was found."""
    with tempfile.TemporaryDirectory() as name:
        for number, (kind, room) in enumerate(ROOMS.items()):
            print(kind, room(cases * SHARES[kind] // 6, Path(name) / f"{kind}.txt", 70 + number), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 60_000))
