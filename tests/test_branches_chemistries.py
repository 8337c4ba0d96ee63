"""A person's own chemistries of any content are taken or refused in one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack.physics.chemistries import FILE, LARGEST, chemistries
from tests.test_checklists_chemistry import OWN


@pytest.mark.parametrize(("data", "says"), [
    ("x = " + "[" * 5_000, "cannot be read"), ("x = " + "9" * 5_000, "cannot be read"),
    (b"\xff\xfe", "cannot be read"), (b"#" * (LARGEST + 1), f"more than {LARGEST} bytes"),
    (OWN.replace("chemistries.lemon", "chemistries.Lemon"), "an id is written in lower-case letters"),
    ('[chemistries.lemon]\nlabel = "a"\ncurve = "b"\nlimits = 3\n', "'limits' holds a table for each limit"),
    ('[chemistries.lemon]\nlabel = "a"\ncurve = "b"\ncharge_zones = 3\n[chemistries.lemon.limits]\n', "a list of tables"),
    ('[chemistries.lemon]\nlabel = "a"\ncurve = "b"\ncharge_zones = [3]\n[chemistries.lemon.limits]\n',
     "each of 'charge_zones' has from, to, rate and voltage")])
def test_whatever_the_file_holds_a_mistake_is_one_line(
        data: str | bytes, says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / FILE).write_bytes(data if isinstance(data, bytes) else data.encode())
    monkeypatch.setenv("BUILDTRACK_CONFIG", str(tmp_path))
    with pytest.raises(ValueError, match=says) as refused:
        chemistries()
    assert FILE in str(refused.value) and "\n" not in str(refused.value)
    assert len(str(refused.value)) < 500
