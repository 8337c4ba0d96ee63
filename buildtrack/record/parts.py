"""Parts list of a build as CSV, for publishing: what was bought and what was used, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io

from buildtrack.judging import Judged
from buildtrack.model.build import Row
from buildtrack.record.text import line

HEAD = ("what", "kind", "size or marking", "count", "amount", "remark")
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What spreadsheets take for the begin of a formula, in its wide forms too."""
_SINGLE = (("fuse", "fuse", ("fuse_family", "fuse_rating", "fuse_voltage")),
           ("protection board", "board", ("board_series", "board_continuous")),
           ("switch", "other", ("switch_rating",)), ("connector", "other", ("connector_rating",)),
           ("charger", "charger", ("charger_kind", "charger_voltage", "charger_current")))


def harmless(text: str) -> str:
    """Text that no spreadsheet takes for a formula: an apostrophe in front where it begins like one."""
    plain = line(text, 300)
    return f"'{plain}" if plain.startswith(_FORMULA) or text[:1] in ("\t", "\r") else plain


def _typed(judged: Judged, item: str) -> str:
    standing = judged.build.entry(item).standing
    return standing[-1].text if standing else ""


def _cells(judged: Judged) -> list[tuple[str, ...]]:
    """Kept cells, alike ones together."""
    counts: dict[tuple[str, str], int] = {}
    for row in judged.build.entry("candidates").rows:
        if row.text("decision") == "keep":
            key = (row.text("marking") or "cell", row.text("rated_capacity"))
            counts[key] = counts.get(key, 0) + 1
    return [("cell", "cells", ", ".join(t for t in names if t), str(n), "", "") for names, n in counts.items()]


def _run(row: Row) -> tuple[str, ...]:
    size = ", ".join(t for t in (row.text("size"), row.text("length")) if t)
    return ("wire", "wire", size, row.text("parallel") or "1", "", row.text("run"))


def _strip(row: Row) -> tuple[str, ...]:
    size = " × ".join(t for t in (row.text("width"), row.text("thickness"), row.text("length")) if t)
    return ("strip", "wire", f"{row.text('material')} {size}".strip(), row.text("parallel") or "1", "", row.text("run"))


def _single(judged: Judged) -> list[tuple[str, ...]]:
    found: list[tuple[str, ...]] = []
    for what, kind, items in _SINGLE:
        told = ", ".join(f"{t} groups" if i == "board_series" else t for i in items if (t := _typed(judged, i)))
        if told and not told.startswith("none"):
            found.append((what, kind, told, "1", "", ""))
    return found


def _bought(row: Row) -> tuple[str, ...]:
    return (row.text("what"), row.text("kind"), "", "", row.text("amount"), "bought")


def parts_csv(judged: Judged) -> str:
    """The parts list: cells, wires, strips, single parts as used, then what was paid for (RFC 4180, CRLF)."""
    build = judged.build
    rows = [*_cells(judged), *(_run(r) for r in build.entry("conductors").rows),
            *(_strip(r) for r in build.entry("strips").rows), *_single(judged),
            *(_bought(r) for r in build.entry("costs").rows)]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow((*HEAD[:4], f"amount [{line(build.currency, 12)}]" if build.currency else HEAD[4], HEAD[5]))
    writer.writerows([harmless(field) for field in row] for row in rows)
    return out.getvalue()
