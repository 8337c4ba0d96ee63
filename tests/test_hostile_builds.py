"""A build whose every text is hostile: each command prints it, each export holds it, and nowhere does it do anything."""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from itertools import cycle
from pathlib import Path

import pytest

from buildtrack import cli
from buildtrack.model.build import Build, Cell, Entry, Event, PolicyChange, Reading, Review, Row, Waiver
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.session import create
from tests import record_builds
from tests.small import TEXT
from tests.storage_cases import AT, HOSTILE

CHECKLIST = find_checklist("nickel-tool-pack")
MORE = ('<img src=x onerror="alert(1)">', "<a href='javascript:alert(1)'>x</a>", "]]><svg/onload=alert(1)>", "http://127.0.0.1:9/x",
        "file:///etc/passwd", "{{ 7*7 }}", "{% include '/etc/passwd' %}", "@import url(http://127.0.0.1:9/x)", "+1+1", "-2+3", "@SUM(A1)",
        "\t=1", "\uff1d1", "\x9b31m", "\x1b]0;title\x07", "\x1b[2J", "\u202a\u202b\u202d\u2067\u2068", "\u2029", "{0!r:>9999999}",
        "%999999999d", "&#x202e;", "</style><script>alert(1)</script>", "--><!--")
TEXTS = (*HOSTILE, *MORE)


