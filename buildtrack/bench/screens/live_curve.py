"""The curve of a followed log: a list of drawn lines that says where it has other room."""

from __future__ import annotations

from dataclasses import dataclass

from textual.message import Message

from buildtrack.bench.widgets.lines import LineList


class Curve(LineList):
    """The curve; it says where it has other room than before."""

    @dataclass
    class OtherRoom(Message):
        """The curve has other room: of another screen, or beside other numbers."""

    def on_resize(self) -> None:
        """Another curve fits."""
        self.post_message(self.OtherRoom())
