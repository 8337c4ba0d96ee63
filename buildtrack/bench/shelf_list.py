"""Past builds of a folder: what each file's summary says, kept by the file's stamp so that a second look is quick."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from datetime import date
from pathlib import Path
from typing import Any

from buildtrack.bench import shelf_due
from buildtrack.bench.plain import pad, plain
from buildtrack.bench.words import VERDICT_GLYPHS, answer_text
from buildtrack.judging import Judged
from buildtrack.model.build import Build
from buildtrack.storage.build_file import read_build
from buildtrack.storage.places import state_folder
from buildtrack.units import in_currency
from buildtrack.workings.explain import explain

CACHE_FORMAT = 3
_TABLE_OF_A_BUILD = re.compile(rb"^\s*\[\s*(checklist\s*\]|(steps|instruments)\s*\.)", re.MULTILINE)
DEEPEST = 2
"""How many folders below the one named are looked into."""
MOST_FILES = 5000


@dataclass(frozen=True, slots=True)
class Shelved:
    """One build on the shelf."""

    path: str
    title: str
    checklist: str = ""
    day: str = ""
    """Day of its last entry."""
    layout: str = ""
    """Groups in series by cells in parallel."""
    capacity: str = ""
    usable: str = ""
    verdict: str = ""
    due: str = ""
    """Day on which something is due next."""
    due_for: str = ""
    """What is due then."""
    notice: str = ""
    problem: str = ""
    """Why the file is no build that can be read."""


COLUMNS: tuple[tuple[str, str, int], ...] = (
    ("title", "title", 34),
    ("verdict", "verdict", 26),
    ("due", "due", 10),
    ("layout", "S × P", 7),
    ("capacity", "capacity", 12),
    ("usable", "usable", 9),
    ("day", "last entry", 10),
    ("checklist", "checklist", 18),
)
"""Field, head and greatest width of every column."""


def cache_file() -> Path:
    """Where the shelf remembers what it has read."""
    return state_folder() / "shelf.json"


def build_files(folder: Path) -> list[Path]:
    """The build files of a folder and the folders a little below it, by name."""
    found: list[Path] = []
    root = str(folder)
    for place, folders, names in os.walk(root):
        depth = 0 if place == root else os.path.relpath(place, root).count(os.sep) + 1
        folders[:] = sorted(f for f in folders if not f.startswith(".")) if depth < DEEPEST else []
        found += [Path(place) / n for n in sorted(names) if n.endswith(".toml") and not n.startswith(".")]
        if len(found) > MOST_FILES:
            break
    return found[:MOST_FILES]


def list_builds(
    folder: Path, cache: Path | None = None, progress: Callable[[int, int], None] | None = None
) -> list[Shelved]:
    """Every build of a folder. What was read before and has the same stamp is not read again.

    progress: told, now and then, how many files were looked at and how many there are.
    """
    place = cache if cache is not None else cache_file()
    known = _read_cache(place)
    found: dict[str, tuple[list[int], Shelved]] = {}
    files = build_files(folder)
    for number, path in enumerate(files):
        if progress is not None and number % 20 == 0:
            progress(number, len(files))
        try:
            stat = path.stat()
        except OSError:
            continue  # gone since it was listed
        stamp, name = [stat.st_mtime_ns, stat.st_size], str(path)
        before = known.get(name)
        found[name] = before if before is not None and before[0] == stamp else (stamp, read_shelved(path))
    if any(known.get(name) != entry for name, entry in found.items()):
        _write_cache(place, {**known, **found})
    return [row for _, row in found.values() if row.title or row.problem]


def read_shelved(path: Path) -> Shelved:
    """What the shelf shows of one file; an empty title and no problem where it is another kind of TOML file."""
    try:
        build = read_build(path).build
    except (ValueError, OSError) as error:
        return Shelved(str(path), "", problem="" if _is_other(path) else plain(str(error)))
    return shelved(build, path)


def _is_other(path: Path) -> bool:
    """Whether a file does not even look like a build."""
    try:
        with path.open("rb") as file:
            start = file.read(16_000)
    except OSError:
        return False
    return _TABLE_OF_A_BUILD.search(start) is None


def shelved(build: Build, path: Path) -> Shelved:
    """What the shelf shows of a build, from its summary."""
    told = build.snapshot.get("workings", {})
    workings: Mapping[str, Any] = told if isinstance(told, Mapping) else {}
    times = [e.at for e in build.history if e.at is not None]
    series, parallel = _last(build, "series_count"), _last(build, "parallel_count")
    capacity = workings.get("delivered_capacity_tested") or workings.get("smallest_group_capacity") or ""
    verdict = plain(str(build.snapshot.get("verdict", "incomplete")))
    due, due_for = shelf_due.due_next(build, verdict, plain(str(workings.get("next_recheck", ""))))
    return Shelved(
        str(path),
        plain(build.title),
        build.checklist.id,
        f"{max(times):%Y-%m-%d}" if times else "",
        f"{series}S{parallel}P" if series and parallel else "",
        _short(capacity),
        _short(workings.get("delivered_share", "")),
        verdict,
        due,
        due_for,
        plain(build.notice),
    )


def _last(build: Build, item: str) -> str:
    standing = build.entry(item).standing
    return plain(standing[-1].text) if standing else ""


def _short(text: object) -> str:
    """A value of a summary without its ±."""
    words = plain(str(text))
    number, mark, rest = words.partition(" ± ")
    return f"{number} {rest.partition(' ')[2]}".strip() if mark else words


def _read_cache(place: Path) -> dict[str, tuple[list[int], Shelved]]:
    try:
        raw = json.loads(place.read_text(encoding="utf-8"))
        names = {f.name for f in fields(Shelved)}
        if raw["format"] != CACHE_FORMAT:
            return {}
        return {
            name: (
                [int(n) for n in entry["stamp"]],
                Shelved(**{k: str(v) for k, v in entry["row"].items() if k in names}),
            )
            for name, entry in raw["builds"].items()
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}  # a cache that cannot be read costs only time


def _write_cache(place: Path, entries: Mapping[str, tuple[list[int], Shelved]]) -> None:
    raw = {"format": CACHE_FORMAT, "builds": {n: {"stamp": s, "row": asdict(r)} for n, (s, r) in entries.items()}}
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(json.dumps(raw), encoding="utf-8")
    except OSError:
        return  # without a cache the next look takes longer; nothing else depends on it


def matching(rows: Sequence[Shelved], words: str) -> list[Shelved]:
    """The rows that hold every word somewhere."""
    wanted = words.casefold().split()
    return [r for r in rows if all(w in " ".join(str(v) for v in asdict(r).values()).casefold() for w in wanted)]


def ordered(rows: Sequence[Shelved], column: str) -> list[Shelved]:
    """Rows by one column; numbers by size, last entries newest first, what is due earliest first, empty last.

    Those alike, and those with nothing there, by their last entry.
    """
    rows = sorted(rows, key=lambda r: r.day, reverse=True)
    filled = [r for r in rows if getattr(r, column)]
    empty = [r for r in rows if not getattr(r, column)]
    return [*sorted(filled, key=lambda r: _sort_value(str(getattr(r, column))), reverse=column == "day"), *empty]


def _sort_value(text: str) -> tuple[int, float, str]:
    number = text.split(" ")[0]
    try:
        return (0, float(number), text)
    except ValueError:
        return (1, 0.0, text.casefold())


def row_words(row: Shelved, widths: Sequence[int], today: date) -> str:
    """One row for the screen or for print."""
    if row.problem:
        return f"✗ {Path(row.path).name}: {row.problem}"
    texts = [getattr(row, name) for name, _, _ in COLUMNS]
    texts[1] = f"{VERDICT_GLYPHS.get(row.verdict, '·')} {row.verdict}"
    texts[2] = shelf_due.word(row.due, today)
    return "  ".join(pad(text, width) for text, width in zip(texts, widths, strict=False) if width).rstrip()


NARROWEST_TITLE = 21


def column_widths(rows: Sequence[Shelved], room: int, keep: str = "") -> list[int]:
    """Widths of the columns; those at the right go first where there is no room, but never the one to `keep`.

    What is due stays as long as it can: it is what a shelf is opened for. Where nothing is, it takes no room.
    """
    found = []
    for name, head, most in COLUMNS:
        longest = max((len(getattr(r, name)) + (2 if name == "verdict" else 0) for r in rows), default=0)
        found.append(min(most, max(len(head), longest)))
    names = [name for name, _, _ in COLUMNS]
    if keep != "due" and not any(r.due for r in rows):
        found[2] = 0
    for last in range(len(found) - 1, 2, -1):
        if names[last] != keep and _taken(found) > room:
            found[last] = 0
    narrowest = min(found[0], NARROWEST_TITLE)
    if _taken([narrowest, *found[1:]]) > room and keep != "due":
        found[2] = 0
    found[0] = max(narrowest, found[0] - max(0, _taken(found) - room))
    return found


def _taken(widths: Sequence[int]) -> int:
    return sum(widths) + 2 * (len([w for w in widths if w]) - 1)


def shelf_lines(rows: Sequence[Shelved], today: date, width: int = 110) -> Iterator[str]:
    """The shelf as plain lines."""
    widths = column_widths(rows, width)
    yield "  ".join(pad(head, w) for (_, head, _), w in zip(COLUMNS, widths, strict=True) if w).rstrip()
    yield from (row_words(r, widths, today) for r in rows)


# -- two side by side ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Compared:
    """One thing of two builds."""

    section: str
    label: str
    first: str
    second: str

    @property
    def differs(self) -> bool:
        """Whether the two are not the same."""
        return self.first != self.second


def compare(first: Judged, second: Judged) -> list[Compared]:
    """Verdict, answers and workings of two builds, step by step; what neither has is left away."""
    found = [
        Compared("", "title", first.build.title, second.build.title),
        Compared("", "verdict", first.assessment.verdict, second.assessment.verdict),
        Compared("", "conditions", str(len(first.assessment.conditions)), str(len(second.assessment.conditions))),
    ]
    for step in first.checklist.steps:
        for item in step.items:
            other = second.checklist.items.get(item.id, item)
            found.append(
                Compared(
                    step.title,
                    item.label,
                    answer_text(item, first.build.entry(item.id)),
                    answer_text(other, second.build.entry(item.id)),
                )
            )
        for name in step.workings:
            label, one = _told(first, name)
            found.append(Compared(step.title, label, one, _told(second, name)[1]))
    one, two = first.build.currency, second.build.currency
    named = (replace(r, first=in_currency(r.first, one), second=in_currency(r.second, two)) for r in found)
    return [row for row in named if row.first or row.second]


def _told(judged: Judged, name: str) -> tuple[str, str]:
    sheet = judged.assessment.sheet
    if name not in sheet.workings:
        return name.replace("_", " "), ""
    told = explain(name, sheet, judged.checklist)
    return told.label, told.shown if told.state == "known" else ""


def compare_lines(rows: Sequence[Compared], width: int = 110) -> Iterator[str]:
    """Two builds side by side as plain lines; ≠ marks what differs."""
    side = max(12, (width - 40) // 2)
    section = ""
    for row in rows:
        if row.section != section:
            section = row.section
            yield ""
            yield section
        mark = "≠" if row.differs else " "
        sides = f"{pad(plain(row.first), side)}  {pad(plain(row.second), side)}"
        yield f"{mark} {pad(plain(row.label), 34)}  {sides}".rstrip()
