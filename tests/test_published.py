"""Every published value, one test a row: tests/published/*.toml against the physics functions."""

from __future__ import annotations

import importlib
import inspect
import math
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest

from buildtrack import data

HERE = Path(__file__).resolve().parent
FOLDER = HERE / "published"
PHYSICS = Path(data.__file__).resolve().parents[1] / "physics"
KNOWN = ("seen", "seen in a copy", "run", "from memory", "derived")
KINDS = ("table", "worked example", "closed form", "other library")
SOURCE_FIELDS = ("author", "title", "year", "where", "known")
SOURCE_IN_TEXT = re.compile(r"Source: ([a-z0-9]+(?:-[a-z0-9]+)+|gum|arithmetic)\b")
SOURCE_IN_CSV = re.compile(r"^#.*\bsource\W+([a-z0-9-]+)", re.MULTILINE)
FLOATING_POINT = 1e-12
SUBJECTS = (
    "conductors", "ampacity", "fuses", "fuse_pulses", "circuit", "motor", "duty", "chain", "uncertainty",
    "designation", "transport", "old_pack", "charging", "thermal", "worth", "alarm", "ageing", "screening",
)
LOOKUPS = (
    "conductors.material_source", "ampacity.table_names", "fuses.families", "fuses.family_source", "duty.steady",
)
"""Readers of the tables, which hold no formula."""
CHECKED_BY_PROPERTY: tuple[str, ...] = (
    "motor.start_on_another_source_a", "duty.heating_current_a", "duty.longest_loaded_s",
)
"""Functions whose check needs more than one row: each has a test of its own in the file of its subject."""


def end_gauge(
    standard_nm: float, difference_nm: float, expansion: float, expansion_difference: float, difference_k: float,
    temperature_k: float,
) -> float:
    """GUM H.1: length of an end gauge compared with a standard."""
    return (standard_nm + difference_nm
            - standard_nm * (expansion_difference * temperature_k + expansion * difference_k))


MODELS: dict[str, Callable[..., float]] = {
    "ratio": lambda voltage, current: voltage / current,
    "two_loads": lambda first_v, second_v: (first_v - second_v) / 2.0,
    "end_gauge": end_gauge,
    "resistance": lambda voltage, current, phase: voltage / current * math.cos(phase),
    "reactance": lambda voltage, current, phase: voltage / current * math.sin(phase),
    "impedance": lambda voltage, current, phase: voltage / current,
}
"""Measurement models of worked examples that propagate uncertainty; a row names one with `model`."""


def read_rows() -> list[dict[str, Any]]:
    rows = []
    for path in sorted(FOLDER.glob("*.toml")):
        for row in tomllib.loads(path.read_text(encoding="utf-8"))["check"]:
            rows.append({"file": path.name, **row})
    return rows


ROWS = read_rows()


def name_of(row: Mapping[str, Any]) -> str:
    return f"{row.get('rule', 'no rule')} by {row.get('source', 'no source')}"


def resolve(rule: str) -> Callable[..., Any]:
    module, name = rule.rsplit(".", 1)
    function: Callable[..., Any] = getattr(importlib.import_module(f"buildtrack.physics.{module}"), name)
    return function


def build(kind: str, value: Any) -> Any:
    """Turn TOML into an argument: a table or a list becomes the named record, a list of those a list of records."""
    record = resolve(kind)
    if isinstance(value, Mapping):
        return record(**value)
    if all(isinstance(item, Mapping | list) for item in value):
        return [build(kind, item) for item in value]
    return record(*value)


def arguments(row: Mapping[str, Any]) -> dict[str, Any]:
    types: dict[str, str] = row.get("types", {})
    given = {key: build(types[key], value) if key in types else value for key, value in row["given"].items()}
    if "model" in row:
        given["function"] = MODELS[row["model"]]
    return given


def pick(result: Any, field: str) -> Any:
    """The part of a structured result that a row checks: attributes, keys or positions, joined by dots."""
    for part in field.split(".") if field else ():
        if isinstance(result, Mapping):
            result = result[part]
        elif part.isdigit():
            result = result[int(part)]
        else:
            result = getattr(result, part)
    return result


def agrees(got: Any, expected: Any, tolerance: float) -> bool:
    if isinstance(expected, bool) or isinstance(got, bool) or isinstance(expected, str):
        return type(got) is type(expected) and bool(got == expected)
    if isinstance(expected, list):
        return len(got) == len(expected) and all(
            agrees(one, other, tolerance) for one, other in zip(got, expected, strict=True)
        )
    return bool(abs(got - expected) <= tolerance + FLOATING_POINT * abs(expected))


def row_problems(row: Mapping[str, Any], sources: Mapping[str, Mapping[str, Any]]) -> list[str]:
    """What makes a row unusable as evidence."""
    problems = [f"{field} is missing" for field in ("rule", "given", "expect", "where") if field not in row]
    source = row.get("source")
    if source is None:
        return [*problems, "source is missing"]
    if source not in sources:
        return [*problems, f"source {source!r} is not in any sources file"]
    if row.get("known") not in KNOWN:
        problems.append(f"known is {row.get('known')!r}")
    if row.get("kind") not in KINDS:
        problems.append(f"kind is {row.get('kind')!r}")
    if row.get("known") == "from memory" and "high" not in (row.get("confidence"), sources[source].get("confidence")):
        problems.append("a value from memory needs high confidence")
    if row.get("known") in ("seen", "seen in a copy") and sources[source]["known"] in ("from memory", "derived"):
        problems.append(f"the row claims {row['known']!r}, its source only {sources[source]['known']!r}")
    return problems


