"""The main checklist: complete, readable at the bench, and true to the names that workings and checks rely on."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from buildtrack import units
from buildtrack.model.checklist import Checklist, Condition, Item
from buildtrack.storage.checklist_file import parse_checklist, read_checklist, read_text
from buildtrack.workings.registry import all_workings

PATH = Path(__file__).resolve().parent.parent / "checklists" / "nickel-tool-pack.toml"

LONGEST = {"label": 48, "why": 220, "how": 320, "caution": 220}
"""Most characters of each text, so that it can be read with a hot iron in the hand."""

STEPS = {"plan": "Plan the job", "old_pack": "Assess old pack", "load": "Measure load", "cells": "Pick cells",
         "wire": "Wire", "alarm": "Configure alarm", "discharge": "Test discharge cutoff",
         "charge": "Charge and hand over", "aftercare": "Aftercare"}

# Shared names: step, item, kind, unit (or count, money, options, -), need, H for a hold point, readings, which counts.
ITEMS = """
plan       tool                       text    -      must
plan       tool_kind                  choice  screwdriver|drill|garden|vacuum|light|other must
plan       rated_voltage              reading V      must H
plan       may_be_modified            choice  yes|no must H
plan       reason                     text    -      expected
plan       budget                     reading money  optional
plan       new_pack_price             reading money  expected
plan       copy_pack_price            reading money  optional
plan       new_tool_price             reading money  optional
plan       instruments                table   -      expected
plan       meter_check                table   -      expected
plan       tester_shown_current       reading A      expected
plan       meter_shown_current        reading A      expected
plan       charging_site              tick    -      must H
plan       bench_temperature          reading °C     expected
old_pack   old_chemistry              choice  nicd|nimh|lithium|lead|unknown must H
old_pack   old_cells                  reading count  must H
old_pack   old_capacity               reading Ah     expected
old_pack   old_mass                   reading g      expected
old_pack   old_pack_full_voltage      reading V      optional
old_pack   old_pack_rested_voltage    reading V      optional
old_pack   old_pack_loaded_voltage    reading V      optional
old_pack   old_pack_loaded_current    reading A      optional
old_pack   old_cell_voltages          table   -      expected
old_pack   housing_length             reading mm     expected
old_pack   housing_width              reading mm     expected
old_pack   housing_height             reading mm     expected
old_pack   charger_open_voltage       reading V      expected
old_pack   nickel_charger_current     reading A      expected
old_pack   charger_control            choice  timer|temperature|voltage dip|none|unknown expected
old_pack   old_charger_fate           choice  made unusable|rebuilt|kept for nickel tools|kept for this pack must
old_pack   thermistor_resistance      reading kΩ     optional
load       current_method             choice  shunt|clamp|meter|wire shunt|voltage sag must
load       current_range              reading A      expected
load       supply_limit               reading A      optional
load       shunt_resistance           reading mΩ     optional
load       free_current               reading A      expected 3 mean
load       working_current            reading A      must H 5 mean
load       heaviest_current           reading A      expected 3 highest
load       working_voltage            reading V      optional
load       winding_method             choice  supply|ohmmeter expected
load       shaft_positions            table   -      expected
load       winding_resistance         reading mΩ     expected 4 lowest
load       lead_resistance            reading mΩ     optional
load       series_resistors           table   -      optional
load       supply_open_voltage        reading V      optional
load       supply_loaded_voltage      reading V      optional
load       supply_loaded_current      reading A      optional
load       stall_burst_current        reading A      optional
load       start_peak_current         reading A      optional
load       start_peak_time            reading ms     optional
load       duty                       table   -      must H
load       longest_run                reading s      expected
load       useful_voltage             reading V      expected
load       current_limiter            choice  none|clutch|electronics must
load       limiter_current            reading A      optional
cells      cells_source               choice  salvaged|new must
cells      candidates                 table   -      must H
cells      cell_diameter              reading mm     expected
cells      cell_length                reading mm     expected
cells      clearance                  reading mm     expected
cells      board_space                reading mm     expected
cells      series_count               reading count  must H
cells      parallel_count             reading count  must H
cells      groups                     table   -      must H
wire       joining_method             choice  spot weld|solder|holder must
wire       remeasured_after_solder    tick    -      must H
wire       conductors                 table   -      must H
wire       conductor_temperature      reading °C     optional
wire       stranding                  choice  flexible|stranded|solid optional
wire       strips                     table   -      expected
wire       joints                     table   -      expected
wire       fuse_family                choice  blade|cartridge time-lag|cartridge ul|none must H
wire       fuse_rating                reading A      must
wire       fuse_voltage               reading V      must
wire       fuse_position              choice  first at pack plus|elsewhere must
wire       fuse_resistance            reading mΩ     optional
wire       switch_rating              reading A      optional
wire       connector_rating           reading A      optional
wire       board_series               reading count  must H
wire       board_continuous           reading A      must
wire       board_trip_low             reading A      expected
wire       board_trip_high            reading A      expected
wire       board_trip_delay           reading ms     expected
wire       board_overcharge           reading V      must H
wire       board_overcharge_tolerance reading V      expected
wire       board_cutoff               reading V      must H
wire       board_cutoff_tolerance     reading V      expected
wire       board_release              reading V      expected
wire       board_balance_start        reading V      expected
wire       board_balance_tolerance    reading V      expected
wire       board_balance_current      reading mA     expected
wire       board_resistance           reading mΩ     expected
wire       board_idle_current         reading µA     expected
wire       board_port                 choice  common|separate must
wire       board_wired_as             choice  as its sheet says|swapped must
wire       charge_policy              reading V      expected
wire       taps                       table   -      must H
wire       tap_order                  tick    -      must H
wire       board_connected            tick    -      must H
wire       case_insulation            choice  open|reads something must H
wire       tool_polarity              choice  right|reversed must H
wire       insulating_rings           reading count  must
wire       board_state                choice  on|asleep|dead expected
wire       board_woken                tick    -      must
wire       sense_drop                 reading mV     optional
alarm      alarm_scope                choice  each group|pack only|none must
alarm      alarm_setting              reading V      must H
alarm      alarm_resolution           reading V      expected
alarm      alarm_channels             table   -      must
alarm      alarm_heard                choice  yes|no expected
alarm      alarm_current              reading mA     expected
alarm      alarm_switched_off         choice  yes|no expected
discharge  test_point                 choice  P+ and P-|at the cells must H
discharge  test_current               reading A      must
discharge  rest_before_test           reading h      expected
discharge  test_temperature           reading °C     expected
discharge  discharge_log              file    -      expected
discharge  discharge_points           table   -      expected
discharge  event_groups               table   -      must H
discharge  alarm_after                reading min    must H
discharge  cutoff_after               reading min    must H
discharge  delivered_capacity         reading mAh    optional
discharge  ended_by                   choice  board|tester|by hand|nothing must H
discharge  release_behaviour          choice  needs charger|by itself after rest|other expected
discharge  warmest_cell               reading °C     expected
discharge  board_temperature          reading °C     expected
discharge  pack_after_cutoff          reading V      must
discharge  sag                        table   -      optional
discharge  recharged_within_day       tick    -      expected
charge     charger_kind               choice  cc/cv charger|adapter|converter module must H
charge     charger_voltage            reading V      must H 3 mean
charge     charger_current            reading A      must
charge     charge_temperature         reading °C     must
charge     charge_attended            tick    -      must H
charge     charge_groups              table   -      must H
charge     end_current                reading mA     expected
charge     charge_time                reading h      expected
charge     warmest_charging           reading °C     expected
charge     charge_ended_by            choice  charger|board|by hand must
charge     balancing_seen             choice  yes|no expected
charge     second_test_capacity       reading mAh    optional
charge     full_trips                 reading count  must
charge     low_trips                  reading count  must
charge     stall_ended_by             choice  user|clutch|board|fuse|nothing|not tried expected
charge     short_circuit_protection   choice  yes|no must
charge     mass_after                 reading g      expected
charge     costs                      table   -      expected
charge     hours                      reading h      expected
charge     label_fixed                tick    -      must H
charge     old_charger_blocked        tick    -      must H
charge     nickel_handed_in           tick    -      expected
charge     nickel_mass                reading g      expected
charge     rejects_handed_in          tick    -      expected
charge     user_told                  tick    -      must
charge     not_certified              tick    -      must
charge     label_photo                photo   -      expected
wire       wiring_photo               photo   -      expected
aftercare  rechecks                   table   -      optional
aftercare  incidents                  text    -      optional
aftercare  storage_level_agreed       tick    -      expected
aftercare  lending_rule               text    -      optional
"""

# Shared names of columns: table, row prefix, rows from (- where there is none), then column:unit, :kind or :options.
COLUMNS = """
instruments       m -            meter:text
instruments       m -            kind:multimeter|clamp_meter|shunt|bench_supply|tester|thermometer|scale|caliper|logger
instruments       m -            quantity:voltage|current|resistance|capacity|temperature|mass|length|time range:text
instruments       m -            resolution:text accuracy:text longest:text
meter_check       k -            meter:text reading:V
old_cell_voltages n old_cells    voltage:V state:sound|leaking|swollen|corroded
shaft_positions   p -            voltage:V current:A
series_resistors  r -            resistance:Ω power:W
duty              s -            current:A end_current:A seconds:s
candidates        c -            source:text marking:text chemistry:nmc|nca|lco|lmo|lfp|unknown rated_capacity:mAh
candidates        c -            rated_current:A
candidates        c -            rated_c_rate:C charge_limit:V min_voltage:V arrival_voltage:V charged_on:date
candidates        c -            rest_1_on:date
candidates        c -            visual:sound|torn_wrapper|dented|rust_at_vent|swollen|leaking|reversed
candidates        c -            rest_1_voltage:V
candidates        c -            rest_2_on:date rest_2_voltage:V rest_temperature:°C capacity:mAh capacity_current:A
candidates        c -            capacity_end_voltage:V dc_voltage_1:V dc_current_1:A dc_voltage_2:V dc_current_2:A
candidates        c -            resistance:mΩ
candidates        c -            resistance_method:dc|ac resistance_temperature:°C warmest:°C mass:g price:money
candidates        c -            decision:keep|spare|reject reason:text
groups            g series_count cells:text joining_lowest:V joining_highest:V joined_on:date voltage_after:V
groups            g series_count voltage_next_day:V
conductors        w -            run:text size:mm² length:mm parallel:count bundle:count
strips            t -            run:text material:nickel|plated_steel|copper width:mm thickness:mm length:mm
strips            t -            parallel:count
joints            j -            joint:text kind:solder|weld|crimp|screw|plug drop:mV current:A
taps              B tap_count    voltage:V colour:text
alarm_channels    g series_count shown:V meter:V sounded:V
discharge_points  d -            minute:min current:A pack:V g1:V g2:V g10:V warmest:°C
event_groups      g series_count at_start:V at_alarm:V before_cutoff:V rebound_10min:V rebound_60min:V
sag               s -            level:full|half|20_% current:A group:text before:V under_load:V
charge_groups     g series_count after_5min:V after_15min:V after_30min:V at_end:V rested:V
costs             k -            what:text kind:cells|board|fuse|wire|charger|consumables|tools|other amount:money
rechecks          a -            on:date days_since_charge:count temperature:°C g1:V g10:V capacity:mAh resistance:mΩ
rechecks          a -            remarks:text
"""

# Shared names of policy values with their defaults; "C" is a C-rate.
POLICIES = """
arrival_good 3.3 V; arrival_slow 3.0 V; arrival_stop 2.5 V; arrival_never 2.0 V; arrival_published 1.5 V;
heater_rise 10 K; heater_limit 45 °C; rest_baseline 24 h; rest_duration 12 d; drop_ok 10 mV; drop_watch 20 mV;
drop_reject 50 mV; health_good 80 %; health_fair 70 %; health_recycle 60 %; resistance_suspicious 150 %;
resistance_reject 120 mΩ; sum_spread_good 1 %; sum_spread_ok 3 %; sum_spread_stop 5 %; group_resistance_ratio 150 %;
joining_ideal 10 mV; joining_ok 50 mV; joining_stop 100 mV; load_share_ok 80 %; load_share_max 100 %;
unknown_c_rate 1 C; unknown_current 3 A; cell_full 4.20 V; charge_alarm 4.22 V; charge_stop 4.25 V;
cell_absolute_max 4.25 V; cell_nominal 3.6 V; cell_empty 3.0 V; cell_minimum 2.75 V; storage_low 3.7 V;
storage_high 3.85 V; charger_tolerance 0.5 %; charger_stop 1 %; charge_rate_max 0.5 C; end_of_charge 0.05 C;
charge_timeout 150 %; charge_temp_low 10 °C; charge_temp_never 0 °C; charge_temp_high 45 °C; alarm_margin 300 mV;
alarm_rest_target 3.45 V; manual_stop 2.5 V; cell_hot 60 °C; cell_rise 15 K; board_hot 70 °C;
joint_drop_per_amp 0.7 mΩ; usable_low 92 %; usable_high 102 %; usable_share 95 %; drift_watch 5 mV; drift_stop 15 mV;
retire_capacity 80 %; retire_resistance 200 %; meter_share 90 %; meter_agree_ok 10 mV; meter_agree_stop 50 mV;
fuse_share 75 %; drop_share_working 2 %; drop_share_stall 5 %; money_gate 70 %; recheck_after 7 d; idle_high 200 µA;
idle_stop 1 mA; leak_spread_ok 1 mAh; leak_spread_stop 3 mAh; charge_spread 30 mV; test_spread 50 mV;
transport_pack 100 Wh
"""

HURTS = """
may_be_modified instruments charging_site smoke_alarm way_out fire_means vent_plan eye_protection never_unattended
quarantine_box old_pack_takes_charge old_pack_capacity charger_open_voltage old_charger_fate opening_voltage
opened_state old_cell_voltages old_cells_boxed current_method load_source shunt_resistance working_current
heaviest_current shaft_positions series_resistors stall_burst_current limiter_current donor_opened sleeves_mended
candidates first_charge_cells rejects_set_aside series_count groups dummy_fit sharp_edges orientation_plan
joining_method test_welds solder_care remeasured_after_solder holder_resistance insulating_rings group_insulation
groups_joined series_links fuse_family fuse_rating board_for_chemistry board_overcharge board_cutoff
board_idle_current board_wired_as charge_policy balance_access taps case_insulation board_connected
charge_socket_polarity board_woken fuse_last alarm_setting alarm_channels first_charger_voltage first_charger_checked first_charge_groups
first_charge_watched test_point test_load tester_stop discharge_points alarm_after ended_by event_groups warmest_cell
board_temperature sag recharged_within_day charger_kind charger_voltage charge_temperature charge_attended
charge_groups warmest_charging converter_temperature balancing_seen balance_hours second_test_capacity full_trips
low_trips real_job_done stall_ended_by short_circuit_protection drop_test label_fixed old_charger_blocked user_told
nickel_handed_in rejects_handed_in transport_rule fault_rule lending_rule
"""
"""Items at which somebody can be hurt, now or by the pack later: burn, fire, poison, acid, cut."""

SIMPLE = {
    "tool_kind": "screwdriver", "record_detail": "short", "used_by_others": "only me", "old_pack_takes_charge": "no",
    "old_charger_here": "no", "current_method": "clamp", "load_source": "other battery", "winding_method": "ohmmeter",
    "series_resistor_fitted": "no", "current_limiter": "clutch", "cells_source": "new", "series_count": "3",
    "joining_method": "spot weld", "fuse_family": "blade", "board_state": "on", "alarm_scope": "each group", "log_kind": "by hand",
    "charger_kind": "cc/cv charger", "will_publish": "no",
}
"""A small pack of new cells, as its maker would answer the questions that switch items off."""


@pytest.fixture(scope="module")
def checklist() -> Checklist:
    return read_checklist(PATH)


def _holds(condition: Condition, answers: Mapping[str, str]) -> bool:
    answer = answers.get(condition.item, "")
    if condition.is_ and answer not in condition.is_:
        return False
    if condition.is_not and answer in condition.is_not:
        return False
    return condition.at_least is None or (answer != "" and float(answer) >= condition.at_least)


def _visible(checklist: Checklist, answers: Mapping[str, str]) -> dict[str, list[str]]:
    return {s.id: [i.id for i in s.items if all(_holds(c, answers) for c in i.only_if)] for s in checklist.steps}


def _texts(checklist: Checklist) -> Iterator[tuple[str, str]]:
    """Every text a person reads, with where it stands."""
    yield from (("cautions", c) for c in checklist.cautions)
    for step in checklist.steps:
        yield from ((step.id, text) for text in (step.title, step.intro, *step.cautions))
        for item in step.items:
            yield from ((item.id, text) for text in (item.label, item.why, item.how, item.caution))
            yield from ((item.id, option.label) for option in item.options)
            for column in item.columns:
                yield from ((f"{item.id}.{column.id}", t) for t in (column.label, column.head, column.why))
                yield from ((f"{item.id}.{column.id}", o.label) for o in column.options)


def _lines(text: str) -> list[str]:
    return [line for line in text.strip().splitlines() if line.strip()]


def _same_dimension(unit: str, dimension: str, asked: str) -> bool:
    if asked in ("count", "money"):
        return dimension == asked
    if asked == "C":
        return dimension == "c_rate"
    found = units.find_unit(unit)
    return found is not None and found.dimension == dimension == units.dimension_of(asked)


def test_it_reads_without_a_problem() -> None:
    _, problems = parse_checklist(read_text(PATH), str(PATH))
    assert [str(p) for p in problems] == []


def test_it_has_the_nine_steps_in_the_order_of_the_work(checklist: Checklist) -> None:
    assert {s.id: s.title for s in checklist.steps} == STEPS
    assert [s.id for s in checklist.steps] == list(STEPS)


def test_every_step_says_how_long_it_takes_and_what_it_is_for(checklist: Checklist) -> None:
    for step in checklist.steps:
        assert 5 <= step.minutes <= 480, step.id
        assert 1 <= len(re.findall(r"[.?!](?: |$)", step.intro)) <= 2, step.id
        assert step.cautions, step.id


@pytest.mark.parametrize("line", _lines(ITEMS))
def test_a_shared_item_has_its_kind_unit_and_need(checklist: Checklist, line: str) -> None:
    head, rest = re.match(r"(\S+\s+\S+\s+\S+)\s+(.*)", line).groups()  # type: ignore[union-attr]
    step, name, kind = head.split()
    what, need, hold, several, use = re.fullmatch(  # type: ignore[union-attr]
        r"(.*?)\s+(must|expected|optional)( H)?(?: (\d+) (\w+))?", rest).groups()
    item = checklist.items[name]
    assert (item.step, item.kind, item.need, item.hold) == (step, kind, need, hold is not None)
    assert (item.several, item.use) == (int(several or 1), use or "last")
    if kind == "choice":
        assert [o.id for o in item.options] == what.split("|")
    elif kind == "reading":
        assert _same_dimension(item.unit, item.dimension, what)


@pytest.mark.parametrize("line", _lines(COLUMNS))
def test_a_shared_table_has_its_columns(checklist: Checklist, line: str) -> None:
    table, prefix, rows_from, *columns = line.split()
    item = checklist.items[table]
    assert (item.row_prefix, item.rows_from) == (prefix, "" if rows_from == "-" else rows_from)
    for name, _, what in (c.partition(":") for c in columns):
        column = item.column(name)
        assert column is not None, f"{table}.{name}"
        if what in ("text", "date"):
            assert column.kind == what, name
        elif "|" in what:
            assert [o.id.replace(" ", "_") for o in column.options] == what.split("|"), name
        else:
            assert column.kind == "reading" and _same_dimension(column.unit, column.dimension, what), name


@pytest.mark.parametrize("policy", [p.strip() for p in POLICIES.split(";")])
def test_a_shared_policy_value_has_its_default(checklist: Checklist, policy: str) -> None:
    name, text = policy.split(" ", 1)
    dimension = "c_rate" if text.endswith(" C") else units.dimension_of(text.split()[1])
    found = checklist.policy[name]
    assert found.dimension == dimension
    assert found.value == pytest.approx(units.parse(text, dimension).value)


def test_every_policy_value_names_a_source(checklist: Checklist) -> None:
    for policy in checklist.policies:
        assert policy.label, policy.id
        assert policy.source.startswith("common practice, no source") or len(policy.source) > 40, policy.id


def test_all_forty_usual_mistakes_are_told_in_one_sentence_each(checklist: Checklist) -> None:
    assert list(checklist.mistakes) == [f"D{n:02d}" for n in range(1, 41)]
    assert len(set(checklist.mistakes.values())) == 40
    assert all(text.endswith(".") and 20 <= len(text) <= 120 for text in checklist.mistakes.values())


def test_the_cautions_say_what_this_is_not_and_what_to_do(checklist: Checklist) -> None:
    assert 5 <= len(checklist.cautions) <= 9
    together = " ".join(checklist.cautions).lower()
    for word in ("no approval", "local rules", "licensed", "device's maker", "close the door", "water", "lithium metal",
                 "cadmium", "hazardous household waste"):
        assert word in together, word


def test_every_item_says_why_and_how(checklist: Checklist) -> None:
    assert [i.id for i in checklist.all_items() if not i.why or not i.how] == []


def test_every_hold_point_can_be_held_and_says_why(checklist: Checklist) -> None:
    holds = [i for i in checklist.all_items() if i.hold]
    assert len(holds) >= 30
    assert [i.id for i in holds if not i.why or i.need != "must"] == []


@pytest.mark.parametrize("name", HURTS.split())
def test_an_item_that_can_hurt_has_a_caution(checklist: Checklist, name: str) -> None:
    assert checklist.items[name].caution


def test_labels_are_unique_and_texts_short_enough(checklist: Checklist) -> None:
    labels = [i.label for i in checklist.all_items()]
    assert sorted({x for x in labels if labels.count(x) > 1}) == []
    for item in checklist.all_items():
        for key, most in LONGEST.items():
            assert len(getattr(item, key)) <= most, f"{item.id}.{key}"
        for column in item.columns:
            assert len(column.label) <= LONGEST["label"], f"{item.id}.{column.id}"
            assert 1 <= len(column.head) <= 8, f"{item.id}.{column.id}"
    for text in (*checklist.cautions, *(c for s in checklist.steps for c in s.cautions)):
        assert len(text) <= LONGEST["caution"], text


def test_texts_are_calm_and_promise_nothing(checklist: Checklist) -> None:
    for where, text in _texts(checklist):
        assert "!" not in text, where
        assert not re.search(r"\b(is|are|be) (now |completely |perfectly )?safe\b", text) or "no verdict" in text, where
        assert not re.search(r"guarantee|foolproof|100 % safe", text, re.IGNORECASE), where


def test_sentences_are_short(checklist: Checklist) -> None:
    for where, text in _texts(checklist):
        for sentence in re.split(r"(?<=[.?;:]) ", text):
            assert len(sentence.split()) <= 27, f"{where}: {sentence}"


def test_every_reading_has_a_plausible_span_inside_a_hard_one(checklist: Checklist) -> None:
    fields = [(i.id, i.plausible, i.hard) for i in checklist.all_items() if i.kind == "reading"]
    columns = [(f"{i.id}.{c.id}", c.plausible, c.hard)
               for i in checklist.all_items() for c in i.columns if c.kind == "reading"]
    for name, inner, outer in (*fields, *columns):
        assert None not in (inner.low, inner.high, outer.low, outer.high), name
        assert outer.holds(inner.low or 0.0) and outer.holds(inner.high or 0.0), name
        assert (inner.low, inner.high) != (outer.low, outer.high), name


def test_what_an_item_depends_on_exists_and_is_asked_before_it(checklist: Checklist) -> None:
    order = {item.id: n for n, item in enumerate(checklist.all_items())}
    for item in checklist.all_items():
        conditions = (*item.only_if, *(c for column in item.columns for c in column.only_if))
        needed = {c.item for c in conditions if c.item} | set(item.rests_on) | ({item.rows_from} - {"", "tap_count"})
        for name in needed:
            assert name in order and order[name] < order[item.id], f"{item.id} depends on {name}"
        assert not item.expires_before or item.expires_before in order


def test_conditions_name_options_that_exist(checklist: Checklist) -> None:
    for item in checklist.all_items():
        for condition in (*item.only_if, *(c for column in item.columns for c in column.only_if)):
            if condition.working:
                assert condition.working in {w.id for w in all_workings()}, item.id
                continue
            options = {o.id for o in checklist.items[condition.item].options}
            assert set(condition.is_) | set(condition.is_not) <= options, item.id


def test_taps_and_charger_readings_grow_old(checklist: Checklist) -> None:
    taps, charger = checklist.items["taps"], checklist.items["charger_voltage"]
    assert (taps.expires_s, taps.expires_before, taps.first_row) == (3600.0, "board_connected", 0)
    assert charger.expires_s == 180 * 86400.0


def test_group_columns_appear_with_the_series_count(checklist: Checklist) -> None:
    for table in ("discharge_points", "rechecks"):
        for n in range(2, 11):
            column = checklist.items[table].column(f"g{n}")
            assert column is not None
            assert [(c.item, c.at_least) for c in column.only_if] == [("series_count", n)]


def test_new_cells_are_not_asked_for_the_screening_of_salvaged_ones(checklist: Checklist) -> None:
    columns = checklist.items["candidates"].columns
    shown = {c.id for c in columns if all(_holds(k, SIMPLE) for k in c.only_if)}
    assert {c.id for c in columns} - shown == {"warmest", "charged_on", "rest_1_on", "rest_1_voltage", "rest_2_on",
                                               "rest_2_voltage", "rest_temperature"}
    salvaged = {**SIMPLE, "cells_source": "salvaged"}
    assert all(_holds(k, salvaged) for c in columns for k in c.only_if)


def test_a_simple_pack_is_not_asked_for_everything(checklist: Checklist) -> None:
    shown = _visible(checklist, SIMPLE)
    assert {step: len(items) for step, items in shown.items() if len(items) > 45} == {}
    assert sum(map(len, shown.values())) <= 190
    for name in ("donors", "first_charge_cells", "remeasured_after_solder", "charger_control", "shaft_positions", "sag",
                 "shunt_resistance", "publish_licence", "lending_rule"):
        assert name not in {i for items in shown.values() for i in items}, name


def test_a_light_is_not_asked_about_its_motor(checklist: Checklist) -> None:
    shown = {i for items in _visible(checklist, {**SIMPLE, "tool_kind": "light"}).values() for i in items}
    motor = {"winding_method", "winding_resistance", "stall_burst_current", "current_limiter", "stall_ended_by"}
    assert not shown & motor


def test_one_group_alone_is_not_asked_about_balancing(checklist: Checklist) -> None:
    shown = {i for items in _visible(checklist, {**SIMPLE, "series_count": "1"}).values() for i in items}
    assert not shown & {"board_balance_start", "balance_access", "balancing_seen", "series_links"}


def test_leaving_every_switch_unanswered_hides_no_must_of_the_shared_names(checklist: Checklist) -> None:
    shown = {i for items in _visible(checklist, {}).values() for i in items}
    hidden = {i.id for i in checklist.all_items() if i.need == "must" and i.id not in shown}
    assert hidden <= {"donor_opened", "first_charge_cells", "solder_care", "soldered_cells", "remeasured_after_solder",
                      "series_links", "balance_access"}


def test_measured_things_are_never_carried_to_the_next_build(checklist: Checklist) -> None:
    always_afresh = {"candidates", "groups", "taps", "case_insulation", "tool_polarity", "joints", "board_idle_current",
                     "charger_voltage", "alarm_channels", "charge_groups", "event_groups", "discharge_log", "rechecks",
                     "label_fixed", "label_photo", "wiring_photo", "nickel_handed_in", "first_charge_groups"}
    assert {n for n in always_afresh if checklist.items[n].reuse != "measure again"} == set()
    ticks: list[Item] = [i for i in checklist.all_items() if i.kind == "tick"]
    assert [i.id for i in ticks if i.reuse != "measure again"] == []


def test_the_tool_and_its_recipe_are_carried(checklist: Checklist) -> None:
    carried = {"tool", "series_count", "fuse_family", "board_series", "welder_setting", "charger_kind", "test_current"}
    confirmed = {"rated_voltage", "old_chemistry", "old_cells", "old_mass", "housing_length", "clearance", "free_current", "working_current", "parallel_count", "fuse_rating", "board_cutoff", "alarm_setting"}
    assert {n for n in carried if checklist.items[n].reuse != "carry"} == set()
    assert {n for n in confirmed if checklist.items[n].reuse != "confirm"} == set()
