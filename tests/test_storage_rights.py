"""Real rights on real folders: the work is done by a user whom they bind, also where the tests run as root."""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
import traceback
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.model import edit
from buildtrack.model.build import Build, Reading
from buildtrack.storage.build_file import read_build
from buildtrack.storage.durable import SaveError
from buildtrack.storage.session import BuildSession, create, open_session
from tests.small import small
from tests.storage_cases import AT, small_build

SMALL = small()
READING = SMALL.items["part_temperature"]
NOBODY = 65534


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder that everybody may walk through (pytest's own are closed to others)."""
    place = Path(tempfile.mkdtemp())
    place.chmod(0o755)
    yield place
    for found, _folders, _files in os.walk(place):
        os.chmod(found, 0o700)
    shutil.rmtree(place)


def as_somebody(work: Callable[[], str]) -> str:
    """What the work answers, done in a fork by a user without special rights."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            if os.geteuid() == 0:
                os.setgroups([])
                os.setgid(NOBODY)
                os.setuid(NOBODY)
            answer = work()
        except BaseException:  # the child must end here, whatever happened; the parent shows it
            answer = traceback.format_exc()
        os.write(writing, answer.encode())
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as answers:
        answer = answers.read().decode()
    os.waitpid(child, 0)
    return answer


def opened(path: Path) -> BuildSession:
    return open_session(path, find=lambda _name: SMALL, clock=lambda: AT)


def said(build: Build, text: str) -> Build:
    return edit.add_reading(build, READING, Reading(text, AT), edit.Hand(AT))


def texts(path: Path) -> list[str]:
    return [r.text for r in read_build(path).build.entry(READING.id).readings]


@pytest.fixture
def path(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A build with its state folder, all of it that user's own."""
    monkeypatch.setenv("BUILDTRACK_STATE", str(folder / "state"))
    (folder / "work").mkdir()
    create(folder / "first.toml", small_build(), SMALL)
    with opened(folder / "first.toml") as session:  # loads every module while the folders of this user can be read
        session.commit(said(replace(session.build, title="other"), "20 °C"))
    (folder / "first.toml").unlink()
    shutil.rmtree(folder / "state")
    for name in ("journal", "backups", "locks"):
        (folder / "state" / name).mkdir(parents=True, mode=0o700)
    create(folder / "work" / "a.toml", small_build(), SMALL)
    if os.geteuid() == 0:
        for place in folder.rglob("*"):
            os.chown(place, NOBODY, NOBODY)
    return folder / "work" / "a.toml"


def test_rights_bind_the_one_who_does_the_work(folder: Path) -> None:
    """Or all that follows would prove nothing."""
    (folder / "closed").mkdir(mode=0o500)
    if os.geteuid() == 0:
        os.chown(folder / "closed", NOBODY, NOBODY)

    def write() -> str:
        try:
            (folder / "closed" / "x").write_text("x")
        except PermissionError:
            return "refused"
        return "written"

    assert as_somebody(write) == "refused"


@pytest.mark.parametrize(("name", "mode", "says"), [
    ("work", 0o555, "its folder is read-only"), ("work/a.toml", 0o444, "the file is marked as read-only")])
def test_what_may_only_be_read_is_opened_for_reading_and_left_as_it_is(
        path: Path, folder: Path, name: str, mode: int, says: str) -> None:
    before = path.read_bytes()
    (folder / name).chmod(mode)

    def work() -> str:
        with opened(path) as session:
            result = session.commit(said(session.build, "21 °C"))
            return f"{session.read_only_reason}|{result.saved}|{result.reason}"

    assert as_somebody(work) == f"{says}|False|{says}"
    assert path.read_bytes() == before
    assert os.listdir(path.parent) == ["a.toml"]


def test_a_build_that_may_not_be_read_is_one_line(path: Path) -> None:
    path.chmod(0o000)

    def work() -> str:
        try:
            opened(path)
        except ValueError as error:
            return str(error)
        return "opened"

    assert as_somebody(work) == f"{path}: cannot be read (reading it is not allowed)"


def test_a_folder_closed_while_the_build_is_open_costs_nothing_that_was_typed(path: Path) -> None:
    def work() -> str:
        with opened(path) as session:
            path.parent.chmod(0o555)
            first = session.commit(said(session.build, "21 °C"))
            path.parent.chmod(0o755)
            return f"{first.reason}|{texts(path)}|{session.retry().saved}"

    assert as_somebody(work) == (f"{path.parent}: writing there is not allowed; what was entered is kept in memory and in "
                                 "the journal|[]|True")
    assert texts(path) == ["21 °C"]


@pytest.mark.parametrize("mode", [0o000, 0o400, 0o500])
@pytest.mark.parametrize(("closed", "lost"), [
    ("journal", ["the journal cannot be written"]), ("backups", ["no backup was made"]),
    ("locks", []), ("", ["the journal cannot be written", "no backup was made"])])
def test_a_state_folder_of_wrong_rights_costs_its_purpose_only(
        path: Path, folder: Path, closed: str, lost: list[str], mode: int) -> None:
    for place in ([closed] if closed else ["journal", "backups", "locks"]):
        (folder / "state" / place).chmod(mode)

    def work() -> str:
        with opened(path) as session:
            result = session.commit(said(session.build, "21 °C"))
            told = " ".join((*session.notes, *result.notes))
            return f"{session.read_only_reason}|{result.saved}|{told}"

    reason, saved, told = as_somebody(work).split("|")
    assert (reason, saved) == ("", "True"), told
    assert all(words in told for words in lost), told
    assert ("no lock on this machine" in told) == (closed in ("locks", "")), told
    assert texts(path) == ["21 °C"]


def test_what_lies_in_state_folders_that_are_open_to_all_is_closed_to_others_itself(path: Path, folder: Path) -> None:
    for place in (folder / "state", *(folder / "state").iterdir()):
        place.chmod(0o777)

    def work() -> str:
        session = opened(path)
        session.commit(said(session.build, "21 °C"))
        path.parent.chmod(0o555)  # so that the next edit stays in the journal
        session.commit(said(session.build, "22 °C"))
        files = [p for p in (folder / "state").rglob("*") if p.is_file()]
        return f"{len(files)} {sorted({oct(stat.S_IMODE(p.stat().st_mode)) for p in files})}"

    assert as_somebody(work) == "4 ['0o600']", "journal, lock, generation, and of which file it is"


def test_a_new_build_in_a_closed_folder_is_refused_in_a_sentence(path: Path) -> None:
    path.parent.chmod(0o555)

    def work() -> str:
        try:
            create(path.with_name("b.toml"), small_build(), SMALL)
        except SaveError as error:
            return str(error)
        return "made"

    assert as_somebody(work) == f"{path.parent}: writing there is not allowed"
    assert os.listdir(path.parent) == ["a.toml"]


def test_a_journal_that_may_not_be_read_is_told_and_let_alone(path: Path, folder: Path) -> None:
    def work() -> str:
        session = opened(path)
        path.parent.chmod(0o555)
        session.commit(said(session.build, "21 °C"))
        path.parent.chmod(0o755)
        assert session._lock is not None
        session._lock.release()  # what a killed process does
        (journal,) = (folder / "state" / "journal").iterdir()
        journal.chmod(0o000)
        with opened(path) as again:
            told = " ".join(again.notes)
        journal.chmod(0o600)
        with opened(path) as last:
            return f"{told}|{last.notes}"

    told, notes = as_somebody(work).split("|")
    assert "the journal cannot be read: " in told and "reading it is not allowed" in told
    assert "1 edit" in notes
    assert texts(path) == ["21 °C"]
