"""A real minus for computed numbers in texts that also hold typed ones: names of rows and files stay as they are."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from functools import lru_cache

from buildtrack.judging import Judged
from buildtrack.model.build import Build
from buildtrack.workings.graph import Sheet
from buildtrack.workings.values import Known, Table

_BELOW_ZERO = re.compile(r"(?<![\w).\]-])-\d+(?:\.\d+)?(?![\w/-]|[.,:]\w)")
"""A whole number below 0; not the begin of a name, a date or a file."""
_TYPED = re.compile(r"(?<![\w).\]-])-\d+(?:\.\d+)?")
"""The same, wherever it stands in what was typed."""


class _Same:
    """A build and its sheet, alike only where they are the very same."""

    def __init__(self, build: Build, sheet: Sheet) -> None:
        self.build, self.sheet = build, sheet

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.build is self.build and other.sheet is self.sheet

    def __hash__(self) -> int:
        return hash((id(self.build), id(self.sheet)))


def _texts(value: object) -> Iterator[str]:
    """Every text in a value of a build or of its tables."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _texts(key)
            yield from _texts(inner)
    elif isinstance(value, (tuple, list)):
        for inner in value:
            yield from _texts(inner)
    elif is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            yield from _texts(getattr(value, field.name))


@lru_cache(maxsize=2)
def _typed(same: _Same) -> frozenset[str]:
    """Every number below 0 in what was typed; the tables of the sheet hold rows that are not printed, too."""
    sheet, typed = same.sheet, replace(same.build, snapshot={})  # the snapshot is what was computed at the last save
    tables = tuple(v.value for n, v in sheet.values.items()
                   if n not in sheet.workings and isinstance(v, Known) and isinstance(v.value, (Table, str)))
    return frozenset(found for text in (*_texts(typed), *_texts(tables)) for found in _TYPED.findall(text))


def below_zero(judged: Judged, text: str) -> str:
    """Text with a real minus before numbers below 0, but where the same stands in anything that was typed."""
    if not _BELOW_ZERO.search(text):
        return text
    typed = _typed(_Same(judged.build, judged.assessment.sheet))

    def real(found: re.Match[str]) -> str:
        number = found.group()
        return number if any(t.startswith(number) for t in typed) else f"\u2212{number[1:]}"

    return _BELOW_ZERO.sub(real, text)
