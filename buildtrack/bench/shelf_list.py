"""Past builds of a folder: what each file's summary says, kept by the file's stamp so that a second look is quick."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from datetime import date
from pathlib import Path
from typing import Any

from buildtrack.bench import shelf_due
from buildtrack.bench.due import handed_over
from buildtrack.bench.plain import fit, pad, plain
from buildtrack.bench.shelf_files import OTHER_TOML, build_files, other_kind, refusal, told_others
from buildtrack.bench.wide_table import broken
from buildtrack.bench.words import VERDICT_GLYPHS, answer_text
from buildtrack.judging import OPEN_STOPS, Judged
from buildtrack.model.build import Build
from buildtrack.storage.build_file import read_build
from buildtrack.storage.places import state_folder
from buildtrack.units import in_currency
from buildtrack.workings.explain import explain

CACHE_FORMAT = 4


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
    other: str = ""
    """What the file is where it is no build at all: empty, no text, another TOML file."""
    stop: str = ""
    """The stop that is open though the pack is in use."""


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


def list_builds(
    folder: Path, cache: Path | None = None, progress: Callable[[int, int], None] | None = None
) -> list[Shelved]:
    """Every build of a folder, and every file that may have been one; other TOML files are passed over."""
    return [row for row in list_files(folder, cache, progress) if row.title or row.problem]


def list_files(
    folder: Path, cache: Path | None = None, progress: Callable[[int, int], None] | None = None
) -> list[Shelved]:
    """Every file of a folder that is or could be a build; one with the stamp it had before is not read again.

    progress: told, now and then, how many files were looked at and how many there are.
    OSError where the folder cannot be read; a folder below it that cannot be is a row with its problem.
    """
    place = cache if cache is not None else cache_file()
    known = _read_cache(place)
    found: dict[str, tuple[list[int], Shelved]] = {}
    closed: list[OSError] = []
    files = build_files(folder, closed)
    for number, path in enumerate(files):
        if progress is not None and number % 20 == 0:
            progress(number, len(files))
        try:
            stat = path.stat()
        except FileNotFoundError:
            continue  # gone since it was listed
        except OSError as error:
            closed.append(error)
            continue
        stamp, name = [stat.st_mtime_ns, stat.st_size], str(path)
        before = known.get(name)
        found[name] = before if before is not None and before[0] == stamp else (stamp, read_shelved(path))
    if any(known.get(name) != entry for name, entry in found.items()):
        _write_cache(place, {**known, **found})
    refused = [Shelved(os.fsdecode(e.filename or ""), "", problem=refusal(e)) for e in closed]
    return [*(row for _, row in found.values()), *refused]


def read_shelved(path: Path) -> Shelved:
    """What the shelf shows of one file; neither title nor problem, but its kind, where it is no build."""
    try:
        build = read_build(path).build
    except (ValueError, OSError) as error:
        kind = other_kind(path)
        return Shelved(str(path), "", problem="" if kind else plain(str(error)), other=kind)
    return shelved(build, path)


def no_builds(rows: Sequence[Shelved], spoiled_only: bool) -> str:
    """One line that names the files that are no builds; spoiled_only: not the TOML files that are sound."""
    found = [(r.path, r.other) for r in rows if r.other and not (spoiled_only and r.other == OTHER_TOML)]
    return told_others(found)


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
        stop=_open_stop(build),
    )


def _open_stop(build: Build) -> str:
    """The first stop that failed or is not settled of a pack that is in use; empty where there is none."""
    stops = build.snapshot.get(OPEN_STOPS)
    if build.ended is not None or not handed_over(build) or not isinstance(stops, (list, tuple)) or not stops:
        return ""
    return plain(str(stops[0]))


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

    Those alike, and those with nothing there, by their last entry. A pack in use whose stop is open stands first in
    any order: it is to be taken out of use now.
    """
    rows = sorted(rows, key=lambda r: r.day, reverse=True)
    filled = [r for r in rows if getattr(r, column)]
    empty = [r for r in rows if not getattr(r, column)]
    found = [*sorted(filled, key=lambda r: _sort_value(str(getattr(r, column))), reverse=column == "day"), *empty]
    return sorted(found, key=lambda r: not r.stop)


def _sort_value(text: str) -> tuple[int, float, str]:
    number = text.split(" ")[0]
    try:
        return (0, float(number), text)
    except ValueError:
        return (1, 0.0, text.casefold())


def row_words(row: Shelved, widths: Sequence[int], today: date) -> str:
    """One row for the screen or for print."""
    if row.problem:
        name = Path(row.path).name
        return f"✗ {name}: {row.problem.removeprefix(f'{name}: ')}"
    texts = [getattr(row, name) for name, _, _ in COLUMNS]
    texts[1] = _verdict_text(row)
    texts[2] = shelf_due.NOW if row.stop else shelf_due.word(row.due, today)
    placed = (placed_text(name, text, width) for (name, _, _), text, width in zip(COLUMNS, texts, widths, strict=False))
    return "  ".join(text for text in placed if text).rstrip()


NUMBERS = ("capacity", "usable")
"""Columns of numbers, which stand to the right."""


def placed_text(column: str, text: str, width: int) -> str:
    """A text in its column, head or field; nothing where the column has no room."""
    return f"{fit(text, width):>{width}}" if width and column in NUMBERS else pad(text, width) if width else ""


def _verdict_text(row: Shelved) -> str:
    if row.stop:
        return f"✗ stop open · {row.verdict}"
    return f"{VERDICT_GLYPHS.get(row.verdict, '·')} {row.verdict}"


NARROWEST_TITLE = 21


def column_widths(rows: Sequence[Shelved], room: int, keep: str = "") -> list[int]:
    """Widths of the columns; those at the right go first where there is no room, but never the one to `keep`.

    What is due stays as long as it can: it is what a shelf is opened for. Where nothing is, it takes no room.
    """
    found = []
    for name, head, most in COLUMNS:
        longest = max((len(_verdict_text(r) if name == "verdict" else getattr(r, name)) for r in rows), default=0)
        found.append(min(most, max(len(head), longest)))
    names = [name for name, _, _ in COLUMNS]
    if keep != "due" and not any(r.due or r.stop for r in rows):
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


def head_words(widths: Sequence[int]) -> str:
    """The heads of the columns that have room."""
    placed = (placed_text(name, head, w) for (name, head, _), w in zip(COLUMNS, widths, strict=True))
    return "  ".join(text for text in placed if text)


def shelf_lines(rows: Sequence[Shelved], today: date, width: int = 110) -> Iterator[str]:
    """The shelf as plain lines."""
    widths = column_widths(rows, width)
    yield head_words(widths).rstrip()
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
    """Two builds side by side as plain lines, each value whole; ≠ marks what differs."""
    side = max(12, (width - 40) // 2)
    section = ""
    for row in rows:
        if row.section != section:
            section = row.section
            yield ""
            yield section
        parts = [broken(row.label, 34), broken(row.first, side), broken(row.second, side)]
        for number in range(max(map(len, parts))):
            mark = "≠" if row.differs and number == 0 else " "
            label, first, second = (part[number] if number < len(part) else "" for part in parts)
            yield f"{mark} {pad(label, 34)}  {pad(first, side)}  {second}".rstrip()
