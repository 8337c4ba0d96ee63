"""What the pages of a record say, as plain frozen data: no HTML, no layout."""

from __future__ import annotations

from dataclasses import dataclass

CLASS_MARKS = {"measured": "●", "computed": "=", "taken over": "←", "guessed": "?"}
"""One mark per value class; the word stands beside it or in the key on the contents page."""


@dataclass(frozen=True, slots=True)
class Fact:
    """A name and what it is."""

    label: str
    value: str
    value_class: str = ""
    note: str = ""

    @property
    def mark(self) -> str:
        """Mark of the value class."""
        return CLASS_MARKS.get(self.value_class, "")


@dataclass(frozen=True, slots=True)
class FactGroup:
    """Facts that belong together."""

    title: str
    facts: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class Identity:
    """What this record is of."""

    title: str
    record_id: str
    maker: str
    notice: str
    checklist: str
    checklist_version: str
    created: str
    last_entry: str
    judged_at: str
    content_hash: str
    """SHA-256 of what reviews judge."""
    file_hash: str
    """SHA-256 of the build file as attached."""
    origin: str
    program: str


@dataclass(frozen=True, slots=True)
class ReviewLine:
    """One reviewer's decision."""

    reviewer: str
    decision: str
    at: str
    remarks: str
    content: str
    of_this: bool
    """Whether the content judged is the content of this record."""


@dataclass(frozen=True, slots=True)
class VerdictPage:
    """What page 1 says."""

    word: str
    """One of the verdicts."""
    meaning: str
    reasons: tuple[str, ...]
    limits: tuple[str, ...]
    """What the pack must not be used for and under which limits it may."""
    accepted: tuple[str, ...]
    """What was accepted, left out or unusual, each with its reason."""
    cautions: tuple[str, ...]
    key_figures: tuple[Fact, ...]
    reviews: tuple[ReviewLine, ...]


@dataclass(frozen=True, slots=True)
class ReadingText:
    """One reading of an item."""

    text: str
    plus_minus: str
    instrument: str
    taken: str
    note: str
    value_class: str
    withdrawn: str
    counts: bool
    """Whether it is the one the workings use."""

    @property
    def mark(self) -> str:
        """Mark of the value class."""
        return CLASS_MARKS.get(self.value_class, "")

    @property
    def bare(self) -> bool:
        """Whether there is nothing to say of it beside value, ±, instrument and time."""
        return not self.note and not self.withdrawn


@dataclass(frozen=True, slots=True)
class ItemLine:
    """One item of a step that is no table."""

    label: str
    hold: bool
    state: str
    why: str
    readings: tuple[ReadingText, ...]
    counts: str = ""
    """Which of several readings counts, with its value."""
    ticked: bool = False
    """Answered yes to a tick, and nothing more to say of it."""
    expected: str = ""

    @property
    def open(self) -> bool:
        """Nothing entered, and nothing more to say than that."""
        return self.state == "open" and not self.readings and not self.why and not self.expected


@dataclass(frozen=True, slots=True)
class Grid:
    """A table that fits the width of the page."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    feet: tuple[tuple[str, ...], ...] = ()
    """Lines under the rows that hold for whole columns: ±, instrument, time."""
    notes: tuple[str, ...] = ()
    numeric: tuple[bool, ...] = ()
    """Per column: whether it is set flush right."""
    widths: tuple[float, ...] = ()
    """Per column: share of the width of the table [%]."""
    width: float = 100.0
    """Width of the table as share of the page [%]."""


@dataclass(frozen=True, slots=True)
class WorkingBlock:
    """A derived value that a reader can do again."""

    id: str
    label: str
    symbol: str
    shown: str
    formula: str
    substituted: str
    source: str
    value_class: str
    note: str
    grid: Grid | None = None

    @property
    def mark(self) -> str:
        """Mark of the value class."""
        return CLASS_MARKS.get(self.value_class, "")


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing, or the sentence that says why there is none."""

    title: str
    svg: str
    caption: str


@dataclass(frozen=True, slots=True)
class StepPage:
    """One step of the work."""

    id: str
    number: int
    title: str
    state: str
    intro: str
    items: tuple[ItemLine, ...]
    grids: tuple[Grid, ...]
    figures: tuple[Figure, ...]
    workings: tuple[WorkingBlock, ...]
    findings: tuple[str, ...]
    """Findings of this step in one line each."""
    not_computed: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FindingLine:
    """A check that did not pass."""

    title: str
    severity: str
    outcome: str
    step: str
    message: str
    advice: str
    mistakes: tuple[str, ...]
    waived: str


@dataclass(frozen=True, slots=True)
class FindingGroup:
    """Findings of one severity."""

    severity: str
    explained: str
    lines: tuple[FindingLine, ...]


@dataclass(frozen=True, slots=True)
class AttachedFile:
    """A file that belongs to the build."""

    name: str
    what: str
    size: str
    sha256: str
    remark: str
    inside: bool
    """Whether it is attached inside the PDF."""


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture shown in the record."""

    label: str
    name: str
    data_url: str
    taken: str
    note: str


@dataclass(frozen=True, slots=True)
class History:
    """The history, compact: entries counted by day, everything else in full."""

    days: tuple[tuple[str, str, str], ...]
    """Day, number of entries, steps."""
    changes: tuple[tuple[str, str, str, str, str], ...]
    """When, what, where, before and after, reason and name."""
    left: int
    """How many changes are not printed."""


@dataclass(frozen=True, slots=True)
class Pages:
    """The whole record."""

    identity: Identity
    verdict: VerdictPage
    glance: tuple[FactGroup, ...]
    steps: tuple[StepPage, ...]
    findings: tuple[FindingGroup, ...]
    passed: tuple[str, ...]
    """Titles of the checks that passed, where there was something to look at."""
    idle: tuple[str, ...]
    """Titles of the checks that had nothing to judge yet."""
    waivers: Grid | None
    left_out: Grid | None
    policy: Grid | None
    history: History
    missing: Grid | None
    not_computed: Grid | None
    cautions: tuple[str, ...]
    photos: tuple[Photo, ...]
    files: tuple[AttachedFile, ...]
