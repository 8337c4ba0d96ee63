"""Coded rules about what the main current passes: runs, strips, contacts, and the chain as a whole."""

from __future__ import annotations

from buildtrack import units
from buildtrack.checks.rules_general_words import found
from buildtrack.checks.ruling import Context, Ruling, at_most, worst
from buildtrack.workings.values import Known
from buildtrack.workings.wire_chain import ChainReport
from buildtrack.workings.wire_runs import RunReport, StripReport


def _rms(context: Context) -> Known | None:
    value = context.value("duty_rms_current")
    return value if isinstance(value, Known) and isinstance(value.value, float) else None


def _amps(value: float) -> str:
    return units.show(value, "A", digits=3)


def conductors_carry(context: Context) -> Ruling:
    """Every run carries the rms current of the work, by the table."""
    current, report = _rms(context), context.known("run_report")
    if current is None or not isinstance(report, RunReport):
        return context.unknown("duty_rms_current", "run_report")
    outcomes, weak = [], []
    for run in report.runs:
        outcome = "unsure" if run.allowed_a is None else at_most(current, Known(run.allowed_a))
        outcomes.append(outcome)
        if outcome != "pass":
            may = "no table" if run.allowed_a is None else _amps(run.allowed_a)
            weak.append(f"{run.id} {run.name} ({may})".replace("  ", " "))
    return Ruling(worst(outcomes), {"rows": ", ".join(weak), "value": context.show("duty_rms_current")})


def strips_carry(context: Context) -> Ruling:
    """Every strip carries the rms current of the work, by a cautious current density."""
    current, report = _rms(context), context.known("strip_report")
    if current is None or not isinstance(report, StripReport):
        return context.unknown("duty_rms_current", "strip_report")
    rulings = [(s, at_most(current, Known(s.allowed_a))) for s in report.strips]
    weak = [f"{s.id} {s.name} ({_amps(s.allowed_a)})".replace("  ", " ") for s, o in rulings if o != "pass"]
    return Ruling(worst(o for _, o in rulings), {"rows": ", ".join(weak), "value": context.show("duty_rms_current")})


def chain_carries(context: Context) -> Ruling:
    """Every rated part of the chain carries the rms current of the work."""
    report = context.known("chain")
    if not isinstance(report, ChainReport):
        return context.unknown("chain")
    return found([f"{link.name} carries {link.headroom:.2f} × of it ({_amps(link.rating_a)})"
                  for link in report.chain.links
                  if link.rating_a is not None and link.headroom is not None and link.headroom < 1 - 1e-9],
                 value=context.show("duty_rms_current"))
