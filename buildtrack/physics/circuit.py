"""Sources, loads and resistances: the plain circuit relations behind the bench measurements."""

from __future__ import annotations

import math
from collections.abc import Sequence

from buildtrack.data import load


def ohms_law_current_a(voltage_v: float, resistance_ohm: float) -> float:
    """Current through a resistance.

    I = V / R
    Units: V, ohm, A. Range: resistance above 0.
    Source: openstax-college-physics (section 20.2).
    """
    _require_above_zero(resistance_ohm)
    return voltage_v / resistance_ohm


def terminal_voltage_v(emf_v: float, current_a: float, resistance_ohm: float) -> float:
    """Voltage at the terminals of a source that delivers a current (negative while it is charged).

    V = E - I * r
    Units: V, A, ohm.
    Source: openstax-university-physics (section 10.1).
    """
    return emf_v - current_a * resistance_ohm


def load_current_a(emf_v: float, source_ohm: float, load_ohm: float) -> float:
    """Current a source drives through a load.

    I = E / (r + R)
    Units: V, ohm, A. Range: the sum of the resistances above 0.
    Source: openstax-university-physics (section 10.1).
    """
    return ohms_law_current_a(emf_v, source_ohm + load_ohm)


def load_voltage_v(emf_v: float, source_ohm: float, load_ohm: float) -> float:
    """Voltage across a load on a source.

    V = E * R / (r + R)
    Units: V, ohm.
    Source: openstax-university-physics (section 10.1).
    """
    return load_current_a(emf_v, source_ohm, load_ohm) * load_ohm


def load_power_w(emf_v: float, source_ohm: float, load_ohm: float) -> float:
    """Power a source delivers to a load.

    P = (E / (r + R)) ** 2 * R
    Units: V, ohm, W.
    Source: openstax-university-physics (section 10.1).
    """
    return load_current_a(emf_v, source_ohm, load_ohm) ** 2 * load_ohm


def power_w(voltage_v: float, current_a: float) -> float:
    """Electric power.

    P = V * I
    Units: V, A, W.
    Source: openstax-university-physics (section 9.5).
    """
    return voltage_v * current_a


def joule_heat_w(current_a: float, resistance_ohm: float) -> float:
    """Heat a current makes in a resistance.

    P = I ** 2 * R
    Units: A (root mean square for a changing current), ohm, W.
    Source: openstax-university-physics (section 9.5).
    """
    return current_a**2 * resistance_ohm


def power_in_resistance_w(voltage_v: float, resistance_ohm: float) -> float:
    """Power a voltage makes in a resistance.

    P = V ** 2 / R
    Units: V, ohm, W. Range: resistance above 0.
    Source: openstax-university-physics (section 9.5).
    """
    _require_above_zero(resistance_ohm)
    return voltage_v**2 / resistance_ohm


def series_resistance_ohm(resistances_ohm: Sequence[float]) -> float:
    """Resistance of parts in series.

    R = R1 + R2 + ...
    Units: ohm.
    Source: openstax-university-physics (section 10.2).
    """
    return math.fsum(resistances_ohm)


def parallel_resistance_ohm(resistances_ohm: Sequence[float]) -> float:
    """Resistance of parts in parallel.

    R = 1 / (1/R1 + 1/R2 + ...)
    Units: ohm. Range: at least one part, every resistance above 0.
    Source: openstax-university-physics (section 10.2).
    """
    if not resistances_ohm:
        raise ValueError("No resistance was given; at least one is needed.")
    for resistance_ohm in resistances_ohm:
        _require_above_zero(resistance_ohm)
    return 1.0 / math.fsum(1.0 / resistance_ohm for resistance_ohm in resistances_ohm)


def dc_resistance_ohm(voltage_1_v: float, current_1_a: float, voltage_2_v: float, current_2_a: float) -> float:
    """Direct-current internal resistance of a cell from two loads.

    R = (U1 - U2) / (I2 - I1)
    Units: V, A, ohm. The standard's loads are 0.2 It for 10 s, then 1.0 It for 1 s.
    Range: the second current above the first.
    Source: iec-61960-3 (direct-current resistance).
    """
    if not current_2_a > current_1_a:
        raise ValueError(f"The second load is {current_2_a:g} A; it must be above the first of {current_1_a:g} A.")
    return (voltage_1_v - voltage_2_v) / (current_2_a - current_1_a)


def charging_resistance_ohm(resting_v: float, charging_v: float, current_a: float) -> float:
    """Internal resistance of a source seen while it is charged.

    R = (V_charging - E) / I
    Units: V, A, ohm. Range: charging current above 0.
    Source: openstax-university-physics (chapter 10 problems).
    """
    if not current_a > 0:
        raise ValueError(f"The charging current is {current_a:g} A; it must be above 0 A.")
    return (charging_v - resting_v) / current_a


