"""A checklist: the steps, items, policy values and checks of one kind of retrofit, as read from a TOML file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

KINDS = ("reading", "choice", "text", "tick", "table", "photo", "file")
"""Kinds of item. `file` is an attached log; `photo` an attached picture."""
COLUMN_KINDS = ("reading", "choice", "text", "tick", "date")
CLASSES = ("must", "expected", "optional")
USES = ("last", "first", "lowest", "highest", "mean", "median")
"""Which of several readings of one item counts."""
REUSES = ("carry", "confirm", "measure again")
SEVERITIES = ("stop", "caution", "note")


@dataclass(frozen=True, slots=True)
class Option:
    """One answer of a choice."""

    id: str
    label: str


@dataclass(frozen=True, slots=True)
class Condition:
    """One condition of `only_if`: an item's answer, or a working's value, as data."""

    item: str = ""
    """An item id, or empty when `working` is named."""
    working: str = ""
    is_: tuple[str, ...] = ()
    is_not: tuple[str, ...] = ()
    at_least: float | None = None
    at_most: float | None = None
    answered: bool | None = None


@dataclass(frozen=True, slots=True)
class Span:
    """Lowest and highest sensible value, in the canonical unit; None means open."""

    low: float | None = None
    high: float | None = None

    def holds(self, value: float) -> bool:
        """Whether `value` lies inside."""
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table item."""

    id: str
    label: str
    kind: str = "text"
    head: str = ""
    """Short heading for narrow tables; the label where empty."""
    unit: str = ""
    dimension: str = ""
    plausible: Span = Span()
    hard: Span = Span()
    options: tuple[Option, ...] = ()
    required: bool = False
    """Whether a row is incomplete without it."""
    why: str = ""
    reuse: str = "measure again"
    only_if: tuple[Condition, ...] = ()
    default: str = ""
    metered: bool = True
    """Whether an instrument of the list reads it: not where it is printed, set, agreed or shown by the part itself."""


@dataclass(frozen=True, slots=True)
class Item:
    """One line of a step: a reading, a choice, a text, a tick, a table, a photo or a file."""

    id: str
    step: str
    kind: str
    label: str
    need: str = "expected"
    """must: never left out; expected: left out only with a reason; optional."""
    hold: bool = False
    """Hold point: must be settled before the next step opens."""
    why: str = ""
    how: str = ""
    caution: str = ""
    unit: str = ""
    dimension: str = ""
    plausible: Span = Span()
    """Outside: asked once, and the answer is recorded."""
    hard: Span = Span()
    """Outside: refused."""
    options: tuple[Option, ...] = ()
    several: int = 1
    """How many readings are asked for."""
    use: str = "last"
    reuse: str = "measure again"
    only_if: tuple[Condition, ...] = ()
    columns: tuple[Column, ...] = ()
    row_name: str = "row"
    row_prefix: str = ""
    """New rows are named prefix + number (c01, B0)."""
    rows_from: str = ""
    """Name of a working that gives how many rows there are to be (taps: series count + 1)."""
    first_row: int = 1
    expires_s: float | None = None
    expires_before: str = ""
    """Item whose answer the age is measured against; now, where empty."""
    rests_on: tuple[str, ...] = ()
    """Items whose later change makes this one stale."""
    filled_first: tuple[str, ...] = ()
    """Items, or columns (table.column), without which an answer settles nothing."""
    filled_first_if: tuple[Condition, ...] = ()
    """Where that holds; everywhere, if empty."""
    beside: str = ""
    """Name of a working whose lines are shown beside the item while it is settled."""
    moments: bool = False
    """Whether each column of the table is a moment at which all rows are read: entry then goes down the column."""
    role: str = ""
    """`instruments`: the rows are the instruments of the build."""
    metered: bool = True
    """Whether an instrument of the list reads it: not where it is printed, set, agreed or shown by the part itself."""

    def column(self, name: str) -> Column | None:
        """The column called `name`."""
        return next((c for c in self.columns if c.id == name), None)

    @property
    def dated_by(self) -> Column | None:
        """The column with the day of each row, where the rows are dated events: the first one, and it must be there."""
        first = self.columns[0] if self.columns else None
        return first if first is not None and first.kind == "date" and first.required else None


@dataclass(frozen=True, slots=True)
class Policy:
    """A named limit that may be changed with a reason."""

    id: str
    label: str
    text: str
    """The default as written, with unit."""
    value: float
    unit: str
    dimension: str
    source: str


@dataclass(frozen=True, slots=True)
class CheckRule:
    """A rule over readings and workings, with its wording; either a comparison or the name of a rule in code."""

    id: str
    step: str
    severity: str
    title: str
    message: str
    advice: str = ""
    mistakes: tuple[str, ...] = ()
    """Numbers of the catalogue of usual mistakes this check catches."""
    rule: str = ""
    """Name of a function in buildtrack.checks, where a comparison does not do."""
    value: str = ""
    """Item, working or policy compared; table.column compares every row."""
    at_most: str = ""
    at_least: str = ""
    is_: tuple[str, ...] = ()
    is_not: tuple[str, ...] = ()
    rows: str = ""
    """Which rows of a table: all, or kept (those in the pack)."""
    only_if: tuple[Condition, ...] = ()
    condition: str = ""
    """Sentence that goes into the conditions of the verdict when the check does not pass (or always, for a note)."""
    settings: Mapping[str, str] = field(default_factory=dict)
    """Further names a coded rule needs."""
    ends: str = ""
    """Of a stop about what going on cannot mend: what alone ends it, as it stands behind `until`."""
    ongoing: bool = False
    """Whether it speaks of what is still to be done or of a pack in use: a project that was ended has none of it."""


@dataclass(frozen=True, slots=True)
class Step:
    """One stage of the work."""

    id: str
    title: str
    minutes: int
    intro: str
    items: tuple[Item, ...]
    workings: tuple[str, ...] = ()
    """Ids of the workings shown with this step, in order."""
    cautions: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    """Steps of the longer checklists whose workings and checks belong here, where one step does the work of several."""


@dataclass(frozen=True)
class Checklist:
    """The whole checklist of one kind of retrofit."""

    format: int
    id: str
    version: str
    title: str
    purpose: str
    steps: tuple[Step, ...]
    policies: tuple[Policy, ...] = ()
    checks: tuple[CheckRule, ...] = ()
    cautions: tuple[str, ...] = ()
    chemistry: str = ""
    sha256: str = ""
    path: str = ""
    mistakes: Mapping[str, str] = field(default_factory=dict)
    fixed: Mapping[str, str] = field(default_factory=dict)
    """Answers that the kind of retrofit fixes: they are not asked, and conditions on them are decided."""

    @cached_property
    def items(self) -> Mapping[str, Item]:
        """Every item by its id, which is unique in a checklist."""
        return {item.id: item for step in self.steps for item in step.items}

    @cached_property
    def policy(self) -> Mapping[str, Policy]:
        """Every policy value by its id."""
        return {p.id: p for p in self.policies}

    @cached_property
    def check(self) -> Mapping[str, CheckRule]:
        """Every check by its id."""
        return {c.id: c for c in self.checks}

    def step(self, name: str) -> Step | None:
        """The step called `name`."""
        return next((s for s in self.steps if s.id == name), None)

    def all_items(self) -> Iterator[Item]:
        """Every item in the order of the work."""
        for step in self.steps:
            yield from step.items
