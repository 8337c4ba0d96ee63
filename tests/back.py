"""The invented build of tests/front.py carried on to the end: sound in every step, and one check judged at a time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from buildtrack.checks import rules_protection, rules_tests
from buildtrack.checks.compare import compare
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.model.build import Build
from buildtrack.physics import logs
from buildtrack.workings.asked import applies
from buildtrack.workings.discharge_log import LogData
from buildtrack.workings.inputs import LOG_DATA
from buildtrack.workings.registry import sheet_of
from buildtrack.workings.status import status_of
from buildtrack.workings.values import Known, Value
from tests import front
from tests.front import NOT_ASKED, checklist, library
from tests.make import NOW, Given, build_with

__all__ = ["build_with", "checklist", "front"]  # names other test files take from here

RULES = {**rules_protection.RULES, **rules_tests.RULES}


def rows(prefix: str, first: int, *cells: Mapping[str, str]) -> list[dict[str, str]]:
    """Rows named one after another."""
    return [{"id": f"{prefix}{first + n}", **cell} for n, cell in enumerate(cells)]


def taps(*volts: str) -> list[dict[str, str]]:
    """Readings of the free connector."""
    return rows("B", 0, *({"voltage": v} for v in volts))


def joints(*drops: str) -> list[dict[str, str]]:
    """Joints with their drops at 3 A."""
    return rows("j", 1, *({"joint": f"joint {n}", "kind": "weld", "drop": d, "current": "3 A"}
                          for n, d in enumerate(drops, 1)))


def channels(*sounded: str) -> list[dict[str, str]]:
    """Channels of the alarm."""
    return rows("g", 1, *({"shown": "3.70 V", "meter": "3.70 V", "sounded": s} for s in sounded))


Triple = tuple[str, ...]


def turns(start: Triple = ("4.15 V", "4.15 V", "4.15 V"), alarm: Triple = ("3.24 V", "3.23 V", "3.20 V"),
          end: Triple = ("2.90 V", "2.90 V", "2.82 V"), later: Triple = ("3.3 V", "3.3 V", "3.2 V"),
          ) -> list[dict[str, str]]:
    """Groups at the turning points of the test."""
    return rows("g", 1, *({"at_start": s, "at_alarm": a, "before_cutoff": e, "rebound_60min": r}
                          for s, a, e, r in zip(start, alarm, end, later, strict=True)))


def charged(*groups: tuple[str, str]) -> list[dict[str, str]]:
    """Groups at the end of a charge and after the rest."""
    return rows("g", 1, *({"at_end": end, "rested": rested} for end, rested in groups))


def checked(on: str, since: str, *volts: str, **other: str) -> dict[str, str]:
    """One re-check, without its name."""
    return {"on": on, "days_since_charge": since, **{f"g{n}": v for n, v in enumerate(volts, 1)}, **other}


SOUND: dict[str, Given] = {
    **front.SOUND,
    "joining_method": "spot weld", "insulating_rings": "6", "joints": joints("1.0 mV", "1.1 mV", "0.9 mV", "1.0 mV"),
    "fuse_family": "blade", "fuse_rating": "15 A", "fuse_voltage": "32 V", "fuse_position": "first at pack plus",
    "board_values_from": "own sheet", "board_for_chemistry": "yes", "board_series": "3", "board_continuous": "20 A",
    "board_trip_low": "40 A", "board_trip_high": "60 A", "board_trip_delay": "100 ms", "board_overcharge": "4.235 V",
    "board_overcharge_tolerance": "10 mV", "board_cutoff": "2.80 V", "board_cutoff_tolerance": "40 mV",
    "board_release": "3.0 V", "board_balance_start": "4.15 V", "board_balance_tolerance": "10 mV",
    "board_balance_current": "60 mA", "board_resistance": "6 mΩ", "board_idle_current": "20 µA",
    "board_port": "common", "board_wired_as": "as its sheet says", "charge_policy": "4.20 V",
    "balance_access": "connector", "taps": taps("0.000 V", "3.701 V", "7.403 V", "11.104 V"), "tap_order": "yes",
    "board_connected": "yes", "case_insulation": "open", "tool_polarity": "right", "charge_socket_polarity": "right",
    "board_state": "on", "board_woken": "yes", "board_place": "yes", "thermal_sensor": "fitted",
    "alarm_scope": "each group", "alarm_setting": "3.20 V", "alarm_resolution": "10 mV",
    "alarm_channels": channels("3.20 V", "3.19 V", "3.20 V"), "alarm_heard": "yes", "alarm_current": "3 mA",
    "alarm_switched_off": "yes",
    "first_charger_voltage": ["12.60 V", "12.60 V", "12.60 V"], "first_charger_checked": "yes",
    "first_charge_groups": rows("g", 1, *({"before": "3.70 V", "after_15min": "3.80 V", "at_end": "4.20 V"},) * 3),
    "test_point": "P+ and P-", "test_current": "2.0 A", "test_temperature": "21 °C", "log_kind": "by hand",
    "tester_stop": "8.1 V", "alarm_after": "107 min", "cutoff_after": "110 min", "ended_by": "board",
    "pack_after_cutoff": "0.3 V", "event_groups": turns(), "release_behaviour": "needs charger",
    "warmest_cell": "30 °C", "board_temperature": "45 °C", "recharged_within_day": "yes",
    "charger_kind": "cc/cv charger", "charger_voltage": ["12.60 V", "12.60 V", "12.60 V"], "charger_current": "1.0 A",
    "charge_temperature": "21 °C", "charge_attended": "yes",
    "charge_groups": charged(("4.20 V", "4.155 V"), ("4.20 V", "4.155 V"), ("4.20 V", "4.155 V")),
    "end_current": "190 mA", "charge_time": "4.5 h", "warmest_charging": "28 °C", "charge_ended_by": "charger",
    "full_trips": "0", "low_trips": "0", "short_circuit_protection": "yes", "label_fixed": "yes",
    "user_limits": "no stalling, drill bits up to 8 mm",
    "old_charger_blocked": "yes", "user_told": "yes", "not_certified": "yes", "transport_rule": "yes", "nickel_handed_in": "yes",
    "rejects_handed_in": "yes",
    "costs": rows("k", 1, {"what": "cells", "kind": "cells", "amount": "0"},
                  {"what": "board", "kind": "board", "amount": "6"},
                  {"what": "charger", "kind": "charger", "amount": "9"}),
    "storage_unplugged": "yes", "storage_level_agreed": "yes", "top_up_interval": "60 d",
}


@dataclass(frozen=True, slots=True)
class Made:
    """A build and what was read from its attached files."""

    build: Build
    extras: Mapping[str, Value]


def build(changed: Mapping[str, Given | None] | None = None) -> Build:
    """The sound build with some items answered otherwise; None takes an answer away."""
    given = {**SOUND, **(changed or {})}
    return build_with({name: value for name, value in given.items() if value is not None}, checklist())


def made(changed: Mapping[str, Given | None] | None = None, extras: Mapping[str, Value] | None = None) -> Made:
    """The sound build, changed, with what its log says."""
    return Made(build(changed), extras or {})


def rule(check: str, judged: Made) -> Ruling:
    """What one check says of a build; `not asked` where it does not apply."""
    found = library(check)
    own = replace(checklist(), checks=(found,))
    sheet = sheet_of(judged.build, own, NOW.date(), judged.extras)
    if not applies(found.only_if, judged.build, sheet):
        return NOT_ASKED
    context = Context(judged.build, own, sheet, status_of(judged.build, own, sheet, NOW), found, NOW)
    return compare(context) if found.value else RULES[found.rule](context)


def log(folder: Path, *, amperes: float = 2.0, seconds: int = 6600, gap: tuple[int, int] = (0, 0), groups: bool = True,
        last_v: float = 0.3, counter: float | None = None) -> dict[str, Value]:
    """An invented log of three groups that fall evenly to 2.8 V, as the graph takes it."""
    heads = ["time_s", "current_A", "voltage_V", *(["g1_V", "g2_V", "g3_V"] if groups else [])]
    lines = [",".join([*heads, *(["capacity_mAh"] if counter is not None else [])])]
    for second in range(-20, seconds + 1, 10):
        if gap[0] < second < gap[1]:
            continue
        current = amperes if second >= 0 else 0.0
        one = 4.15 - 1.35 * max(second, 0) / seconds
        drawn = [f"{1000 * counter * max(second, 0) / seconds:.1f}"] if counter is not None else []
        lines.append(",".join([f"{second + 20}", f"{current:.3f}", f"{3 * one:.3f}",
                               *([f"{one:.3f}"] * 3 if groups else []), *drawn]))
    lines.append(",".join([f"{seconds + 30}", "0.000", f"{last_v:.3f}", *(["3.300"] * 3 if groups else []),
                           *([f"{1000 * counter:.1f}"] if counter is not None else [])]))
    path = folder / f"log-{len(list(folder.iterdir()))}.csv"
    path.write_text("\n".join(lines) + "\n")
    return {LOG_DATA: Known(LogData(path.name, path.stat().st_size, logs.read_log(path)))}
