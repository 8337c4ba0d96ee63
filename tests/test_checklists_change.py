"""A build says what changed in its checklist since it was made."""

from __future__ import annotations

from dataclasses import replace

from buildtrack.model.build import Build, PolicyChange, Waiver
from buildtrack.model.checklist import Checklist
from buildtrack.storage import make_tree
from buildtrack.storage.checklist_change import KEY, outline, what_changed
from buildtrack.storage.checklist_file import parse_checklist
from buildtrack.storage.template import start_new
from tests.make import NOW, build_with
from tests.small import TEXT, small


def changed(old: str, new: str) -> Checklist:
    assert old in TEXT
    found, problems = parse_checklist(TEXT.replace(old, new, 1), "small.toml")
    assert not problems, problems
    return found


def begun() -> Build:
    """A build made with the small checklist, its outline in the snapshot as it is read back from the file."""
    return replace(start_new(small(), "A build", "", NOW, "b"), snapshot={KEY: make_tree.plain(outline(small()))})


def test_nothing_is_said_where_nothing_changed() -> None:
    assert what_changed(begun(), small()) == []


def test_a_new_item_and_one_that_is_gone_are_named() -> None:
    told = what_changed(begun(), changed('id = "extra"', 'id = "other"'))
    assert "the checklist was changed since the build was made, under the same version" in told
    assert "new items: 'What was odd'" in told and "items that are gone: extra" in told


def test_another_question_and_another_wording_are_told_apart() -> None:
    stricter = what_changed(begun(), changed('hard = ["-50", "300"]', 'hard = ["-40", "300"]'))
    assert "items that ask something else: 'Temperature of the part'" in stricter
    assert not any(t.startswith("items worded differently") for t in stricter)
    reworded = what_changed(begun(), changed('label = "Temperature of the part"', 'label = "How warm it is"'))
    assert "items worded differently: 'How warm it is'" in reworded
    assert not any(t.startswith("items that ask something else") for t in reworded)


def test_a_reworded_option_is_wording_and_another_answer_is_not() -> None:
    assert any(t.startswith("items worded") for t in what_changed(begun(), changed('["yes", "Yes"]', '["yes", "Yes, it may"]')))
    more = changed('[["keep", "Keep"],', '[["keep", "Keep"], ["spare", "Spare"],')
    assert any(t.startswith("items that ask") and "'Parts'" in t for t in what_changed(begun(), more))


def test_a_limit_is_told_with_both_values() -> None:
    told = what_changed(begun(), changed('value = "60 °C"', 'value = "55 °C"'))
    assert "limit 'Hottest a part may get' was 60 °C, is now 55 °C" in told


def test_checks_that_are_new_gone_or_judge_differently_are_named() -> None:
    told = what_changed(begun(), changed('id = "warm"\nstep = "look"\nseverity = "caution"', 'id = "warm"\nstep = "look"\nseverity = "stop"'))
    assert "checks that judge differently: 'The part is warm'" in told
    told = what_changed(begun(), changed('id = "kept-warm"', 'id = "kept-hot"'))
    assert "new checks: 'A kept part is warm'" in told and "checks that are gone: kept-warm" in told


def test_another_version_is_named() -> None:
    assert what_changed(begun(), changed('version = "1"', 'version = "2"')) == ["made with version 1 of the checklist; this is version 2"]


def test_many_changes_of_one_kind_are_counted() -> None:
    other = replace(small(), steps=tuple(replace(s, items=tuple(replace(i, id=i.id + "_x") for i in s.items)) for s in small().steps),
                    sha256="other")
    more = replace(other, steps=(*other.steps, replace(other.steps[0], id="z", items=tuple(
        replace(i, id=i.id + "_y") for i in other.steps[0].items))))
    assert any(t.startswith("new items:") and t.endswith("and 3 more") for t in what_changed(begun(), more))


def test_without_an_outline_the_build_itself_is_compared() -> None:
    build = build_with({"extra": "it hummed", "allowed": "yes", "part_temperature": "20 °C"}, small())
    build = replace(build, checklist=replace(build.checklist, sha256="before"), policy={"hottest": PolicyChange("50 °C", "why")},
                    waivers=(Waiver("warm", "it cools"),))
    new = changed('[["yes", "Yes"], ["no", "No"]]', '[["sure", "Sure"], ["no", "No"]]')
    new = replace(new, steps=(new.steps[0], replace(new.steps[1], items=new.steps[1].items[:2])), policies=(), checks=())
    told = what_changed(build, new)
    assert any("the answer to 'May it be changed' does not fit any more" in t for t in told)
    assert "kept, though the checklist does not ask for it any more: extra" in told
    assert "limits changed in the build that the checklist does not have: hottest" in told
    assert "accepted cautions that the checklist does not have: warm" in told


def test_an_outline_of_any_content_never_gives_a_traceback() -> None:
    for odd in ({}, {"steps": 3, "limits": [], "checks": {}}, {"steps": {"a": [1, ""]}, "limits": {"x": 2}, "checks": [""]}, "text", 3):
        build = replace(begun(), snapshot={KEY: odd})
        assert all(isinstance(t, str) and "\n" not in t for t in what_changed(build, changed('value = "60 °C"', 'value = "55 °C"')))
