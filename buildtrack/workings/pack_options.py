"""All series × parallel counts that the kept cells, the tool and the housing allow, and what refuses each."""

from __future__ import annotations

import statistics
from collections import Counter
from dataclasses import dataclass
from functools import lru_cache

from buildtrack import units
from buildtrack.physics import options, sharing
from buildtrack.physics.grouping_limits import Limits
from buildtrack.physics.options import Housing, Lot, Option, Options, Tool
from buildtrack.workings.cells_facts import CellFacts
from buildtrack.workings.cells_report import CellReport
from buildtrack.workings.pack_layout import USUAL_DIAMETER_M, USUAL_LENGTH_M, housing_box

USUAL_MASS_G = 45.0
"""Mass of an 18650 where none was weighed (published cell class: 44 to 46 g)."""
BEYOND = "grouped so, beyond a stop's limits: see the best grouping"
"""Said of an option of which the grouping for capacity alone is none that a stop allows."""
MOST_PARALLEL = 12
"""Options with more cells in parallel are listed only where they are recommended or chosen."""


@dataclass(frozen=True, slots=True)
class PackOptions:
    """The table of options, the recommended one and the chosen one."""

    table: tuple[Option, ...]
    recommended: str
    """Like 3S2P; empty where every option is refused."""
    reason: str
    chosen: str
    cells: int
    """Kept cells of the most frequent kind, which the options are made of."""
    priced: bool
    housed: bool
    beyond: frozenset[str] = frozenset()
    """Options not refused whose grouping, made for capacity alone, is outside the limits of a stop."""

    @property
    def summary(self) -> str:
        """The whole in one line."""
        if not self.recommended:
            return self.reason
        return f"{self.recommended} of {units.counted(self.cells, 'cell')}: {self.reason}"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("option", "full", "nominal", "smallest by capacity", "allowance", "headroom", "energy", "mass", "cost",
                "fit", "refused because")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per option."""
        return tuple(self._line(option) for option in self.table)

    def _line(self, option: Option) -> tuple[str, ...]:
        name = _name(option)
        marks = [word for word, other in (("recommended", self.recommended), ("chosen", self.chosen)) if name == other]
        last = "; ".join(refusal.sentence for refusal in option.refusals) or ", ".join(marks)
        last = "; ".join(filter(None, (last, BEYOND if name in self.beyond else ""))) or "nothing"
        return (
            name, units.show(option.full_v, "V", digits=3), units.show(option.nominal_v, "V", digits=3),
            units.show(option.smallest_group_ah, "mAh"), units.show(option.allowance_a, "A", digits=3),
            f"{option.headroom:.2f} ×", units.show(option.energy_wh, "Wh", digits=3),
            units.show(option.mass_g, "g", digits=3), f"{option.cost:.2f}" if self.priced else "-",
            f"{option.cells} of {option.places}" if self.housed else "-", last)


def _name(option: Option) -> str:
    return f"{option.series}S{option.parallel}P"


def _usual(cells: list[CellFacts]) -> list[CellFacts]:
    """The cells of the most frequent kind: kinds are never mixed."""
    kinds = Counter(c.chemistry if c.identified else "unknown" for c in cells)
    if not kinds:
        return []
    kind = kinds.most_common(1)[0][0]
    return [c for c in cells if (c.chemistry if c.identified else "unknown") == kind]


def _lot(cells: list[CellFacts], full_v: float, nominal_v: float, empty_v: float, diameter_m: float,
         length_m: float) -> Lot:
    masses = [c.mass_g for c in cells if c.mass_g is not None]
    prices = [c.price for c in cells if c.price is not None]
    ohms = tuple(c.resistance_ohm for c in cells if c.resistance_ohm is not None)
    return Lot(
        tuple(c.capacity_ah or 0.0 for c in cells), tuple(c.allowance_a or 0.0 for c in cells),
        ohms if len(ohms) == len(cells) else (), statistics.mean(masses) if masses else USUAL_MASS_G,
        statistics.mean(prices) if prices else 0.0, diameter_m * 1000, length_m * 1000, full_v, nominal_v, empty_v)


@lru_cache(maxsize=32)
def _listed(lot: Lot, tool: Tool, housing: Housing | None) -> Options:
    """The table, remembered: an edit that leaves lot, tool and housing alone does not make it again."""
    return options.list_options(lot, tool, housing)


def pack_options(cell_report: CellReport, old_full_voltage: float, old_empty_voltage: float, duty_rms_current: float,
                 cell_full: float, cell_nominal: float, cell_empty: float, working_peak: float = 0.0,
                 housing_length: float | None = None, housing_width: float | None = None,
                 housing_height: float | None = None, cell_diameter: float = USUAL_DIAMETER_M,
                 cell_length: float = USUAL_LENGTH_M, series_count: float | None = None,
                 parallel_count: float | None = None, load_share_max: float | None = None) -> PackOptions | None:
    """Every S × P of the kept cells with voltage window, allowance, energy, mass, cost and fit.

    Each is grouped for capacity alone, which takes no search worth the name; where such groups are outside the limits
    of a stop, that is said: `best_grouping` searches within them, for the counts that are chosen.
    """
    cells = _usual([c for c in cell_report.kept if c.capacity_ah and c.allowance_a])
    if not cells:
        return None
    housing = None
    if housing_length and housing_width and housing_height:
        housing = Housing(housing_box(housing_length, housing_width, housing_height))
    lot = _lot(cells, cell_full, cell_nominal, cell_empty, cell_diameter, cell_length)
    found = _listed(lot, Tool(old_full_voltage, old_empty_voltage, duty_rms_current, working_peak), housing)
    chosen = f"{series_count:.0f}S{parallel_count:.0f}P" if series_count and parallel_count else ""
    recommended = _name(found.recommended) if found.recommended else ""
    table = tuple(o for o in found.table if o.parallel <= MOST_PARALLEL or _name(o) in (recommended, chosen))
    limits = Limits(tuple(c.resistance_ohm for c in cells), tuple(c.allowance_a for c in cells), sharing.FAR_RATIO,
                    duty_rms_current / load_share_max if load_share_max else None)
    beyond = frozenset(_name(o) for o in table if not o.refusals and not all(limits.keeps(group) for group in o.groups))
    return PackOptions(table, recommended, found.reason, chosen, len(cells), any(c.price is not None for c in cells),
                       housing is not None, beyond)
