"""The chain: every part the current passes from the cells to the motor, with rating, drop and heat."""

from __future__ import annotations

from dataclasses import dataclass

from buildtrack import units
from buildtrack.physics import chain as physics
from buildtrack.physics.chain import Chain, Currents, Element, Link
from buildtrack.workings.wire_runs import JointReport, RunReport, StripReport


@dataclass(frozen=True, slots=True)
class ChainReport:
    """The chain at rms, peak and stall current."""

    chain: Chain
    currents: Currents
    gain: str
    """What to change to gain most."""

    @property
    def governing(self) -> str:
        """The rated part with the least headroom; empty when no part has a rating."""
        return self.chain.governing or ""

    @property
    def headroom(self) -> float | None:
        """Rating of that part over the lasting current."""
        return self.chain.headroom

    @property
    def summary(self) -> str:
        """The whole in one line."""
        governs = (f"least headroom: {self.chain.governing}, {self.chain.headroom:.2f} × the lasting current"
                   if self.chain.governing and self.chain.headroom else "no part has a rating")
        return f"{governs}; {units.show(self.chain.total_ohm, 'mΩ')} in all; {self.gain}"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("part", "resistance", "rating", "drop rms", "drop peak", "drop stall", "heat rms", "headroom")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per part, and the whole."""
        c = self.chain
        last = ("whole path", units.show(c.total_ohm, "mΩ", digits=3), "", _volts(c.drop_rms_v), _volts(c.drop_peak_v),
                _volts(c.drop_stall_v), units.show(c.heat_w, "W", digits=3), "")
        return (*(_line(link, c.governing) for link in c.links), last)


def _volts(value: float | None) -> str:
    return "-" if value is None else units.show(value, "mV" if abs(value) < 1 else "V", digits=3)


def _line(link: Link, governing: str | None) -> tuple[str, ...]:
    headroom = "not rated" if link.headroom is None else f"{link.headroom:.2f} ×"
    rating = "-" if link.rating_a is None else units.show(link.rating_a, "A", digits=3)
    last = headroom + (" governs" if link.name == governing else "")
    if not link.resistance_ohm:
        return (link.name, "not known", rating, "-", "-", "-", "-", last)
    return (link.name, units.show(link.resistance_ohm, "mΩ", digits=3), rating, _volts(link.drop_rms_v),
            _volts(link.drop_peak_v), _volts(link.drop_stall_v), units.show(link.heat_w, "W", digits=3), last)


def _elements(pack_resistance: float, pack_allowance: float | None, run_report: RunReport,
              strip_report: StripReport | None, joint_report: JointReport | None, fuse_path_resistance: float | None,
              fuse_rating: float | None, fuse_share: float, board_resistance: float | None,
              board_continuous: float | None, switch_rating: float | None, connector_rating: float | None,
              ) -> list[Element]:
    found = [Element("cells", pack_resistance, pack_allowance)]
    if strip_report is not None:
        weakest = min(s.allowed_a for s in strip_report.strips)
        found.append(Element("strips", strip_report.total_ohm, weakest))
    found += [Element(f"run {r.id} {r.name}".strip(), r.resistance_ohm, r.allowed_a) for r in run_report.runs]
    if joint_report is not None:
        found.append(Element("joints", joint_report.total_ohm, None))
    if fuse_rating is not None or fuse_path_resistance:
        rated = None if fuse_rating is None else fuse_rating * fuse_share
        found.append(Element("fuse, derated", fuse_path_resistance or 0.0, rated))
    if board_resistance is not None or board_continuous is not None:
        found.append(Element("board", board_resistance or 0.0, board_continuous))
    if switch_rating is not None:
        found.append(Element("switch", 0.0, switch_rating))
    if connector_rating is not None:
        found.append(Element("connector", 0.0, connector_rating))
    return found


def chain(pack_resistance: float, run_report: RunReport, duty_mean_current: float, duty_rms_current: float,
          duty_peak_current: float, fuse_share: float, pack_allowance: float | None = None,
          stall_current: float | None = None, strip_report: StripReport | None = None,
          joint_report: JointReport | None = None, fuse_path_resistance: float | None = None,
          fuse_rating: float | None = None, board_resistance: float | None = None,
          board_continuous: float | None = None, switch_rating: float | None = None,
          connector_rating: float | None = None, lasting_current: float | None = None) -> ChainReport:
    """Drop and heat of every part at rms, peak and stall; the part with the least rating over the lasting current
    governs.
    """
    elements = _elements(pack_resistance, pack_allowance, run_report, strip_report, joint_report,
                         fuse_path_resistance, fuse_rating, fuse_share, board_resistance, board_continuous,
                         switch_rating, connector_rating)
    currents = Currents(duty_mean_current, duty_rms_current, duty_peak_current, stall_current, lasting_current)
    found = physics.chain(elements, currents)
    return ChainReport(found, currents, _gain(found, currents))


def _gain(found: Chain, currents: Currents) -> str:
    """The change with the greatest effect: the largest loss, and the largest outside the cells where it matters."""
    largest = max(found.links, key=lambda link: link.resistance_ohm)
    share = largest.resistance_ohm / found.total_ohm if found.total_ohm > 0 else 0.0
    said = f"largest loss: {largest.name}, {share * 100:.0f} %"
    others = [link for link in found.links if link.name != "cells" and link.resistance_ohm > 0]
    if not others:
        return said
    part = max(others, key=lambda link: link.resistance_ohm)
    saved = part.resistance_ohm / 2
    current = currents.stall_a if currents.stall_a is not None else currents.peak_a
    when = "stall" if currents.stall_a is not None else "peak"
    gain = f"halving {part.name} saves {units.show(saved, 'mΩ', digits=2)}, {_volts(saved * current)} at {when}"
    return f"{said}; {gain}"
