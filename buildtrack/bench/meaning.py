"""What a step means now: the next thing to do, its checks, its workings, those nearest to the current item first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from rich.cells import cell_len

from buildtrack.bench.beside import beside_lines
from buildtrack.bench.desk import Desk
from buildtrack.bench.faults import faults_sign, faults_text
from buildtrack.bench.onward import onward, wanted
from buildtrack.bench.plain import plain
from buildtrack.bench.widgets.line_text import Line, Piece, line, prose
from buildtrack.bench.words import SEVERITY_GLYPHS
from buildtrack.checks.ruling import Result
from buildtrack.model.checklist import Checklist, Item, Step
from buildtrack.units import in_currency
from buildtrack.workings.explain import in_brief
from buildtrack.workings.graph import Sheet, Working, needs

BESIDE = 70
"""So many cells of two texts have room beside each other in the panel of the smallest screen."""
OUTCOME_WORDS = {"pass": "in order", "fail": "", "unsure": "cannot tell", "unknown": "not yet"}


def result_look(result: Result) -> str:
    """How a check's line looks; the glyph and the word say the same."""
    if result.outcome == "pass" or result.waiver is not None:
        return "good" if result.outcome == "pass" and not result.idle else "muted"
    if result.outcome == "unknown" or result.idle:
        return "muted"
    return {"stop": "bad", "caution": "warn"}.get(result.severity, "plain")


def result_sign(result: Result) -> str:
    """Glyph of a check: its severity where it stands failed, else what it is."""
    if result.outcome == "pass":
        return "·" if result.idle else "✓"
    if result.outcome == "unknown":
        return "·"
    if result.waiver is not None:
        return "–"
    return "?" if result.outcome == "unsure" else SEVERITY_GLYPHS[result.severity]


def result_word(result: Result) -> str:
    """Word of a check: stop, caution, accepted, in order, not yet."""
    if result.waiver is not None:
        return "accepted"
    if result.idle:
        return "not yet"
    return OUTCOME_WORDS[result.outcome] or result.severity


def rests_on(sheet: Sheet, working: str, item: str) -> bool:
    """Whether a working uses an item, directly or through others."""
    if _beneath.of is not sheet.workings:
        _beneath.of, _beneath.names = sheet.workings, {}
    return item in _all_beneath(sheet.workings, working)


class _Beneath:
    """What lies beneath each working of the set of workings asked about last: asked anew at every key."""

    def __init__(self) -> None:
        self.of: Mapping[str, Working] | None = None
        self.names: dict[str, frozenset[str]] = {}


_beneath = _Beneath()


def _all_beneath(workings: Mapping[str, Working], name: str) -> frozenset[str]:
    """Every name a working uses, directly or through others."""
    found = _beneath.names.get(name)
    if found is None:
        own = frozenset(needs(workings[name])) if name in workings else frozenset()
        _beneath.names[name] = own  # a working that rested on itself would end here
        found = _beneath.names[name] = own.union(*(_all_beneath(workings, n) for n in own))
    return found


class _Brief:
    """What was told of the workings of the sheet asked about last: it is the same for every item of a step."""

    def __init__(self) -> None:
        self.of: Sheet | None = None
        self.told: dict[str, tuple[str, str, str]] = {}


_briefs = _Brief()


def _brief(name: str, sheet: Sheet, checklist: Checklist) -> tuple[str, str, str]:
    """Label, state and value in words of a working."""
    if _briefs.of is not sheet:
        _briefs.of, _briefs.told = sheet, {}
    if name not in _briefs.told:
        _briefs.told[name] = in_brief(name, sheet, checklist)
    return _briefs.told[name]


def step_results(desk: Desk, step: Step) -> list[Result]:
    """The checks of a step, the worst first; those that passed last."""
    order = {"fail": 0, "unsure": 1, "unknown": 3, "pass": 4}
    severity = {"stop": 0, "caution": 1, "note": 2}
    found = [r for r in desk.judged.assessment.results if r.step == step.id]
    return sorted(found, key=lambda r: (order[r.outcome] + (2 if r.waiver else 0), severity[r.severity]))


def standing_faults(desk: Desk, step: str = "") -> list[Result]:
    """Stops and cautions that stand failed and are not accepted, of one step or of all, the stops first."""
    return [r for r in desk.faults() if step in ("", r.step)]


def standing_cautions(desk: Desk) -> dict[str, Result]:
    """The cautions that stand failed and are not accepted, by their check."""
    return {r.check: r for r in standing_faults(desk) if r.severity == "caution"}


def acceptable(desk: Desk, step: str) -> list[Result]:
    """The cautions of a step that can be accepted: they were found, or nothing that is still asked can settle them."""
    reasons = desk.judged.assessment.reasons
    return [r for r in desk.judged.assessment.results if r.severity == "caution" and r.step == step and (
        r.outcome in ("fail", "unsure") or r.waiver is not None
        or r.outcome == "unknown" and f"caution not settled: {r.title}: {r.message}" in reasons)]


