"""A check that passed is told by what is in order where its title says what is not so."""

from __future__ import annotations

import re

import pytest

from buildtrack.checks.ruling import Result
from buildtrack.data import load
from buildtrack.storage.checklist_file import check_library, checklist_files, read_checklist

DENIES = re.compile(r"\b(not|no|never|without|missing|nothing|nobody)\b", re.IGNORECASE)
LISTS = (check_library(), *(read_checklist(path).check for path in checklist_files().values()))
TITLES = sorted({rule.title for rules in LISTS for rule in rules.values()})
STANDING = {"Not by post, not by air"}
"""Told as long as there is a pack; it never passes."""


def headline(title: str, outcome: str) -> str:
    return Result("any", "caution", outcome, "plan", "", title, "", "", (), (), "").headline


def test_the_pack_that_was_empty_when_it_was_opened_is_told_as_that() -> None:
    assert headline("The old pack was not empty when it was opened", "pass") == "The old pack was empty when it was opened"


@pytest.mark.parametrize("title", [title for title in TITLES if DENIES.search(title)])
def test_no_passed_check_denies_twice(title: str) -> None:
    told = headline(title, "pass")
    assert title in STANDING or not told.startswith("not found: "), "it needs a line in data/passed.toml"
    assert headline(title, "fail") == title != told


def test_a_fault_that_denies_nothing_is_told_as_not_found() -> None:
    plain = next(title for title in TITLES if not DENIES.search(title) and title not in load("passed"))
    assert headline(plain, "pass") == f"not found: {plain}"
    assert headline("A title of a list of one's own", "pass") == "not found: A title of a list of one's own"


def test_every_line_is_of_a_check_there_is_and_has_at_most_sixteen_words() -> None:
    for title, text in load("passed").items():
        assert title in TITLES and 2 < len(text.split()) <= 16, title
