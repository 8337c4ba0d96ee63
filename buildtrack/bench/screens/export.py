"""The record exported by a child process: it says what it does, can be stopped, and says where the file went."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import ClassVar, cast

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.desk import Desk
from buildtrack.bench.desktop import show
from buildtrack.bench.plain import plain
from buildtrack.storage.places import record_path

MOST_OUTPUT = 4000


class Export(ModalScreen[None]):
    """One export of the record."""

    CSS = """
    Export { align: center middle; background: $background 70%; }
    Export > Vertical { width: 76; max-width: 96%; height: auto; background: $surface; padding: 1 2; }
    Export > Vertical { border-left: outer $accent; }
    Export Static { height: auto; }
    Export .page-title { text-style: bold; color: $primary; }
    Export .page-keys { color: $foreground 75%; margin-top: 1; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q", "leave", "close", show=False),
        Binding("enter", "close_ended", "close", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.process: asyncio.subprocess.Process | None = None
        self.ended = False

    def compose(self) -> ComposeResult:
        """Title, how it goes, keys."""
        with Vertical():
            yield Static("Build record", markup=False, classes="page-title")
            yield Static("The record is being written …", markup=False, id="export-state")
            yield Static("Esc: stop it", markup=False, classes="page-keys")

    @property
    def program(self) -> BuildtrackApp:
        """The app, typed."""
        return cast("BuildtrackApp", self.app)

    @property
    def state(self) -> str:
        """What is said."""
        return str(self.query_one("#export-state", Static).content)

    def on_mount(self) -> None:
        """Begin when what was entered is on the disk."""
        self._begin()

    @work(exclusive=True, group="export", exit_on_error=False)
    async def _begin(self) -> None:
        desk = self.program.desk
        if desk is None:
            self._end("no build is open")
            return
        while desk.unsaved and not desk.session.read_only_reason and not self.program.saving.failed:
            self.program.save()
            await asyncio.sleep(0.05)
        if desk.unsaved and self.program.saving.failed:
            self._end(f"Not exported: the build is not saved ({self.program.saving.failed}).")
            return
        path = desk.session.path
        await self._run(desk, path, record_path(path))

    async def _run(self, desk: Desk, path: Path, target: Path) -> None:
        command = self.program.around.record_command(path, target)
        try:
            self.process = await asyncio.create_subprocess_exec(
                *command,
                stdin=asyncio.subprocess.DEVNULL,
                stdout=asyncio.subprocess.PIPE,
                stderr=asyncio.subprocess.STDOUT,
            )
        except OSError as error:
            self._end(f"The record could not be started: {error.strerror or error}")
            return
        told = await self._follow(self.process)
        if self.process.returncode == 0 and target.exists():
            verdict = (await asyncio.to_thread(desk.judge)).assessment.verdict
            written = f"Written: {target}\n{target.stat().st_size / 1000:.0f} kB\nIts verdict: {verdict}"
            self.program.judge()
            self._end(written)
            if what := await show(self.program.around.viewer(target)):
                self._say(f"{written}, {what}")
        elif not self.ended:
            self._end(f"No record was written. {told}")

    async def _follow(self, process: asyncio.subprocess.Process) -> str:
        """Show each line as it comes, until the child ends; returns the last one."""
        assert process.stdout is not None
        told = ""
        while chunk := await process.stdout.read(MOST_OUTPUT):
            lines = [plain(part).strip() for part in chunk.decode(errors="replace").splitlines()]
            told = next((part for part in reversed(lines) if part), told)
            self._say(f"The record is being written …\n{told}")
        await process.wait()
        return told

    def _end(self, text: str) -> None:
        self.ended = True
        if not self.is_mounted:
            return
        self._say(text)
        self.query_one(".page-keys", Static).update("Enter or Esc: close")
        self.program.place_say(text.replace("\n", ", "))

    def _say(self, text: str) -> None:
        if self.is_mounted:
            self.query_one("#export-state", Static).update("\n".join(plain(part) for part in text.splitlines()))

    def action_close_ended(self) -> None:
        """Close where it has ended; an Enter too many stops nothing."""
        if self.ended:
            self.action_leave()

    def action_leave(self) -> None:
        """Stop it if it still runs, and close."""
        if not self.ended and self.process is not None and self.process.returncode is None:
            self.process.terminate()
            self.program.place_say("The record was stopped; none was written.", "bad")
        self.ended = True
        self.dismiss(None)
