"""The PDF: same input same bytes, nothing fetched, files inside unchanged, limits with one clear line."""

from __future__ import annotations

import io
import os
import random
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pypdf
import pytest
from pypdf.generic import ArrayObject, DictionaryObject, PdfObject, StreamObject

from buildtrack.judging import Judged, judge
from buildtrack.model.build import Entry, Reading
from buildtrack.record.content import gather
from buildtrack.record.errors import PANGO_HELP, RecordCancelled, RecordError
from buildtrack.record.html import record_html
from buildtrack.record.pages import Pages
from buildtrack.record.pdf import Enclosed, make_record, render_pdf, write_durably
from buildtrack.record.unpack import unpack
from tests import record_builds
from tests.test_record_drawings import HOSTILE

AT = datetime(2026, 11, 10, 17, 0, tzinfo=UTC)
SHORT = "<html lang='en'><head><title>t</title></head><body><h1>One</h1><p>words</p></body></html>"
NOISE = random.Random(7).randbytes(50_000)
FILES = (Enclosed("build.toml", "build file", b"title = 'endobj 3 0 obj << /Type /Filespec >> stream'\n", "Source"),
         Enclosed("logs/test (1).csv", "log", NOISE, "Data"), Enclosed("zwölf.txt", "über", b"", "Supplement"),
         Enclosed("back\\slash).txt", "odd name", b"\x00endstream\nendobj\n", "Supplement"))


@pytest.fixture(scope="module")
def judged(tmp_path_factory: pytest.TempPathFactory) -> Judged:
    return record_builds.full_judged(tmp_path_factory.mktemp("build"))


