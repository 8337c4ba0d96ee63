"""The review: verdict, findings, the reviewer's questions with their evidence, waivers, history, and a decision."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical

from buildtrack.bench.commands import Situation, bindings
from buildtrack.bench.drafts import THE_BUILD
from buildtrack.bench.meaning import check_line
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.ask import AskOne, AskText, question_place
from buildtrack.bench.screens.place import Place
from buildtrack.bench.screens.why import Why, in_parts
from buildtrack.bench.way_back import WayBack
from buildtrack.bench.widgets.head import Head, KeyLine
from buildtrack.bench.widgets.line_text import Line, Piece, line, prose
from buildtrack.bench.widgets.lines import LineList
from buildtrack.bench.widgets.told import Notice
from buildtrack.checks.review import Answer, answers, counted, on_no_question
from buildtrack.checks.review_remarks import remarks
from buildtrack.checks.review_since import event_words, last_decision
from buildtrack.model.build import Build, Event, Review
from buildtrack.model.checklist import Checklist
from buildtrack.model.edit import EditError, Hand, add_review

AGREE = "agree"
REMARKS, REVIEWER = "Remarks", "Who decides?"
FORBIDS = {
    "not cleared": " Who agrees says that this pack may not be used.",
    "incomplete": " Who agrees says that something is still missing.",
}
"""What it means to agree with a verdict that clears nothing."""
STATE_LOOKS = {"finding": "bad", "not answered": "warn", "in part": "accent", "answered": "good"}
STATE_SIGNS = {"finding": "✗", "not answered": "?", "in part": "◐", "answered": "✓"}
MOST_HISTORY = 400
MOST_CHANGES = 30
"""So many changes since a decision are told, the newest of them."""
FEW_REASONS = 5
"""So many reasons of the verdict stand at the top; the others are shown by Enter."""


class ReviewScreen(Place):
    """The place where a build is judged."""

    PLACE = "review"
    BINDINGS: ClassVar[list[BindingType]] = bindings("review")
    AUTO_FOCUS = "#review-lines"
    CSS_PATH = "review.tcss"

    def __init__(self) -> None:
        super().__init__()
        self.opened: set[str] = set()
        """Questions whose evidence is shown."""

    def compose(self) -> ComposeResult:
        """Head; everything in one list; what happened; keys."""
        yield Head()
        with Vertical(id="review"):
            yield LineList(id="review-lines")
        yield Notice(id="notice")
        yield KeyLine()

    def on_mount(self) -> None:
        """Nothing happened yet."""
        self.say("")

    def situation(self) -> Situation:
        """Where the person is now."""
        desk = self.program.desk
        return Situation(
            place="review",
            has_file=desk is not None,
            read_only=desk is None or bool(desk.refusal()),
            unsaved=desk is not None and desk.unsaved,
            changed_outside=self.program.outside.changed,
        )

    def where(self) -> tuple[tuple[Piece, str], ...]:
        """The place in words."""
        return ((Piece("Review", "plain"), ""),)

    def redraw(self) -> None:
        """Show everything anew."""
        if self.program.desk is not None:
            self.query_one(LineList).show(list(self._lines()))
        super().redraw()

    # -- the list ----------------------------------------------------------------------------------------------------

    def _lines(self) -> Iterator[Line]:
        yield from self._verdict()
        yield from self._findings()
        yield from self._questions()
        yield from self._remarks()
        yield from self._waivers()
        yield from self._reviews()
        yield from self._history()

    def _verdict(self) -> Iterator[Line]:
        assessment = self.desk.judged.assessment
        yield line("Verdict", "head")
        yield Line((Piece(assessment.verdict, "accent"),))
        if (origin := self.desk.build.origin) is not None:
            yield prose(f"Begun from {origin.title} ({origin.id}), SHA-256 {origin.sha256}", "muted", 0, hang=2)
        yield from self._decision(0)
        every = "reasons:" in self.opened or len(assessment.reasons) <= FEW_REASONS
        for reason in assessment.reasons if every else assessment.reasons[:FEW_REASONS]:
            yield from _parts(reason, "plain", 2)
        if len(assessment.reasons) > FEW_REASONS:
            more = "the first reasons only" if every else f"and {len(assessment.reasons) - FEW_REASONS} more reasons"
            yield line(f"{more}: Enter shows {'these' if every else 'all'}", "accent", key="reasons:")
        if assessment.conditions:
            yield line("")
            yield line("Conditions", "head")
            for condition in assessment.conditions:
                yield prose(f"· {condition}", "plain", 2, hang=2)

    def _findings(self) -> Iterator[Line]:
        findings = self.desk.judged.assessment.findings
        failed = [r for r in findings if r.outcome in ("fail", "unsure")]
        waiting = [r for r in findings if r.outcome == "unknown"]
        yield line("")
        yield line(f"Findings: {len(failed)}", "head")
        for result in failed:
            yield check_line(result)
            yield from _parts(result.message, "muted", 4)
        if not failed:
            yield line("  none", "muted")
        if waiting:
            yield line(f"  {len(waiting)} checks cannot be judged yet", "muted", key="waiting:")
            if "waiting:" in self.opened:
                yield from (check_line(r) for r in waiting)

    def _questions(self) -> Iterator[Line]:
        desk = self.desk
        given = answers(desk.build, desk.checklist, desk.judged.assessment)
        yield line("")
        yield prose(f"Questions: {counted(given)}", "head", 0)
        for each in given:
            yield from self._question(each)
        loose = on_no_question(given, desk.judged.assessment)
        if loose:
            yield line("")
            yield line(f"Findings on no question: {len(loose)}", "head")
            yield from (check_line(r) for r in loose)

    def _remarks(self) -> Iterator[Line]:
        found = remarks(self.desk.build, self.desk.checklist)
        yield line("")
        yield line(f"Remarks beside answers: {len(found)}", "head")
        yield from (prose(r.line, "plain", 2, f"item:{r.item}", hang=2) for r in found)

    def _question(self, each: Answer) -> Iterator[Line]:
        key = f"question:{each.question.id}"
        sign, look = STATE_SIGNS[each.state], STATE_LOOKS[each.state]
        if each.state == "finding" and each.weight != "stop":
            sign, look = "▲", "warn"
        yield prose(f"{sign} {each.question.id[1:]}  {each.question.text}", "plain", 0, key, hang=6)
        yield Line((Piece(f"      {each.words}", look),))
        if key in self.opened or each.state == "finding":
            for e in each.evidence:
                if each.state == "finding" and key not in self.opened and not e.against:
                    continue
                yield prose(
                    f"{e.label}: {e.shown}", "warn" if e.against else "plain" if e.known else "muted", 6, e.key, hang=2
                )

    def _waivers(self) -> Iterator[Line]:
        desk = self.desk
        yield line("")
        yield line(f"Cautions accepted with a reason: {len(desk.build.waivers)}", "head")
        for waiver in desk.build.waivers:
            rule = desk.checklist.check.get(waiver.check)
            by = f"{waiver.by}, " if waiver.by else ""
            when = f"{waiver.at:%Y-%m-%d}" if waiver.at else ""
            yield prose(f"{rule.title if rule else waiver.check} ({by}{when}): {waiver.reason}", "plain", 2)

    def _reviews(self) -> Iterator[Line]:
        build = self.desk.build
        yield line("")
        yield line(f"Reviews: {len(build.reviews)}", "head")
        for review in build.reviews:
            when = f"{review.at:%Y-%m-%d}" if review.at else ""
            yield prose(f"{review.reviewer}, {when}: {review.decision}. {review.remarks}".rstrip(), "plain", 2)
            yield prose(f"of content {review.content[:12]}", "muted", 4)
        yield from self._decision(2)

    def _decision(self, indent: int) -> Iterator[Line]:
        """Whether the last decision still holds, and what was changed since."""
        decision = last_decision(self.desk.build, _content_hash(self.desk.build))
        if decision is None:
            return
        yield prose(decision.words, "good" if decision.holds else "warn", indent)
        yield from (prose(self._told(e), "warn", indent + 2, hang=2) for e in decision.changes[-MOST_CHANGES:])
        if (left := len(decision.changes) - MOST_CHANGES) > 0:
            yield line(" " * (indent + 2) + f"and {left} before these", "warn")

    def _history(self) -> Iterator[Line]:
        history = self.desk.build.history
        yield line("")
        most = MOST_HISTORY if "history:" in self.opened else 5
        shown = "Enter shows fewer" if "history:" in self.opened else "Enter shows them"
        more = f": {shown}" if len(history) > 5 else ""
        yield line(f"History: {len(history)} entries, the newest first{more}", "head", key="history:")
        yield from (prose(self._told(e), "muted", 2) for e in reversed(history[-most:]))

    def _told(self, event: Event) -> str:
        return told_event(event, self.desk.checklist)

    # -- choosing ----------------------------------------------------------------------------------------------------

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        kind, _, name = event.key.partition(":")
        if kind in ("question", "history", "waiting", "reasons"):
            self.opened ^= {event.key}
            self.redraw()
            if kind == "history":
                self.query_one(LineList).lift(event.key)
            elif kind != "reasons":
                self._show_what_belongs(event.key)
        elif kind in ("working", "check"):
            self.app.push_screen(Why(kind, name), self._after_why)
        elif kind == "item":
            self._to_bench(name)

    def _show_what_belongs(self, key: str) -> None:
        """What stands below a line and belongs to it is seen with it: the answer of a question, its evidence."""
        shown = self.query_one(LineList)
        keys = [each.key for each in shown.lines]
        below = shown.lines[keys.index(key) + 1 :] if key in keys else ()
        others = (n for n, each in enumerate(below) if each.key.startswith("question:") or not _said(each))
        shown.reach(key, next(others, len(below)))

    def _after_why(self, wish: str | None) -> None:
        kind, _, name = (wish or "").partition(":")
        if kind == "item":
            self._to_bench(name)

    def _to_bench(self, item: str) -> None:
        self.program.go_to_place("bench")
        self.desk.way_back = WayBack(item, self.desk.build)
        self.program.call_after_refresh(self.program.jump, item)

    def action_back(self) -> None:
        """Back to the work."""
        self.program.go_to_place("bench")

    def action_next_question(self) -> None:
        """Go to the next question that the record does not fully answer; after the last one to the first."""
        desk, shown = self.desk, self.query_one(LineList)
        given = answers(desk.build, desk.checklist, desk.judged.assessment)
        open_ = [f"question:{a.question.id}" for a in given if a.state != "answered"]
        if not open_:
            self.say("Every question is answered by this record.", "fine")
            return
        keys = [each.key for each in shown.lines]
        below = [key for key in open_ if keys.index(key) > shown.current]
        following = (below or open_)[0]
        shown.select(following)
        self._show_what_belongs(following)

    def action_question_remark(self) -> None:
        """Write a remark on the question under the cursor; it waits among the remarks of the decision."""
        shown = self.query_one(LineList)
        kind, _, name = shown.current_key.partition(":")
        given = answers(self.desk.build, self.desk.checklist, self.desk.judged.assessment)
        asked = next((a.question for a in given if kind == "question" and a.question.id == name), None)
        if asked is None:
            self.say("Go to a question first: a remark here is on one question.")
            return
        place = question_place(REMARKS, THE_BUILD)

        def answered(text: str | None) -> None:
            if text:
                before = self.desk.drafts.of(place)
                told = f"question {asked.id[1:]}: {text.strip()}"
                self.desk.drafts.keep(place, f"{before}; {told}" if before else told)
                self.program.keeper.key_came()
                self.say("Kept among the remarks of your decision: d decides, with them in the field.")

        title = f"Remark on question {asked.id[1:]}"
        self.app.push_screen(AskText(title, asked.text, needed="write a remark, or press Esc"), answered)

    # -- deciding ----------------------------------------------------------------------------------------------------

    def action_decide(self) -> None:
        """Write a decision about exactly what is shown."""
        self.desk.settle()
        judged, verdict = self.desk.build, self.desk.judged.assessment.verdict
        choices = decisions(verdict)
        words = dict(choices)

        def decided(decision: str | None) -> None:
            if decision:
                self.app.push_screen(_remarks(decision), lambda text: named(decision, text))

        def named(decision: str, remarks: str | None) -> None:
            if remarks is None:
                self._say_what_stays()
                return
            self.app.push_screen(
                AskText(REVIEWER, about=THE_BUILD, needed="a review needs a name", stays=True),
                lambda name: self._write(judged, words[decision], remarks, name),
            )

        more = f"Verdict by rule: {verdict}. The decision is bound to what is shown now.{FORBIDS.get(verdict, '')}"
        self.app.push_screen(AskOne("Your decision", choices, more), decided)

    def _write(self, judged: Build, decision: str, remarks: str, reviewer: str | None) -> None:
        if reviewer is None:
            self._say_what_stays()
            return
        content = _content_hash(judged)

        def edit(build: Build, hand: Hand) -> Build:
            return add_review(build, Review(reviewer, decision, remarks, hand.at, content), Hand(hand.at, reviewer))

        try:
            self.desk.change(edit)
        except EditError as error:
            self.say(str(error), "bad")
            return
        for title in (REMARKS, REVIEWER):
            self.desk.drafts.keep(question_place(title, THE_BUILD), "")
        self.program.keeper.key_came()
        self.program.build_changed()
        self.say(f"{reviewer}: {decision}. Written into the build file.")

    def _say_what_stays(self) -> None:
        """A decision that was left: what was typed for it waits in its question."""
        if any(self.desk.drafts.of(question_place(title, THE_BUILD)) for title in (REMARKS, REVIEWER)):
            self.say("Not decided. What you typed is kept: d asks again, with it in the field.")


def decisions(verdict: str) -> list[tuple[str, str]]:
    """The decisions there are, each in words that name what is agreed with: an agreement clears nothing by itself."""
    of_it = f"with the verdict '{verdict}'"
    return [(AGREE, f"agree {of_it}"), ("agree with remarks", f"agree {of_it}, with remarks"),
            ("do not agree", f"do not agree {of_it}")]  # fmt: skip


def _said(entry: Line) -> str:
    """What a line says; nothing where it stands between two parts."""
    return "".join(piece.text for piece in entry.left).strip()


def _remarks(decision: str) -> AskText:
    """Remarks may only be left out where nothing is held against the build."""
    if decision == AGREE:
        return AskText(REMARKS, "Empty where there are none.", about=THE_BUILD, empty="", stays=True)
    return AskText(REMARKS, about=THE_BUILD, needed="write the remarks, or press Esc", stays=True)


def _content_hash(build: Build) -> str:
    from buildtrack.storage.hashing import content_hash  # loaded when a review is looked at

    return content_hash(build)


def _parts(text: str, look: str, indent: int) -> Iterator[Line]:
    """A reason or a message; what tells of several pairs, rows or readings has a line for each."""
    told, dot = in_parts(text), "· " if indent == 2 else ""
    if len(told) == 1:
        yield prose(f"{dot}{text}", look, indent, hang=2)
        return
    head, _, first = told[0].removeprefix("· ").rpartition(": ")
    if head:
        yield prose(f"{dot}{head}:", look, indent, hang=2)
    yield from (prose(part, look, indent + 2, hang=2) for part in (f"· {first}", *told[1:]))


def told_event(event: Event, checklist: Checklist) -> str:
    """One line of the history, in the words of the checklist."""
    return plain(event_words(event, checklist))
