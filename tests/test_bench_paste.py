"""What is pasted comes in once."""

from __future__ import annotations

import asyncio

from textual import events
from textual.app import App, ComposeResult

from buildtrack.bench.widgets.field import Field


class OneField(App[None]):
    """A field and nothing else."""

    lines = ""

    def compose(self) -> ComposeResult:
        yield Field(id="field")

    def on_field_pasted_lines(self, message: Field.PastedLines) -> None:
        self.lines = message.text


def pasted(*texts: str) -> tuple[str, str]:
    """The field's text, and the lines that were handed on, after pasting."""
    app = OneField()

    async def paste() -> tuple[str, str]:
        async with app.run_test(size=(80, 24)) as pilot:
            field = app.query_one(Field)
            field.focus()
            await pilot.pause()
            for text in texts:
                field.post_message(events.Paste(text))
                await pilot.pause()
            return field.value, app.lines

    return asyncio.run(paste())


def test_one_pasted_line_comes_in_once() -> None:
    assert pasted("3,71 V") == ("3,71 V", "")
    assert pasted("5") == ("5", "")
    assert pasted("3,", "71") == ("3,71", "")


def test_several_lines_are_handed_on_and_not_put_into_the_field() -> None:
    assert pasted("3.71\n3.70\n3.69") == ("", "3.71\n3.70\n3.69")
