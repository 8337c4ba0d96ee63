"""Text of the record's pages as last looked at. `BUILDTRACK_GOLDEN=write python3 -m pytest tests/test_record_golden.py`
writes it anew; read the difference before it is committed."""

from __future__ import annotations

import io
import os
import re
import textwrap
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pypdf
import pytest

from buildtrack.judging import judge
from buildtrack.record.content import gather
from buildtrack.record.html import record_html
from buildtrack.record.pdf import render_pdf
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples

GOLDEN = Path(__file__).parent / "golden_record"
SAMPLES = ("garden-screwdriver-cleared", "drill-not-cleared", "grass-shears-in-progress")
AT = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
STEPS = ("alarm", "aftercare")
"""Steps whose pages are under test here; the others are laid out by the same templates."""


def sample_text(name: str) -> str:
    """Words of the sample's pages, page breaks left out: they move with the text layout library."""
    path = shipped_samples() / f"{name}.toml"
    build = read_build(path).build
    judged = judge(build, find_checklist(build.checklist.id), path.parent, AT)
    pages = gather(judged, path.read_bytes())
    few = replace(pages, steps=tuple(s for s in pages.steps if s.id in STEPS), photos=())
    pdf = render_pdf(record_html(few), (), AT, timeout_s=600)
    texts = (page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    return textwrap.fill(" ".join(" ".join(texts).split()), 118, break_on_hyphens=False) + "\n"


def evened(text: str) -> str:
    """Text without what moves with the machine or with any byte of the sample: page numbers, spaces, hashes."""
    text = re.sub(r"\b[0-9a-f]{64}\b|content [0-9a-f]{6}\s[0-9a-f]{6}|[0-9a-f]{12} \(this content\)", "", text)
    return "".join(word for word in text.split() if not word.isdigit())


@pytest.mark.parametrize("name", SAMPLES)
def test_pages_say_what_they_said(name: str) -> None:
    found = sample_text(name)
    path = GOLDEN / f"{name}.txt"
    if os.environ.get("BUILDTRACK_GOLDEN") == "write":
        GOLDEN.mkdir(exist_ok=True)
        path.write_text(found, encoding="utf-8")
    assert evened(found) == evened(path.read_text(encoding="utf-8"))
