"""The Textual app: one open build, the places it is seen from, and saving. Everything else is in the screens."""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from textual import events, on, work
from textual.app import App, SystemCommand
from textual.screen import Screen

from buildtrack.bench import commands, themes
from buildtrack.bench.chosen import Chosen
from buildtrack.bench.held_keys import HeldKeys, KeysForBuild
from buildtrack.bench.kept import offer_copies
from buildtrack.bench.outside import LookedOutside, Outside
from buildtrack.bench.plain import plain
from buildtrack.bench.saving import RETRY_S, JudgeEnded, OpenEnded, SaveEnded, Saving
from buildtrack.bench.screens.place import Place
from buildtrack.bench.stylesheet import ParsedOnce
from buildtrack.bench.surroundings import Surroundings, no_viewer
from buildtrack.bench.timers import Timers
from buildtrack.bench.turns import KeysInTurn
from buildtrack.bench.typed_keeper import TypedKeeper

if TYPE_CHECKING:  # what judges is loaded after the first frame
    from textual.command import Provider

    from buildtrack.bench.desk import Desk

HANDS_OVER_S = 0.0005
"""How long a thread that judges or saves may keep Python to itself while a key waits [s]; by itself it is 5 ms."""


def _screen(place: str) -> Place:
    """The screen of a place; imported when it is first entered."""
    if place == "opening":
        from buildtrack.bench.screens.opening import OpeningScreen

        return OpeningScreen()
    if place == "review":
        from buildtrack.bench.screens.review import ReviewScreen

        return ReviewScreen()
    if place == "shelf":
        from buildtrack.bench.screens.shelf import ShelfScreen

        return ShelfScreen()
    if place == "welcome":
        from buildtrack.bench.screens.welcome import WelcomeScreen

        return WelcomeScreen()
    from buildtrack.bench.screens.bench import BenchScreen

    return BenchScreen()


def _items_by_word() -> type[Provider]:
    """Loaded when the palette is opened for the first time."""
    from buildtrack.bench.find_items import ItemsByWord

    return ItemsByWord


