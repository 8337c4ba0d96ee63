"""The currency of a build: asked once, where the first amount is entered, and changed by a command."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.bench.csv_rows import ROW_NAME, plan, read_csv
from buildtrack.bench.entry import share_out
from buildtrack.bench.pasted_block import share_block
from buildtrack.bench.screens.ask import AskText
from buildtrack.model.edit import EditError, Hand, set_currency
from buildtrack.storage.checklist_file import read_checklist
from tests.bench_walk import NOW, SMALL, Walk, main_checklist, walk
from tests.test_bench_entry import SIZES
from tests.test_bench_guidance import READY
from tests.test_bench_typing_ahead import bench, table, texts

MORE = (
    '[[steps.items]]\nid = "price"\nkind = "reading"\nlabel = "Price"\ndimension = "money"\nunit = "money"\n\n'
    '[[steps.items]]\nid = "costs"\nkind = "table"\nlabel = "Costs"\nrow_prefix = "k"\ncolumns = [\n'
    '{ id = "paid", label = "Paid", kind = "reading", dimension = "money", unit = "money" }]\n\n'
    '[[checks]]\nid = "supply-high"'
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    text = SMALL.read_text(encoding="utf-8").replace('[[checks]]\nid = "supply-high"', MORE, 1)
    (tmp_path / "small.toml").write_text(text, encoding="utf-8")
    return tmp_path / "small.toml"


@SIZES
def test_the_currency_is_asked_with_the_first_amount_and_never_again(path: Path, size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("price")
        await w.settle()
        await w.type("49")
        assert isinstance(w.screen, AskText) and "Which currency are the prices in?" in w.text()
        await w.type("EUR")
        assert (w.build.currency, texts(w, "price")) == ("EUR", ["49"])
        await table(w, "costs")
        await w.press("enter")
        await w.type("12")
        assert [r.text("paid") for r in w.build.entry("costs").rows] == ["12"], "it is not asked again"
        assert "EUR" in w.text()

    walk(steps, READY, read_checklist(path), size=size)


def test_in_a_table_the_amount_is_taken_when_the_currency_was_said_and_also_when_it_was_not(path: Path) -> None:
    async def steps(w: Walk) -> None:
        await table(w, "costs")
        await w.press("enter")
        await w.type("12")
        await w.press("escape")
        assert [r.text("paid") for r in w.build.entry("costs").rows] == ["12"] and w.build.currency == ""
        await w.press("a")
        await w.type("3")
        await w.type("CHF")
        assert [r.text("paid") for r in w.build.entry("costs").rows] == ["12", "3"] and w.build.currency == "CHF"

    walk(steps, READY, read_checklist(path))


def test_a_command_changes_the_currency_and_undo_brings_it_back(path: Path) -> None:
    async def steps(w: Walk) -> None:
        bench(w).action_currency()
        await w.settle()
        await w.press(*["backspace"] * 3)
        await w.type("SEK")
        assert w.build.currency == "SEK" and w.build.history[-1].what == "currency set"
        await w.press("u")
        assert w.build.currency == "EUR"

    walk(steps, replace(READY, currency="EUR"), read_checklist(path))


@pytest.mark.parametrize("text", ["", "  ", "12 EUR", "dollars of 1990"])
def test_a_currency_is_a_short_word_without_digits(text: str) -> None:
    with pytest.raises(EditError, match="like EUR"):
        set_currency(READY, text, Hand(NOW))


def test_amounts_in_another_currency_are_set_apart_when_pasted_and_refused_when_imported(tmp_path: Path) -> None:
    price = main_checklist().items["candidates"].column("price")
    cost = main_checklist().items["new_pack_price"]
    assert price is not None
    pasted = share_block("1.20 EUR\n1.30 USD", ["c01", "c02"], [price], 0, 0, currency="EUR")
    assert [p.text for p in pasted.fields] == ["1.20 EUR"] and "is not in EUR" in pasted.apart[0].note
    assert share_out(["48 USD"], [cost], "EUR").apart[0][2].endswith("type the amount in EUR")
    (tmp_path / "prices.csv").write_text("cell,price\nc01,1.20 EUR\nc02,1.30 $\n", encoding="utf-8")
    planned = plan(read_csv(tmp_path / "prices.csv"), [ROW_NAME, "price"], [price], ["c01", "c02"], "c", "EUR")
    assert any("is not in EUR" in line for line in planned.refused)
