"""One writer: the second one is told who it is, and a dead one is not waited for."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import asdict, replace
from pathlib import Path

import pytest

from buildtrack.storage.lock import Holder, acquire, is_dead, read_holder, sidecar_of, this_process
from tests.storage_cases import AT

HOLDING = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from buildtrack.storage.lock import acquire
held = acquire(Path(sys.argv[1]), Path(sys.argv[2]), datetime(2026, 11, 3, tzinfo=UTC))
print("held" if held.is_held else "not held", flush=True)
sys.stdin.readline()
held.release()
print("released", flush=True)
sys.stdin.readline()
"""


@pytest.fixture
def build(tmp_path: Path) -> Path:
    path = tmp_path / "work" / "a.toml"
    path.parent.mkdir()
    path.write_text("")
    return path


def holding(build: Path, state: Path) -> subprocess.Popen[str]:
    """Another process that holds the lock."""
    child = subprocess.Popen([sys.executable, "-c", HOLDING, str(build), str(state)], stdin=subprocess.PIPE,
                             stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    assert child.stdout.readline() == "held\n"
    return child


def tell(child: subprocess.Popen[str]) -> None:
    assert child.stdin is not None
    child.stdin.write("\n")
    child.stdin.flush()


def other_machine(**parts: object) -> str:
    return json.dumps({**asdict(this_process(AT)), "host": "bench-two", "user": "somebody", **parts})


def test_the_lock_is_seen_beside_the_file_and_goes_when_it_is_given_back(build: Path, tmp_path: Path) -> None:
    held = acquire(build, tmp_path, AT)
    assert held.is_held
    assert read_holder(build.parent / ".a.toml.lock") == this_process(AT)
    held.release()
    assert os.listdir(build.parent) == ["a.toml"]
    held.release()


def test_a_second_process_is_told_who_writes_and_gets_its_turn_later(build: Path, tmp_path: Path) -> None:
    child = holding(build, tmp_path)
    mine = acquire(build, tmp_path, AT)
    assert not mine.is_held
    assert mine.holder is not None
    assert mine.holder.pid == child.pid
    assert f"(process {child.pid})" in str(mine.holder)
    tell(child)
    assert child.stdout is not None
    assert child.stdout.readline() == "released\n"
    assert acquire(build, tmp_path, AT).is_held
    tell(child)
    child.communicate()


def test_a_file_opened_by_another_name_is_the_same_file(build: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.toml"
    link.symlink_to(build)
    held = acquire(link, tmp_path, AT)
    assert not acquire(build, tmp_path, AT).is_held
    assert sidecar_of(link) == build.parent / ".a.toml.lock"
    held.release()


def test_a_process_that_was_killed_is_not_waited_for(build: Path, tmp_path: Path) -> None:
    child = holding(build, tmp_path)
    child.kill()
    child.communicate()
    assert sidecar_of(build).exists()
    mine = acquire(build, tmp_path, AT)
    assert mine.is_held
    assert f"(process {child.pid}) was taken over" in mine.notes[0]
    assert read_holder(sidecar_of(build)) == this_process(AT)
    mine.release()


def test_another_machine_that_writes_is_respected_until_it_is_taken_over(build: Path, tmp_path: Path) -> None:
    sidecar_of(build).write_text(other_machine())
    first = acquire(build, tmp_path, AT)
    assert not first.is_held
    assert str(first.holder).startswith("somebody on bench-two since 2026-11-03 18:20:00 UTC")
    second = acquire(build, tmp_path, AT, take_over=True)
    assert second.is_held
    assert "bench-two" in second.notes[0]
    second.release()


def test_the_lock_of_someone_who_took_over_is_not_taken_away(build: Path, tmp_path: Path) -> None:
    held = acquire(build, tmp_path, AT)
    sidecar_of(build).write_text(other_machine())
    held.release()
    assert sidecar_of(build).read_text() == other_machine()


def test_a_live_process_of_this_machine_with_another_state_folder_is_respected(build: Path, tmp_path: Path) -> None:
    child = holding(build, tmp_path / "theirs")
    assert not acquire(build, tmp_path / "mine", AT).is_held
    tell(child)
    tell(child)
    child.communicate()


def test_a_process_number_that_is_used_again_does_not_block(build: Path, tmp_path: Path) -> None:
    parent = os.getppid()
    sidecar_of(build).write_text(json.dumps(asdict(replace(this_process(AT), pid=parent, started="1"))))
    assert acquire(build, tmp_path, AT).is_held


def test_what_an_earlier_session_of_this_process_left_does_not_block(build: Path, tmp_path: Path) -> None:
    sidecar_of(build).write_text(json.dumps(asdict(this_process(AT))))
    held = acquire(build, tmp_path, AT)
    assert held.is_held
    assert held.notes == ()


@pytest.mark.parametrize("text", ["", "{", "[]", '{"pid": "1"}', '{"pid": -1}', '{"pid": true}', "\x00", "[" * 3000,
                                  "x" * 9000])
def test_a_lock_file_that_says_nothing_is_taken_over(build: Path, tmp_path: Path, text: str) -> None:
    sidecar_of(build).write_text(text)
    assert read_holder(sidecar_of(build)) is None
    assert acquire(build, tmp_path, AT).is_held


def test_a_lock_file_that_is_a_link_or_a_pipe_is_not_followed(build: Path, tmp_path: Path) -> None:
    victim = tmp_path / "victim"
    victim.write_text("precious")
    sidecar_of(build).symlink_to(victim)
    held = acquire(build, tmp_path, AT)
    assert held.is_held
    assert "other machines do not see" in held.notes[0]
    held.release()
    assert victim.read_text() == "precious"
    sidecar_of(build).unlink()
    os.mkfifo(sidecar_of(build))
    assert read_holder(sidecar_of(build)) is None
    assert acquire(build, tmp_path, AT).is_held


def test_without_a_state_folder_the_file_beside_is_the_lock(build: Path, tmp_path: Path) -> None:
    state = tmp_path / "state"
    state.write_text("a file where a folder should be")
    held = acquire(build, state, AT)
    assert held.is_held
    assert "no lock on this machine" in held.notes[0]
    assert sidecar_of(build).exists()
    held.release()


def test_names_in_a_lock_file_cannot_paint_the_screen() -> None:
    assert "\x1b" not in str(Holder("\x1b[31m", 1, "\x1b[2J", "\x07"))


def test_who_is_dead_is_told_by_the_kernel(monkeypatch: pytest.MonkeyPatch) -> None:
    me = this_process(AT)
    assert not is_dead(me)
    assert not is_dead(replace(me, host="elsewhere", pid=999_999_999))
    assert is_dead(replace(me, pid=999_999_999))
    assert is_dead(replace(me, pid=10**30))
    assert is_dead(replace(me, started="1"))

    def forbidden(_pid: int, _signal: int) -> None:
        raise PermissionError
    monkeypatch.setattr("buildtrack.storage.lock.os.kill", forbidden)
    assert not is_dead(me)


def test_a_process_is_known_by_when_it_began(build: Path, tmp_path: Path) -> None:
    child = holding(build, tmp_path)
    began, later = this_process(AT).started, read_holder(sidecar_of(build))
    assert later is not None
    assert int(began) < int(later.started)
    tell(child)
    tell(child)
    child.communicate()
