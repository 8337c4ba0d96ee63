"""What the cells may be charged with at the temperature they had: rate and voltage by zones of temperature."""

from __future__ import annotations

from dataclasses import dataclass

from buildtrack import units
from buildtrack.physics.chemistries import Chemistry, chemistry
from buildtrack.workings.cells_curve import ASSUMED
from buildtrack.workings.cells_report import CellReport


@dataclass(frozen=True, slots=True)
class Zone:
    """The zone of temperature the charge began in."""

    temperature_degc: float
    chemistry: str
    span: str
    """From and to, as published; empty outside every zone."""
    rate_per_h: float
    """Highest charge rate [1/h]; 0 outside every zone."""
    volts_v: float
    """Highest voltage of a cell; 0 outside every zone."""
    source: str

    @property
    def summary(self) -> str:
        """The whole in one line."""
        at = units.show(self.temperature_degc, "°C", digits=3)
        if not self.span:
            return f"at {at} no charge ({self.chemistry})"
        return (f"at {at} ({self.span}) at most {units.show(self.rate_per_h, 'C', digits=2)} and "
                f"{units.show(self.volts_v, 'V', digits=3)} ({self.chemistry})")

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("what", "says")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """The zone and where it is from."""
        return (("zone", self.span or "outside every zone"), ("source", self.source))


def charge_zone(charge_temperature: float, cell_report: CellReport) -> Zone | None:
    """The zone of the kept cells' chemistry at the temperature the charge began at; None where none is published.

    Where two zones meet, the gentler one counts. Kept cells of several chemistries are judged by the first.
    """
    kept = cell_report.kept
    kind = chemistry(kept[0].chemistry if kept else "") or chemistry(ASSUMED)
    if kind is None or not kind.charge_zones:
        return None
    return _zone(kind, charge_temperature)


def _zone(kind: Chemistry, degc: float) -> Zone:
    source = kind.sources.get("charge_zones_from", "")
    inside = []
    for zone in kind.charge_zones:
        low, high = (units.parse(text, "temperature", "°C").value for text in (zone.low, zone.high))
        if low <= degc <= high:
            rate = units.parse(zone.rate, "c_rate", "C").value
            volts = units.parse(zone.voltage, "voltage", "V").value
            inside.append(Zone(degc, kind.label, f"{zone.low} to {zone.high}", rate, volts, source))
    if not inside:
        return Zone(degc, kind.label, "", 0.0, 0.0, source)
    return min(inside, key=lambda z: (z.rate_per_h, z.volts_v))
