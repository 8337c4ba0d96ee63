"""Every one of the forty usual mistakes is caught by a check."""

from __future__ import annotations

from buildtrack.checks.engine import all_rules
from buildtrack.storage.checklist_file import check_library, find_checklist

CHECKLIST = find_checklist("nickel-tool-pack")


def test_the_catalogue_holds_forty_mistakes() -> None:
    assert sorted(CHECKLIST.mistakes) == [f"D{n:02d}" for n in range(1, 41)]


def test_each_mistake_has_its_check() -> None:
    caught = {m for check in CHECKLIST.checks for m in check.mistakes}
    assert caught >= set(CHECKLIST.mistakes), sorted(set(CHECKLIST.mistakes) - caught)


def test_no_check_names_a_mistake_that_is_not_in_the_catalogue() -> None:
    for check in CHECKLIST.checks:
        assert set(check.mistakes) <= set(CHECKLIST.mistakes), check.id


def test_every_check_tells_what_to_do() -> None:
    for check in CHECKLIST.checks:
        if check.severity != "note":
            assert check.advice, check.id


def test_every_coded_rule_is_used() -> None:
    own = find_checklist("hand-vacuum").checks  # with those of the shared files, which the library does not have
    assert {c.rule for c in (*check_library().values(), *own) if c.rule} == set(all_rules())
