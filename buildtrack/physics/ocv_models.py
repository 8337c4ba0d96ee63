"""Published formulas for open-circuit voltage and series resistance over state of charge."""

from __future__ import annotations

from math import exp, tanh

CHEN_2020_FULL = (0.910618, 0.263845)
"""Negative and positive stoichiometry of the 4.2 V cell, from the packaged parameter set."""
CHEN_2020_EMPTY = (0.026346, 0.853975)
"""The same at 2.5 V."""


def _share(soc: float) -> float:
    if not 0.0 <= soc <= 1.0:
        raise ValueError(f"state of charge {soc:.4g}; between 0 (empty) and 1 (full) is needed")
    return soc


def polymer_cell_voltage_v(soc: float) -> float:
    """Open-circuit voltage of an 850 mAh polymer cell [V].

    U = -1.031 exp(-35 s) + 3.685 + 0.2156 s - 0.1178 s^2 + 0.3201 s^3. Range: s 0.01 to 1; full is 4.103 V.
    Source: chen-rincon-mora-2006.
    """
    s = _share(soc)
    return -1.031 * exp(-35 * s) + 3.685 + 0.2156 * s - 0.1178 * s**2 + 0.3201 * s**3


def polymer_cell_resistance_ohm(soc: float) -> float:
    """Series resistance of the same 850 mAh polymer cell: R = 0.1562 exp(-24.37 s) + 0.07446 [ohm].

    Range: s 0.01 to 1. Source: chen-rincon-mora-2006.
    """
    return 0.1562 * exp(-24.37 * _share(soc)) + 0.07446


def graphite_silicon_potential_v(stoichiometry: float) -> float:
    """Open-circuit potential of a graphite-SiOx electrode against lithium [V].

    U = 1.9793 exp(-39.3631 x) + 0.2482 - 0.0909 tanh(29.8538 (x - 0.1234)) - 0.04478 tanh(14.9159 (x - 0.2769))
    - 0.0205 tanh(30.4444 (x - 0.6103)). Range: x 0.02 to 0.95. Source: chen-2020.
    """
    x = stoichiometry
    return (
        1.9793 * exp(-39.3631 * x)
        + 0.2482
        - 0.0909 * tanh(29.8538 * (x - 0.1234))
        - 0.04478 * tanh(14.9159 * (x - 0.2769))
        - 0.0205 * tanh(30.4444 * (x - 0.6103))
    )


def nickel_rich_potential_v(stoichiometry: float) -> float:
    """Open-circuit potential of an NMC811 electrode against lithium [V].

    U = -0.8090 y + 4.4875 - 0.0428 tanh(18.5138 (y - 0.5542)) - 17.7326 tanh(15.7890 (y - 0.3117))
    + 17.5842 tanh(15.9308 (y - 0.3120)). Range: y 0.25 to 0.95. Source: chen-2020.
    """
    y = stoichiometry
    return (
        -0.8090 * y
        + 4.4875
        - 0.0428 * tanh(18.5138 * (y - 0.5542))
        - 17.7326 * tanh(15.7890 * (y - 0.3117))
        + 17.5842 * tanh(15.9308 * (y - 0.3120))
    )


def nickel_rich_cell_voltage_v(soc: float) -> float:
    """Open-circuit voltage of a 5 Ah 21700 cell, graphite-SiOx against NMC811 [V].

    U = U_p(y0 - s (y0 - y100)) - U_n(x0 + s (x100 - x0)), 2.5 V at s = 0 and 4.2 V at s = 1. Source: chen-2020.
    """
    s = _share(soc)
    (x0, y0), (x1, y1) = CHEN_2020_EMPTY, CHEN_2020_FULL
    return nickel_rich_potential_v(y0 - s * (y0 - y1)) - graphite_silicon_potential_v(x0 + s * (x1 - x0))
