"""Time and memory of the PDF record of a whole sample, beside a bare document of as many pages.

`python -m tests.bench.record_bench` prints both and their ratio. The bare document holds on every page a heading and one
table of as many rows as a page of the record has lines, with weasyprint's own style.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime

from buildtrack.judging import judge
from buildtrack.record.content import enclosed_files, gather
from buildtrack.record.html import record_html
from buildtrack.record.pdf import render_pdf
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples

AT = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
SAMPLE = "garden-screwdriver-cleared"
ROWS = 40


def timed(work: Callable[[], bytes]) -> tuple[float, bytes]:
    """Seconds and result."""
    begin = time.perf_counter()
    found = work()
    return time.perf_counter() - begin, found


def bare(pages: int) -> str:
    """A document of so many pages with one table each."""
    row = "<tr><td>c01</td><td>3.652 V</td><td>2 480 mAh</td><td>52 mΩ</td><td>kept for the pack</td></tr>"
    page = f"<section style='break-before: page'><h1>Page</h1><table>{row * ROWS}</table></section>"
    return f"<html><body>{page * pages}</body></html>"


def main() -> int:
    """Measure and print."""
    path = shipped_samples() / f"{SAMPLE}.toml"
    build = read_build(path).build
    judged = judge(build, find_checklist(build.checklist.id), path.parent, AT)
    gathering, _ = timed(lambda: record_html(gather(judged, path.read_bytes())).encode())
    html = record_html(gather(judged, path.read_bytes()))
    seen: list[str] = []
    whole, pdf = timed(lambda: render_pdf(html, enclosed_files(judged, path.read_bytes()), AT, on_progress=seen.append,
                                          timeout_s=900))
    memory_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    pages = next(int(s.split()[0]) for s in seen if s.endswith("pages laid out"))
    plain, _ = timed(lambda: render_pdf(bare(pages), (), AT, timeout_s=900))
    print(f"record of {SAMPLE}: {pages} pages, {len(pdf) // 1000} kB, HTML {gathering:.2f} s, PDF {whole:.2f} s, "
          f"{memory_mb:.0f} MB")
    print(f"bare document of {pages} pages: {plain:.2f} s; ratio {whole / plain:.2f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
