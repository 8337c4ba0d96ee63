"""A reader with nothing but the page can do the workings again: printed numbers, worked out by other code, give the result."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime

import pytest

from buildtrack.judging import Judged, judge
from buildtrack.record.content import gather
from buildtrack.record.pages import WorkingBlock
from buildtrack.record.redoing import guarded
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from tests.redo import plain, shown, worked_out

SAMPLES = ("garden-screwdriver-cleared", "stick-vacuum-cleared", "drill-not-cleared", "shed-light-cleared")
AT = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def judged_of(name: str) -> Judged:
    path = shipped_samples() / f"{name}.toml"
    build = read_build(path).build
    return judge(build, find_checklist(build.checklist.id), path.parent, AT)


@pytest.fixture(scope="module")
def cleared() -> Judged:
    return judged_of(SAMPLES[0])


def blocks(judged: Judged) -> list[tuple[int, WorkingBlock]]:
    """Every printed working with the number of its step."""
    return [(s.number, w) for s in gather(judged, b"x").steps for w in s.workings]


@pytest.mark.parametrize(("name", "least"), [*((n, 35) for n in SAMPLES), ("bottle-light-not-cleared", 35),
                                             ("path-light-cleared", 20), ("grass-shears-in-progress", 12)])
def test_printed_arithmetic_gives_the_printed_result(name: str, least: int) -> None:
    wrong, redone = [], 0
    for _, block in blocks(judged_of(name)):
        result, again = shown(block.shown), worked_out(block.substituted)
        if result is None or again is None:
            continue
        value, step = result
        redone += 1
        # half of the last digit printed, and what the fourth digit of the numbers put in can move it
        if abs(again - value) > 0.51 * step + 3e-4 * abs(value):
            wrong.append((block.id, block.substituted, block.shown, again))
    assert wrong == []
    assert redone >= least


def test_the_reader_works_out_what_is_known_by_other_means() -> None:
    # 12 V / (0.1 Ω + 20 mΩ) = 100 A; sqrt(3² + 4²) = 5; 50 % of 2 Ah
    assert worked_out("12.00 ± 0.05 V / (0.1 Ω + 20.0 ± 0.3 mΩ)") == pytest.approx(100)
    assert worked_out("sqrt(3.0 A² + 4.0 A²)") == pytest.approx(5)
    assert worked_out("50 % × 2000 mAh") == pytest.approx(1.0)
    assert worked_out("Candidate cells = table of 12 rows") is None
    assert shown("12.50 ± 0.10 mV") == pytest.approx((0.0125, 1e-5))


def test_a_table_of_another_step_is_named_with_its_number(cleared: Judged) -> None:
    named = {w.id: plain(w.substituted) for _, w in blocks(cleared)}
    step = {s.id: n for n, s in enumerate(cleared.checklist.steps, 1)}
    assert f"Every group [step {step['cells']}] = " in named["forecast_groups"]
    assert "[step" not in named["smallest_group_capacity"], "its table stands on the same pages"


def test_every_table_that_is_named_is_printed(cleared: Judged) -> None:
    pages = gather(cleared, b"x")
    titles = {s.number: {g.title.removesuffix(", continued") for g in s.grids} | {w.label for w in s.workings if w.grid}
              for s in pages.steps}
    named = [(w.id, label.strip(), int(number)) for _, w in blocks(cleared)
             for label, number in re.findall(r"(?:^|, )([^=\[]+) \[step (\d)\] = ", plain(w.substituted))]
    assert len(named) > 20
    assert [n for n in named if not any(n[1].endswith(t) for t in titles[n[2]])] == []


def test_numbers_put_in_have_a_digit_to_spare() -> None:
    assert guarded("19.7 ± 1.0 Wh", "19.68 Wh") == "19.68 ± 1.0 Wh"
    assert guarded("12.447 ± 0.092 V", "12.45 V") == "12.447 ± 0.092 V"
    assert guarded("0.9 ± 0.2 Ah", "900.0 mAh") == "0.9 ± 0.2 Ah", "never another unit"
    assert guarded("12.60 V", "12.60 V") == "12.60 V"


def test_amounts_are_in_the_currency_of_the_build(cleared: Judged) -> None:
    texts = " ".join(plain(w.substituted + w.shown) for _, w in blocks(cleared))
    assert "39 EUR" in texts and not re.search(r"\d money", texts)


def test_what_a_formula_names_and_nobody_entered_is_said(cleared: Judged) -> None:
    found = next(w for _, w in blocks(cleared) if w.id == "start_inrush")
    assert "start resistor" in found.substituted and "left out, not entered: start resistor" in found.note


def test_the_energy_on_paper_can_be_done_again_from_the_table_of_the_groups(cleared: Judged) -> None:
    found = {w.id: w for _, w in blocks(cleared)}
    grid = found["group_report"].grid
    assert grid is not None
    printed = [plain(row[grid.head.index("printed")]) for row in grid.rows]
    # every cell of the sample is printed 2200 mAh, two stand side by side
    assert printed == ["4400 mAh"] * 3
    assert worked_out(f"{found['pack_nominal_voltage'].shown} × {printed[0]}") == pytest.approx(10.8 * 4.4)
    assert plain(found["claimed_energy"].shown) == "47.5 Wh"


def test_what_was_read_from_a_file_and_what_was_chosen_is_said_in_words(cleared: Judged) -> None:
    put_in = {w.id: plain(w.substituted) for _, w in blocks(cleared)}
    assert put_in["log_summary"].startswith("Log of the discharge test, as read from the file = ")
    assert put_in["own_curve"].startswith("Slow discharge log of one cell, as read from the file = ")
    assert "How the winding is measured = Small current from a supply, volts at the motor" in put_in["locked_rotor_resistance"]
    assert not any("data =" in text for text in put_in.values())


def test_a_limit_is_put_in_without_zeros_at_its_end(cleared: Judged) -> None:
    found = next(w for _, w in blocks(cleared) if w.id == "next_recheck")
    assert "First re-check after = 7 d, Second re-check after = 1 month" in plain(found.substituted)


def test_a_run_of_wire_can_be_done_again_from_its_line(cleared: Judged) -> None:
    found = next(w for _, w in blocks(cleared) if w.id == "run_report")
    assert found.grid is not None
    line = dict(zip(found.grid.head, (plain(c) for c in found.grid.rows[0]), strict=True))
    printed = re.match(r"([\d.]+) Ω/km at 20 °C, .*: ([\d.]+) A, at 40 °C: × ([\d.]+)", line["by"])
    assert printed is not None, line["by"]
    per_km, table, warm = (float(n) for n in printed.groups())
    # copper: 0.00393 a kelvin (IEC 60028), the warmest place is 40 °C; 60 mm of one wire
    result, step = shown(line["resistance"]) or (0.0, 0.0)
    assert (line["length"], line["wires"]) == ("60.0 mm", "1")
    assert abs(per_km / 1000 * 0.060 * (1 + 0.00393 * 20) - result) < step
    assert warm == 0.87, "IEC 60364-5-52, Table B.52.14, PVC"
    assert line["may carry"] == f"{table * math.sqrt(30 / 40):.1f} A"