def open_cautions(desk: Desk, step: str) -> list[Result]:
    """Of these the ones that ask for a decision now: not accepted yet, and nothing can be entered that would tell."""
    return [r for r in acceptable(desk, step)
            if r.waiver is None and (r.outcome != "unknown" or wanted(desk, r) is None)]


def touches(desk: Desk, result: Result, item: str) -> bool:
    """Whether a check is about an item, or compares something that rests on it."""
    rule = desk.checklist.check.get(result.check)
    if result.item == item or item in result.needs:
        return True
    return rule is not None and bool(rule.value) and rests_on(desk.judged.assessment.sheet, rule.value, item)


def item_about(desk: Desk, check: str) -> str:
    """The item that a check is about: named by it or compared, else one its workings rest on; empty where none is."""
    result = next((r for r in desk.judged.assessment.results if r.check == check), None)
    rule = desk.checklist.check.get(check)
    if result is None or rule is None:
        return ""
    names = [n.partition(".")[0] for n in (result.item, *result.needs, rule.value, rule.at_most, rule.at_least) if n]
    asked = [i.id for i in desk.checklist.all_items() if desk.item_state(i.id).state != "not needed"]
    if found := next((n for n in names if n in asked), ""):
        return found
    workings = desk.judged.assessment.sheet.workings
    beneath = {each for n in names for each in _all_beneath(workings, n)}
    rests = sorted((n for n in asked if n in beneath), key=lambda n: desk.checklist.items[n].step != result.step)
    return rests[0] if rests else ""


def meaning_lines(desk: Desk, step: Step, item: Item | None, narrow: bool, every: bool = False) -> list[Line]:
    """All lines of the panel."""
    found: list[Line] = []
    heads = not narrow
    if heads:
        found.append(line("Next", "head"))
    prefix = "Next: " if narrow else ""
    following = onward(desk, item)
    faults = standing_faults(desk, step.id) if narrow else []
    told = f"{faults_sign(faults)[0]} {faults_text(faults)}: F2" if faults else ""
    look, text = "bad" if told.startswith("✗") else "warn", plain(prefix + following.text)
    if told and cell_len(text) + cell_len(told) <= BESIDE:
        found.append(Line((Piece(text, "accent"),), (Piece(told, look),), following.key))
    else:  # what is to be done next is never cut
        found.append(prose(text, "accent", 0, following.key))
        found += [line(told, look)] if told else []
    found += () if heads else beside_lines(desk, item, ": F2, then ↓ reads on")
    due = desk.due_lines()[: 1 if narrow else 4]
    found += [Line((Piece(text, "warn"),), (), "", wrapped=not narrow) for text in due]
    found += beside_lines(desk, item) if heads else ()
    below = [*_checks(desk, step, item, heads, every), *_workings(desk, step, item, heads)]
    return [*found, *(below if narrow else (replace(entry, whole=True) for entry in below))]


def check_line(result: Result) -> Line:
    """One check in one line."""
    text = f"{result_sign(result)} {result.headline}"
    return line(text, result_look(result), result_word(result), f"check:{result.check}")


def _checks(desk: Desk, step: Step, item: Item | None, heads: bool, every: bool) -> Iterator[Line]:
    results = step_results(desk, step)
    near = {r.check for r in results if item is not None and touches(desk, r, item.id)}
    stops = {r.check for r in results if r.severity == "stop" and r.outcome in ("fail", "unsure")}
    results.sort(key=lambda r: (r.outcome in ("pass", "unknown"), r.check not in stops, r.check not in near))
    quiet: list[Result] = []
    shown: list[Result] = []
    for r in results:
        is_quiet = not every and (r.outcome == "unknown" or r.outcome == "pass" and r.check not in near)
        (quiet if is_quiet else shown).append(r)
    if results and heads:
        yield line("")
        yield line("Checks", "head")
    yield from (check_line(r) for r in shown)
    if quiet:
        passed = sum(1 for r in quiet if r.outcome == "pass" and not r.idle)
        waiting = len(quiet) - passed
        parts = [f"{passed} in order" if passed else "", f"{waiting} wait" if waiting else ""]
        more = "more checks" if shown else "checks"
        yield line(f"{more}: {', '.join(p for p in parts if p)}", "muted", key="all:checks")


def _workings(desk: Desk, step: Step, item: Item | None, heads: bool) -> Iterator[Line]:
    sheet = desk.judged.assessment.sheet
    names = [n for n in step.workings if n in sheet.workings]
    if item is not None:
        names.sort(key=lambda n: not rests_on(sheet, n, item.id))
    told = [(n, *_brief(n, sheet, desk.checklist)) for n in names]
    told.sort(key=lambda e: e[2] == "missing")
    if told and heads:
        yield line("")
        yield line("Workings", "head")
    for name, label, state, value in told:
        look = {"missing": "muted", "failed": "warn"}.get(state, "plain")
        shown = value if state == "known" else "not yet" if state == "missing" else "cannot be computed"
        shown = in_currency(shown, plain(desk.build.currency))
        yield line(label, look, shown, f"working:{name}", right_look=look)
