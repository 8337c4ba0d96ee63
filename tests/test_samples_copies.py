"""The person's own copies of the samples: theirs once they wrote in one, renewed with the program before that."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from buildtrack.storage import samples as room
from buildtrack.storage.places import shipped_samples
from buildtrack.storage.session import open_session

NAME = "grass-shears-in-progress"


@pytest.fixture
def shipped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A program that ships one sample, and a person without copies."""
    folder = tmp_path / "shipped"
    folder.mkdir()
    (folder / f"{NAME}.toml").write_bytes((shipped_samples() / f"{NAME}.toml").read_bytes())
    monkeypatch.setattr(room, "shipped_samples", lambda: folder)
    monkeypatch.setattr(room, "own_samples", lambda: tmp_path / "own")
    return folder / f"{NAME}.toml"


def test_the_first_copy_is_the_sample_byte_for_byte(shipped: Path) -> None:
    assert room.own_copy(NAME).read_bytes() == shipped.read_bytes()


def test_a_copy_nobody_wrote_in_is_renewed_with_the_program(shipped: Path) -> None:
    copy = room.own_copy(NAME)
    shipped.write_text(shipped.read_text(encoding="utf-8") + "\n# of the next version\n", encoding="utf-8")
    assert room.own_copy(NAME) == copy
    assert copy.read_bytes() == shipped.read_bytes()
    shipped.write_text("# of the version after that\n", encoding="utf-8")
    assert room.own_copy(NAME).read_bytes() == shipped.read_bytes()


def test_a_copy_somebody_wrote_in_is_theirs(shipped: Path) -> None:
    copy = room.own_copy(NAME)
    theirs = copy.read_text(encoding="utf-8") + "\n# my remark\n"
    copy.write_text(theirs, encoding="utf-8")
    shipped.write_text("# of the next version\n", encoding="utf-8")
    assert room.own_copy(NAME).read_text(encoding="utf-8") == theirs


def test_a_copy_that_is_open_in_a_window_is_not_replaced_under_it(shipped: Path) -> None:
    copy = room.own_copy(NAME)
    before = copy.read_bytes()
    shipped.write_text("# of the next version\n", encoding="utf-8")
    with open_session(copy):
        assert room.own_copy(NAME).read_bytes() == before
    assert room.own_copy(NAME).read_bytes() == shipped.read_bytes()


@pytest.mark.parametrize("ledger", [None, b"", b"\xff\xfe\x00", b"nonsense\n"])
def test_a_copy_of_which_nothing_is_known_is_left_alone(shipped: Path, ledger: bytes | None) -> None:
    copy = room.own_copy(NAME)
    before = copy.read_bytes()
    place = copy.parent / room.LEDGER
    place.unlink()
    if ledger is not None:
        place.write_bytes(ledger)
    shipped.write_text("# of the next version\n", encoding="utf-8")
    assert room.own_copy(NAME).read_bytes() == before


def test_a_copy_somebody_wrote_in_is_told_with_the_moment_and_a_fresh_one_lies_beside_it(shipped: Path) -> None:
    assert room.left_at(NAME) is None
    copy = room.own_copy(NAME)
    assert room.left_at(NAME) is None, "nobody has written in it"
    theirs = copy.read_bytes() + b"\n# my remark\n"
    copy.write_bytes(theirs)
    os.utime(copy, (1_800_000_000, 1_800_000_000))
    assert room.left_at(NAME) == datetime(2027, 1, 15, 8, 0, tzinfo=UTC)
    fresh, next_one = room.another_copy(NAME), room.another_copy(NAME)
    assert fresh != next_one != copy
    assert fresh.read_bytes() == next_one.read_bytes() == shipped.read_bytes()
    assert copy.read_bytes() == theirs
