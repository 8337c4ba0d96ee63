"""Coded rules about what the main current passes: runs, strips, contacts, and the chain as a whole."""

from __future__ import annotations

from buildtrack import units
from buildtrack.checks.rules_general_words import PASS, found
from buildtrack.checks.ruling import Context, Ruling, at_most, worst
from buildtrack.workings.load import CONDUCTOR_TAU_S
from buildtrack.workings.values import Known
from buildtrack.workings.wire_chain import ChainReport
from buildtrack.workings.wire_runs import RunReport, StripReport


def _lasting(context: Context) -> Known | None:
    value = context.value("lasting_current")
    return value if isinstance(value, Known) and isinstance(value.value, float) else None


def _amps(value: float) -> str:
    return units.show(value, "A", digits=3)


def conductors_carry(context: Context) -> Ruling:
    """Every run carries the lasting current of the work, by the table."""
    current, report = _lasting(context), context.known("run_report")
    if current is None or not isinstance(report, RunReport):
        return context.unknown("lasting_current", "run_report")
    outcomes, weak = [], []
    for run in report.runs:
        outcome = "unsure" if run.allowed_a is None else at_most(current, Known(run.allowed_a))
        outcomes.append(outcome)
        if outcome != "pass":
            may = "no table" if run.allowed_a is None else _amps(run.allowed_a)
            weak.append(f"{run.id} {run.name} ({may})".replace("  ", " "))
    return Ruling(worst(outcomes), {"rows": ", ".join(weak), "value": context.show("lasting_current")})


def strips_carry(context: Context) -> Ruling:
    """Every strip carries the lasting current of the work, by a cautious current density."""
    current, report = _lasting(context), context.known("strip_report")
    if current is None or not isinstance(report, StripReport):
        return context.unknown("lasting_current", "strip_report")
    rulings = [(s, at_most(current, Known(s.allowed_a))) for s in report.strips]
    weak = [f"{s.id} {s.name} ({_amps(s.allowed_a)})".replace("  ", " ") for s, o in rulings if o != "pass"]
    return Ruling(worst(o for _, o in rulings), {"rows": ", ".join(weak), "value": context.show("lasting_current")})


def duty_against_run(context: Context) -> Ruling:
    """The duty pauses no sooner than the longest run, where that run is long and draws more than the duty's rms."""
    run, stretch = context.number("longest_run"), context.number("duty_stretch")
    current, rms = context.number("working_current"), context.number("duty_rms_current")
    if run is None or rms is None or current is None:
        return context.unknown("longest_run", "duty_rms_current", "working_current")
    if stretch is None:
        return PASS  # the duty never pauses
    facts = {"value": units.show(stretch, "s", digits=2), "limit": context.show("longest_run"),
             "rows": f"{context.show('lasting_current')} instead of {context.show('duty_rms_current')}"}
    return Ruling("fail" if run >= CONDUCTOR_TAU_S and run > stretch + 1e-9 and current > rms else "pass", facts)


def chain_carries(context: Context) -> Ruling:
    """Every rated part of the chain carries the lasting current of the work."""
    report = context.known("chain")
    if not isinstance(report, ChainReport):
        return context.unknown("chain")
    return found([f"{link.name} carries {link.headroom:.2f} × of it ({_amps(link.rating_a)})"
                  for link in report.chain.links
                  if link.rating_a is not None and link.headroom is not None and link.headroom < 1 - 1e-9],
                 value=context.show("lasting_current"))
