"""The commands as a person types them: exit codes, one clear line for every refusal, nothing but JSON with --json."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from buildtrack import cli
from buildtrack.storage.build_file import read_build
from tests.small import TEXT

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = ROOT / "sample_builds"
CLEARED, BEGUN, FAULTY = (SAMPLES / f"{n}.toml" for n in ("garden-screwdriver-cleared", "grass-shears-in-progress",
                                                          "drill-not-cleared"))


@pytest.fixture(autouse=True)
def own_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("BUILDTRACK_CONFIG", str(tmp_path / "config"))


def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run([sys.executable, "-m", "buildtrack", *map(str, arguments)], env=environment,
                          capture_output=True, text=True, check=False)


def refused(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> str:
    """Run in this process; must end in exit code 2 and one line."""
    code = cli.main([str(a) for a in arguments])
    captured = capsys.readouterr()
    assert code == cli.UNUSABLE, captured.out
    assert captured.err.startswith("buildtrack: ") and captured.err.count("\n") == 1
    return captured.err


def test_check_exits_0_for_a_cleared_build_and_1_for_findings() -> None:
    done = run("check", CLEARED)
    assert done.returncode == 0 and "CLEARED WITH CONDITIONS" in done.stdout and done.stderr == ""
    done = run("check", FAULTY)
    assert done.returncode == 1 and "NOT CLEARED" in done.stdout and done.stderr == ""
    done = run("check", BEGUN)
    assert done.returncode == 1 and "INCOMPLETE" in done.stdout


def test_check_json_has_the_promised_shape() -> None:
    told = json.loads(run("check", FAULTY, "--json").stdout)
    assert told["verdict"] == "not cleared"
    assert told["findings"]
    for finding in told["findings"]:
        assert {"check", "severity", "outcome", "step", "item", "message", "needs"} <= set(finding)
        assert finding["outcome"] in ("fail", "unsure", "unknown")
    for working in told["workings"].values():
        assert {"value", "unit", "plus_minus", "formula", "substituted", "source", "needs"} <= set(working)


def test_a_missing_file_is_one_line_and_exit_2(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert "there is no such file" in refused(capsys, "check", tmp_path / "none.toml")
    assert "there is no such file" in refused(capsys, "show", tmp_path / "none.toml")
    assert "there is no such file" in refused(capsys, "record", tmp_path / "none.toml")


@pytest.mark.parametrize(("content", "says"), [
    (b"", "format"), (b"format = 2\n", "format 2"), (b"\xff\xfe", "UTF-8"), (b"format = ", "line 1"), (b"\x00", ""),
    (b'format = 1\nid = 3\n', "id"),
    (b'format = 1\nid = "a"\ntitle = "t"\n[checklist]\nid = "no-such-list"\n', "no-such-list"),
])
def test_a_file_of_any_content_gives_one_clear_line(
        content: bytes, says: str, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "odd.toml"
    path.write_bytes(content)
    line = refused(capsys, "check", path)
    assert "odd.toml" in line and says in line


def test_a_new_build_is_made_and_never_overwritten(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "drill.toml"
    assert cli.main(["new", str(path), "--title", "A drill"]) == 0
    assert "A drill" in capsys.readouterr().out
    assert "already a file" in refused(capsys, "new", path)
    assert cli.main(["check", str(path)]) == 1


def test_one_reading_is_entered_and_what_does_not_fit_is_refused(
        capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "drill.toml"
    cli.main(["new", str(path)])
    assert cli.main(["enter", str(path), "rated_voltage", "12,0 V"]) == 0
    assert 'text = "12,0 V"' in path.read_text(encoding="utf-8")
    before = path.read_text(encoding="utf-8")
    line = refused(capsys, "enter", path, "rated_voltage", "12 Ah")
    assert "step plan, item rated_voltage" in line and "is a capacity" in line
    assert "no item 'voltage'" in refused(capsys, "enter", path, "voltage", "12")
    assert "needs --column" in refused(capsys, "enter", path, "instruments", "10 A")
    assert path.read_text(encoding="utf-8") == before


def test_an_unusual_value_is_asked_about_once(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "drill.toml"
    cli.main(["new", str(path)])
    capsys.readouterr()
    assert "is unusual" in refused(capsys, "enter", path, "rated_voltage", "2 V")
    assert cli.main(["enter", str(path), "rated_voltage", "2 V", "--accept", "a toy"]) == 0
    assert 'accepted = "a toy"' in path.read_text(encoding="utf-8")


def test_show_prints_items_workings_with_sources_and_checks() -> None:
    text = run("show", CLEARED).stdout
    for part in ("1. Plan the job", "9. Aftercare", "[working_current]", "= Duty cycle, rms current:",
                 "+ The place for charging is safe (stop)"):
        assert part in text
    assert "passed:" not in text, "no check that passed is told by its fault"
    assert "common practice, no source" in text and "IEC 61960" in text


def test_a_check_that_had_nothing_to_look_at_is_not_said_to_be_in_order(
        capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "drill.toml"
    cli.main(["new", str(path)])
    cli.main(["show", str(path)])
    empty = " ".join(capsys.readouterr().out.split())
    assert ". nothing to judge yet: A kept cell got warmer than the others (caution)" in empty
    assert "! stop, not judged yet: The place for charging is not safe: needs Place for charging" in empty
    assert "+ Attached files are there and unchanged" in empty, "files are looked at all the same"
    cli.main(["enter", str(path), "bench_temperature", "21.3"])
    cli.main(["show", str(path), "--step", "plan"])
    assert "+ not found: Readings that cannot be right (caution)" in capsys.readouterr().out


def test_show_names_the_columns_as_enter_takes_them_and_enter_takes_their_heads_too(
        capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "drill.toml"
    cli.main(["new", str(path)])
    cli.main(["enter", str(path), "instruments", "current", "--row", "m1", "--column", "Measures"])
    cli.main(["enter", str(path), "instruments", "10 A", "--row", "m1", "--column", "range"])
    capsys.readouterr()
    cli.main(["show", str(path), "--step", "plan"])
    text = " ".join(capsys.readouterr().out.split())
    assert "columns: meter, kind, quantity (measures), range," in text
    assert "m1: quantity current, range 10 A" in text
    line = refused(capsys, "enter", path, "instruments", "x", "--row", "m1", "--column", "Amperes")
    assert "'Amperes' is no column; needs --column, one of meter, kind, quantity" in line


def test_an_unknown_step_is_refused_with_the_list(capsys: pytest.CaptureFixture[str]) -> None:
    assert "plan, old_pack, load" in refused(capsys, "show", CLEARED, "--step", "weld")


def test_the_samples_are_listed_and_copied_once(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert cli.main(["sample"]) == 0
    listed = capsys.readouterr().out
    assert "Invented" in listed and "drill-not-cleared" in listed
    assert cli.main(["sample", "drill-not-cleared", "-d", str(tmp_path / "copies")]) == 0
    copy = tmp_path / "copies" / "drill-not-cleared.toml"
    assert copy.read_bytes() == FAULTY.read_bytes()
    assert "already a file" in refused(capsys, "sample", "drill-not-cleared", "-d", tmp_path / "copies")
    assert "there are:" in refused(capsys, "sample", "nothing")


def test_lint_finds_nothing_in_the_shipped_checklists(capsys: pytest.CaptureFixture[str]) -> None:
    paths = sorted(str(p) for p in (ROOT / "checklists").glob("*.toml"))
    assert cli.main(["lint", *paths]) == 0, capsys.readouterr().out


def test_lint_names_the_line_of_a_mistake(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    broken = TEXT.replace('rests_on = ["part_temperature"]', 'rests_on = ["part_temprature"]', 1)
    assert broken != TEXT
    path = tmp_path / "broken.toml"
    path.write_text(broken, encoding="utf-8")
    line = next(n for n, t in enumerate(broken.splitlines(), 1) if t == 'id = "checked"')
    assert cli.main(["lint", str(path)]) == 1
    out = capsys.readouterr().out
    assert "step do, item checked: 'part_temprature' is not an item of this checklist" in out
    assert f"line {line - 1}:" in out or f"line {line}:" in out


def test_without_a_terminal_the_bench_says_what_to_use_instead(capsys: pytest.CaptureFixture[str]) -> None:
    assert "buildtrack show FILE" in refused(capsys, CLEARED)


def test_help_lists_every_command() -> None:
    text = run("--help").stdout
    for command in cli.commands_of(cli.parser()):
        assert command in text


def test_the_version_is_printed() -> None:
    assert run("--version").stdout.startswith("buildtrack 0.")


def test_a_reader_that_goes_away_is_no_error() -> None:
    command = f"{sys.executable} -m buildtrack show {CLEARED} | head -1"
    done = subprocess.run(["bash", "-c", command], env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
                          check=False)
    assert done.stderr == ""


def test_a_review_answers_every_question_and_shows_the_planted_faults() -> None:
    done = run("review", FAULTY)
    assert done.returncode == 1 and done.stderr == ""
    for fault in ("Balance taps are wrong: B1 and B2 are swapped", "alarm is not above the board's cutoff", "weak group"):
        assert fault in " ".join(done.stdout.split())
    assert "46." in done.stdout


def test_a_review_says_whether_the_content_is_what_was_judged() -> None:
    text = run("review", CLEARED).stdout
    assert "of exactly this content" in " ".join(text.split())


def test_the_shelf_and_a_comparison_are_told_as_text(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert cli.main(["shelf", str(SAMPLES)]) == 0
    listed = capsys.readouterr().out
    assert "9.6 V drill" in listed and "cleared with conditions" in listed
    assert cli.main(["compare", str(CLEARED), str(FAULTY)]) == 0
    assert "verdict" in capsys.readouterr().out
    assert "no such folder" in refused(capsys, "shelf", tmp_path / "none")


def test_a_build_from_a_past_one_carries_the_design_and_no_measurement(
        capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "next.toml"
    assert cli.main(["new", str(path), "--from", str(CLEARED), "--title", "The next one"]) == 0
    capsys.readouterr()
    text = path.read_text(encoding="utf-8")
    assert "[origin]" in text and "12 V screwdriver, garden box 3" in text
    assert 'class = "measured"' not in text
    told = json.loads(run("check", path, "--json").stdout)
    assert told["verdict"] in ("incomplete", "not cleared")
    assert told["workings"]["duty_rms_current"]["state"] == "missing"


def test_a_record_is_unpacked_into_its_folders_and_never_out_of_them(tmp_path: Path) -> None:
    pdf, build = tmp_path / "record.pdf", tmp_path / "Schere, grün (2).toml"
    build.write_bytes(BEGUN.read_bytes())
    assert run("record", build, "-o", pdf).returncode == 0
    done = run("unpack", pdf, "-d", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out" / build.name).read_bytes() == BEGUN.read_bytes(), "under the name that it had"
    assert run("unpack", pdf, "-d", tmp_path / "out").returncode == 2


def test_the_forecast_has_the_promised_shape() -> None:
    told = json.loads(run("forecast", CLEARED, "--json").stdout)
    assert {"alarm_s", "cutoff_s", "delivered_Ah", "delivered_Wh", "ended_by_group", "left_Ah", "groups"} <= set(told)
    assert len(told["groups"]) == 3 and {"ocv_V", "terminal_V"} <= set(told["groups"][0])
    assert 0 < told["alarm_s"] < told["cutoff_s"]


def test_a_row_named_without_its_capitals_is_the_row_that_is_there(tmp_path: Path) -> None:
    path = tmp_path / "taps.toml"
    path.write_bytes(CLEARED.read_bytes())
    before = read_build(path).build.entry("taps")
    assert cli.main(["enter", str(path), "taps", "7.57 V", "--row", "b2", "--column", "voltage", "--replace"]) == 0
    after = read_build(path).build.entry("taps")
    assert [r.id for r in after.rows] == [r.id for r in before.rows]
    assert after.row("B2") is not None and after.row("B2").text("voltage") == "7.57 V"  # type: ignore[union-attr]


@pytest.mark.parametrize("what", [("rated_voltage", "12,0 V"), ("instruments", "10 A", "--row", "m1", "--column", "range")])
def test_an_equal_value_entered_once_more_is_no_change(
        what: tuple[str, ...], capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "drill.toml"
    cli.main(["new", str(path)])
    cli.main(["enter", str(path), *what])
    before = path.read_bytes()
    capsys.readouterr()
    assert cli.main(["enter", str(path), *what]) == 0
    assert path.read_bytes() == before, "neither the answer nor the history"
    assert "stands already, nothing was changed" in capsys.readouterr().out
    assert cli.main(["enter", str(path), *what, "--note", "read twice", "--replace"]) == 0
    assert path.read_bytes() != before, "a note of its own is something new"


def test_an_equal_reading_that_was_wanted_again_counts_and_is_no_change(tmp_path: Path) -> None:
    path = tmp_path / "again.toml"
    path.write_bytes(CLEARED.read_bytes())
    cli.main(["enter", str(path), "groups", "c03 c08", "--row", "g1", "--column", "cells"])
    text = read_build(path).build.entry("groups_joined").standing[-1].text
    assert cli.main(["enter", str(path), "groups_joined", text]) == 0
    build = read_build(path).build
    assert len(build.entry("groups_joined").standing) == 2
    assert (build.history[-1].what, build.history[-1].item) == ("entered", "groups_joined")


def test_a_log_is_told_with_one_charge_and_with_what_is_not_counted_of_it(
        capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """By hand: 2 A for 3 rows an hour apart are 4 Ah at 7.5 V, 30 Wh; the hour to the row without load is at most 1 Ah."""
    rows = ["0;7.5;2", "3600;7.5;2", "7200;7.5;2", "10800;7.9;0", "14400;7.9;0"]
    path = tmp_path / "log.csv"
    path.write_text("t[s];U[V];I[A]\n" + "\n".join(rows) + "\n", encoding="utf-8")
    assert cli.main(["log", str(path)]) == 0
    told = capsys.readouterr().out
    assert "discharged 4.0000 Ah, 30.000 Wh, mean 7.500 V\n" in told and "charged back" not in told and "net" not in told
    assert "not counted: at most 1.0000 Ah between the last row under load and the next" in " ".join(told.split())
    path.write_text("t[s];U[V];I[A]\n" + "\n".join(rows[:3]) + "\n", encoding="utf-8")
    assert cli.main(["log", str(path)]) == 0
    assert "not counted" not in capsys.readouterr().out


def test_the_shelf_names_each_file_as_it_is_called_from_the_folder_and_every_title_whole(
        capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    title = "A drill of a very long name that no column of a list has room for, number "
    (tmp_path / "old" / "done").mkdir(parents=True)
    for number, name in enumerate(("a.toml", "old/b.toml", "old/done/c.toml"), 1):
        assert cli.main(["new", str(tmp_path / name), "--title", f"{title}{number}"]) == 0
    capsys.readouterr()
    assert cli.main(["shelf", str(tmp_path)]) == 0
    told = capsys.readouterr().out.splitlines()
    for number, name in enumerate(("a.toml", "old/b.toml", "old/done/c.toml"), 1):
        assert f"    {name}: {title}{number}" in told
    assert cli.main(["shelf", str(SAMPLES)]) == 0
    assert f"    {CLEARED.name}" in capsys.readouterr().out.splitlines(), "a title that has room is not told twice"


def test_a_comparison_told_shows_only_what_differs_where_that_is_asked(
        capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    shutil.copytree(SAMPLES / f"{CLEARED.stem}_files", tmp_path / f"{CLEARED.stem}_files")
    text = CLEARED.read_text(encoding="utf-8")
    title = read_build(CLEARED).build.title
    other.write_text(text.replace(f'title = "{title}"', 'title = "Another one"', 1), encoding="utf-8")
    assert cli.main(["compare", str(CLEARED), str(other)]) == 0
    whole = capsys.readouterr().out
    assert cli.main(["compare", str(CLEARED), str(other), "--differences"]) == 0
    told = capsys.readouterr().out
    assert "Another one" in told and 0 < told.count("≠") == whole.count("≠")
    assert told.count("\n") < whole.count("\n") / 10
    assert cli.main(["compare", str(CLEARED), str(CLEARED), "--differences"]) == 0
    assert capsys.readouterr().out == "nothing differs\n"


def test_a_file_in_place_of_a_folder_is_called_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert "this is a file; shelf lists the builds of a folder" in refused(capsys, "shelf", CLEARED)


@pytest.mark.parametrize(("typed", "says"), [
    (("log", "."), ".: this is a folder, not a file"),
    (("unpack", "gone.pdf"), "gone.pdf: there is no such file or folder"),
    (("unpack", "drill.toml"), "drill.toml: this is not a PDF"),
    (("new", "none/x"), "none/x.toml: there is no folder none: make it first"),
    (("sample", "drill-not-cleared", "-d", "drill.toml"), "drill.toml: there is a file of this name already"),
    (("lint", "drill.toml"), "drill.toml: this is a build file, not a checklist: buildtrack check drill.toml"),
    (("log", "drill.toml", "--every", "5"), "--every is for a log that grows: add --follow"),
    (("log", "drill.toml", "--alarm", "3 V"), "--alarm is for a log that grows: add --follow"),
    (("open", "cut.toml"), "cut.toml: line 9: is not TOML: it ends in the middle of"),
    (("open", "gone.toml"), "gone.toml: there is no such file"),
    (("enter", "drill.toml", "alarm_seting", "3"), "no item 'alarm_seting'; there is: alarm_setting"),
    (("enter", "drill.toml", "Alarm setting per group", "3"), "there is: alarm_setting"),
    (("enter", "drill.toml", "qqqq", "3"), "no item 'qqqq' ('buildtrack show FILE' prints all, in [ ])"),
])
def test_a_name_that_leads_nowhere_is_said_in_plain_words(
        typed: tuple[str, ...], says: str, capsys: pytest.CaptureFixture[str], tmp_path: Path,
        monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(FAULTY, "drill.toml")
    text = FAULTY.read_text(encoding="utf-8").splitlines(keepends=True)
    Path("cut.toml").write_text("".join(text[:8]) + text[8].rstrip()[:-1], encoding="utf-8")
    assert says in refused(capsys, *typed)


def test_every_page_of_help_says_its_exit_codes(capsys: pytest.CaptureFixture[str]) -> None:
    for command in ("", *cli.commands_of(cli.parser())):
        with pytest.raises(SystemExit):
            cli.main([*([command] if command else []), "--help"])
        told = " ".join(capsys.readouterr().out.split())
        assert "Exit codes: 0 cleared or done, 1 findings" in told and "2 input that cannot be used" in told
