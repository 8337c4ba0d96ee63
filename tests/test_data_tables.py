"""The reader of the data tables."""

from __future__ import annotations

import pytest

from buildtrack import data


def test_a_table_is_read_once_and_shared() -> None:
    assert data.load("conductors") is data.load("conductors")


@pytest.mark.parametrize("name", ["../secrets", "/etc/passwd", "conductors.toml", "", "a/b/c", "Conductors"])
def test_a_name_that_is_no_table_name_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="is no table name"):
        data.load(name)


def test_a_table_that_does_not_exist_is_answered_with_those_that_do() -> None:
    with pytest.raises(ValueError, match=r"There is no data table 'batteries'; there are ampacity, "):
        data.load("batteries")


def test_a_source_key_used_twice_is_refused() -> None:
    merged = {"gum": {"title": "first"}}
    with pytest.raises(ValueError, match="The source key 'gum' of sources_more.toml is already used"):
        data._merge(merged, {"gum": {"title": "second"}}, "sources_more")
    assert merged == {"gum": {"title": "first"}}
