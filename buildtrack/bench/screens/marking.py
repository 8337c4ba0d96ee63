"""Alarm and end of a discharge test by one key each, wherever the test is followed; a second press asks first."""

from __future__ import annotations

from buildtrack.bench import marks
from buildtrack.bench.marks_log import Log, log_of
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.ask import AskOne
from buildtrack.bench.screens.place import Place


class Marking(Place):
    """A place where the moments of a discharge test are marked."""

    def moment_now(self, kind: marks.Kind) -> marks.Moment | None:
        """This moment of the test; None, and it is said why, where there is none yet."""
        raise NotImplementedError

    def take_mark(self, kind: marks.Kind, moment: marks.Moment) -> None:
        """Record a moment that may be recorded, and say so."""
        raise NotImplementedError

    def not_its_log(self) -> str:
        """Why a mark from here does not belong to the log of the test; empty where it does."""
        return ""

    @property
    def log_now(self) -> Log | None:
        """The log that is followed here; None where the test is written down by hand."""
        return None

    def action_mark_alarm(self) -> None:
        """The alarm sounds."""
        self._mark(marks.ALARM)

    def action_mark_end(self) -> None:
        """The load went dead."""
        self._mark(marks.END)

    def _mark(self, kind: marks.Kind) -> None:
        moment = self.moment_now(kind)
        if moment is None:
            return
        before, other = marks.marked_s(kind, self.desk.build), self.not_its_log()
        if before is None and not other:
            self._record(kind, moment)
            return
        here = f"{moment.seconds / 60:.2f} min"
        title = f"The {kind.name} is marked already"
        choices = [("no", f"keep {(before or 0) / 60:.2f} min"), ("yes", f"mark {here} instead")]
        if before is None:
            title = f"Mark the {kind.name} from another log?"
            choices = [("no", "mark nothing"), ("yes", f"mark {here} all the same")]
        elif owner := log_of(kind, self.desk.build, self.log_now):
            title += f", in {plain(owner)}"
        self.app.push_screen(
            AskOne(title, choices, other),
            lambda answer: self._record(kind, moment) if answer == "yes" else None,
        )

    def _record(self, kind: marks.Kind, moment: marks.Moment) -> None:
        if sentence := marks.refused(kind, moment, self.desk):
            self.say(f"Not marked: {sentence}", "bad")
        else:
            self.take_mark(kind, moment)
