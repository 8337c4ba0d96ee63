"""The table of a discharge test by hand: one key takes a point by the clock, alarm and end are one key each."""

from __future__ import annotations

from dataclasses import replace

from textual.widgets import Static

from buildtrack.bench import marks, rows
from buildtrack.bench.commands import Situation
from buildtrack.bench.plain import listed
from buildtrack.bench.screens.marking import Marking
from buildtrack.bench.screens.table_paste import PastingTable
from buildtrack.bench.timers import clock_text

TIMER = "next point"


class TimedTable(Marking, PastingTable):
    """A table whose points are taken by the clock, where it is that of the test."""

    TIMER_SHOWN = TIMER

    @property
    def of_test(self) -> bool:
        """Whether this is the table of the discharge test."""
        return self.item_id == marks.POINTS

    def on_mount(self) -> None:
        """Show the clock of a test that runs."""
        if self.of_test:
            self.set_interval(1.0, self._show_clock)
            if marks.began(self.desk.build) is not None and marks.marked_s(marks.END, self.desk.build) is None:
                self._ring_for_next()

    def situation(self) -> Situation:
        """Where the person is now."""
        return replace(super().situation(), timed=self.of_test)

    def _show_clock(self) -> None:
        if self.is_current:
            self.query_one("#table-head", Static).update(self._head_words())

    def _head_words(self) -> str:
        said, start = super()._head_words(), marks.began(self.desk.build) if self.of_test else None
        if not self.of_test:
            return said
        if start is None:
            return f"{said} · n starts the test and its clock"
        if (end := marks.marked_s(marks.END, self.desk.build)) is not None:
            return f"{said} · ended at {end / 60:.2f} min"
        timers = self.program.timers
        running = next((t for t in timers.running if t.name == TIMER), None)
        passed = (self.program.around.clock() - start).total_seconds()
        left = f", next point in {clock_text(timers.left_s(running))}" if running is not None else ""
        return f"running {clock_text(max(0.0, passed))}{left} · {said}"

    def _ring_for_next(self) -> None:
        """Ring at the interval, shorter once a group is low; it counts on if the program was closed meanwhile."""
        self.program.timers.start(TIMER, marks.interval_s(self.desk.build), repeat=True)

    def action_test_point(self) -> None:
        """Start the test, or take the next point, at this moment."""
        build, item = self.desk.build, self.item
        start, points = marks.began(build), build.entry(marks.POINTS).rows
        if refused := self.desk.refusal(item):
            self.say(refused, "bad")
        elif start is None and points:
            self.say("These points were typed without the clock: a adds the next one; type its minutes.", "bad")
        else:
            name = rows.new_name(item, rows.row_names(item, self.desk))
            if self.edit(lambda build, hand: marks.with_point(build, item, name, hand)):
                self._ring_for_next()
                self._to_point(name)
                self.say("" if start is not None else "The test runs: load on now. The bell rings when a point is due.")

    def _to_point(self, name: str) -> None:
        """Go to the first empty field of a point."""
        names, row = self.names(), self.desk.build.entry(self.item_id).row(name)
        empty = [n for n, c in enumerate(self.columns) if row is None or not row.text(c.id)]
        self.grid.go(names.index(name), empty[0] if empty else 0)
        self._show_field()

    def moment_now(self, kind: marks.Kind) -> marks.Moment | None:
        """This moment by the clock of the test, with the groups of a point just read."""
        count = self.desk.judged.assessment.sheet.number("series_count")
        moment = marks.moment_by_hand(self.desk.build, int(count or 0), self.program.around.clock())
        if moment is None:
            self.say("The clock of this test was not started: n starts it.", "bad")
        return moment

    def take_mark(self, kind: marks.Kind, moment: marks.Moment) -> None:
        """Record a moment; the end stops the timer, and what is still to be read is said."""
        if not self.edit(marks.mark(kind, moment, self.desk)):
            return
        if kind is marks.END:
            self.program.timers.stop(TIMER)
        told = f"Marked: {kind.name} at {moment.seconds / 60:.2f} min"
        names = listed([f"g{n}" for n in range(1, len(moment.groups) + 1)])
        table = self.desk.checklist.items.get(marks.GROUPS)
        more = f", {names} from the point just read" if names else ""
        if not names and table is not None:
            more = f". The groups: n takes a point now, or fill '{table.label}'"
        self.say(f"{told}{more}. u takes it back.")
