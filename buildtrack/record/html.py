"""The record as HTML: one self-contained text with its style and fonts inside; every word of the build is escaped."""

from __future__ import annotations

import base64
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from buildtrack.record.front_room import Front, front
from buildtrack.record.gridding import beside
from buildtrack.record.pages import CLASS_MARKS, FactGroup, Pages
from buildtrack.record.text import short_hash

if TYPE_CHECKING:
    import jinja2

_HERE = Path(__file__).parent
FACES = (("RecordSans-Regular.ttf", 400, "normal"), ("RecordSans-Semibold.ttf", 600, "normal"),
         ("RecordSans-Italic.ttf", 400, "italic"))
SIGNS = {"cleared": "✓", "cleared with conditions": "✓", "not cleared": "✗", "incomplete": "○", "ended early": "■"}
_LOOKS = {"cleared": "good", "cleared with conditions": "good", "not cleared": "bad", "incomplete": "open",
          "ended early": "bad"}
CLASSES = {
    "measured": "read from an instrument, or seen, chosen or set, by the maker",
    "computed": "follows from other values; formula, numbers and source stand with it",
    "taken over": "from a data sheet or a past build; not measured here",
    "guessed": "an estimate; under a hold point it cannot clear the pack",
}
SEVERITY_SIGNS = {"stop": "■", "caution": "▲", "note": "○"}
FEW_WAITING = 8
"""So many checks that wait for readings are listed with what they need; more are named only."""
MOST_REASONS = 8
LONGEST_REASON = 230
"""How many reasons stand on page 1, and how long one may be [characters]."""
MOST_CONDITIONS, LONGEST_CONDITION = 12, 400
"""The same of the conditions and of what was accepted."""
LONGEST_HEAD = 80
"""How much of the title stands at the head of every page [characters]."""
FULL_PAGE = 24
"""From so many facts on, the design at a glance gets a page to itself."""
FRONT_CAUTIONS = 8
"""How many of the checklist's cautions stand on page 1 at most: the first ones say what the record is not."""
CONTENTS_HEIGHT_MM = {"A4": 254, "Letter": 236}


@lru_cache(maxsize=1)
def environment() -> jinja2.Environment:
    """The template engine: everything is escaped, a name that is not there is an error."""
    import jinja2

    found = jinja2.Environment(loader=jinja2.FileSystemLoader(_HERE / "templates"), autoescape=True,
                               undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    found.filters["clipped"] = clipped
    found.filters["beside"] = beside
    return found


@lru_cache(maxsize=1)
def font_faces() -> str:
    """The bundled font as @font-face rules with the files inside."""
    rules = []
    for name, weight, style in FACES:
        data = base64.b64encode((_HERE / "fonts" / name).read_bytes()).decode("ascii")
        rules.append(f'@font-face {{ font-family: "Record Sans"; font-weight: {weight}; font-style: {style}; '
                     f'src: url("data:font/ttf;base64,{data}"); }}')
    return "\n".join(rules)


def style_file(name: str) -> str:
    """Text of a style file of ours."""
    return (_HERE / "templates" / name).read_text(encoding="utf-8")


def style(paper: str, sheet: str = "record.css") -> str:
    """The style for one paper size."""
    css = style_file(sheet).replace("PAPER", paper).replace("CONTENTS_HEIGHT", f"{CONTENTS_HEIGHT_MM[paper]}mm")
    return f"{font_faces()}\n{css}"


def contents(pages: Pages) -> list[tuple[str, str]]:
    """Anchors and titles of the contents page."""
    found = [("glance", "Design at a glance")] if pages.glance else []
    found += [(f"step-{s.id}", f"{s.number}  {s.title}") for s in pages.steps]
    found += [("findings", "Findings"), ("waivers", "Accepted cautions, left out, changed limits"),
              ("missing", "What is missing"), ("history", "History")]
    if pages.photos:
        found.append(("photos", "Photos"))
    found.append(("files", "Files of this record"))
    return [*found, ("cautions", "Cautions")] if pages.cautions else found


def clipped(words: str, longest: int) -> str:
    """Words cut at a space where they are longer than page 1 has room for; the whole stands under findings."""
    kept = words[:longest]
    return words if len(words) <= longest else (kept.rpartition(" ")[0] or kept) + " …"


def two_columns(pages: Pages) -> tuple[list[FactGroup], list[FactGroup]]:
    """The groups of facts in two columns of about equal height, in their order."""
    heights = [len(g.facts) + 2 for g in pages.glance]
    split = min(range(len(heights) + 1), key=lambda k: max(sum(heights[:k]), sum(heights[k:])))
    return list(pages.glance[:split]), list(pages.glance[split:])


def _files_sentence(pages: Pages) -> str:
    inside, every = sum(1 for f in pages.files if f.inside), len(pages.files)
    told = f"{inside} files are inside this PDF as they were"
    if inside == 1:
        told = "The build file is inside this PDF as it was"
    if inside == every > 1:
        told = f"All {told}" if inside > 2 else "Both files are inside this PDF as they were"
    elif inside < every:
        told += f", {every - inside} {'is' if every - inside == 1 else 'are'} not"
    return f"{told}; 'buildtrack unpack' gives them back, byte for byte, and most PDF viewers list them as attachments."


def record_html(pages: Pages, *, paper: str = "A4", screen: bool = False, files_sentence: str = "") -> str:
    """The whole record as one HTML text; `screen` adds a style for reading in a browser."""
    from markupsafe import Markup

    steps = tuple(replace(s, figures=tuple(replace(f, svg=Markup(f.svg)) for f in s.figures)) for s in pages.steps)
    word = pages.verdict.word
    room = Front(MOST_REASONS, MOST_CONDITIONS, MOST_CONDITIONS, FRONT_CAUTIONS)
    if not screen:
        room = front(pages, paper, room, LONGEST_CONDITION)
    if room.cautions >= len(pages.verdict.cautions):
        pages = replace(pages, cautions=())  # all of them stand on page 1
    return environment().get_template("record.html").render(
        p=replace(pages, steps=steps),  # drawings are ours, every word in them escaped: they alone are markup
        css=Markup(style(paper) + (style_file("screen.css") if screen else "")),
        short=short_hash(pages.identity.content_hash),
        at=pages.identity.last_entry.replace(" ", "T") + "Z", verdict_sign=SIGNS[word], verdict_class=_LOOKS[word],
        contents=contents(pages), classes=[(w, CLASS_MARKS[w], words) for w, words in CLASSES.items()],
        severity_signs=SEVERITY_SIGNS, front=room, few_waiting=FEW_WAITING,
        longest_reason=LONGEST_REASON, longest_condition=LONGEST_CONDITION,
        longest_head=LONGEST_HEAD,
        facts=sum(len(g.facts) for g in pages.glance), full_page=FULL_PAGE,
        glance=two_columns(pages),
        files_sentence=files_sentence or _files_sentence(pages))
