"""Rate and voltage allowed at the temperature a charge began at: the published zones of each chemistry."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from buildtrack.workings.charge_zone import Zone, charge_zone
from tests import back, front


def zone(degc: float, chemistry: str = "nmc") -> Zone:
    report = front.value("cell_report")
    cells = tuple(replace(c, chemistry=chemistry) for c in report.cells)
    found = charge_zone(degc, replace(report, cells=cells))
    assert found is not None
    return found


@pytest.mark.parametrize(("chemistry", "degc", "rate", "volts"), [
    # JEITA zones as summarised by a charger maker (e2e.ti.com)
    ("nmc", 8.0, 0.5, 4.20), ("nmc", 25.0, 1.0, 4.20), ("nmc", 47.0, 1.0, 4.15), ("nmc", 55.0, 1.0, 4.10),
    # a maker's guideline for LiFePO4 cells (atoallinks.com) and a small cell's sheet (sunlandpower.com)
    ("lfp", 8.0, 0.2, 3.65), ("lfp", 25.0, 0.5, 3.65),
    # where two zones meet the gentler one counts
    ("nmc", 10.0, 0.5, 4.20), ("nmc", 45.0, 1.0, 4.15),
])
def test_the_zone_says_rate_and_voltage(chemistry: str, degc: float, rate: float, volts: float) -> None:
    found = zone(degc, chemistry)
    assert (found.rate_per_h, found.volts_v) == (rate, volts)
    assert f"at most {rate:g}" in found.summary and found.source


@pytest.mark.parametrize(("chemistry", "degc"), [("nmc", -1.0), ("nmc", 61.0), ("lfp", 46.0)])
def test_outside_every_zone_nothing_is_allowed(chemistry: str, degc: float) -> None:
    found = zone(degc, chemistry)
    assert (found.rate_per_h, found.volts_v) == (0.0, 0.0) and "no charge" in found.summary


def ruling(**changed: Any) -> Any:
    return back.rule("charge-zone", back.made(changed))


def test_a_charge_in_the_room_is_within_its_zone() -> None:
    assert ruling().outcome == "pass"


def test_a_warm_pack_is_charged_to_less() -> None:
    warm = ruling(charge_temperature="47 °C")
    assert warm.outcome == "fail" and "4.15 V" in warm.facts["limit"]
    assert ruling(charge_temperature="47 °C", charge_policy="4.15 V").outcome == "pass"
