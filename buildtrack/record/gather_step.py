"""The page of one step: readings, tables, drawings, workings, findings."""

from __future__ import annotations

from buildtrack.checks.engine import Assessment
from buildtrack.judging import Judged
from buildtrack.model.checklist import Checklist, Step
from buildtrack.record.gather_tables import grids
from buildtrack.record.gather_values import item_line, working_block
from buildtrack.record.more_tables import log_in_short, published_curves
from buildtrack.record.pages import Figure, Grid, StepPage
from buildtrack.record.shorten import Shortened
from buildtrack.record.text import line
from buildtrack.workings.explain import explain
from buildtrack.workings.status import held_until


def _findings(a: Assessment, step: Step, checklist: Checklist) -> tuple[str, ...]:
    """What stands against a step; checks that only wait for readings are counted."""
    state = a.status.step(step.id)
    held = (line(held_until(state, checklist)),) if state.stopped_by else ()
    mine = [r for r in a.findings if r.step == step.id]
    told = [f"{r.severity}, {r.outcome}: {line(r.title)}" for r in mine if r.outcome != "unknown"]
    waiting = len(mine) - len(told)
    wait = "check waits" if waiting == 1 else "checks wait"
    return (*held, *told, *((f"{waiting} {wait} for readings",) if waiting else ()))


def working_names(judged: Judged, step: Step) -> tuple[str, ...]:
    """Workings of a step: those the checklist lists, in its order, then the others that belong to it."""
    sheet = judged.assessment.sheet
    listed = [name for name in step.workings if name in sheet.workings]
    elsewhere = {n for s in judged.checklist.steps for n in s.workings}
    others = [w.id for w in sheet.workings.values() if w.step == step.id and w.id not in elsewhere]
    return tuple(dict.fromkeys((*listed, *others)))


def _more_tables(judged: Judged, names: tuple[str, ...]) -> tuple[Grid, ...]:
    """Tables no item holds, in the step whose workings first need them."""
    curves = published_curves(judged) if "cell_report" in names else ()
    return (*curves, *(log_in_short(judged) if "log_summary" in names else ()))


def step_page(judged: Judged, step: Step, number: int, figures: tuple[Figure, ...],
              cut: Shortened) -> StepPage:
    """Everything the record says of one step."""
    a = judged.assessment
    names = working_names(judged, step)
    simple = (item_line(judged, item, cut.readings_left.get(item.id, 0)) for item in step.items if item.kind != "table")
    known = (working_block(judged, name) for name in names)
    open_ = [explain(n, a.sheet, judged.checklist) for n in names]
    return StepPage(
        id=step.id, number=number, title=line(step.title), state=a.status.step(step.id).state, intro=line(step.intro),
        items=tuple(i for i in simple if i), figures=figures, workings=tuple(w for w in known if w),
        grids=(*(g for item in step.items if item.kind == "table"
                 for g in grids(judged, item, cut.rows_left.get(item.id, 0))), *_more_tables(judged, names)),
        findings=_findings(a, step, judged.checklist),
        not_computed=tuple(line(t.label) for t in open_ if t.state != "known"),
        cautions=tuple(line(c) for c in step.cautions))
