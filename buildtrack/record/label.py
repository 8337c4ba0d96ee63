"""The label for the pack: as lines of text, and as a page to print and cut out."""

from __future__ import annotations

from pathlib import Path

from buildtrack import __version__
from buildtrack.judging import Judged
from buildtrack.record.errors import RecordError
from buildtrack.record.gather_front import last_change
from buildtrack.record.html import environment, style
from buildtrack.record.pdf import render_pdf, write_durably
from buildtrack.record.text import line, tied
from buildtrack.workings.explain import label_of
from buildtrack.workings.hand_over_label import Label
from buildtrack.workings.values import Known, Missing

SIZES = ("large", "middle", "small")
CAUTIONS = ("Do not short, crush, wet or heat above 60 °C.", "Never charge unattended.",
            "If it swells, smells or gets hot by itself: leave it, get out, call the fire service.")
NOT_CLEARED = "NOT CLEARED FOR USE: see the record"


def _label(judged: Judged) -> Label:
    value = judged.assessment.sheet.value("label_text")
    if isinstance(value, Known) and isinstance(value.value, Label):
        return value.value
    if isinstance(value, Missing):
        names = ", ".join(label_of(n, judged.assessment.sheet, judged.checklist) for n in sorted(value.inputs))
        raise RecordError(f"there is no label yet; it needs {names}")
    raise RecordError("there is no label: " + (getattr(value, "why", "") or "this checklist has none"))


def label_lines(judged: Judged) -> list[str]:
    """The label line by line; RecordError says what it still needs."""
    verdict = judged.assessment.verdict
    texts = [tied(line(t)) for t in _label(judged).texts]
    return [*texts] if verdict.startswith("cleared") else [NOT_CLEARED, *texts]


def label_html(judged: Judged, paper: str = "A4") -> str:
    """The page with the label in three sizes."""
    from markupsafe import Markup

    at = last_change(judged).strftime("%Y-%m-%dT%H:%MZ")
    return environment().get_template("label.html").render(
        title=line(judged.build.title, 120), program=f"buildtrack {__version__}", at=at, lines=label_lines(judged),
        cautions=CAUTIONS, sizes=SIZES, css=Markup(style(paper, "label.css")))


def write_label(judged: Judged, out: Path, *, paper: str = "A4") -> Path:
    """Write the label page as PDF; returns where it is."""
    return write_durably(render_pdf(label_html(judged, paper), (), last_change(judged)), out)
