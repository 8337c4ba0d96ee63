"""What is pasted comes in once, and what is attached is of the kind that was asked for."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime
from pathlib import Path

from textual import events
from textual.app import App, ComposeResult

from buildtrack.bench.attach import attached_reading
from buildtrack.bench.widgets.field import Field
from buildtrack.model.build import Reading


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


def test_a_photo_is_a_picture_and_a_log_is_text(tmp_path: Path) -> None:
    for name, content in (("a.png", b"\x89PNG\r\n\x1a\n...."), ("b.jpg", b"\xff\xd8\xff\xe0"), ("c.txt", b"root:x:0"),
                          ("d.csv", b"t;U;I\n0;12,5;2,0\n"), ("e.pdf", b"%PDF-1.7")):
        (tmp_path / name).write_bytes(content)
    build, at = tmp_path / "b.toml", datetime(2026, 11, 25, tzinfo=UTC)

    def taken(name: str, kind: str) -> bool:
        return isinstance(attached_reading(build, name, at, kind), Reading)

    assert [taken(n, "photo") for n in ("a.png", "b.jpg", "c.txt", "e.pdf")] == [True, True, False, False]
    assert [taken(n, "file") for n in ("d.csv", "c.txt", "a.png", "e.pdf")] == [True, False, False, False]
    assert "there is no such file" in str(attached_reading(build, "none.png", at, "photo"))
