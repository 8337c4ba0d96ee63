"""Two readers of TOML: what tomli reads is what tomllib reads, to the type and order, and what it refuses tomllib refuses."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
import tomli
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.storage import toml_guard, write
from buildtrack.storage.build_file import open_text
from buildtrack.storage.checklist_file import find_checklist

ROOT = Path(__file__).parent.parent
FILES = sorted(p for folder in ("checklists", "sample_builds", "buildtrack/data", "tests/old_builds")
               for p in (ROOT / folder).rglob("*.toml"))


def told(thing: Any) -> Any:
    """A value with the type of each part and the order of its keys: 1 is not 1.0 and not true."""
    if isinstance(thing, dict):
        return [(k, told(v)) for k, v in thing.items()]
    if isinstance(thing, list):
        return ["list", *map(told, thing)]
    return type(thing).__name__, repr(thing)


def by_tomllib(text: str) -> Any:
    """What the standard reader makes of a text; its refusal where it makes nothing of it."""
    try:
        return told(tomllib.loads(text))
    except (ValueError, RecursionError) as error:
        return type(error)


def by_tomli(text: str) -> Any:
    """The same of the quicker reader; the two have a refusal each."""
    try:
        return told(tomli.loads(text))
    except tomli.TOMLDecodeError:
        return tomllib.TOMLDecodeError
    except (ValueError, RecursionError) as error:
        return type(error)


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_every_file_of_ours_is_read_alike_by_both(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert by_tomli(text) == by_tomllib(text) != tomllib.TOMLDecodeError


LINES = (
    "[a]", "[b]", "[a.b]", "[a.b.c]", "[[a]]", "[[b]]", "[[a.b]]", "[[a.b.c]]", "[a-1.2]", "[ a ]", "[a..b]", "[.a]", "[]",
    'x = "one"', 'x = ""', 'y = "é Ω ° \u2028"', 'y = "a\\nb"', 'y = "tab\tin"', 'y = "a" # why', "y = 'a'", 'b = "c"', "b = {}",
    "b = { c = 1 }", 'b = [{ c = "x" }]', "b = []", 'z = ["a"]', 'z = ["a", "b"]', 'z = ["a","b"]', 'z = ["a", "b",]',
    'z = ["a, b", ""]', 'z = ["a", 1]', "z = [", "]", '  "in a list",', "t = 2026-07-06T17:00:00Z", "t = 2026-02-30T17:00:00Z",
    "t = 2026-07-06T24:00:00Z", "t = 2026-07-06 17:00:00Z", "t = 2026-07-06T17:00:00+02:00", "t = 2026-07-06", "n = 0",
    "n = 12", "n = 007", "n = -1", "n = +1", "n = 1_000", "n = 1.50", "n = 1e3", "n = nan", "n = true", "n = True", "n = ²",
    "a.b = 1", '"k" = 1', "k=1", " k = 1", "k = 1 ", "k =", "= 1", "k = 1 2", "# a comment", "#", "# odd \x01", "", "   ",
    's = """', '"""', "s = '''", "'''", "k = 1\r", 'k = "\x7f"', "_value = 1", "value = 2", "[value]", "k = 99999999999999999999")


@settings(derandomize=True, deadline=None, max_examples=3000)
@given(st.lists(st.sampled_from(LINES), max_size=9))
def test_lines_in_any_order_are_read_or_refused_alike(lines: list[str]) -> None:
    text = "\n".join(lines)
    assert by_tomli(text) == by_tomllib(text)


SAMPLE = (ROOT / "sample_builds/grass-shears-in-progress.toml").read_text(encoding="utf-8")[:6000].rpartition("\n")[0]


@settings(derandomize=True, deadline=None, max_examples=400)
@given(st.integers(0, len(SAMPLE)), st.integers(0, 40), st.sampled_from(["", "\n", '"', "[", "]", "=", "\\", "\x00", ".", "a", "1", "#"]))
def test_a_spoiled_file_is_read_or_refused_alike(at: int, gone: int, put: str) -> None:
    text = SAMPLE[:at] + put + SAMPLE[at + gone:]
    assert by_tomli(text) == by_tomllib(text)


@pytest.mark.parametrize("text", ['a = "\\e"', "a = {b = 1,\n c = 2}", "t = 07:30"])
def test_what_only_a_later_toml_allows_is_refused_as_tomllib_refuses_it(text: str) -> None:
    """tomlkit would not write it back."""
    with pytest.raises(toml_guard.Refused, match="is not TOML"):
        toml_guard.loads(text)
    with pytest.raises(toml_guard.Refused, match="is not TOML"):
        toml_guard.loads(text, quickly=False)


def test_the_proof_of_a_text_to_be_saved_is_read_by_tomllib_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    before = open_text(SAMPLE)
    checklist = find_checklist(before.build.checklist.id)

    def refused(_text: str) -> dict[str, Any]:
        raise AssertionError("a save would be proven by the reader that read the file")

    monkeypatch.setattr(tomli, "loads", refused)
    assert write.rewrite(before.build, checklist, before).opened.build == before.build