class BuildtrackApp(KeysInTurn, HeldKeys):
    """The full-screen program."""

    TITLE = "buildtrack"
    CSS_PATH = "app.tcss"
    ENABLE_COMMAND_PALETTE = True
    COMMANDS = App.COMMANDS | {_items_by_word}
    MODES = {name: partial(_screen, name) for name in ("opening", "bench", "review", "shelf", "welcome")}

    def __init__(
        self,
        around: Surroundings,
        path: Path | None = None,
        *,
        folder: Path | None = None,
        place: str = "bench",
        read_only: bool = False,
        greeting: str = "",
    ) -> None:
        super().__init__()
        sys.setswitchinterval(HANDS_OVER_S)
        self.animation_level = "none"
        self.around = around
        self.path = path
        self.folder = folder if folder is not None else path.parent if path is not None else Path.cwd()
        """The folder the shelf shows."""
        self.own_folder = Path.cwd() if greeting else self.folder
        """Where new builds are made: never among the person's copies of the samples."""
        self.first_place = place
        self.read_only = read_only
        self.greeting = greeting
        """Said where the first build opened."""
        self.desk: Desk | None = None
        self.saving = Saving()
        self.outside = Outside(self)
        self.keeper = TypedKeeper(self)
        self.begun = ""
        """How the open build was begun just now, and what if that was wrong; empty when something was entered."""
        self.wanted = ("", False)
        """The item the build that comes is opened for, and whether its table gets a new row."""
        self.typed_wanted = True
        """Whether what is typed and not taken is kept when the program is left."""
        self.judging = False
        """Whether a thread judges the build."""
        self.waiting = KeysForBuild(self)
        self.instruments = Chosen()
        self.choosing_past = False
        """Whether the shelf is shown to choose the build that a new one starts from."""
        self.timers = Timers(around.clock)
        for theme in themes.THEMES:
            self.register_theme(theme)
        self.theme = themes.WORDS.get(around.theme, themes.DARK.name)
        self.stylesheet = ParsedOnce(variables=self.get_css_variables())

    def on_mount(self) -> None:
        """Open what was asked for and go to the first place."""
        self.set_keymap(dict(self.around.keymap))
        if self.path is None:
            self.go_to_place("shelf" if self.first_place == "shelf" else "welcome")
        else:
            self.waiting.begin(self.path)
            self.go_to_place("opening")
            # the thread that opens begins when the first frame is drawn: it would take half of the time from it
            self.call_after_refresh(self.call_after_refresh, self.open_build, self.path, self.first_place, "",
                                    self.greeting)
        self.set_interval(1.0, self._tick)

    # -- places ------------------------------------------------------------------------------------------------------

    def go_to_place(self, place: str) -> None:
        """Show a place, in place of the one before; who chose it has no way back to the review any more."""
        if self.desk is not None:
            self.desk.way_back = None
        self.choosing_past = self.choosing_past and place == "shelf"
        self.switch_mode(place)
        if place == "review" and self.desk is not None:
            self.judge()  # also of attached files as they are now

    def open_build(
        self, path: Path, place: str = "bench", item: str = "", begun: str = "", new_row: bool = False
    ) -> None:
        """Open a build file off the loop; where it cannot be used, say why and stay. begun: said where it opened.

        item: what it is opened for; new_row: at a new row of that table. The build that is open and can be written is
        only gone to: opened once more, it would find itself as the writer.
        """
        if self._is_open(path):
            self.wanted = (item, new_row)
            self.go_to_place(place)
            self.call_after_refresh(self.arrive)
            return
        self.place_say(f"Opening {plain(path.name)} …")
        self.waiting.begin(path)
        self._open_off_the_loop(path, place, (item, new_row), begun)

    def _is_open(self, path: Path) -> bool:
        """Whether this file is open here, to be written; a read-only one is opened anew, which it may now allow."""
        session = self.desk.session if self.desk is not None else None
        return session is not None and not session.read_only_reason and session.path.resolve() == path.resolve()

    @work(thread=True, exclusive=True, group="open", exit_on_error=False)
    def _open_off_the_loop(self, path: Path, place: str, wanted: tuple[str, bool], begun: str) -> None:
        gc.disable()  # opening makes objects that stay: looking for garbage among them is a tenth of its time
        try:
            from buildtrack.bench.desk import Desk

            desk = Desk.open(path, self.around, self.read_only)
        except (ValueError, OSError) as error:
            self.post_message(OpenEnded(path, place, wanted, refused=str(error)))
        # whatever happens in the thread is told: lost with it, the screen would stay at "Opening" for ever
        except Exception as error:
            self.post_message(OpenEnded(path, place, wanted, refused=f"{path}: {type(error).__name__}: {error}"))
        else:
            self.post_message(OpenEnded(path, place, wanted, desk, begun=begun))
        finally:
            gc.enable()

    @on(OpenEnded)
    def _open_ended(self, event: OpenEnded) -> None:
        from buildtrack.storage.samples import is_sample  # loaded with the build, after the first frame

        if not self.is_running:
            return  # it is being left
        self.waiting.ended(event.path, event.refused)
        if event.desk is None:
            self._cannot_open(event.refused, event.path)
            return
        self.place_say("")  # it is opened
        self._close_what_lies_over_places()
        self.close_build()
        self.keeper.begin(event.desk)
        self.begun = event.begun
        self.desk, self.path, self.folder = event.desk, event.path, event.path.parent
        if not is_sample(event.path):
            self.own_folder = self.folder
        self.saving = Saving()
        self.outside.forget()
        there = self.current_mode == event.place
        self.wanted = event.wanted
        gc.unfreeze()
        self.go_to_place(event.place)
        # A full collection walks all objects, most of them of checklist, build and styles: 60 to 90 ms in the midst of
        # a key, every 20 readings or so. What stands now stays until another build is opened.
        self.call_after_refresh(self.call_after_refresh, gc.freeze)
        if there and isinstance(self.screen, Place):
            self.screen.on_screen_resume()  # it is seen already, with the build before
        self.call_after_refresh(self.waiting.give_out)

    def _close_what_lies_over_places(self) -> None:
        """Tables and questions of a build end with it; in the next one they would be of other items."""
        gone = [screen for mode in commands.OPEN_PLACES for screen in self._screen_stacks.get(mode, ())[1:]]
        for screen in gone:
            if isinstance(screen, Place) and self.desk is not None:
                screen.keep_typed()
        for mode in commands.OPEN_PLACES:
            del self._screen_stacks.get(mode, [])[1:]
        for screen in gone:
            screen.remove()  # it is not told that it is left: it would keep its text for the build that comes

    def arrive(self) -> None:
        """Go to what the build was opened for, once the bench shows it."""
        from buildtrack.bench.screens.bench import BenchScreen

        if isinstance(self.screen, BenchScreen) and self.wanted[0]:
            (item, new_row), self.wanted = self.wanted, ("", False)
            self.screen.jump(item)
            if new_row:
                self.screen.open_at_new_row(item)

    def jump(self, item: str) -> None:
        """Go to an item at the bench."""
        from buildtrack.bench.screens.bench import BenchScreen

        if isinstance(self.screen, BenchScreen):
            self.screen.jump(item)

    def _cannot_open(self, sentence: str, path: Path) -> None:
        if not isinstance(self.screen, Place) or self.screen.PLACE == "opening":
            self.go_to_place("welcome")
        self.call_after_refresh(lambda: self.place_say(sentence, "bad"))
        self.call_after_refresh(self.waiting.give_out)
        self.call_after_refresh(lambda: offer_copies(self, path, sentence))

    def place_say(self, text: str, look: str = "") -> None:
        """Say something in the place that is on the screen."""
        for screen in reversed(self.screen_stack):
            if isinstance(screen, Place):
                screen.say(text, look)
                return

    def texts_typed(self) -> dict[tuple[str, ...], str]:
        """What is typed in the open build and not taken yet, by where it was typed."""
        seen = self._seen()
        if seen is not None and self.desk is not None:
            seen.keep_typed()
        return self.desk.drafts.kept() if self.desk is not None else {}

    def close_build(self, wanted: bool = True) -> None:
        """Let go of the open build. wanted: whether what is typed there is kept for its next opening."""
        if self.desk is not None:
            self.keeper.end(wanted)
            self.desk.session.close()
            self.desk = None

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Commands of the app are available where the place allows them."""
        screen = self.screen if self.screen_stack else None
        return commands.allowed(action, screen.situation()) if isinstance(screen, Place) else True

    def action_bench(self) -> None:
        """Back to the work; over the bench lies what is left with it."""
        if self.current_mode == "bench" and isinstance(self.screen, Place):
            self.screen.to_bench()
        else:
            self.go_to_place("bench")

    def action_review(self) -> None:
        """Judge the build."""
        self.go_to_place("review")

    def action_shelf(self) -> None:
        """Past builds."""
        self.choosing_past = False
        self.go_to_place("shelf")

    def action_welcome(self) -> None:
        """Begin another build."""
        self.go_to_place("welcome")

    def action_live_log(self) -> None:
        """Follow the log of the current item; from the table of the test, its log."""
        from buildtrack.bench.marks import LOG, POINTS
        from buildtrack.bench.screens.live import LiveLog

        name = getattr(self.screen, "item_id", "")
        name = LOG if name == POINTS else name
        if self.desk is not None and name in self.desk.checklist.items:
            self.push_screen(LiveLog(name))

    def action_help(self) -> None:
        """Every key of this place."""
        from buildtrack.bench.screens.help import help_page
        from buildtrack.bench.screens.reading import ReadOn

        here = self.screen if isinstance(self.screen, Place) else None
        page = help_page(here.PLACE if here is not None else "bench", self.around.keymap, self.around.remarks,
                         self.size.width - 8, here.help_situation() if here is not None else None)
        self.push_screen(ReadOn("Help", page))

    def action_pictures(self) -> None:
        """Curve, ladder, cells and wiring."""
        from buildtrack.bench.screens.pictures import Pictures

        if self.desk is not None:
            self.push_screen(Pictures(getattr(self.screen, "step_id", "")))

    def action_timers(self) -> None:
        """Count-downs."""
        from buildtrack.bench.screens.count_down import CountDown

        self.push_screen(CountDown())

    def action_limits(self) -> None:
        """The limits that checks compare with."""
        from buildtrack.bench.screens.limits import Limits

        if self.desk is not None:
            self.push_screen(Limits())

    def action_record(self) -> None:
        """Export the record."""
        from buildtrack.bench.screens.export import Export

        if self.desk is not None:
            self.push_screen(Export())

    def action_next_look(self) -> None:
        """Dark, light, high contrast."""
        self.theme = themes.following(self.theme)

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """The palette: every command of the place that makes sense now, and the look."""
        if isinstance(screen, Place):
            situation = screen.situation()
            for command in commands.of_place(screen.PLACE):
                if command.available(situation):
                    name = command.footer or commands.PALETTE.get(command.id, command.id.replace("-", " "))
                    key = commands.key_text(commands.key_of(command, self.around.keymap))
                    told = f"{key}: {command.help}" if key else command.help
                    yield SystemCommand(name.capitalize(), told, _runner(self, screen, command.action))
        yield SystemCommand("Look: next theme", "Change between dark, light and high contrast.", self.action_next_look)
        yield SystemCommand("Quit", "Leave the program.", self.action_quit_safely)

    # -- saving ------------------------------------------------------------------------------------------------------

    def build_changed(self, shown: bool = True) -> None:
        """Something was entered: show it, unless the place does so itself; then save and judge it."""
        self.begun = ""
        if shown:
            self.show_changed()
        self.when_drawn(self.save)
        # one frame later still: a thread that reckons takes half of the time from what is drawn beside it
        self.when_quiet(partial(self.call_after_refresh, self.call_after_refresh, self.judge))

    def show_changed(self) -> None:
        """Show the build anew; the places beneath draw themselves when they are seen again."""
        seen = self._seen()
        if seen is not None:
            seen.redraw()

    def _seen(self) -> Place | None:
        return next((s for s in reversed(self.screen_stack) if isinstance(s, Place)), None)

    def judge(self) -> None:
        """Judge the build in a thread, unless that is under way already; then it is followed by another."""
        if self.desk is not None and not self.judging:
            self.judging = True
            self._judge_off_the_loop(self.desk)

    @work(thread=True, group="judge", exit_on_error=True)
    def _judge_off_the_loop(self, desk: Desk) -> None:
        self.post_message(JudgeEnded(desk, desk.judge()))

    @on(JudgeEnded)
    def _judge_ended(self, event: JudgeEnded) -> None:
        self.judging = False
        if self.desk is not event.desk:
            if self.desk is not None and self.desk.pending:
                self.judge()
            return
        if not event.desk.take(event.judged):
            self.judge()  # something was entered meanwhile
            return
        seen = self._seen()
        if seen is not None and not seen.is_left():
            seen.judged_anew()

    def action_save_now(self) -> None:
        """Save again."""
        self.save()

    def save(self) -> None:
        """Save in a thread, unless an attempt runs already; that one is followed by another."""
        desk = self.desk
        if desk is None or self.saving.running or not desk.unsaved or desk.session.read_only_reason:
            return
        self.saving.running = True
        self._save_off_the_loop(desk)

    @work(thread=True, group="save", exit_on_error=False)
    def _save_off_the_loop(self, desk: Desk) -> None:
        build, outside = desk.build, False
        try:
            state = desk.session.commit(build)
            outside = state.changed_outside
            failed = "" if state.saved else state.reason or "the file was not written"
        except Exception as error:  # whatever happens while saving must be told, never lost with a thread
            failed = f"{type(error).__name__}: {error}"
        self.post_message(SaveEnded(build, failed, outside))

    @on(SaveEnded)
    def _save_ended(self, event: SaveEnded) -> None:
        self.saving.running = False
        self.saving.failed = event.failed
        desk = self.desk
        if desk is None:
            return
        if not event.failed:
            desk.saved_build = event.build
            self.saving.at = self.around.clock()
            self.save()
        elif event.outside:
            self.outside.found()
        else:
            self.set_timer(RETRY_S, self.save)
        self.refresh_heads()

    def refresh_heads(self) -> None:
        """Show what is saved, and what can be done, on every place."""
        for screen in self.screen_stack:
            if isinstance(screen, Place):
                screen.refresh_head()
                screen.refresh_keys()

    @on(events.AppFocus)
    def _came_back(self) -> None:
        """The person was elsewhere, perhaps in an editor."""
        self.outside.look()

    @on(LookedOutside)
    def _looked_outside(self, event: LookedOutside) -> None:
        if self.is_running:
            self.outside.looked(event)

    def action_outside(self) -> None:
        """Settle a file that was changed outside."""
        self.outside.ask()

    def _tick(self) -> None:
        if not self.screen_stack:
            return  # the program is being left
        self.outside.tick()
        for name in self.timers.rang():
            self.bell()
            self.place_say(f"{plain(name)}: the time is up.")
        if (seen := self._seen()) is not None:
            seen.refresh_timer()

    # -- leaving -----------------------------------------------------------------------------------------------------

    async def action_quit(self) -> None:
        """Leave; asked where something is not saved."""
        self.action_quit_safely()

    def action_quit_safely(self) -> None:
        """Leave; asked where something is typed and not taken, or not saved."""
        seen = self._seen()
        typed = seen.typed() if seen is not None and self.desk is not None else []
        if not typed:
            self._leave_when_saved()
            return
        from buildtrack.bench.screens.ask import AskOne

        self.typed_wanted = True
        choices = [("stay", "stay here"), ("leave", "leave without it")]
        self.push_screen(AskOne("Typed, and not taken yet", choices, "\n".join(typed), firm=True), self._typed_answered)

    def _typed_answered(self, answer: str | None) -> None:
        if answer == "leave":
            self.typed_wanted = False
            self._leave_when_saved()

    def _leave_when_saved(self) -> None:
        desk = self.desk
        if desk is None or not desk.unsaved or desk.session.read_only_reason:
            self._leave()
            return
        if not self.saving.failed:
            self.save()
            self.set_timer(0.1, self._leave_when_saved)
            return
        from buildtrack.bench.screens.ask import AskOne

        choices = [("again", "try to save again"), ("stay", "stay here"), ("leave", "leave all the same")]
        self.push_screen(AskOne("Not everything is saved", choices, self.saving.failed, firm=True), self._quit_answered)

    def _quit_answered(self, answer: str | None) -> None:
        if answer == "again":
            self.saving.failed = ""
            self._leave_when_saved()
        elif answer == "leave":
            self._leave()

    def _leave(self) -> None:
        self.close_build(self.typed_wanted)
        self.exit(0)


def _runner(app: BuildtrackApp, screen: Screen[Any], action: str) -> Callable[[], None]:
    def run() -> None:
        app.call_later(screen.run_action, action)

    return run


def run(path: Path | None, *, folder: Path | None = None, place: str = "bench", read_only: bool = False,
        greeting: str = "") -> int:
    """Run the full-screen program on a build file, a folder (shelf), or the welcome screen; returns the exit code."""
    from buildtrack.bench.desktop import viewer_here
    from buildtrack.bench.keymap import read_wishes
    from buildtrack.storage.places import config_folder

    wishes = read_wishes(config_folder() / "keymap.toml")
    around = Surroundings(keymap=wishes.keys, theme=wishes.theme, remarks=wishes.remarks,
                          viewer=viewer_here if wishes.open_record else no_viewer)
    return BuildtrackApp(around, path, folder=folder, place=place, read_only=read_only,
                         greeting=greeting).run() or 0
