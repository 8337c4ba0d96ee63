"""What the card points to is there: beside it where the panel has room, else behind the key that shows it."""

from __future__ import annotations

import pytest

from buildtrack.bench.words import pointing
from tests.bench_walk import Walk, main_checklist, new_build, walk
from tests.test_bench_stray_keys import bench

MAIN = main_checklist()
POINTS = [i.id for i in MAIN.all_items() if "beside this" in i.how or "panel" in i.how]


def test_every_word_of_the_checklist_that_points_to_the_panel_is_known() -> None:
    assert len(POINTS) >= 3
    for name in POINTS:
        told = pointing(MAIN.items[name].how, narrow=True)
        assert "F2" in told and "beside this" not in told and "in the panel" not in told, told


@pytest.mark.parametrize(("size", "narrow"), [((80, 24), True), ((120, 40), False)])
def test_the_card_points_to_the_key_where_the_panel_has_no_room(size: tuple[int, int], narrow: bool) -> None:
    async def steps(w: Walk) -> None:
        screen = bench(w)
        screen.jump("alarm_setting")
        await w.settle()
        how = screen.card.says.how
        assert ("behind F2" in how, "beside this line" in how) == (narrow, not narrow)

    walk(steps, new_build(MAIN), MAIN, size=size)