def sources_in(value: Any) -> Iterable[str]:
    """Every source key named anywhere in a data table."""
    if isinstance(value, Mapping):
        for key, entry in value.items():
            if isinstance(entry, str) and (key == "source" or key.endswith("_source")):
                yield entry
            elif key == "sources" and isinstance(entry, list):
                yield from entry
            else:
                yield from sources_in(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from sources_in(entry)


def sources_of_tables() -> set[str]:
    used: set[str] = set()
    for path in sorted(data.FOLDER.rglob("*.toml")):
        if not path.name.startswith("sources"):
            used.update(sources_in(tomllib.loads(path.read_text(encoding="utf-8"))))
    for path in sorted(data.FOLDER.rglob("*.csv")):
        used.update(SOURCE_IN_CSV.findall(path.read_text(encoding="utf-8")))
    return used


def sources_of_formulas() -> set[str]:
    return {key for path in PHYSICS.glob("*.py") for key in SOURCE_IN_TEXT.findall(path.read_text(encoding="utf-8"))}


def unused_sources(sources: Iterable[str], used: Iterable[str]) -> list[str]:
    return sorted(set(sources) - set(used))


@pytest.mark.parametrize("row", ROWS, ids=name_of)
def test_physics_gives_the_published_value(row: dict[str, Any]) -> None:
    got = pick(resolve(row["rule"])(**arguments(row)), str(row.get("field", "")))
    assert agrees(got, row["expect"], row.get("tolerance", 0.0)), (
        f"{row['file']}: {row['rule']}({row['given']}) gives {got!r}, "
        f"{row['source']} ({row['where']}) has {row['expect']!r} ± {row.get('tolerance', 0.0)}"
    )


def test_every_row_names_a_usable_source() -> None:
    sources = data.sources()
    assert {name_of(row): problems for row in ROWS if (problems := row_problems(row, sources))} == {}


def test_there_are_many_rows_of_every_kind_of_evidence() -> None:
    assert len(ROWS) >= 160
    assert {row["known"] for row in ROWS} >= {"seen", "seen in a copy", "from memory", "derived"}


def test_a_row_without_source_is_refused() -> None:
    row = {key: value for key, value in ROWS[0].items() if key != "source"}
    assert row_problems(row, data.sources()) == ["source is missing"]


def test_a_row_with_an_unknown_source_is_refused() -> None:
    problems = row_problems({**ROWS[0], "source": "no-such-paper"}, data.sources())
    assert problems == ["source 'no-such-paper' is not in any sources file"]


def test_a_value_from_memory_without_high_confidence_is_refused() -> None:
    row = {**ROWS[0], "source": "plated-strip-memory", "known": "from memory"}
    assert row_problems(row, data.sources()) == ["a value from memory needs high confidence"]
    assert row_problems({**row, "confidence": "high"}, data.sources()) == []


def test_a_row_may_not_claim_to_be_seen_when_its_source_was_not() -> None:
    row = {**ROWS[0], "source": "iso-8820-3", "known": "seen"}
    assert row_problems(row, data.sources()) == ["the row claims 'seen', its source only 'from memory'"]


def test_a_wrong_value_is_noticed() -> None:
    assert not agrees(1.01, 1.0, 0.005)
    assert not agrees(True, 1, 0.0)
    assert not agrees((1.0, 2.0), [1.0], 0.0)
    assert not agrees("pass", "fail", 0.0)
    assert agrees((1.0, 2.004), [1.0, 2.0], 0.005)


def test_every_source_says_who_what_where_and_how_it_is_known() -> None:
    for key, source in data.sources().items():
        missing = [field for field in SOURCE_FIELDS if not source.get(field)]
        assert missing == [], f"{key} lacks {missing}"
        assert source["known"] in (*KNOWN, "common practice"), key
        assert source["known"] != "from memory" or source.get("confidence") in ("high", "medium", "low"), key


def test_every_source_named_by_a_table_or_a_formula_exists() -> None:
    known = set(data.sources())
    assert sorted(sources_of_tables() - known) == []
    assert sorted(sources_of_formulas() - known) == []


def test_no_source_is_kept_that_nothing_uses() -> None:
    used = {row["source"] for row in ROWS} | sources_of_tables() | sources_of_formulas()
    assert unused_sources(data.sources(), used) == []
    assert unused_sources(["iec-60228", "left-over"], used) == ["left-over"]


def test_every_data_table_names_a_source() -> None:
    for name in data.names():
        # Rules to check a build by, and their words, are no published table; they refer to workings, which name theirs.
        if name == "policy_bounds":
            assert all(bound["reason"].strip() for bound in data.load(name)["bounds"].values())
        elif not name.startswith(("sources", "checks", "passed")):
            assert list(sources_in(data.load(name))), f"{name}.toml names no source"


def public_functions(subject: str) -> list[tuple[str, str]]:
    module = importlib.import_module(f"buildtrack.physics.{subject}")
    return [
        (f"{subject}.{name}", function.__doc__ or "")
        for name, function in inspect.getmembers(module, inspect.isfunction)
        if function.__module__ == module.__name__ and not name.startswith("_")
    ]


@pytest.mark.parametrize("subject", SUBJECTS)
def test_every_formula_names_a_source_key(subject: str) -> None:
    silent = [name for name, text in public_functions(subject) if not SOURCE_IN_TEXT.search(text)]
    assert [name for name in silent if name not in LOOKUPS] == []


@pytest.mark.parametrize("subject", SUBJECTS)
def test_every_formula_has_a_published_value(subject: str) -> None:
    checked = {row["rule"] for row in ROWS}
    unchecked = [name for name, _ in public_functions(subject) if name not in checked]
    assert [name for name in unchecked if name not in LOOKUPS and name not in CHECKED_BY_PROPERTY] == []
