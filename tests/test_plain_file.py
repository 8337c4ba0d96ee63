"""A pipe or a device in the place of a file is refused in one line: nobody may ever write to it, so it is never waited for."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from buildtrack.bench.attach import _other_kind
from buildtrack.bench.csv_rows import SheetError, read_csv
from buildtrack.bench.shelf_files import other_kind
from buildtrack.physics.log_follow import Follower
from buildtrack.physics.logs import read_log, sniff
from buildtrack.plain_file import open_plain, read_plain
from buildtrack.storage.attachments import AttachmentError, attach
from buildtrack.storage.durable import fingerprint
from buildtrack.storage.kept_copies import copies_of

ROOT = Path(__file__).parent.parent
pytestmark = pytest.mark.timeout(60)


@pytest.fixture
def pipe(tmp_path: Path) -> Path:
    path = tmp_path / "p.toml"
    os.mkfifo(path)
    return path


def test_a_regular_file_is_read_and_a_folder_a_pipe_and_a_device_are_not(tmp_path: Path, pipe: Path) -> None:
    (tmp_path / "a").write_bytes(b"1 \xff\n")
    (tmp_path / "link").symlink_to("a")
    assert read_plain(tmp_path / "a") == read_plain(tmp_path / "link") == b"1 \xff\n"
    for path, why in ((tmp_path, "Is a directory"), (pipe, "not a file"), (Path("/dev/null"), "not a file")):
        with pytest.raises(OSError, match=why):
            open_plain(path)
    with pytest.raises(FileNotFoundError):
        open_plain(tmp_path / "none")


def test_whatever_reads_a_file_that_a_person_names_refuses_a_pipe(tmp_path: Path, pipe: Path) -> None:
    with pytest.raises(SheetError, match=r"p\.toml: cannot be read \(this is not a file\)"):
        read_csv(pipe)
    for reader in (sniff, read_log, fingerprint):
        with pytest.raises(OSError, match="this is not a file"):
            reader(pipe)
    with pytest.raises(AttachmentError, match="this is not a file"):
        attach(tmp_path / "b.toml", pipe)
    assert Follower(pipe).look().problem == "p.toml: cannot be read (this is not a file)"
    assert (_other_kind(pipe, "photo"), other_kind(pipe), copies_of(pipe, tmp_path)) == ("", "", [])


@pytest.mark.parametrize("words", [
    ("check", "p.toml"), ("review", "p.toml"), ("unpack", "p.toml"), ("log", "p.toml"),
    ("cells", "p.toml", "--series", "4", "--parallel", "2"), ("lint", "p.toml"),
    ("new", "x.toml", "--from", "p.toml"), ("label", "p.toml"),
])  # fmt: skip
def test_a_command_says_so_in_one_line(words: tuple[str, ...], tmp_path: Path, pipe: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "BUILDTRACK_STATE": str(tmp_path / "state")}
    done = subprocess.run([sys.executable, "-m", "buildtrack", *words], cwd=tmp_path, env=environment, text=True,
                          stdin=subprocess.DEVNULL, capture_output=True, timeout=50, check=False)  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1 and "p.toml" in done.stderr and "this is not a file" in done.stderr


def test_a_pipe_among_the_builds_of_a_folder_keeps_no_one_waiting(tmp_path: Path, pipe: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "BUILDTRACK_STATE": str(tmp_path / "state")}
    done = subprocess.run([sys.executable, "-m", "buildtrack", "shelf", "."], cwd=tmp_path, env=environment, text=True,
                          stdin=subprocess.DEVNULL, capture_output=True, timeout=50, check=False)  # fmt: skip
    assert "p.toml" in done.stdout + done.stderr and "this is not a file" in done.stdout + done.stderr
