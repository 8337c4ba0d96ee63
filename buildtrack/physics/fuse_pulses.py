"""Heating of a fuse by start pulses: I2t of wave shapes and the share of the melting I2t that lasts."""

from __future__ import annotations

from buildtrack.data import load

WAVEFORMS = ("constant", "trapezoid", "half sine", "triangle", "square-law decay", "exponential decay")


def pulse_i2t_a2s(peak_a: float, time_s: float, waveform: str = "constant", base_a: float = 0.0) -> float:
    """I2t of one pulse of a named wave shape.

    constant ip2 t; trapezoid (ip2 + ip ib + ib2) t / 3; half sine ip2 t / 2; triangle ip2 t / 3;
    square-law decay ip (1 - kt)2: ip2 t / 5; exponential decay with time constant t: ip2 t / 2.
    Units: A, s, result A2s. The base current is used by the trapezoid only.
    Source: fuse-pulse-guide (table of wave shapes).
    """
    if time_s < 0:
        raise ValueError(f"The pulse lasts {time_s:g} s; a time must not be negative.")
    if waveform == "trapezoid":
        return (peak_a**2 + peak_a * base_a + base_a**2) * time_s / 3
    shares = {"constant": 1.0, "half sine": 1 / 2, "triangle": 1 / 3, "square-law decay": 1 / 5,
              "exponential decay": 1 / 2}
    if waveform not in shares:
        raise ValueError(f"{waveform!r} is no known pulse shape; there are {', '.join(WAVEFORMS)}.")
    return shares[waveform] * peak_a**2 * time_s


def pulse_share_allowed(pulses: float) -> float:
    """Highest pulse I2t as a share of the melting I2t, for a number of pulses in the fuse's life.

    Range: 1 to 100 000 pulses at least 10 s apart; between two printed counts the next higher one is taken.
    Source: fuse-pulse-guide (22, 29, 38 and 48 %).
    """
    if pulses < 1:
        raise ValueError(f"{pulses:g} pulses is not allowed: at least 1.")
    for count, share in load("fuses")["pulses"]["rows"]:
        if pulses <= count:
            return float(share)
    raise ValueError(f"{pulses:g} pulses is outside the guide, which ends at 100 000.")


def required_melting_i2t_a2s(pulse_a2s: float, pulses: float) -> float:
    """Lowest melting I2t of a fuse that outlives a number of equal pulses.

    melting I2t = pulse I2t / share
    Units: A2s. Range: 1 to 100 000 pulses.
    Source: fuse-pulse-guide (pulse cycle withstand).
    """
    return pulse_a2s / pulse_share_allowed(pulses)
