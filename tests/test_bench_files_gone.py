"""A file that is attached and goes away, or comes back, while the build is open: the verdict follows without an edit."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from buildtrack.bench.outside import EVERY
from tests.bench_walk import NOW, Clock, Walk, walk
from tests.test_bench_attach_again import attach_by_key, logs, own_state
from tests.test_bench_live import CHECKLIST, before_the_test

__all__ = ["own_state"]


def missing(w: Walk) -> bool:
    """Whether the judgement knows that the log is not there."""
    assert w.app.desk is not None
    return any("first.csv" in r.message and r.outcome == "fail" for r in w.app.desk.judged.assessment.results)


def test_the_review_judges_the_files_as_they_are_when_it_is_opened(tmp_path: Path) -> None:
    logs(tmp_path)

    async def steps(w: Walk) -> None:
        await attach_by_key(w, "first.csv")
        assert not missing(w)
        (tmp_path / "first.csv").rename(tmp_path / "away.csv")
        await w.press("f5")
        assert missing(w), "the clock stands: no time has passed since the last judgement"
        await w.press("f7")
        (tmp_path / "away.csv").rename(tmp_path / "first.csv")
        await w.press("f5")
        assert not missing(w)

    walk(steps, before_the_test(), CHECKLIST, path=tmp_path / "build.toml")


def test_a_file_that_goes_while_the_review_is_read_is_noticed_by_the_look_outside(tmp_path: Path) -> None:
    logs(tmp_path)
    clock = Clock()

    async def steps(w: Walk) -> None:
        await attach_by_key(w, "first.csv")
        await w.press("f5")
        (tmp_path / "first.csv").rename(tmp_path / "away.csv")
        clock.now = NOW + EVERY + timedelta(seconds=1)
        w.app.outside.tick()
        await w.settle()
        assert missing(w)
        (tmp_path / "away.csv").rename(tmp_path / "first.csv")
        clock.now += EVERY
        w.app.outside.tick()
        await w.settle()
        assert not missing(w)

    walk(steps, before_the_test(), CHECKLIST, path=tmp_path / "build.toml", clock=clock)
