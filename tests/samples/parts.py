"""What the three samples share: the bench they were made at, and the logger's way of writing."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from tests.samples.scribe import Scribe
from tests.samples.truth import Sample

INSTRUMENTS = {
    "m1-6v": ("m1", "multimeter", "voltage", "6 V", "1 mV", "0.2 % + 2 digits"),
    "m1-60v": ("m1", "multimeter", "voltage", "60 V", "10 mV", "0.2 % + 2 digits"),
    "m1-600mv": ("m1", "multimeter", "voltage", "600 mV", "0.1 mV", "0.5 % + 3 digits"),
    "m1-10a": ("m1", "multimeter", "current", "10 A", "10 mA", "1.5 % + 3 digits"),
    "m1-60ma": ("m1", "multimeter", "current", "60 mA", "10 µA", "1 % + 3 digits"),
    "m1-600ua": ("m1", "multimeter", "current", "600 µA", "0.1 µA", "1 % + 3 digits"),
    "m1-60k": ("m1", "multimeter", "resistance", "60 kΩ", "10 Ω", "0.8 % + 3 digits"),
    "m2-20v": ("m2", "multimeter", "voltage", "20 V", "10 mV", "0.5 % + 2 digits"),
    "shunt-50a": ("shunt", "shunt", "current", "50 A", "70 mA", "1 %"),
    "tester": ("tester", "tester", "capacity", "20 Ah", "1 mAh", "1 %"),
    "tester-a": ("tester", "tester", "current", "3 A", "1 mA", "0.5 % + 2 digits"),
    "thermometer": ("thermometer", "thermometer", "temperature", "200 °C", "1 °C", "1.5 °C"),
    "scale": ("scale", "scale", "mass", "3 kg", "1 g", "2 g"),
    "caliper": ("caliper", "caliper", "length", "150 mm", "0.1 mm", "0.1 mm"),
}


def enter_plan(s: Scribe, tool: str, kind: str, rated: str, prices: tuple[str, str, str], cost: str) -> None:
    """The first step: same bench, same rules, another tool."""
    s.put("tool", tool)
    s.put("tool_kind", kind)
    s.put("rated_voltage", rated)
    s.put("may_be_modified", "yes")
    s.put("record_detail", "full")
    s.put("used_by_others", "others")
    s.put("reason", "the pack is dead, a new one costs more than half a new tool, and the tool itself runs well")
    s.put("new_pack_price", prices[0])
    s.put("copy_pack_price", prices[1])
    s.put("new_tool_price", prices[2])
    s.put("budget", "40")
    s.put("planned_cost", cost)
    s.put("worth_going_on", "go on")
    names = ("meter", "kind", "quantity", "range", "resolution", "accuracy")
    s.rows("instruments", {n: dict(zip(names, row, strict=True)) for n, row in INSTRUMENTS.items()})
    s.rows("meter_check", {"k1": {"meter": "m1", "reading": "4.096 V"}, "k2": {"meter": "m2", "reading": "4.10 V"}})
    s.put("tester_shown_current", "1.000 A")
    s.put("meter_shown_current", "1.00 A", "m1-10a")
    s.put("bench_temperature", "22 °C", "thermometer")
    s.yes("charging_site", "smoke_alarm", "way_out", "fire_means", "vent_plan", "eye_protection", "never_unattended",
          "local_rules", "quarantine_box")
    s.leave_out("site_photo", "the hall is open to the public")


def last_row_mah(samples: Sequence[Sample]) -> float:
    """Charge as the load itself counts it."""
    charge = 0.0
    for before, after in zip(samples, samples[1:], strict=False):
        charge += (before.current_a + after.current_a) / 2 * (after.seconds - before.seconds) / 3.6
    return charge


def _clock(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def write_log(path: Path, samples: Sequence[Sample], start: str) -> Path:
    """Write the log as an instrument set to a decimal comma does, with the board's opening as the last row."""
    groups = len(samples[0].groups_v)
    heads = ["t[h:m:s]", "U[V]", "I[A]", "Q[mAh]", *(f"U{g}[V]" for g in range(1, groups + 1)), "T[°C]"]
    lines = ["Electronic load, invented", f"Start;{start}", "Mode;CC 2,00 A;Stop 8,10 V", "", ";".join(heads)]
    charge = 0.0
    before = samples[0]
    for sample in samples:
        charge += (before.current_a + sample.current_a) / 2 * (sample.seconds - before.seconds) / 3.6
        shown = [round(v, 3) for v in sample.groups_v]
        fields = [f"{sum(shown):.3f}", f"{sample.current_a:.3f}", f"{charge:.0f}", *(f"{v:.3f}" for v in shown),
                  f"{sample.warmest_degc:.1f}"]
        lines.append(";".join([_clock(sample.seconds), *(f.replace(".", ",") for f in fields)]))
        before = sample
    recovered = [f"{v + 0.06:.3f}".replace(".", ",") for v in before.groups_v]
    lines.append(";".join([_clock(before.seconds + 10), "0,310", "0,000", f"{charge:.0f}", *recovered,
                           f"{before.warmest_degc:.1f}".replace(".", ",")]))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join([*lines, "END", ""]), encoding="utf-8", newline="\n")
    return path


def write_cell_log(path: Path, samples: Sequence[Sample], start: str) -> Path:
    """Write the slow log of one cell as a bay of a tester does: the voltage it was set to stands before the measured one."""
    lines = ["Bay tester, invented", f"Start {start}", "t[s],Uset[V],U[V],I[mA]"]
    lines += [f"{x.seconds:.0f},2.800,{x.groups_v[0]:.3f},{x.current_a * 1000:.0f}" for x in samples]
    last = samples[-1]
    lines += [f"{last.seconds + 30 * k:.0f},2.800,{last.groups_v[0] + 0.11 * k ** 0.5:.3f},0" for k in (1, 2, 3)]
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join([*lines, ""]), encoding="utf-8", newline="\n")
    return path
