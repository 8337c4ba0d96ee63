"""The first frame while a build file is read: calm, and gone as soon as it is there."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Static

from buildtrack.bench.plain import plain
from buildtrack.bench.screens.place import Place
from buildtrack.bench.widgets.head import Head, KeyLine


class OpeningScreen(Place):
    """Shown while a build is opened."""

    PLACE = "opening"
    CSS = """
    OpeningScreen { background: $background; layout: vertical; }
    OpeningScreen #opening { height: 1fr; align: center middle; }
    OpeningScreen #opening Static { width: auto; color: $foreground 75%; }
    """

    def compose(self) -> ComposeResult:
        """Head; what is opened; keys."""
        yield Head()
        with Vertical(id="opening"):
            yield Static(plain(f"Opening {self.program.path} …"), markup=False)
        yield KeyLine()
