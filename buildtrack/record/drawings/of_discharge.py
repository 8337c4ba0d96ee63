"""What the discharge drawing shows: readings by hand or the log's outline, alarm, cutoff, moments, forecast."""

from __future__ import annotations

from buildtrack.judging import Judged
from buildtrack.record.drawings.curves import Curve, Curves, Mark
from buildtrack.workings.values import Known, Table

GROUPS = tuple(f"g{n}" for n in range(1, 11))


def by_hand(judged: Judged) -> tuple[Curve, ...]:
    """One curve per group from the readings taken by hand."""
    value = judged.assessment.sheet.values.get("discharge_points")
    if not isinstance(value, Known) or not isinstance(value.value, Table):
        return ()
    found = []
    for group in GROUPS:
        points = sorted((t / 60, v) for row in value.value
                        if (t := row.number("minute")) is not None and (v := row.number(group)) is not None)
        if points:
            found.append(Curve(group, tuple(points)))
    return tuple(found)


def moments(judged: Judged) -> tuple[Mark, ...]:
    """When the alarm sounded and the board opened."""
    sheet = judged.assessment.sheet
    named = (("alarm sounded", "alarm_after"), ("board opened", "cutoff_after"))
    return tuple(Mark(word, seconds / 60) for word, name in named if (seconds := sheet.number(name)) is not None)


def discharge_data(judged: Judged) -> Curves:
    """Everything the drawing shows; ValueError where nothing was measured."""
    measured = by_hand(judged)
    if not measured:
        raise ValueError("not drawn; no log is attached and no points were read by hand")
    sheet = judged.assessment.sheet
    return Curves(measured, (), sheet.number("alarm_setting"), sheet.number("board_cutoff"), moments(judged))
