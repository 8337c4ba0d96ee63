"""Every command once: keys, footer, palette, help and availability come from one table; the person's keymap is heard."""

from __future__ import annotations

import re
from pathlib import Path
from unittest.mock import patch

import pytest
from textual.command import Hit
from textual.geometry import Size
from textual.screen import Screen

from buildtrack.bench import commands
from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.commands import COMMANDS, Situation
from buildtrack.bench.find_items import ItemsByWord
from buildtrack.bench.keymap import FORBIDDEN, read_wishes
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.live import LiveLog
from buildtrack.bench.screens.reading import ReadOn
from buildtrack.bench.screens.review import ReviewScreen
from buildtrack.bench.screens.shelf import ShelfScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.screens.welcome import WelcomeScreen
from buildtrack.bench.widgets.head import KeyLine
from buildtrack.storage.build_file import read_build
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import SMALL, Walk, main_checklist, new_build, small_checklist, walk

CHECKLIST = small_checklist()
SCREENS: dict[str, type[Screen[None]]] = {
    "bench": BenchScreen,
    "table": TableScreen,
    "live": LiveLog,
    "review": ReviewScreen,
    "shelf": ShelfScreen,
    "welcome": WelcomeScreen,
}


def test_no_two_commands_share_an_id() -> None:
    assert len({c.id for c in COMMANDS}) == len(COMMANDS)


@pytest.mark.parametrize("place", SCREENS)
def test_no_two_commands_of_a_place_share_a_key(place: str) -> None:
    keys = [k for c in commands.of_place(place) for k in c.key.split(",") if k]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("place", SCREENS)
def test_every_command_of_a_place_has_its_action(place: str) -> None:
    for command in commands.of_place(place):
        owner = BuildtrackApp if command.id in commands.OF_APP else SCREENS[place]
        assert hasattr(owner, f"action_{command.name}"), command.id


def test_every_key_arrives_in_terminals_and_multiplexers() -> None:
    for command in COMMANDS:
        for key in command.key.split(","):
            assert key not in FORBIDDEN and not key.startswith("alt+"), command.id


def test_the_footer_shows_only_what_makes_sense_now() -> None:
    tick = {words for _, words, _ in commands.footer("bench", Situation(kind="tick", need="must", yes_no=True), {})}
    assert {"yes", "no"} <= tick and "correct" not in tick and "leave out" not in tick
    held = {words for _, words, _ in commands.footer("bench", Situation(kind="tick", need="must", yes_no=True, refused="held"), {})}
    assert "yes" not in held and "review" in held


@pytest.mark.parametrize("kind", ["reading", "tick", "choice", "table", "photo", "text"])
def test_on_a_narrow_screen_the_ways_on_stand_before_the_rare_commands(kind: str) -> None:
    where = Situation(kind=kind, need="must", yes_no=kind == "tick", answered=True, cautions=True, can_undo=True)
    line = KeyLine()
    line.entries = tuple(commands.footer("bench", where, {}))
    with patch.object(KeyLine, "size", Size(78, 1)):
        shown = [entry[1] for _, _, entry in line._laid_out()]
    assert shown[0] == "answer" and shown[-1] == "help"
    assert {"review", "record", "workings"} <= set(shown) and "accept caution" not in shown
    assert "accept caution" in [entry[1] for entry in line.entries], "a wide screen has it"


@pytest.mark.parametrize("answered", [True, False])
@pytest.mark.parametrize(("place", "kind", "wanted"), [
    ("bench", "file", ["answer", "attach", "follow"]), ("bench", "photo", ["answer", "attach"]),
    ("table", "table", ["fill", "point now", "alarm now", "ended now", "follow"]),
])  # fmt: skip
def test_on_a_narrow_screen_what_serves_at_the_item_is_named_first(
    place: str, kind: str, wanted: list[str], answered: bool
) -> None:
    where = Situation(place=place, kind=kind, need="expected", answered=answered, can_undo=True, timed=kind == "table")
    line = KeyLine()
    line.entries = tuple(commands.footer(place, where, {}))
    with patch.object(KeyLine, "size", Size(78, 1)):
        shown = [entry[1] for _, _, entry in line._laid_out()]
    own = [*wanted, "correct"] if answered and place == "bench" else wanted
    assert sorted(shown[: len(own)]) == sorted(own)


def test_in_a_table_enter_stands_first() -> None:
    assert commands.footer("table", Situation(place="table", kind="table"), {})[0][1] == "fill"