@pytest.fixture(scope="module")
def record(judged: Judged, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    out = make_record(judged, b"title = 1\n", tmp_path_factory.mktemp("out") / "record.pdf", timeout_s=600)
    return out.read_bytes()


@pytest.fixture(scope="module")
def texts(record: bytes) -> list[str]:
    return page_texts(record)


def few(judged: Judged) -> Pages:
    """The record with two steps only, which is laid out fast."""
    pages = gather(judged, b"title = 1\n")
    return replace(pages, steps=(pages.steps[0], pages.steps[5]))


def page_texts(pdf: bytes) -> list[str]:
    """Text of every page, spaces evened out."""
    return [" ".join(p.extract_text().split()) for p in pypdf.PdfReader(io.BytesIO(pdf)).pages]


def test_two_processes_give_equal_bytes() -> None:
    first, second = (render_pdf(SHORT, FILES, AT) for _ in range(2))
    assert first == second


def test_files_come_back_byte_for_byte() -> None:
    pdf = render_pdf(SHORT, FILES, AT)
    assert unpack(pdf) == sorted((f.name, f.content) for f in FILES)


def test_our_own_unpacking_agrees_with_an_independent_reader() -> None:
    pdf = render_pdf(SHORT, FILES, AT)
    others = pypdf.PdfReader(io.BytesIO(pdf)).attachments
    assert {name: others[name][0] for name, _ in unpack(pdf)} == dict(unpack(pdf))
    assert len({bytes(held[0]) for held in others.values()}) == len(FILES)  # it lists one name in two spellings


@pytest.mark.parametrize("variant", ["pdf/a-3a", "pdf/ua-1", ""])
def test_files_come_back_from_every_kind_of_pdf(variant: str) -> None:
    assert unpack(render_pdf(SHORT, FILES[:2], AT, variant=variant)) == sorted((f.name, f.content) for f in FILES[:2])


def test_what_is_no_pdf_is_said() -> None:
    with pytest.raises(RecordError, match="this is not a PDF"):
        unpack(b"hello")


def test_a_damaged_pdf_gives_one_clear_line() -> None:
    pdf = render_pdf(SHORT, FILES, AT)
    chance = random.Random(3)
    for _ in range(60):
        spoiled = bytearray(pdf)
        for _ in range(20):
            spoiled[chance.randrange(len(spoiled))] = chance.randrange(256)
        try:
            unpack(bytes(spoiled[:chance.randrange(len(pdf))]))
        except RecordError as error:
            assert "\n" not in str(error)


def dictionary(found: PdfObject | None) -> DictionaryObject:
    assert isinstance(found, DictionaryObject)
    return found


def test_it_is_marked_as_pdf_a_3b_and_lists_each_file_once() -> None:
    pdf = render_pdf(SHORT, FILES, AT)
    root = dictionary(pypdf.PdfReader(io.BytesIO(pdf)).trailer["/Root"])
    listed, metadata = root["/AF"], root["/Metadata"]
    assert isinstance(listed, ArrayObject) and len(listed) == len(FILES)
    assert isinstance(metadata, StreamObject)
    xmp = metadata.get_data().decode()
    assert 'part="3"' in xmp and 'conformance="B"' in xmp
    assert root["/OutputIntents"]


def test_the_accessible_kind_is_tagged() -> None:
    root = dictionary(pypdf.PdfReader(io.BytesIO(render_pdf(SHORT, (), AT, variant="pdf/ua-1"))).trailer["/Root"])
    assert dictionary(root["/MarkInfo"])["/Marked"] and str(root["/Lang"]) == "en"


@pytest.mark.parametrize("markup", [
    "<img src='file:///etc/hostname'>", "<img src='http://127.0.0.1:9/x'>", "<img src='ftp://a/b'>",
    "<link rel=stylesheet href='https://localhost/x'>", "<link rel=attachment href='file:///etc/hostname'>",
    "<style>@import url(file:///etc/hostname);</style>", "<div style='background: url(file:///etc/hostname)'>x</div>",
    "<svg><image href='file:///etc/hostname' width=9 height=9 /></svg>"])
def test_anything_but_inside_data_is_refused_not_fetched(markup: str) -> None:
    with pytest.raises(RecordError, match="may fetch nothing"):
        render_pdf(f"<body>{markup}</body>", (), AT)


def test_missing_pango_names_the_command_that_mends_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "weasyprint.py").write_text("raise OSError(\"cannot load library 'libpango-1.0-0'\")\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with pytest.raises(RecordError) as caught:
        render_pdf(SHORT, (), AT)
    assert PANGO_HELP in str(caught.value)


def test_without_pango_the_html_record_is_still_written(judged: Judged, tmp_path: Path,
                                                        monkeypatch: pytest.MonkeyPatch) -> None:
    from buildtrack.record.html_file import write_html

    monkeypatch.setitem(__import__("sys").modules, "weasyprint", None)
    text = write_html(judged, b"x", tmp_path / "r.html").read_text(encoding="utf-8")
    assert "Garden shears GS-1" in text


def test_the_time_limit_is_told() -> None:
    with pytest.raises(RecordError, match="more than 0.01 s; nothing was written"):
        render_pdf(SHORT, (), AT, timeout_s=0.01)


def test_the_memory_limit_is_told() -> None:
    with pytest.raises(RecordError, match="more than 90 MB of memory"):
        render_pdf(SHORT, (), AT, memory_bytes=90_000_000)


def test_it_can_be_stopped_and_writes_nothing(judged: Judged, tmp_path: Path) -> None:
    seen: list[str] = []
    with pytest.raises(RecordCancelled):
        make_record(judged, b"x", tmp_path / "r.pdf", on_progress=seen.append, cancelled=lambda: len(seen) > 2)
    assert list(tmp_path.iterdir()) == []


def test_progress_names_pages() -> None:
    seen: list[str] = []
    render_pdf(SHORT, (), AT, on_progress=seen.append)
    assert "laying out page 1" in seen and "1 pages laid out" in seen and seen[-1] == "writing the pages"


def test_an_unknown_paper_or_kind_is_refused(judged: Judged, tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="there are: A4, Letter"):
        make_record(judged, b"", tmp_path / "r.pdf", paper="A9")
    with pytest.raises(RecordError, match="pdf/a-3b"):
        make_record(judged, b"", tmp_path / "r.pdf", variant="pdf/x-4")


def test_a_folder_that_is_not_there_gives_one_line(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="cannot be written"):
        write_durably(b"x", tmp_path / "none" / "r.pdf")


def test_writing_over_a_record_keeps_links_and_leaves_no_rest(tmp_path: Path) -> None:
    (tmp_path / "real.pdf").write_bytes(b"old")
    os.symlink("real.pdf", tmp_path / "link.pdf")
    write_durably(b"new", tmp_path / "link.pdf")
    assert (tmp_path / "link.pdf").is_symlink() and (tmp_path / "real.pdf").read_bytes() == b"new"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["link.pdf", "real.pdf"]


def test_the_record_has_metadata_bookmarks_and_page_numbers(record: bytes, texts: list[str], judged: Judged) -> None:
    reader = pypdf.PdfReader(io.BytesIO(record), strict=True)  # strict: any fault in the structure is an error
    assert reader.metadata is not None
    assert reader.metadata.title == "Garden shears GS-1: build record" and reader.metadata.author == "Kim (invented)"
    assert str(reader.metadata.get("/CreationDate")).startswith("D:20261110170000")
    titles = [str(b.title) for b in reader.outline if not isinstance(b, list)]
    for step in judged.checklist.steps:
        assert any(step.title in t for t in titles), step.title
    assert all(f"{n} of {len(texts)}" in text for n, text in enumerate(texts, 1))
    assert all("content" in text for text in texts[1:])


def test_contents_name_the_pages_on_which_the_steps_begin(record: bytes, texts: list[str],
                                                                  judged: Judged) -> None:
    where = next(n for n, t in enumerate(texts) if "How to read the values" in t)
    sheet = pypdf.PdfReader(io.BytesIO(record)).pages[where]
    lines = [" ".join(x.split()) for x in sheet.extract_text(extraction_mode="layout").splitlines()]
    for number, step in enumerate(judged.checklist.steps, 1):
        page = int(next(x for x in lines if x.startswith(f"{number} {step.title}")).rpartition(" ")[2])
        assert f"{number} {step.title}" in texts[page - 1]


def test_the_verdict_stands_on_page_1(texts: list[str], judged: Judged) -> None:
    first = texts[0]
    assert judged.assessment.verdict in first
    assert "private record and no approval" in first


def test_every_working_can_be_found_in_the_pages(texts: list[str], judged: Judged) -> None:
    text = "".join("".join(t.split()) for t in texts)
    for step in gather(judged, b"").steps:
        for working in step.workings:
            shown = "".join(working.shown.split())
            assert shown[:40] in text, working.id


def test_only_the_bundled_font_is_used(record: bytes) -> None:
    names = set()
    for page in pypdf.PdfReader(io.BytesIO(record)).pages:
        for font in dictionary(dictionary(page["/Resources"])["/Font"]).values():
            names.add(str(dictionary(font.get_object())["/BaseFont"]).partition("+")[2])
    assert names and all(n.startswith("Record-Sans") or n.startswith("RecordSans") for n in names), names


@pytest.mark.parametrize("variant", ["pdf/a-3b", "pdf/ua-1"])
def test_the_renderer_finds_nothing_to_warn_of(judged: Judged, variant: str) -> None:
    warnings: list[str] = []
    render_pdf(record_html(few(judged)), (), AT, variant=variant, on_warning=warnings.append)
    assert warnings == []


def test_warnings_of_the_renderer_are_passed_on() -> None:
    warnings: list[str] = []
    render_pdf("<style>p { colour: red }</style><p>x</p>", (), AT, on_warning=warnings.append)
    assert any("colour" in w for w in warnings)


def test_letter_is_letter(judged: Judged) -> None:
    pdf = render_pdf(record_html(few(judged), paper="Letter"), (), AT)
    box = pypdf.PdfReader(io.BytesIO(pdf)).pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == (612, 792)


def test_hostile_text_in_every_field_is_inert(judged: Judged, tmp_path: Path) -> None:
    nasty = f"{HOSTILE} <img src=file:///etc/hostname> {{{{ 7*7 }}}} {'x' * 90} %s {{0}}"
    entries = {}
    for item in judged.checklist.all_items():
        entry = judged.build.entry(item.id)
        readings = tuple(replace(r, text=nasty, note=nasty, instrument=nasty, withdrawn="" if n else r.withdrawn)
                         for n, r in enumerate(entry.readings))
        rows = tuple(replace(row, cells={k: replace(c, text=nasty, note=nasty, instrument=nasty)
                                         for k, c in row.cells.items()}) for row in entry.rows)
        entries[item.id] = Entry(readings or (Reading(nasty, note=nasty),) if not rows else (), rows)
    build = replace(judged.build, title=nasty, maker=nasty, id=nasty, notice=nasty, currency=nasty, entries=entries)
    found = judge(build, judged.checklist, tmp_path, judged.now)
    html = record_html(gather(found, b"x"))
    assert "<img src=file" not in html and "<script>alert" not in html and ">49<" not in html
    pdf = render_pdf(record_html(few(found)), (), AT, timeout_s=600)
    first = pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert "<script>" in "".join(first.split())
