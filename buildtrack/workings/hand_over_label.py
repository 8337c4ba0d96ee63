"""The text of the label that goes on the pack."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from buildtrack import units
from buildtrack.physics.transport import label_energy_wh
from buildtrack.workings.values import Table
from buildtrack.workings.wire_chain import ChainReport

RECORD_LINE = "Record: ____________"
"""Filled in with the build's own number where the label is printed."""


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
               groups: Table | None = None, tool_kind: str = "", stall_current: float | None = None) -> Label:
    """What the next person must know, from measured values only: the capacity and energy of the test, not the print.

    The date is that on which the last group was joined. Only what has a motor can be stalled.
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
        texts.append(f"{lasting:.2g} A lasting at most" + ("; do not stall" if motor else ""))
    texts.append(f"Charge only with its own lithium charger: {charge_voltage_target:.2f} V, {charger_current:.2g} A")
    if fuse_rating is not None and fuse_family not in ("", "none"):
        texts.append(f"Fuse: {fuse_rating:g} A {fuse_family}")
    texts.append(f"Built: {_joined(groups)}." + (f" Re-check: {next_recheck}." if next_recheck else ""))
    texts.append(RECORD_LINE)
    return Label(tuple(texts))


def _joined(groups: Table | None) -> str:
    days = groups.numbers("joined_on") if groups is not None else ()
    return date.fromordinal(int(max(days))).isoformat() if days else "__________"


def _lasting_a(pack_allowance: float | None, chain: ChainReport | None) -> float | None:
    """Lasting current: what the weakest rated part of the chain carries, else what the cells do."""
    if chain is not None and chain.headroom is not None:
        return chain.headroom * chain.currents.rms_a
    return pack_allowance