def test_the_help_page_lists_every_command_with_its_keys() -> None:
    async def steps(w: Walk) -> None:
        await w.press("f1")
        assert isinstance(w.screen, ReadOn)
        text = " ".join(
            re.sub(r"[▌↓↑]", " ", "\n".join("".join(p.text for p in entry.left) for entry in w.screen.lines)).split()
        )
        for command in commands.of_place("bench"):
            assert " ".join(command.help.split()) in text, command.id

    walk(steps, new_build(CHECKLIST), CHECKLIST)


def test_the_palette_offers_what_makes_sense_now() -> None:
    async def steps(w: Walk) -> None:
        titles = {c.title for c in w.app.get_system_commands(w.screen)}
        assert {"Answer", "Rename: the title of this build", "End early", "Look: next theme"} <= titles
        assert "Undo" not in titles and "Reopen" not in titles
        told = {c.title: c.help for c in w.app.get_system_commands(w.screen)}
        assert told["Answer"].startswith("Enter: "), "with its key, where it has one"
        assert told["Rename: the title of this build"].startswith("Give")

    walk(steps, new_build(CHECKLIST), CHECKLIST)


def test_a_key_of_the_persons_own_does_the_command_and_is_shown() -> None:
    async def steps(w: Walk) -> None:
        assert "F8 answer" in w.text()
        await w.press("f8")
        await w.type("a drill")
        assert w.build.entry("tool").standing[-1].text == "a drill"

    walk(steps, new_build(CHECKLIST), CHECKLIST, keymap={"answer": "f8"})


def test_a_keymap_file_is_read_and_what_does_not_fit_is_told(tmp_path: Path) -> None:
    path = tmp_path / "keymap.toml"
    path.write_text('theme = "light"\n[keys]\nundo = "f8"\nredo = "ctrl+m"\nfly = "f9"\nhelp = 3\n', encoding="utf-8")
    wishes = read_wishes(path)
    assert wishes.keys == {"undo": "f8"} and wishes.theme == "light"
    assert len(wishes.remarks) == 3
    assert any("ctrl+m" in r for r in wishes.remarks) and any("'fly'" in r for r in wishes.remarks)


def test_a_keymap_file_of_before_names_a_command_as_it_was_called_then(tmp_path: Path) -> None:
    path = tmp_path / "keymap.toml"
    path.write_text('[keys]\nedit-last = "f8"\n', encoding="utf-8")
    assert read_wishes(path).keys == {"correct": "f8"} and not read_wishes(path).remarks
    path.write_text('[keys]\nedit-last = "f8"\ncorrect = "c"\n', encoding="utf-8")
    assert read_wishes(path).keys == {"correct": "c"}
    assert "'edit-last' is called 'correct' now" in read_wishes(path).remarks[0]


@pytest.mark.parametrize("content", [b"keys = [", b"\xff\xfe", b"keys = 3\n"])
def test_a_broken_keymap_never_stops_the_program(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "keymap.toml"
    path.write_bytes(content)
    assert read_wishes(path).keys == {}


@pytest.mark.parametrize("theme", ["dark", "light", "contrast", "no such look"])
def test_the_bench_is_seen_in_every_look(theme: str) -> None:
    async def steps(w: Walk) -> None:
        assert "Voltage on the plate" in w.text()

    walk(steps, new_build(CHECKLIST), CHECKLIST, theme=theme)


def test_the_checklist_of_these_tests_has_an_item_of_every_kind() -> None:
    assert {i.kind for i in CHECKLIST.all_items()} == {"reading", "choice", "text", "tick", "table", "photo", "file"}
    assert SMALL.is_file()


@pytest.mark.parametrize("place", ["bench", "review"])
def test_the_palette_finds_an_item_by_a_word_of_its_name_and_goes_there(place: str) -> None:
    build = read_build(shipped_samples() / "garden-screwdriver-cleared.toml").build

    async def steps(w: Walk) -> None:
        if place == "review":
            await w.press("f5")
        assert ItemsByWord in [found if isinstance(found, type) else found() for found in w.app.COMMANDS]
        hits = [hit async for hit in ItemsByWord(w.screen).search("label is on")]
        best = max(hits, key=lambda hit: hit.score)
        assert best.text == "Label is on the pack" and isinstance(best, Hit)
        best.command()
        await w.settle()
        assert isinstance(w.screen, BenchScreen) and w.screen.item_id == "label_fixed"
        assert [hit async for hit in ItemsByWord(w.screen).search("no such words")] == []

    walk(steps, build, main_checklist())