@pytest.fixture(autouse=True, scope="module")
def own_state(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BUILDTRACK_STATE", str(tmp_path_factory.mktemp("state")))
        patch.setenv("BUILDTRACK_CONFIG", str(tmp_path_factory.mktemp("config")))
        yield


def hostile_build() -> Build:
    """Every text a person can type is one of the hostile ones, each used several times; choices and ticks stay what they are."""
    texts = cycle(TEXTS)
    base = record_builds.full_build(CHECKLIST)
    entries: dict[str, Entry] = {}
    for item in CHECKLIST.all_items():
        entry = base.entry(item.id)
        free = item.kind == "text"
        readings = tuple(replace(r, text=next(texts) if free else r.text, note=next(texts), instrument=next(texts),
                                 accepted=next(texts), withdrawn=next(texts) if n else "")
                         for n, r in enumerate(entry.readings)) or ((Reading(next(texts), AT),) if free else ())
        columns = {c.id for c in item.columns if c.kind == "text"}
        rows = tuple(Row(row.id, {k: replace(c, text=next(texts) if k in columns else c.text, note=next(texts),
                                             instrument=next(texts)) for k, c in row.cells.items()}) for row in entry.rows)
        if readings or rows:
            entries[item.id] = Entry(readings, rows)
    costs = Entry(rows=tuple(Row(f"k{n}", {"what": Cell(t), "amount": Cell("1")})
                             for n, t in enumerate(TEXTS)))
    return replace(
        base, title="".join(MORE), maker=next(texts), notice="".join(HOSTILE[:20]), currency=next(texts),
        entries={**entries, "costs": costs},
        policy={"no-such": PolicyChange(next(texts), next(texts), AT, next(texts))},
        waivers=tuple(Waiver(t, t, t, AT, t) for t in TEXTS if t.strip()),
        reviews=tuple(Review(t, "agree", t, AT, t) for t in TEXTS),
        history=tuple(Event(AT, t or "x", t, t, t, t, t, t, t, t, t) for t in TEXTS))


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("hostile") / "build.toml"
    create(place, hostile_build(), CHECKLIST)
    return place


def invisible(text: str) -> set[str]:
    """What of a text would move a cursor, turn a line round, hide, or break it: all but line ends and plain blanks."""
    return {f"U+{ord(c):04X}" for c in text if c != "\n" and unicodedata.category(c) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")}


@pytest.mark.parametrize("command", [
    ["show"], ["check"], ["check", "--json"], ["review"], ["review", "--json"], ["forecast"], ["parts"], ["label"]], ids=" ".join)
def test_no_command_prints_what_a_terminal_would_obey(command: list[str], path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code = cli.main([*command, str(path)])
    out, err = capsys.readouterr()
    assert code in (0, 1, 2) and (out or err)
    assert invisible(out.replace("\r\n", "\n")) == set()
    assert invisible(err) == set() and err.count("\n") <= 1


def test_shelf_and_comparison_print_nothing_that_a_terminal_would_obey(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for command in (["shelf", str(path.parent)], ["shelf", "--json", str(path.parent)], ["compare", str(path), str(path)]):
        assert cli.main(command) in (0, 1)
        out, err = capsys.readouterr()
        assert out and invisible(out + err) == set(), command


def test_no_field_of_the_parts_list_begins_like_a_formula_or_holds_what_is_not_seen(
        path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cli.main(["parts", str(path)])
    rows = list(csv.reader(io.StringIO(capsys.readouterr().out)))
    assert len(rows) > len(TEXTS)
    for field in (f for row in rows for f in row if f):
        assert unicodedata.normalize("NFKC", field).lstrip(" \t\r\n\ufeff\u200b")[:1] not in ("=", "+", "-", "@"), repr(field)
        assert invisible(field) == set(), repr(field)


class Page(HTMLParser):
    """What a browser would find in a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.attributes: set[tuple[str, str]] = set()
        self.links: set[str] = set()
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {(tag, name) for name, _ in attrs}
        self.links |= {value or "" for name, value in attrs if name in ("href", "src", "srcset", "action", "data", "xlink:href")}

    def handle_data(self, data: str) -> None:
        self.words += data


def html_of(place: Path, capsys: pytest.CaptureFixture[str]) -> str:
    out = place.with_suffix(".html")
    assert cli.main(["record", "--html", "-o", str(out), str(place)]) == 0, capsys.readouterr().err
    return out.read_text(encoding="utf-8")


def test_the_page_for_a_browser_holds_no_tag_attribute_or_address_that_a_sound_build_has_not(
        path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sound_path = tmp_path / "sound.toml"
    create(sound_path, record_builds.full_build(CHECKLIST), CHECKLIST)
    sound, found = Page(html_of(sound_path, capsys)), Page(html_of(path, capsys))
    assert found.tags <= sound.tags
    assert found.attributes <= sound.attributes
    assert all(link.startswith(("#", "data:")) for link in found.links)
    assert "<script>alert(1)</script>" in found.words and "{{ 7*7 }}" in found.words and "../../etc/passwd" in found.words
    assert invisible(found.words.replace("\t", " ")) == set()


EVIL = "\x1b[31m\u202e[b]x[/b]<b>{0}%s\x9b2J\u2066\u200b"


def test_logs_lists_and_checklists_cannot_paint_the_terminal_either(
        tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    log, cells, own = tmp_path / f"log{EVIL.replace('/', '')}.csv", tmp_path / "cells.csv", tmp_path / "own" / "checklists"
    log.write_text(f"time_s,voltage_V,current_A,{EVIL}\n" + "".join(f"{k},{12 - 0.1 * k:.2f},2.0,{EVIL}\n" for k in range(30)))
    cells.write_text(f"id;capacity (mAh);{EVIL}\n" + "".join(f"{EVIL}{k};{2000 + 13 * k};{EVIL}\n" for k in range(8)))
    own.mkdir(parents=True)
    toml = EVIL.encode("unicode_escape").decode().replace("\\x", "\\u00")
    (own / "evil.toml").write_text(f'format = 1\nid = "evil"\nversion = "1"\ntitle = "{toml}"\npurpose = "{toml}"\n"{toml}" = 1\n'
                                   f'[[steps]]\nid = "s"\ntitle = "{toml}"\nminutes = "{toml}"\n')
    monkeypatch.setenv("BUILDTRACK_CONFIG", str(own.parent))
    printed = 0
    for command in (["log", str(log)], ["log", "--json", str(log)], ["cells", "--series", "2", "--parallel", "2", str(cells)],
                    ["cells", "--json", "--series", "2", "--parallel", "2", str(cells)], ["lint", str(own / "evil.toml")],
                    ["checklists"], ["show", str(log)], ["shelf", str(tmp_path)], ["log", str(tmp_path / EVIL)],
                    ["new", str(tmp_path / "n.toml"), "--checklist", EVIL], ["sample", EVIL], ["record", str(log)], ["unpack", str(log)]):
        assert cli.main(command) in (0, 1, 2), command
        out, err = capsys.readouterr()
        assert invisible(out + err) == set(), command
        printed += "x[/b]" in out + err or "[31m" in out + err
    assert printed >= 8, "the hostile words were shown, as words"


def test_a_checklist_of_hostile_words_is_listed_in_plain_ones(
        tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "checklists"
    folder.mkdir()
    toml = "\\u001b[31m\\u202e\\u009b2Jred"
    text = TEXT.replace('id = "small"', 'id = "evil"', 1).replace('title = "A small job"', f'title = "{toml}"', 1).replace(
        'purpose = "To test the engine"', f'purpose = "{toml}"', 1)
    assert text.count(toml) == 2
    (folder / "evil.toml").write_text(text, encoding="utf-8")
    monkeypatch.setenv("BUILDTRACK_CONFIG", str(tmp_path))
    assert cli.main(["checklists"]) == 0
    out = capsys.readouterr().out
    assert "evil (version" in out and out.count("2Jred") == 2 and invisible(out) == set()
    assert cli.main(["new", str(tmp_path / "b.toml"), "--checklist", "evil", "--title", "\x1b[31mred"]) == 0
    assert invisible(capsys.readouterr().out) == set()


@pytest.mark.parametrize("name", ["../x", "/x", "a/../../x", "a\\..\\x", "..", "", "out/x", "gone"])
def test_what_is_attached_to_a_record_is_never_written_outside_the_folder(
        tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    folder, outside = tmp_path / "into", tmp_path / "outside"
    folder.mkdir()
    outside.mkdir()
    (folder / "out").symlink_to(outside)
    (folder / "gone").symlink_to(outside / "new")
    (tmp_path / "r.pdf").write_bytes(b"%PDF-")
    monkeypatch.setattr("buildtrack.record.unpack.unpack", lambda _data: [("good.csv", b"1"), (name, b"2")])
    assert cli.main(["unpack", str(tmp_path / "r.pdf"), "-d", str(folder)]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and ("leads out of the folder" in said or "already a file" in said)
    assert sorted(p.name for p in tmp_path.rglob("*")) == ["gone", "into", "out", "outside", "r.pdf"], "nothing was written"


def test_names_of_what_is_taken_out_of_a_record_are_printed_plainly(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "r.pdf").write_bytes(b"%PDF-")
    monkeypatch.setattr("buildtrack.record.unpack.unpack", lambda _data: [("a\x1b[31m\u202e.csv", b"1")])
    assert cli.main(["unpack", str(tmp_path / "r.pdf"), "-d", str(tmp_path / "into")]) == 0
    assert invisible(capsys.readouterr().out) == set()
