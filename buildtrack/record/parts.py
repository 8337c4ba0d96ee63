"""Parts list of a build as CSV, for publishing: what was bought and what was used, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io

from buildtrack.judging import Judged
from buildtrack.model.build import Row
from buildtrack.record.gather_values import option_label
from buildtrack.record.text import line
from buildtrack.workings.explain import show_plain
from buildtrack.workings.values import Known

HEAD = ("what", "kind", "size or marking", "count", "amount", "remark")
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What spreadsheets take for the begin of a formula, in its wide forms too."""
_SINGLE = (("fuse", "fuse", ("fuse_family", "fuse_rating", "fuse_voltage")),
           ("protection board", "board", ("board_series", "board_continuous")),
           ("connector", "other", ("connector_rating",)),
           ("charger", "charger", ("charger_kind", "charge_voltage_target")))
"""Parts of which there is one, their kind, and what one must know to buy them: never what was measured of them, and
not the switch, which is the tool's own."""


def harmless(text: str) -> str:
    """Text that no spreadsheet takes for a formula: an apostrophe in front where it begins like one."""
    plain = line(text, 300)
    return f"'{plain}" if plain.startswith(_FORMULA) or text[:1] in ("\t", "\r") else plain


def _typed(judged: Judged, item: str) -> str:
    standing = judged.build.entry(item).standing
    return standing[-1].text if standing else ""


def _told(judged: Judged, name: str) -> str:
    """An answer by its label, a reading as typed, a working with its unit and without ±; empty where there is none."""
    sheet, item = judged.assessment.sheet, judged.checklist.items.get(name)
    if name in sheet.workings:
        value = sheet.value(name)
        return show_plain(value.value, sheet.workings[name].unit) if isinstance(value, Known) else ""
    typed = _typed(judged, name)
    return f"{typed} groups" if name == "board_series" and typed else option_label(item, typed) if item else typed


def _choice(judged: Judged, table: str, column: str, answer: str) -> str:
    """What an answer in a table is called."""
    item = judged.checklist.items.get(table)
    found = item.column(column) if item else None
    return next((o.label for o in found.options if o.id == answer), answer) if found else answer


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


def _strip(judged: Judged, row: Row) -> tuple[str, ...]:
    size = " × ".join(t for t in (row.text("width"), row.text("thickness"), row.text("length")) if t)
    material = _choice(judged, "strips", "material", row.text("material"))
    return ("strip", "wire", f"{material} {size}".strip(), row.text("parallel") or "1", "", row.text("run"))


def _single(judged: Judged) -> list[tuple[str, ...]]:
    found: list[tuple[str, ...]] = []
    for what, kind, items in _SINGLE:
        told = "; ".join(t for i in items if (t := _told(judged, i)))
        if _typed(judged, items[0]) not in ("", "none"):
            found.append((what, kind, told, "1", "", ""))
    return found


def _bought(row: Row) -> tuple[str, ...]:
    return (row.text("what"), row.text("kind"), "", "", row.text("amount"), "bought")


def parts_csv(judged: Judged) -> str:
    """The parts list: cells, wires, strips, single parts as used, then what was paid for (RFC 4180, CRLF)."""
    build = judged.build
    rows = [*_cells(judged), *(_run(r) for r in build.entry("conductors").rows),
            *(_strip(judged, r) for r in build.entry("strips").rows), *_single(judged),
            *(_bought(r) for r in build.entry("costs").rows)]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow((*HEAD[:4], f"amount [{line(build.currency, 12)}]" if build.currency else HEAD[4], HEAD[5]))
    for what, kind, *more in rows:
        writer.writerow([harmless(field) for field in (what, _choice(judged, "costs", "kind", kind), *more)])
    return out.getvalue()