def joint_resistance_ohm(drop_v: float, current_a: float) -> float:
    """Resistance of a joint from the voltage across it at a known current.

    R = V / I
    Units: V, A, ohm. Range: current above 0.
    Source: openstax-college-physics (section 20.2).
    """
    if not current_a > 0:
        raise ValueError(f"The test current is {current_a:g} A; it must be above 0 A.")
    return drop_v / current_a


def drop_v(current_a: float, resistance_ohm: float) -> float:
    """Voltage lost across a resistance.

    V = I * R
    Units: A, ohm, V.
    Source: openstax-college-physics (section 20.2).
    """
    return current_a * resistance_ohm


def joining_current_a(voltage_1_v: float, voltage_2_v: float, resistance_1_ohm: float, resistance_2_ohm: float,
                      link_ohm: float = 0.0) -> float:
    """First current between two cells when they are joined in parallel.

    I = |V1 - V2| / (R1 + R2 + R_link)
    Units: V, ohm, A. Range: the sum of the resistances above 0.
    Source: openstax-university-physics (section 10.3, Kirchhoff's rules).
    """
    total_ohm = resistance_1_ohm + resistance_2_ohm + link_ohm
    return abs(ohms_law_current_a(voltage_1_v - voltage_2_v, total_ohm))


def meter_reading_v(emf_v: float, source_ohm: float, meter_ohm: float) -> float:
    """Voltage a meter shows that itself loads the source.

    V = E * R_meter / (r + R_meter)
    Units: V, ohm.
    Source: openstax-college-physics (section 21.4).
    """
    return load_voltage_v(emf_v, source_ohm, meter_ohm)


def share_of_range(reading: float, full_scale: float) -> float:
    """Share of a meter's range that a reading uses.

    share = |reading| / range
    Units: both the same. Range: full scale above 0. Above about 0.9 a reading is doubtful.
    Source: common-practice (no publication).
    """
    if not full_scale > 0:
        raise ValueError(f"The range is {full_scale:g}; it must be above 0.")
    return abs(reading) / full_scale


def charge_c(current_a: float, time_s: float) -> float:
    """Charge moved by a steady current.

    Q = I * t
    Units: A, s, C.
    Source: openstax-university-physics (section 9.1).
    """
    return current_a * time_s


def average_current_a(charge_c: float, time_s: float) -> float:
    """Mean current that moves a charge in a time.

    I = Q / t
    Units: C, s, A. Range: time above 0.
    Source: openstax-university-physics (section 9.1).
    """
    if not time_s > 0:
        raise ValueError(f"The time is {time_s:g} s; it must be above 0 s.")
    return charge_c / time_s


def precharge_current_a(voltage_v: float, resistance_ohm: float, capacitance_f: float, time_s: float) -> float:
    """Current into a capacitor through a resistor, some time after switching on.

    I = V / R * exp(-t / (R C))
    Units: V, ohm, F, s, A. Range: resistance and capacitance above 0.
    Source: openstax-university-physics (section 10.5).
    """
    decay = math.exp(-time_s / precharge_time_constant_s(resistance_ohm, capacitance_f))
    return voltage_v / resistance_ohm * decay


def precharge_voltage_v(voltage_v: float, resistance_ohm: float, capacitance_f: float, time_s: float) -> float:
    """Voltage of a capacitor charged through a resistor, some time after switching on.

    V_C = V * (1 - exp(-t / (R C)))
    Units: V, ohm, F, s. Range: resistance and capacitance above 0.
    Source: openstax-university-physics (section 10.5).
    """
    return -voltage_v * math.expm1(-time_s / precharge_time_constant_s(resistance_ohm, capacitance_f))


def precharge_time_constant_s(resistance_ohm: float, capacitance_f: float) -> float:
    """Time constant of a capacitor behind a resistor.

    tau = R * C
    Units: ohm, F, s. Range: both above 0.
    Source: openstax-university-physics (section 10.5).
    """
    _require_above_zero(resistance_ohm)
    if not capacitance_f > 0:
        raise ValueError(f"The capacitance is {capacitance_f:g} F; it must be above 0 F.")
    return resistance_ohm * capacitance_f


def shunt_resistance_ohm(rated_v: float, rated_a: float) -> float:
    """Resistance of a shunt from its two rated figures.

    R = V_rated / I_rated
    Units: V, A, ohm. Range: rated current above 0.
    Source: shunt-maker-example (100 mV at 10 A is 10 milliohm).
    """
    return joint_resistance_ohm(rated_v, rated_a)


def shunt_continuous_a(rated_a: float) -> float:
    """Current a shunt may carry for more than two minutes.

    I = 2/3 * I_rated
    Units: A. Range: rated current above 0.
    Source: shunt-maker-note (two thirds of the rated current).
    """
    if not rated_a > 0:
        raise ValueError(f"The rated current is {rated_a:g} A; it must be above 0 A.")
    return float(load("standards")["shunt"]["continuous_share"]) * rated_a


def _require_above_zero(resistance_ohm: float) -> None:
    if not resistance_ohm > 0:
        raise ValueError(f"The resistance is {resistance_ohm:g} ohm; it must be above 0 ohm.")
