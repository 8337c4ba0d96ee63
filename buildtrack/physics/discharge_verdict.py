"""Forecast beside the test: do they agree, and if not, what the difference points to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.physics.discharge import DischargeResult
from buildtrack.physics.forecast import Forecast

HIGH_RESISTANCE = 1.3
"""Measured above assumed resistance by this factor counts as high; common practice, no source."""

WEAK_GROUP_V = 0.20
"""End spread beyond the forecast's by this counts as one weak group; common practice, no source."""

GAP_SHARE = 0.02


@dataclass(frozen=True, slots=True)
class Verdict:
    """Kind (agrees, capacity short, one group weak, resistance high, log suspicious), difference and a sentence."""

    kind: str
    difference_share: float
    sentence: str


def compare(
    forecast: Forecast,
    measured: DischargeResult,
    *,
    assumed_resistance_ohm: Sequence[float] = (),
    gap_share: float = 0.0,
    capacity_uncertainty: float = 0.02,
    suspect: str = "",
) -> Verdict:
    """Compare delivered charge, (measured - forecast) / forecast, with the forecast's band and the uncertainties.

    The band reaches below the forecast only, since the model errs on the hopeful side; `capacity_uncertainty` is the
    share by which the capacities put in are known. `suspect` says what speaks against the log itself; a difference then
    points to it before it points to the pack. Source: own rules.
    """
    difference = measured.charge.value / forecast.delivered_ah - 1
    slack = measured.charge.uncertainty / forecast.delivered_ah + capacity_uncertainty
    lowest = forecast.band_ah[0] / forecast.delivered_ah - 1 - slack
    words = (
        f"measured {measured.charge.value:.3g} Ah, forecast {forecast.delivered_ah:.3g} Ah ({100 * difference:+.1f} %)"
    )
    if gap_share > GAP_SHARE:
        return Verdict(
            "log suspicious", difference, f"{words}: {100 * gap_share:.0f} % of the charge lies in gaps of the log"
        )
    if difference > slack:
        return Verdict(
            "log suspicious", difference, f"{words}: more than was there; check meter, mapping and capacities"
        )
    if difference >= lowest:
        return Verdict(
            "agrees", difference, f"{words}: within {100 * -lowest:.1f} % below and {100 * slack:.1f} % above"
        )
    if suspect:
        return Verdict("log suspicious", difference, f"{words}: {suspect}")
    return _shortfall(forecast, measured, assumed_resistance_ohm, difference, words)


def _shortfall(
    forecast: Forecast, measured: DischargeResult, assumed_ohm: Sequence[float], difference: float, words: str
) -> Verdict:
    high = [
        g
        for g, (found, assumed) in enumerate(zip(measured.group_resistance, assumed_ohm, strict=False))
        if found is not None and assumed > 0 and found.resistance_ohm > HIGH_RESISTANCE * assumed
    ]
    weak = _weak_group(forecast, measured)
    if weak is not None and weak not in high:
        return Verdict("one group weak", difference, f"{words}: group {weak + 1} is empty well before the others")
    if high:
        names = ", ".join(str(g + 1) for g in high)
        return Verdict("resistance high", difference, f"{words}: group {names} drops more under load than assumed")
    sentence = "no group stands out more than forecast; all hold less than measured before"
    return Verdict("capacity short", difference, f"{words}: {sentence}")


def _weak_group(forecast: Forecast, measured: DischargeResult) -> int | None:
    """The group that ends the test while the others stand clearly higher than forecast."""
    if measured.spread_end is None:
        return None
    volts = [state.terminal_v for state in forecast.events[-1].groups]
    expected = max(volts) - min(volts)
    return measured.spread_end.lowest if measured.spread_end.volts > expected + WEAK_GROUP_V else None
