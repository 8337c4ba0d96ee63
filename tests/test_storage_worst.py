"""What is built to take long, or much memory, is refused in one line before it is parsed, or read in bounded time."""

from __future__ import annotations

import resource
from pathlib import Path

import pytest

from buildtrack.model.build import Waiver
from buildtrack.storage import toml_blocks, toml_guard
from buildtrack.storage.build_file import BuildFileError, open_text, parse_build
from buildtrack.storage.checklist_file import ChecklistError, parse_checklist
from buildtrack.storage.checklist_reader import doubles
from buildtrack.storage.toml_patch import steps
from buildtrack.storage.write import rewrite, to_text
from tests.bench.worst_fuzz import CHECKLIST, KINDS, largest, text_of
from tests.small import TEXT
from tests.storage_cases import small_build

GOOD = to_text(small_build(title="one", waivers=(Waiver("c", "r"),)), None)


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_of_two_megabytes_that_holds_more_than_any_build_is_one_line(kind: str) -> None:
    """Each kind at full size: refused by its number of parts, or so simple that it is read at once."""
    text = text_of(kind, toml_guard.LARGEST - 200)
    try:
        found = open_text(text, "big.toml")
    except BuildFileError as error:
        assert str(error).startswith("big.toml: ") and "\n" not in str(error)
    else:
        assert found.build.title == "t"


