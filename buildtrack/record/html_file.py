"""The record as one HTML file that needs nothing beside it: style, font, drawings and photos are inside."""

from __future__ import annotations

from pathlib import Path

from buildtrack.judging import Judged
from buildtrack.record.content import gather
from buildtrack.record.html import record_html
from buildtrack.record.pdf import write_durably

FILES_SENTENCE = ("The files are not inside this page: it is for reading. The PDF record holds them, and "
                  "'buildtrack unpack' gives them back.")


def write_html(judged: Judged, source_text: bytes, out: Path, called: str = "") -> Path:
    """Write the record of a build file `called` so as one HTML file; RecordError where it cannot be written."""
    html = record_html(gather(judged, source_text, called), screen=True, files_sentence=FILES_SENTENCE)
    return write_durably(html.encode("utf-8"), out)
