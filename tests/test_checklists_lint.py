"""Lint finds what nobody reaches, what hurts without saying so, what cannot be compared, and what cannot be read."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack.console.lint import problems_of
from tests.small import TEXT


def told(tmp_path: Path, text: str) -> list[str]:
    path = tmp_path / "small.toml"
    path.write_text(text, encoding="utf-8")
    return [str(p) for p in problems_of(path)]


def test_the_small_checklist_is_clean(tmp_path: Path) -> None:
    assert told(tmp_path, TEXT) == []


def item(body: str) -> str:
    """The small checklist with one more item before 'done'."""
    return TEXT.replace('[[steps.items]]\nid = "done"', f'[[steps.items]]\n{body}\n[[steps.items]]\nid = "done"')


REACH = [
    ('id = "x"\nkind = "text"\nlabel = "X"\nonly_if = [{ item = "allowed", is = ["maybe"] }]', "'allowed' never answers"),
    ('id = "x"\nkind = "text"\nlabel = "X"\nonly_if = [{ item = "allowed", is = ["yes"] }, { item = "allowed", is = ["no"] }]',
     "no answer of 'allowed' satisfies every condition"),
    ('id = "x"\nkind = "text"\nlabel = "X"\nonly_if = [{ item = "allowed", is = ["yes"], is_not = ["yes"] }]',
     "no answer of 'allowed' satisfies every condition"),
    ('id = "x"\nkind = "text"\nlabel = "X"\nonly_if = [{ item = "part_temperature", at_least = 50, at_most = 40 }]', "at least 50 and at most 40"),
    ('id = "x"\nkind = "text"\nlabel = "X"\nonly_if = [{ item = "part_temperature", at_least = 400 }]', "never accepted above 300"),
    ('id = "x"\nkind = "text"\nlabel = "X"\nonly_if = [{ item = "part_temperature", at_most = -60 }]', "never accepted below -50"),
    ('id = "x"\nkind = "text"\nlabel = "X"\nonly_if = [{ item = "parts", answered = false }, { item = "parts", answered = true }]',
     "answered and not answered"),
    ('id = "x"\nkind = "text"\nlabel = "X"\nonly_if = [{ item = "allowed", at_least = 1 }]', "it is a choice: this would never be reached"),
    ('id = "x"\nkind = "text"\nlabel = "X"\nonly_if = [{ item = "done", is = ["yes"] }]', "waits for 'done', which is asked after it"),
    ('id = "y"\nkind = "choice"\nlabel = "Y"\noptions = [["a", "A"], ["b", "B"]]\nonly_if = [{ item = "allowed", is = ["no"] }]\n'
     '[[steps.items]]\nid = "x"\nkind = "text"\nlabel = "X"\nonly_if = [{ item = "y", is = ["a"] }, { item = "allowed", is = ["yes"] }]',
     "no answer of 'allowed' satisfies every condition"),
]


@pytest.mark.parametrize(("body", "says"), REACH)
def test_what_can_never_be_reached_is_named(tmp_path: Path, body: str, says: str) -> None:
    found = told(tmp_path, item(body))
    assert any(says in p for p in found), found


REACHABLE = [
    'id = "x"\nkind = "text"\nlabel = "X"\nonly_if = [{ item = "allowed", is = ["yes", "no"] }, { item = "allowed", is = ["no"] }]',
    'id = "x"\nkind = "text"\nlabel = "X"\nonly_if = [{ item = "part_temperature", at_least = 40, at_most = 50 }]',
    'id = "x"\nkind = "text"\nlabel = "X"\nonly_if = [{ item = "allowed", is_not = ["yes", "no"] }]',
]


@pytest.mark.parametrize("body", REACHABLE)
def test_what_can_be_reached_is_left_alone(tmp_path: Path, body: str) -> None:
    """The last one holds while nothing is answered yet."""
    assert told(tmp_path, item(body)) == []


HOLD = 'id = "x"\nkind = "tick"\nlabel = "X"\nneed = "must"\nhold = true\n'


def test_a_hold_point_that_can_hurt_needs_a_caution(tmp_path: Path) -> None:
    found = told(tmp_path, item(HOLD + 'why = "A short circuit here burns."'))
    assert any("speaks of what can hurt ('A short')" in p for p in found), found
    assert told(tmp_path, item(HOLD + 'why = "A short circuit here burns."\ncaution = "Goggles on."')) == []
    assert told(tmp_path, item(HOLD + 'why = "It is needed later."')) == []


def test_a_hold_point_needs_a_reason_and_is_a_must(tmp_path: Path) -> None:
    found = told(tmp_path, item(HOLD.replace('"must"', '"expected"')))
    assert any("a hold point needs a 'why'" in p for p in found) and any("a hold point is a 'must'" in p for p in found)


TEXTS = [
    (item(f'id = "x"\nkind = "text"\nlabel = "{"word " * 13}"'), "'label' has 65 characters; at most 60"),
    (item(f'id = "x"\nkind = "text"\nlabel = "X"\nhow = "{"word " * 28}"'), "a sentence of 28 words; at most 27"),
    (TEXT.replace('purpose = "To test the engine"', f'purpose = "{"a" * 241}"'), "'purpose' has 241 characters"),
    (TEXT.replace('purpose =', f'cautions = ["{"b " * 140}"]\npurpose ='), "'cautions' has 280 characters"),
    (item('id = "x"\nkind = "text"\nlabel = "Done"'), "has the label of"),
    (TEXT.replace('label = "Warmth"', 'label = "Warmth of it"'), "the heading 'Warmth of it' has 12 characters; at most 8 fit"),
]


@pytest.mark.parametrize(("text", "says"), TEXTS)
def test_texts_that_cannot_be_read_are_named(tmp_path: Path, text: str, says: str) -> None:
    found = told(tmp_path, text)
    assert any(says in p for p in found), found


def check(body: str) -> str:
    return TEXT + f'\n[[checks]]\nid = "more"\nstep = "look"\nseverity = "caution"\ntitle = "More"\nmessage = "{{value}}"\n{body}\n'


CHECKS = [
    ('value = "part_temperature"\nat_most = "5 V"', "compares 'part_temperature' (temperature) with '5 V' (voltage)"),
    ('value = "parts.warmth"\nat_most = "3 g"', "compares 'parts.warmth' (temperature) with '3 g' (mass)"),
    ('value = "part_temperature"\nat_most = "warm-ish"', "neither a name nor a quantity"),
    ('value = "nothing"\nis = ["x"]', "'nothing' is neither an item, a working nor a policy value"),
    ('value = "parts.size"\nat_most = "3 g"', "'parts' has no column 'size'"),
    ('rule = "no-such-rule"', "there is no rule 'no-such-rule'"),
    ('rule = "board-opened"', "needs 'ended_by', which this checklist does not have"),
    ('value = "part_temperature"\nat_most = "hottest"\nonly_if = [{ item = "allowed", is = ["perhaps"] }]', "never answers"),
    ('value = "part_temperature"\nat_most = "hottest"\nonly_if = [{ working = "pack_full_voltage", at_least = 1 }]', "lacks inputs in this checklist"),
]


@pytest.mark.parametrize(("body", "says"), CHECKS)
def test_checks_that_lead_nowhere_are_named(tmp_path: Path, body: str, says: str) -> None:
    found = told(tmp_path, check(body))
    assert any(says in p for p in found), found


def test_a_step_that_no_step_stands_for_is_named(tmp_path: Path) -> None:
    body = 'value = "part_temperature"\nat_most = "hottest"'
    elsewhere = check(body).replace('id = "more"\nstep = "look"', 'id = "more"\nstep = "elsewhere"')
    assert any("'elsewhere' is not a step of this checklist, nor in any step's 'also'" in p for p in told(tmp_path, elsewhere))
    assert told(tmp_path, elsewhere.replace('id = "look"\ntitle', 'id = "look"\nalso = ["elsewhere"]\ntitle')) == []


def test_a_working_without_its_inputs_is_named_and_the_star_takes_only_what_is_fed(tmp_path: Path) -> None:
    found = told(tmp_path, TEXT.replace('title = "Look"', 'title = "Look"\nworkings = ["stall_current", "no_such"]'))
    assert any("the working 'stall_current' lacks inputs" in p for p in found) and any("there is no working 'no_such'" in p for p in found)
    assert told(tmp_path, TEXT.replace('title = "Look"', 'title = "Look"\nworkings = ["*"]')) == []


def test_a_working_that_is_to_stand_beside_an_item_and_does_not_exist_is_named(tmp_path: Path) -> None:
    found = told(tmp_path, TEXT.replace('id = "done"\n', 'id = "done"\nbeside = "no_such"\n', 1))
    assert any("there is no working 'no_such' to stand beside it" in p for p in found), found
    assert not any("beside" in p for p in told(tmp_path, TEXT.replace('id = "done"\n', 'id = "done"\nbeside = "label_text"\n', 1)))


def test_an_unknown_library_check_is_named_wherever_it_stands(tmp_path: Path) -> None:
    found = told(tmp_path, TEXT.replace('[policy.hottest]', 'use_checks = ["no-such"]\nleave_out_checks = ["nor-this"]\n[policy.hottest]', 1))
    assert any("'no-such' is not a check of the library" in p for p in found)
    assert any("'nor-this' is not a check of the library" in p for p in found)


def test_a_rest_by_voltage_is_refused_where_the_voltage_tells_nothing(tmp_path: Path) -> None:
    table = ('id = "candidates"\nkind = "table"\nlabel = "Cells"\nrow_name = "cell"\n[[steps.items.columns]]\nid = "rest_2_voltage"\n'
             'label = "Second"\nkind = "reading"\nunit = "V"')
    text = item(table).replace('purpose =', 'chemistry = "CHEMISTRY"\npurpose =')
    assert any("ask 'quick_leak_ratio'" in p for p in told(tmp_path, text.replace("CHEMISTRY", "lfp")))
    assert not any("quick_leak_ratio" in p for p in told(tmp_path, text.replace("CHEMISTRY", "nmc")))


def test_a_file_that_is_not_called_by_its_id_is_named(tmp_path: Path) -> None:
    path = tmp_path / "other.toml"
    path.write_text(TEXT, encoding="utf-8")
    assert any("the file must be called small.toml" in str(p) for p in problems_of(path))
