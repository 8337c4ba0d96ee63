"""Whole records of samples as laid out: no page nearly empty, no heading left behind, the rules of an archive kept."""

from __future__ import annotations

import io
import shutil
import subprocess
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pypdf
import pytest

from buildtrack.judging import judge
from buildtrack.record.content import enclosed_files, gather
from buildtrack.record.html import record_html
from buildtrack.record.pdf import Enclosed, render_pdf
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from tests.archive_rules import broken
from tests.laid_out import nearly_empty, orphans

AT = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
RECORDS = (("garden-screwdriver-cleared", "A4"), ("garden-screwdriver-cleared", "Letter"),
           ("grass-shears-in-progress", "Letter"))


def rendered(sample: str, paper: str, variant: str = "pdf/a-3b") -> bytes:
    path = shipped_samples() / f"{sample}.toml"
    build = read_build(path).build
    judged = judge(build, find_checklist(build.checklist.id), path.parent, AT)
    source = path.read_bytes()
    html = record_html(gather(judged, source), paper=paper)
    return render_pdf(html, enclosed_files(judged, source), AT, variant=variant, timeout_s=900)


@pytest.mark.parametrize(("sample", "paper"), RECORDS)
def test_a_whole_record_is_well_laid_out_and_keeps_the_rules_of_an_archive(sample: str, paper: str, tmp_path: Path) -> None:
    pdf = rendered(sample, paper)
    assert nearly_empty(pdf) == [], "pages with next to nothing on them"
    assert orphans(pdf) == [], "headings left at the end of a page"
    assert broken(pdf) == {}
    if shutil.which("qpdf"):
        path = tmp_path / "r.pdf"
        path.write_bytes(pdf)
        told = subprocess.run(["qpdf", "--check", str(path)], capture_output=True, text=True, check=False)
        assert told.returncode == 0, told.stdout + told.stderr


STYLE = "<style>@page { size: A4; margin: 20mm } h1 { font-size: 15pt; margin: 0 } p { font-size: 9pt; margin: 0 }</style>"


def test_a_heading_left_behind_is_found() -> None:
    page = f"{STYLE}<div style='height: 240mm'><p>above</p></div><h1>Left behind</h1><p style='break-before: page'>below</p>"
    assert orphans(render_pdf(page, (), AT)) == [(1, "Left behind")]


def test_a_nearly_empty_page_is_found() -> None:
    page = f"{STYLE}<p>one line</p><p style='break-before: page'>last page, which may be short</p>"
    assert [n for n, _ in nearly_empty(render_pdf(page, (), AT))] == [1]


def test_a_broken_rule_is_found() -> None:
    faults = broken(render_pdf("<title>t</title><p>x</p>", (Enclosed("a.toml", "a", b"x", "Nonsense"),), AT, variant=""))
    assert any("output intent" in rule for rule in faults) and any("conformance B" in rule for rule in faults)
    assert any("AF array" in rule for rule in faults)


def test_the_accessible_kind_has_structure_language_and_a_title_to_show() -> None:
    """Rules of ISO 14289-1 (PDF/UA-1), from memory."""
    pdf = rendered("path-light-cleared", "A4", "pdf/ua-1")
    root: Any = pypdf.PdfReader(io.BytesIO(pdf)).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] and root["/Lang"] and "/StructTreeRoot" in root
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    xmp = root["/Metadata"].get_object().get_data().decode()
    assert 'pdfuaid:part' in xmp
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        assert "/StructParents" in page and page.get("/Tabs") in (None, "/S")
