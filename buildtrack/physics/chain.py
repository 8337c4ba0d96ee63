"""The chain: every part the pack's current passes, with its loss, its headroom, and the part that governs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple


class Element(NamedTuple):
    """One part in the current path; a rating of None means that nothing is known about it."""

    name: str
    resistance_ohm: float
    rating_a: float | None


@dataclass(frozen=True, slots=True)
class Currents:
    """The currents the chain carries; a stall current of None was not measured.

    The lasting current is what a part has to carry for long: that of the longest run where it is more than the rms.
    """

    mean_a: float
    rms_a: float
    peak_a: float
    stall_a: float | None = None
    lasting_a: float | None = None

    @property
    def heating_a(self) -> float:
        """Current a rating is held against [A]."""
        return self.rms_a if self.lasting_a is None else max(self.rms_a, self.lasting_a)


@dataclass(frozen=True, slots=True)
class Link:
    """What the currents do to one part."""

    name: str
    resistance_ohm: float
    rating_a: float | None
    drop_mean_v: float
    drop_rms_v: float
    drop_peak_v: float
    drop_stall_v: float | None
    heat_w: float
    """Lasting heat, from the root-mean-square current."""
    heat_peak_w: float
    heat_stall_w: float | None
    headroom: float | None
    """Rating over lasting current (rms, or that of the longest run): below 1 too weak; None without a rating."""


@dataclass(frozen=True, slots=True)
class Chain:
    """The whole path."""

    links: tuple[Link, ...]
    total_ohm: float
    drop_rms_v: float
    drop_peak_v: float
    drop_stall_v: float | None
    heat_w: float
    governing: str | None
    """Name of the rated part with the least headroom; None when no part has a rating."""
    headroom: float | None
    biggest_loss: str
    unrated: tuple[str, ...]


def chain(elements: Sequence[Element], currents: Currents) -> Chain:
    """Drop and heat of every part in a series path, and which part governs.

    V = I * R; P = I_rms ** 2 * R; headroom = rating / max(I_rms, I_lasting); the least headroom governs
    Units: ohm, A, V, W. Range: at least one part, no negative resistance or current, ratings above 0.
    Source: openstax-university-physics (sections 9.5 and 10.2).
    """
    if not elements:
        raise ValueError("The chain has no parts; at least one is needed.")
    _require_currents(currents)
    links = tuple(_link(element, currents) for element in elements)
    rated = [link for link in links if link.headroom is not None]
    weakest = min(rated, key=lambda link: link.headroom or 0.0) if rated else None
    stalls = [link.drop_stall_v for link in links if link.drop_stall_v is not None]
    return Chain(
        links=links,
        total_ohm=math.fsum(link.resistance_ohm for link in links),
        drop_rms_v=math.fsum(link.drop_rms_v for link in links),
        drop_peak_v=math.fsum(link.drop_peak_v for link in links),
        drop_stall_v=math.fsum(stalls) if stalls else None,
        heat_w=math.fsum(link.heat_w for link in links),
        governing=weakest.name if weakest else None,
        headroom=weakest.headroom if weakest else None,
        biggest_loss=max(links, key=lambda link: link.resistance_ohm).name,
        unrated=tuple(link.name for link in links if link.rating_a is None),
    )


def _require_currents(currents: Currents) -> None:
    given = (currents.mean_a, currents.rms_a, currents.peak_a, currents.stall_a or 0.0, currents.lasting_a or 0.0)
    if min(given) < 0:
        raise ValueError(f"A current of {min(given):g} A is not allowed: currents must not be negative.")
    if not currents.rms_a > 0:
        raise ValueError("The root-mean-square current is 0 A; it must be above 0 A.")


def _link(element: Element, currents: Currents) -> Link:
    name, resistance_ohm, rating_a = element
    if resistance_ohm < 0:
        raise ValueError(f"{name} has {resistance_ohm:g} ohm; a resistance must not be negative.")
    if rating_a is not None and not rating_a > 0:
        raise ValueError(f"{name} is rated {rating_a:g} A; a rating must be above 0 A.")
    stall_a = currents.stall_a
    return Link(
        name=name,
        resistance_ohm=resistance_ohm,
        rating_a=rating_a,
        drop_mean_v=currents.mean_a * resistance_ohm,
        drop_rms_v=currents.rms_a * resistance_ohm,
        drop_peak_v=currents.peak_a * resistance_ohm,
        drop_stall_v=None if stall_a is None else stall_a * resistance_ohm,
        heat_w=currents.rms_a**2 * resistance_ohm,
        heat_peak_w=currents.peak_a**2 * resistance_ohm,
        heat_stall_w=None if stall_a is None else stall_a**2 * resistance_ohm,
        headroom=None if rating_a is None else rating_a / currents.heating_a,
    )
