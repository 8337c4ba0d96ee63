"""The bench: one step at a time, the current item large, what it means beside it."""

from __future__ import annotations

from collections.abc import Callable

from textual import events, on

from buildtrack.bench import words
from buildtrack.bench.drafts import THE_BUILD, Dropped
from buildtrack.bench.faults import faults_text
from buildtrack.bench.meaning import item_about, open_cautions, standing_faults
from buildtrack.bench.onward import lacking_in, lacking_text, onward
from buildtrack.bench.plain import plain
from buildtrack.bench.rows import row_names, with_row
from buildtrack.bench.screens.ask import AskOne, AskText, question_place
from buildtrack.bench.screens.bench_standing import BenchStanding
from buildtrack.bench.screens.money import ask_currency
from buildtrack.bench.screens.reading import ReadOn
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.screens.why import Why
from buildtrack.bench.step_lines import step_sign
from buildtrack.bench.widgets.line_text import Line, line, prose
from buildtrack.bench.widgets.lines import LineList
from buildtrack.model.build import VALUE_CLASSES
from buildtrack.model.edit import end_early, rename, reopen, waive


class BenchScreen(BenchStanding):
    """The place where the work is done."""

    reason_held = ""
    """A reason for a caution that was typed before it was said for which one."""

    # -- how answers are obtained ------------------------------------------------------------------------------------

    def action_instrument(self) -> None:
        """Choose the instrument once for this step."""
        item = self.item
        if item is None or item.kind == "table":
            self.say("Open the table to choose an instrument for a column.")
            return
        names = words.instrument_names(self.desk, item.dimension)
        if not names:
            self.say(
                f"No instrument for {item.dimension} is listed yet: add it under 'instruments' in the first step.",
                "bad",
            )
            return

        def answered(name: str | None) -> None:
            if name is not None:
                self.program.instruments.choose(item, None, name)
                self.redraw()

        title = f"Which instrument reads the {item.dimension} in this step?"
        self.app.push_screen(AskOne(title, [*names, ("", "none named")], current=self.instrument_for(item)), answered)

    def action_value_class(self) -> None:
        """Say how the next answer is obtained."""
        kinds = [c for c in VALUE_CLASSES if c != "computed"]
        more = {
            "measured": "measured here",
            "taken over": "taken over from a sheet, a label or a past build",
            "guessed": "guessed: a guess under a hold point cannot clear",
        }

        def answered(name: str | None) -> None:
            self.value_class = name or self.value_class
            self.redraw()

        self.app.push_screen(
            AskOne("How is the next answer obtained?", [(k, more[k]) for k in kinds], current=self.value_class),
            answered,
        )

    # -- cautions ----------------------------------------------------------------------------------------------------

    def action_waive(self) -> None:
        """Accept a caution of this step with a written reason."""
        open_ = open_cautions(self.desk, self.step_id)
        if not open_:
            return
        if len(open_) == 1:
            self.ask_waiver(open_[0].check)
            return

        choices = [(r.check, plain(r.title)) for r in open_]
        asked = AskOne("Which caution do you accept?", choices, firm=True, holds="the reason", held=self.reason_held)

        def chosen(check: str | None) -> None:
            held, self.reason_held = asked.held.strip(), ""
            if check:
                self.ask_waiver(check, held)
            elif held:
                self.reason_held = held
                self.say(f"No caution is accepted. w shows '{plain(held)}' again.")

        self.app.push_screen(asked, chosen)

    def ask_waiver(self, check: str, typed: str = "") -> None:
        """Ask for the reason of one waiver. typed: a reason that was typed before it was said for which caution."""
        rule = self.desk.checklist.check[check]
        result = next((r for r in self.desk.judged.assessment.results if r.check == check), None)

        def answered(reason: str | None) -> None:
            if reason is not None:
                said = result.message if result else ""
                self.edit(lambda build, hand: waive(build, self.desk.checklist, check, reason, hand, said))

        more = f"{result.message if result else rule.message}\nYour reason becomes a condition of the verdict."
        kept = result.waiver.reason if result is not None and result.waiver is not None else ""
        asked = AskText(f"Accept: {rule.title}", more, about=(check,), text=kept)
        if typed:
            self.desk.drafts.keep(question_place(asked.title_text, asked.about), typed)
        self.app.push_screen(asked, answered)

    # -- undo --------------------------------------------------------------------------------------------------------

    def action_undo(self) -> None:
        """Take the last edit back; where a typed text was dropped since, bring that back.

        The field stays closed: in it a second u would be a letter.
        """
        dropped = self.desk.drafts.pick_up(self.desk.build)
        if dropped is None:
            self._turned(self.desk.undo)
        else:
            self._bring_back(dropped)

    def action_redo(self) -> None:
        """Bring the last undone edit back; or the text that another one was brought back in place of."""
        again = self.desk.drafts.pick_again(self.desk.build)
        if again is None:
            self._turned(self.desk.redo)
        else:
            self._bring_back(again)

    def _bring_back(self, dropped: Dropped) -> None:
        """Show a text that was dropped where it was typed."""
        self.jump(dropped.place[0])
        if len(dropped.place) == 1:
            self.desk.drafts.keep(dropped.place, dropped.text, dropped.corrects)  # the empty field took it away
            self.show_draft()
            self._letters_are_keys()
            self.say(words.back_text(dropped.text))
        else:
            self._open_field(*dropped.place)

    def _open_field(self, table: str, row: str, column: str) -> None:
        """Open a table at a field; a row that went away when nothing was typed in it comes back."""
        item = self.desk.checklist.items[table]
        if row not in row_names(item, self.desk):
            self.edit(lambda build, hand: with_row(build, item, row, hand))
        self.app.push_screen(TableScreen(table, row, column))

    def _turned(self, turn: Callable[[], str]) -> None:
        """Take an edit back, or bring it back, and go to the item it was about."""
        before = self.desk.build
        text = turn()
        if text:
            now = self.desk.build
            changed = next((n for n in self.desk.checklist.items if before.entry(n) != now.entry(n)), "")
            self.jump(changed)
            self._letters_are_keys()
            self.program.build_changed()
            self.say(text)

    def _letters_are_keys(self) -> None:
        """After an undo on an item of words too: a second u undoes once more, it begins no text."""
        self.letters_free = self.item_id
        self.refresh_keys()

    # -- looking -----------------------------------------------------------------------------------------------------

    def action_go(self) -> None:
        """Choose a step."""
        choices = []
        for step in self.desk.checklist.steps:
            state = self.desk.step_state(step.id)
            faults = standing_faults(self.desk, step.id)
            missing = lacking_text(lacking_in(self.desk, step)) if state.state == "done" else ""
            word = ", ".join(w for w in (missing or words.STEP_WORDS[state.state], faults_text(faults)) if w)
            choices.append((step.id, f"{step_sign(self.desk, step)[0]} {plain(step.title)}  ({word})"))

        def chosen(step: str | None) -> None:
            if step:
                self.go_to(step)

        self.app.push_screen(AskOne("Go to step", choices, current=self.step_id), chosen)

    def action_notes(self) -> None:
        """Read what was found when the file was opened."""
        lines = [one for note in self.notes() for one in (prose(f"· {plain(note)}", hang=2), line(""))]
        self.app.push_screen(ReadOn("Found when this file was opened", lines))

    def action_how(self) -> None:
        """Read everything about the item and its step."""
        self.app.push_screen(ReadOn("How and why", list(self._all_about())))

    def _all_about(self) -> list[Line]:
        item, found = self.item, []
        if item is not None:
            found.append(line(item.label, "head"))
            for look, text in (
                ("warn", f"▲ {item.caution}" if item.caution else ""),
                ("plain", words.pointing(item.how, self.has_class("-narrow"))),
                ("muted", item.why),
            ):
                if text:
                    found += [prose(text, look), line("")]
        found += [line(f"{self.step.title}, usually {self.step.minutes} min", "head"), prose(self.step.intro), line("")]
        found += [prose(f"▲ {caution}", "warn", hang=2) for caution in self.step.cautions]
        return found

    def action_meaning(self) -> None:
        """Go to workings and checks; again comes back."""
        if self.focused is self.meaning:
            self.set_focus(self.items)
        else:
            self.set_focus(self.meaning)
            self._mark_first_told()

    def _mark_first_told(self) -> None:
        """The mark begins at the first check or working, which Enter explains, not at the next thing to do."""
        told = (entry.key for entry in self.meaning.lines if entry.key.startswith(("check:", "working:")))
        if (first := next(told, "")) and not self.meaning.current_key.startswith(("check:", "working:")):
            self.meaning.select(first)

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """The panel grows while it is read."""
        asking = event.widget is self.meaning
        if asking != self.has_class("-asking"):
            self.set_class(asking, "-asking")
            self.meaning.show(self._meaning_lines(self.item), "" if not asking else None)

    @on(LineList.Chosen, "#meaning")
    def _meaning_chosen(self, event: LineList.Chosen) -> None:
        self._open(event.key)

    def _open(self, key: str) -> None:
        """Go to what a line stands for: an item, a field of a table, a working, a check, or the list of every check."""
        kind, _, name = key.partition(":")
        if kind == "item":
            self.jump(name)
        elif kind == "field":
            self.jump(name.partition(":")[0])
            self.app.push_screen(TableScreen(*name.split(":", 2)))
        elif kind in ("working", "check"):
            self.desk.fresh_stop = "" if name == self.desk.fresh_stop else self.desk.fresh_stop
            self.app.push_screen(Why(kind, name), self._after_why)
        elif kind == "all":
            self.every_check = not self.every_check
            self.meaning.show(self._meaning_lines(self.item))

    def action_next_item(self) -> None:
        """Look at the stop that has just failed; in a held step go to what holds it; else to the next thing to do."""
        following, item, at = onward(self.desk), self.item, (self.step_id, self.item_id)
        refused = item is not None and self.desk.refusal(item) and not self.desk.refusal()
        step = self.desk.step_state(item.step if refused and item is not None else self.step_id)
        if refused and step.held_by:
            self.jump(step.held_by[0])
        elif refused:
            self._open_about(f"check:{step.stopped_by[0]}")
        elif self.desk.fresh_stop:
            self.say("")
            self._open_about(f"check:{self.desk.fresh_stop}")
        elif following.key == "next":
            self.go_to_next()
        else:
            self._open_about(following.key)
        if self.is_current and (self.step_id, self.item_id) == at:
            self.say("This is the next thing to do.")

    def _open_about(self, key: str) -> None:
        """Open a line; where it explains a check one stands at its item, also when the explanation is closed."""
        kind, _, name = key.partition(":")
        if kind == "check" and (item := item_about(self.desk, name)):
            self.jump(item)
        self._open(key)

    def _after_why(self, wish: str | None) -> None:
        kind, _, name = (wish or "").partition(":")
        if kind == "item":
            self.jump(name)
        elif kind == "waive":
            self.ask_waiver(name)
        elif kind == "reading":
            self.set_focus(self.items)

    def key_escape(self, event: events.Key) -> None:
        """From the panel or the answers back to the list; from there to the review, where that led here.

        Else letters are commands from then on, on an item of words.
        """
        self.number_at = ""
        if self.focused is self.items and self.desk.way_back is not None:
            event.stop().prevent_default()  # else it goes on to the review, where Esc leads to the bench
            self.program.go_to_place("review")
            return
        if self.focused is self.items:
            self.free_letters()
            self.refresh_keys()
            return
        if self.focused is self.card.field:
            return  # the field says itself what is to become of its text
        if self.focused is self.card.options:
            self.begin_correcting("", -1)
            standing = self.desk.build.entry(self.item_id).standing
            self.card.options.show(self.card.options.lines, standing[-1].text if standing else "")
            self.card.tell("")
        self.set_focus(self.items)

    # -- the project -------------------------------------------------------------------------------------------------

    def action_rename(self) -> None:
        """Give the build another title."""

        def answered(title: str | None) -> None:
            if title is not None:
                self.edit(lambda build, hand: rename(build, title, hand))

        self.app.push_screen(
            AskText(
                "Title of this build", about=THE_BUILD, text=self.desk.build.title, needed="a build needs a title"
            ),
            answered,
        )

    def action_currency(self) -> None:
        """Say in which currency the prices are."""
        ask_currency(self)

    def action_end_early(self) -> None:
        """Stop the project for a reason."""

        def answered(reason: str | None) -> None:
            if reason is not None:
                self.edit(lambda build, hand: end_early(build, reason, hand))

        more = "A project stopped for a good reason deserves a clean record. You can take it up again."
        self.app.push_screen(AskText("End this project early?", more, about=THE_BUILD), answered)

    def action_reopen(self) -> None:
        """Take an ended project up again."""

        def answered(reason: str | None) -> None:
            if reason is not None:
                self.edit(lambda build, hand: reopen(build, reason, hand))

        self.app.push_screen(AskText("Take this project up again?", about=THE_BUILD), answered)
