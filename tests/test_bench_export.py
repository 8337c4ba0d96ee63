"""An export tells how it goes, can be stopped with all it started, and is shown by the desktop where there is one."""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.bench.desktop import show, viewer
from buildtrack.bench.keymap import read_wishes
from buildtrack.bench.screens.export import Export
from buildtrack.bench.surroundings import Surroundings, no_viewer
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import Walk, walk
from tests.test_bench_places import CHECKLIST, full_build

HERE = Path("/home/kim/a build.pdf")


def found(name: str) -> str | None:
    """A machine that has every program."""
    return f"/usr/bin/{name}"


def nothing(_name: str) -> str | None:
    """A machine that has none."""
    return None


def test_a_linux_desktop_opens_with_its_own_program() -> None:
    for display in ("DISPLAY", "WAYLAND_DISPLAY"):
        assert viewer(HERE, "linux", {display: ":0"}, found) == ("/usr/bin/xdg-open", str(HERE))
    assert viewer(HERE, "darwin", {}, found) == ("/usr/bin/open", str(HERE))
    assert viewer(HERE, "win32", {}, nothing)[-1] == str(HERE)


@pytest.mark.parametrize("environment", [{}, {"DISPLAY": ""}, {"DISPLAY": ":0", "SSH_CONNECTION": "10.0.0.2 1 10.0.0.1 22"}])
def test_without_a_display_of_ones_own_nothing_is_opened(environment: dict[str, str]) -> None:
    assert viewer(HERE, "linux", environment, found) == ()
    assert viewer(HERE, "linux", {"DISPLAY": ":0"}, nothing) == ()


def python(code: str) -> Sequence[str]:
    return (sys.executable, "-c", code)


def test_what_came_of_it_is_said_quietly() -> None:
    async def all_of_them() -> list[str]:
        return [await show(c) for c in ((), python(""), python("import sys; sys.exit(3)"), ("/no/such/program",))]

    none, good, bad, gone = asyncio.run(all_of_them())
    assert (none, good) == ("", "opened")
    assert bad == "not opened: the desktop has no program for it" and gone == "not opened: No such file or directory"


def test_a_viewer_that_stays_open_is_not_waited_for(tmp_path: Path) -> None:
    mark = tmp_path / "pid"
    code = f"import os, time; open({str(mark)!r}, 'w').write(str(os.getpid())); time.sleep(60)"
    assert asyncio.run(show(python(code), patience_s=0.5)) == "opened"
    if mark.exists():
        os.kill(int(mark.read_text()), 9)


def exported(tmp_path: Path, code: str, viewer: Sequence[str]) -> tuple[str, str]:
    """What the screen and the status line say after an export by such a child, with such a viewer."""
    said: list[str] = []

    def around(surroundings: Surroundings) -> Surroundings:
        return replace(surroundings, record_command=lambda _path, target: python(code.replace("TARGET", repr(str(target)))),
                       viewer=lambda _path: viewer)

    async def steps(w: Walk) -> None:
        await w.press("f9")
        assert isinstance(w.screen, Export)
        said.append(w.screen.state)
        await w.press("escape")
        said.append(getattr(w.screen, "said", ""))

    walk(steps, full_build(), CHECKLIST, path=tmp_path / "build.toml", around=around)
    return said[0], said[1]


WRITES = "open(TARGET, 'w').write('pdf')"


def test_the_bench_says_where_the_file_is_and_that_it_is_open(tmp_path: Path) -> None:
    mark = tmp_path / "opened"
    state, said = exported(tmp_path, WRITES, python(f"open({str(mark)!r}, 'w')"))
    assert "build_record.pdf" in state and state.endswith(", opened") and "build_record.pdf" in said
    assert mark.exists()


def test_a_viewer_that_fails_leaves_the_record_where_it_is(tmp_path: Path) -> None:
    state, _ = exported(tmp_path, WRITES, ("/no/such/program",))
    assert "Written" in state and "build_record.pdf" in state and "not opened" in state


def test_no_record_no_viewer(tmp_path: Path) -> None:
    mark = tmp_path / "opened"
    state, _ = exported(tmp_path, "import sys; print('laying out page 3'); print('no fonts'); sys.exit(2)",
                        python(f"open({str(mark)!r}, 'w')"))
    assert state == "No record was written. no fonts" and not mark.exists()


def test_tests_and_a_wish_switch_it_off(tmp_path: Path) -> None:
    assert Surroundings().viewer is no_viewer
    wishes = tmp_path / "keymap.toml"
    wishes.write_text("open_record = false\n", encoding="utf-8")
    assert not read_wishes(wishes).open_record and read_wishes(tmp_path / "none.toml").open_record
    wishes.write_text("open_record = 'no'\n", encoding="utf-8")
    assert "open_record is true or false" in read_wishes(wishes).remarks[0]


def children(pid: int) -> list[int]:
    """Processes whose parent is `pid`, from /proc."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue  # it ended between the listing and the reading
        if int(fields[1]) == pid and fields[0] != "Z":
            found.append(int(stat.parent.name))
    return found


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc to see the renderer")
def test_a_stopped_export_takes_its_renderer_with_it(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "buildtrack", "record", "--progress", "-o", str(tmp_path / "r.pdf"),
               str(shipped_samples() / "path-light-cleared.toml")]
    process = subprocess.Popen(command, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True)
    assert process.stderr is not None
    for line in process.stderr:
        if line.startswith("starting the renderer"):
            break
    renderer = children(process.pid)
    assert len(renderer) == 1
    process.terminate()
    process.wait(60)
    process.stderr.close()
    assert not [pid for pid in renderer if Path(f"/proc/{pid}/stat").exists()
                and Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"]
    assert list(tmp_path.iterdir()) == []
