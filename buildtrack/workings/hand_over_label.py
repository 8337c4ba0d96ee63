"""The text of the label that goes on the pack."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from buildtrack import units
from buildtrack.physics.transport import label_energy_wh
from buildtrack.workings.values import Table
from buildtrack.workings.wire_chain import ChainReport

BLANK = "__________"
"""Left to be written by hand, where nothing is known."""
LONGEST_ID = 40
"""Letters of a record's name that fit on the label."""


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on the label, line by line."""

    texts: tuple[str, ...]

    @property
    def summary(self) -> str:
        """The whole in one line."""
        return " · ".join(self.texts)

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("label",)

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per line of the label."""
        return tuple((t,) for t in self.texts)


def label_text(series_count: float, parallel_count: float, pack_nominal_voltage: float, charge_voltage_target: float,
               delivered_capacity_tested: float, delivered_energy: float, charger_current: float,
               designation: str = "", pack_allowance: float | None = None, chain: ChainReport | None = None,
               fuse_rating: float | None = None, fuse_family: str = "", next_recheck: str = "",
               groups: Table | None = None, tool_kind: str = "", stall_current: float | None = None,
               alarm_scope: str = "", alarm_setting: float | None = None, joined_day: float | None = None,
               record_id: str = "", recheck_after: float | None = None) -> Label:
    """What the next person must know, from measured values only: the capacity and energy of the test, not the print.

    The date is that on which the last group was joined, or on which that was ticked. Only what has a motor can be
    stalled. recheck_after: s, told where the day of the first re-check is not known yet.
    """
    name = f"{designation}, " if designation else ""
    texts = [
        f"Li-ion pack {name}{series_count:.0f}S{parallel_count:.0f}P, home-built, not certified",
        f"{pack_nominal_voltage:.1f} V nominal, {charge_voltage_target:.2f} V at most",
        f"{units.show(delivered_capacity_tested, 'Ah', digits=3)}, {label_energy_wh(delivered_energy)} Wh, "
        "as measured",
    ]
    lasting = _lasting_a(pack_allowance, chain)
    if lasting is not None:
        motor = stall_current is not None or tool_kind not in ("", "light")
        texts.append(f"{_floored(lasting):g} A lasting at most" + ("; do not stall" if motor else ""))
    texts.append(f"Charge only with its own lithium charger: {charge_voltage_target:.2f} V, {charger_current:.2g} A")
    if fuse_rating is not None and fuse_family not in ("", "none"):
        texts.append(f"Fuse: {fuse_rating:g} A {fuse_family}")
    if alarm_setting is not None and alarm_scope not in ("", "none"):
        texts.append(f"The alarm sounds at {alarm_setting:.2f} V per group: stop, then charge")
    texts.append(f"Built: {_joined(groups, joined_day)}." + _recheck(next_recheck, recheck_after))
    texts.append(f"Record: {units.clip(record_id, LONGEST_ID) if record_id else BLANK}")
    return Label(tuple(texts))


def _joined(groups: Table | None, ticked: float | None) -> str:
    days = (groups.numbers("joined_on") if groups is not None else ()) or ((ticked,) if ticked is not None else ())
    return date.fromordinal(int(max(days))).isoformat() if days else BLANK


def _recheck(on: str, after_s: float | None) -> str:
    if on:
        return f" Re-check: {on}."
    return f" Re-check: {units.show(after_s, 'd', digits=2)} after it goes into use." if after_s is not None else ""


def _floored(value: float) -> float:
    """Two digits, rounded down: a label never promises more than the weakest part carries."""
    step = 10.0 ** (math.floor(math.log10(value)) - 1) if value > 0 else 1.0
    return round(math.floor(value / step + 1e-9) * step, 6)


def _lasting_a(pack_allowance: float | None, chain: ChainReport | None) -> float | None:
    """Lasting current: what the weakest rated part of the chain carries, else what the cells do."""
    if chain is not None and chain.headroom is not None:
        return chain.headroom * chain.currents.heating_a
    return pack_allowance
