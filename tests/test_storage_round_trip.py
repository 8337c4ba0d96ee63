"""What is written reads back as the same build, whatever is in it and whatever stood in the file before."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.model.build import Build, Cell, Entry, Event, Reading, Row
from buildtrack.storage.build_file import open_text, parse_build, read_build
from buildtrack.storage.places import shipped_samples
from buildtrack.storage.toml_blocks import cut
from buildtrack.storage.toml_patch import patch, same, write
from buildtrack.storage.write import rewrite, to_text
from tests.storage_cases import AT, BUILDS, HOSTILE, KEYS, SCALARS, large_build, small_build

MODEST = settings(derandomize=True, deadline=None, max_examples=100)


@MODEST
@given(BUILDS)
def test_a_build_reads_back_as_it_was_written(build: Build) -> None:
    assert parse_build(to_text(build, None)) == build


@MODEST
@given(BUILDS, BUILDS)
def test_a_build_written_over_another_reads_back_and_keeps_the_layout(first: Build, second: Build) -> None:
    before = open_text(to_text(first, None))
    written = rewrite(second, None, before)
    assert not written.fresh, written.report
    assert parse_build(written.text) == second


@MODEST
@given(BUILDS, BUILDS)
def test_every_comment_between_tables_survives_any_edit(first: Build, second: Build) -> None:
    lines, number = [], 0
    for block in cut(to_text(first, None)).blocks:
        lines.append(block.lead + (f"# remark {number}.\n" if block.head else "") + block.head + block.body)
        number += 1 if block.head else 0
    before = open_text("".join(lines))
    written = rewrite(second, None, before)
    assert not written.fresh, written.report
    assert [n for n in range(number) if f"# remark {n}.\n" not in written.text] == []


TREES = st.dictionaries(KEYS, st.recursive(SCALARS, lambda inner: st.one_of(
    st.lists(inner, max_size=3), st.dictionaries(KEYS, inner, max_size=3),
    st.lists(st.dictionaries(KEYS, inner, max_size=2), max_size=3)), max_leaves=12), max_size=4)


@settings(derandomize=True, deadline=None, max_examples=400)
@given(TREES, TREES)
def test_any_tables_can_be_changed_into_any_others(old: dict[str, object], new: dict[str, object]) -> None:
    text = write(old)
    assert same(tomllib.loads(text), old)
    assert same(tomllib.loads(patch(text, tomllib.loads(text), new)), new)


@MODEST
@given(BUILDS)
def test_writing_the_same_build_again_changes_no_byte(build: Build) -> None:
    text = to_text(build, None)
    assert to_text(build, None, text) == text


@pytest.mark.parametrize("text", HOSTILE)
def test_a_hostile_text_comes_back_as_it_was_and_breaks_no_line(text: str) -> None:
    history = (Event(AT, "entered", item=text, after=text),)
    entries = {"a": Entry((Reading(text, AT, text, text),)), "t": Entry(rows=(Row("r", {"c": Cell(text, note=text)}),))}
    build = small_build(title=text, entries=entries, history=history)
    written = to_text(build, None)
    assert parse_build(written) == build
    assert all(c.isprintable() or c == "\n" for c in written)
    changed = replace(build, title="plain")
    assert parse_build(to_text(changed, None, written)) == changed


def test_the_file_of_a_full_build_is_large_and_comes_back() -> None:
    build = large_build()
    text = to_text(build, None)
    assert 150_000 < len(text) < 400_000
    more = replace(build, history=(*build.history, Event(AT, "entered", after="1 V")))
    again = to_text(more, None, text)
    assert parse_build(again) == more
    assert again.startswith(text)


def test_reading_and_adding_loads_no_tomlkit_and_changing_does() -> None:
    code = """
import sys
from dataclasses import replace
from pathlib import Path
from buildtrack.storage.write import to_text
import buildtrack.storage.session
from tests.storage_cases import small_build
text = to_text(small_build(), None)
to_text(small_build(maker="somebody"), None, text)
print("tomlkit" in sys.modules)
to_text(small_build(title="other"), None, text)
print("tomlkit" in sys.modules)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.stdout.split() == ["False", "True"], done.stderr


@pytest.mark.parametrize("path", sorted(shipped_samples().glob("*.toml")), ids=lambda path: path.stem)
def test_every_sample_is_kept_to_the_byte_and_can_be_added_to(path: Path) -> None:
    opened = read_build(path)
    assert to_text(opened.build, None, opened.text) == opened.text
    more = replace(opened.build, title="Another title", history=(*opened.build.history, Event(AT, "renamed")))
    written = rewrite(more, None, opened)
    assert not written.fresh, written.report
    gone = set(opened.text.split("\n")) - set(written.text.split("\n"))
    assert [line.partition(" ")[0] for line in gone] == ["title"]
