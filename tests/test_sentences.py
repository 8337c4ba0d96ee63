"""What is read with a meter in one hand: no sentence of checklists, checks and questions has more than 27 words."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from buildtrack.console.lint_texts import LONGEST_SENTENCE

ROOT = Path(__file__).resolve().parent.parent
FILES = [*sorted((ROOT / "checklists").rglob("*.toml")), *sorted((ROOT / "buildtrack/data").glob("checks_*.toml")),
         ROOT / "buildtrack/checks/review_questions.toml"]
CITED = ("source",)
"""Keys that hold a citation, no sentence."""


def texts(thing: object, path: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(thing, str):
        yield path, thing
    elif isinstance(thing, dict):
        for key, value in thing.items():
            if key not in CITED:
                yield from texts(value, f"{path}/{key}")
    elif isinstance(thing, list):
        for number, value in enumerate(thing):
            yield from texts(value, f"{path}/{value.get('id', number) if isinstance(value, dict) else number}")


def long_ones(text: str) -> list[str]:
    return [s for s in re.split(r"(?<=[.?!]) ", text) if len(s.split()) > LONGEST_SENTENCE]


def test_a_sentence_of_28_words_is_found() -> None:
    assert long_ones(" ".join(["word"] * 28) + ". Short.") == [" ".join(["word"] * 28) + "."]
    assert not long_ones(" ".join(["word"] * 27) + ". Short.")


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_no_sentence_is_too_long_to_be_read_at_the_bench(path: Path) -> None:
    found = list(texts(tomllib.loads(path.read_text(encoding="utf-8"))))
    assert len(found) > 3
    assert {where: long for where, text in found if (long := long_ones(text))} == {}