@pytest.mark.parametrize(("text", "says"), [
    ("x = 1\n" * (toml_guard.MOST_LINES + 1), "lines are more than"),
    ("x = [" + "1," * toml_guard.MOST_MARKS + "]", "values and marks are more than"),
    ("\n[a]" * (toml_guard.MOST_TABLES + 1), "tables are more than"),
    ("\n".join(f"a.b.c{n} = 1" for n in range(toml_guard.MOST_DOTS // 2 + 1)), "parts of keys are more than"),
    ("x" * (toml_guard.LARGEST + 1), "characters are more than")])
def test_each_bound_is_named_with_both_numbers(text: str, says: str) -> None:
    with pytest.raises(toml_guard.Refused, match=says) as refused:
        toml_guard.loads(text)
    assert refused.value.line == 0
    with pytest.raises(BuildFileError, match=says):
        open_text(text)
    with pytest.raises(ChecklistError, match=says):
        parse_checklist(text)


@pytest.mark.parametrize("text", [
    'x = {a = """\n \' """, ' + "b." * 20_000 + "c = 1, d = ' '}\n",
    "x = {a = '''\n \" ''', " + "b." * 20_000 + 'c = 1, d = " "}\n',
    'x = "\\"" # " \n' + "b." * 20_000 + "c = 1\n",
    "x = '\\' # '\n" + "b . " * 20_000 + "c = 1\n",
    'x = """"""\n' + '"b".' * 20_000 + "c = 1\n",
    "x = ''''a'''''\n[" + "'b'." * 20_000 + "c]\n"])
def test_no_quotes_hide_a_key_of_many_parts(text: str) -> None:
    with pytest.raises(toml_guard.Refused, match="a key of more than 16 parts") as refused:
        toml_guard.loads(text)
    assert refused.value.line == 2


@pytest.mark.parametrize("text", ['x = "%s"', "x = '%s'", 'x = """\n%s"""', "x = '''\n%s'''", "x = 1 # %s",
                                  'x = "\\"%s"', 'x = """\\"""%s"""', "x = [\n'a', # '\n'%s']"])
def test_dots_in_texts_and_remarks_are_no_key(text: str) -> None:
    assert "x" in toml_guard.loads(text % ("1." * 30_000))


def test_a_text_that_is_never_closed_is_looked_at_once() -> None:
    for text in ('x = "' + '\\"' * 900_000 + "." * 70, "." * 70 + "'\"" * 900_000, "x = '''" + "''a" * 600_000 + "." * 70):
        with pytest.raises(toml_guard.Refused, match="is not TOML"):
            toml_guard.loads(text)


def test_a_checklist_nested_too_deeply_or_with_an_endless_number_is_one_line() -> None:
    for added in ("x = " + "[" * 5_000, "x = " + "9" * 5_000, "x = " + "[" * 60 + "]" * 60):
        with pytest.raises(ChecklistError, match=r"^mine.toml: line 1: file: "):
            parse_checklist(added + "\n" + TEXT, "mine.toml")


def test_many_cautions_of_one_check_are_compared_in_the_time_of_their_number() -> None:
    """difflib alone looks at every pair of elements of the same name: 20,000 of them are 400 million."""
    old = [{"check": "warm", "n": n} for n in range(20_000)]
    new = [*old[:7_000], {"check": "warm", "n": -1}, *old[7_001:], {"check": "warm", "n": 5}]
    assert steps(old, new) == [("equal", 0, 20_000, 0, 20_000), ("insert", 20_000, 20_000, 20_000, 20_001)]


def test_lists_that_have_nothing_in_common_are_replaced_whole() -> None:
    old, new = ([{"id": f"{side}{n}"} for n in range(3_000)] for side in "ab")
    assert steps(old, new) == [("replace", 0, 3_000, 0, 3_000)]
    assert steps([{"id": "x"}, *old], [{"id": "x"}, *new, {"id": "y"}]) == [
        ("equal", 0, 1, 0, 1), ("replace", 1, 3_001, 1, 3_002)]


def test_a_title_is_changed_beside_a_huge_list_without_touching_it() -> None:
    huge = "mine = [" + "1, " * 100_000 + "]  # theirs\n"
    before = open_text(GOOD.replace("\n", f"\n{huge}", 1))
    written = rewrite(small_build(title="two", waivers=(Waiver("c", "r"),)), None, before)
    assert not written.fresh
    assert huge in written.text
    assert parse_build(written.text).title == "two"


class Name(str):
    """A name that counts how often it is compared."""

    __slots__ = ()
    compared = 0

    def __eq__(self, other: object) -> bool:
        Name.compared += 1
        return str.__eq__(self, other)

    __hash__ = str.__hash__


def test_names_that_stand_twice_are_found_without_comparing_each_with_each() -> None:
    """Counting each name in the list of all took half a minute for a checklist of 28,000 items."""
    names = [Name(f"i{n}") for n in [*range(3_000), 7, 11, 7]]
    Name.compared = 0
    assert doubles(names) == ["i11", "i7"]
    assert Name.compared < 100


def test_included_files_are_taken_up_to_a_bound_that_is_told_once() -> None:
    """Otherwise a checklist of a megabyte could ask for thirty thousand times all items about wiring."""
    many = '[[steps.items]]\ninclude = "shared/wire.toml"\n' * 1_000
    _found, problems = parse_checklist(TEXT + many)
    told = [str(p) for p in problems if "characters this program takes" in p.message]
    assert len(told) == 1
    assert "1000000" in told[0]


def test_a_table_finds_its_place_without_asking_every_neighbour_for_every_block(monkeypatch: pytest.MonkeyPatch) -> None:
    """Beside 100,000 keys of somebody else's, the summary's place took as many searches of the whole text."""
    asked: list[toml_blocks.Path] = []

    def is_under(path: toml_blocks.Path, top: toml_blocks.Path) -> bool:
        asked.append(top)
        return path[:len(top)] == top

    monkeypatch.setattr(toml_blocks, "is_under", is_under)
    before = open_text("".join(f"k{n} = 1\n" for n in range(3_000)) + GOOD)
    written = rewrite(small_build(title="two", waivers=(Waiver("c", "r"),), snapshot={"a": 1}), None, before)
    assert parse_build(written.text).snapshot == {"a": 1}
    assert not written.fresh
    assert len(asked) < 200


def test_a_checklist_may_hold_fewer_tables_than_a_build() -> None:
    tables = "".join(f"\n[policy.p{n}]" for n in range(toml_guard.MOST_TABLES_OF_A_CHECKLIST + 1))
    with pytest.raises(ChecklistError, match="6001 tables are more than the 6000 this program reads"):
        parse_checklist(tables)
    assert len(toml_guard.loads(tables)["policy"]) == toml_guard.MOST_TABLES_OF_A_CHECKLIST + 1


@pytest.mark.parametrize("number", ["1.%s", "0x%s", "1e%s", "%s", "1_%s", "0.1%s"])
def test_an_endless_number_is_one_line_and_a_long_text_of_digits_is_none(number: str) -> None:
    """tomllib keeps a hundred bytes for each digit: two million of them took 350 MB."""
    with pytest.raises(toml_guard.Refused, match="a number or key of more than 10000 characters") as refused:
        toml_guard.loads("a = 1\nx = " + number % ("1" * (toml_guard.LONGEST_WORD + 1)) + "\n")
    assert refused.value.line == 2
    held = toml_guard.loads("a = 1\nx = '" + number % ("1" * (toml_guard.LONGEST_WORD + 1)) + "'  # " + "1" * 20_000 + "\n")
    assert len(held["x"]) >= toml_guard.LONGEST_WORD


@pytest.mark.parametrize("kind", [
    "numbers in a list", "tables in a line, as deep as may be", "keys", "dotted keys of many tables", "digits", "history",
    "columns of a row", "a text that is not closed", "options of a checklist", "included steps of a checklist"])
def test_the_largest_file_of_the_kinds_that_need_most_is_read_in_150_megabytes(kind: str) -> None:
    """As the kernel counts what the process asks for: beyond it Python gets no more, and says so."""
    text, before = largest(kind), resource.getrlimit(resource.RLIMIT_AS)
    now = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (now + 150_000_000, before[1]))
    try:
        if kind.endswith(CHECKLIST):
            parse_checklist(text)
        else:
            open_text(text)
    except ValueError as error:
        assert "\n" not in str(error)
    finally:
        resource.setrlimit(resource.RLIMIT_AS, before)
