"""What a new build takes over from each sample as answered, by name: design and recipe, nothing done or seen there."""

from __future__ import annotations

import pytest

from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from buildtrack.storage.template import DONE_THERE, start_from
from tests.bench_walk import NOW

DESIGN = {"tool", "tool_kind", "record_detail", "charger_control", "current_limiter", "tool_electronics", "series_count",
          "cell_support", "fuse_family", "fuse_voltage", "fuse_position", "board_series", "board_port", "balance_access",
          "alarm_scope", "alarm_resolution", "alarm_feed", "stranding", "connector_rating", "charger_kind"}
"""What the pack is made of, and how the tool is made."""
RECIPE = {"welder_setting", "alarm_meaning", "test_point", "test_load", "test_current"}
"""How it is done."""
TABLES = {"conductors", "strips", "costs", "series_resistors"}
"""Lists of parts; readings in them are not carried, nor are the meters of whoever built the past one."""


@pytest.mark.parametrize("sample", sorted(p.stem for p in shipped_samples().glob("*.toml")))
def test_only_design_and_recipe_of_a_sample_are_taken_over_as_answered(sample: str) -> None:
    past = read_build(shipped_samples() / f"{sample}.toml").build
    begun = start_from(past, "ab" * 32, find_checklist(past.checklist.id), "next", NOW, "b2")
    answered = {name for name, entry in begun.entries.items() if entry.readings}
    assert answered - DESIGN - RECIPE == set()
    assert {name for name, entry in begun.entries.items() if any(r.cells for r in entry.rows)} - TABLES == set()
    for name in DONE_THERE & set(past.entries):
        if past.entry(name).standing:
            assert begun.entry(name).readings == () and begun.entry(name).expected == past.entry(name).standing[-1].text
