"""Time and memory of the PDF record of a whole sample, beside a bare document of as many pages.

The bare document holds on every page a heading and one table of as many rows as a page of the record has lines, with
weasyprint's own style. Both are rendered by the same child process; what counts is its processor time, so that a busy
machine slows neither more than the other.
"""

from __future__ import annotations

import resource
from collections.abc import Iterable
from datetime import UTC, datetime
from statistics import median

from buildtrack.judging import Judged, judge
from buildtrack.record.content import enclosed_files, gather
from buildtrack.record.html import record_html
from buildtrack.record.pdf import Enclosed, render_pdf
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples

AT = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
SAMPLE = "garden-screwdriver-cleared"
ROWS = 40
RUNS = 3


def rendered(html: str, enclosed: Iterable[Enclosed] = ()) -> tuple[float, int, int]:
    """Processor seconds of the child, pages, bytes of the PDF."""
    seen: list[str] = []
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    pdf = render_pdf(html, enclosed, AT, on_progress=seen.append, timeout_s=900)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    pages = next(int(s.split()[0]) for s in seen if s.endswith("pages laid out"))
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, pages, len(pdf)


def bare(pages: int) -> str:
    """A document of so many pages with one table each."""
    row = "<tr><td>c01</td><td>3.652 V</td><td>2 480 mAh</td><td>52 mΩ</td><td>kept for the pack</td></tr>"
    page = f"<section style='break-before: page'><h1>Page</h1><table>{row * ROWS}</table></section>"
    return f"<html><body>{page * pages}</body></html>"


def sample() -> tuple[Judged, bytes]:
    """The sample, judged, and the bytes of its file."""
    path = shipped_samples() / f"{SAMPLE}.toml"
    build = read_build(path).build
    return judge(build, find_checklist(build.checklist.id), path.parent, AT), path.read_bytes()


def measure() -> list[tuple[str, float, str, str]]:
    """Time and memory of the record, and of a bare document of as many pages."""
    judged, source = sample()
    html, inside = record_html(gather(judged, source)), enclosed_files(judged, source)
    _, pages, size = rendered("<p>first, so that the libraries lie in the file cache</p>")
    begun = resource.getrusage(resource.RUSAGE_SELF).ru_utime
    record_html(gather(judged, source))
    gathering = resource.getrusage(resource.RUSAGE_SELF).ru_utime - begun
    whole, pages, size = rendered(html, inside)
    memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024  # of the largest child so far: the record
    plain = bare(pages)
    pairs = [(whole, rendered(plain)[0])] + [(rendered(html, inside)[0], rendered(plain)[0]) for _ in range(RUNS - 1)]
    return [
        (f"record: {pages} pages against a bare weasyprint document of as many", median(w / p for w, p in pairs), "x",
         "under 1.5"),
        ("record: processor time of the renderer", median(w for w, _ in pairs), "s", ""),
        ("record: pages gathered and turned into HTML", gathering, "s", ""),
        ("record: memory of the renderer", memory, "MB", "under 1,500, else a clear line"),
        ("record: size of the PDF", size / 1000, "kB", ""),
    ]


def main() -> int:
    """Measure and print."""
    for what, value, unit, hold in measure():
        print(f"{what:<72} {value:>10.2f} {unit:<4} {hold}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
