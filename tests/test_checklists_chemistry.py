"""Chemistries are data: their limits fill a checklist, their curve is chosen, and adding one needs no code."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack import data, units
from buildtrack.physics.chemistries import FILE, Chemistry, chemistries, chemistry
from buildtrack.physics.ocv_library import generic_curve, load_curve
from buildtrack.storage.checklist_file import find_checklist, parse_checklist
from buildtrack.workings.cells_curve import curve_for, slope_v_per_share
from tests.make import sheet_with

EACH = sorted(chemistries())
TEXT = '''format = 1
id = "one"
version = "1"
title = "One cell"
purpose = "To test chemistries"
chemistry = "{chemistry}"
{more}
[[steps]]
id = "plan"
title = "Plan"
[[steps.items]]
id = "series_count"
kind = "reading"
label = "In series"
dimension = "count"
'''
OWN = '''
[chemistries.lemon]
label = "Lemon and zinc (made up)"
curve = "lemon_cell"
tells_charge = true
charge_zones = [{ from = "5 °C", to = "30 °C", rate = "0.1 C", voltage = "1.1 V" }]
charge_zones_from = "made up"

[chemistries.lemon.limits]
cell_full = { value = "1.10 V", source_text = "made up for a test" }
cell_nominal = { value = "0.9 V", source_text = "made up for a test" }
cell_empty = { value = "0.7 V", source_text = "made up for a test" }
'''
CURVE = '''title = "Lemon cell"
chemistry = "LEMON"
source = "made up"
validity = "made up for a test"
soc = [0, 0.5, 1]
voltage_v = [0.7, 0.9, 1.1]
'''


def value(name: str, limit: str) -> float:
    found = chemistries()[name].limits[limit]
    dimension = found.dimension or units.dimension_of(found.unit)
    return units.parse(found.value, dimension, found.unit).value


@pytest.mark.parametrize("name", EACH)
def test_the_limits_of_a_chemistry_stand_in_order(name: str) -> None:
    rising = ("cell_minimum", "cell_empty", "cell_nominal", "cell_full", "charge_alarm", "charge_stop", "cell_absolute_max")
    values = [value(name, limit) for limit in rising]
    assert values == sorted(values), dict(zip(rising, values, strict=True))
    assert value(name, "cell_empty") < value(name, "alarm_rest_target") < value(name, "cell_full")
    assert value(name, "storage_low") < value(name, "storage_high") < value(name, "cell_full")
    assert value(name, "arrival_published") <= value(name, "arrival_never") < value(name, "arrival_stop") <= value(name, "arrival_slow")
    assert value(name, "charge_temp_never") < value(name, "charge_temp_low") < value(name, "charge_temp_high")


@pytest.mark.parametrize("name", EACH)
def test_a_chemistry_sets_every_limit_and_names_where_each_is_from(name: str) -> None:
    found = chemistries()[name]
    assert list(found.limits) == list(data.load("chemistries")["limits"])
    assert all(limit.source.startswith(("common practice, no source", "definition")) or len(limit.source) > 25 for limit in found.limits.values())
    assert found.charge_zones and found.sources["charge_zones_from"]


@pytest.mark.parametrize("name", EACH)
def test_the_charge_zones_join_and_end_where_charging_ends(name: str) -> None:
    zones = chemistries()[name].charge_zones
    assert all(a.high == b.low for a, b in zip(zones, zones[1:], strict=False))
    assert units.parse(zones[0].low, "temperature", "°C").value == value(name, "charge_temp_never")
    assert all(units.parse(z.voltage, "voltage", "V").value <= value(name, "cell_full") + 1e-9 for z in zones)


@pytest.mark.parametrize("name", EACH)
def test_the_curve_of_a_chemistry_comes_with_its_source(name: str) -> None:
    found = chemistries()[name]
    curve = load_curve(found.curve)
    assert curve.source == found.sources["source"]
    assert found.stand_in or curve.chemistry.lower() == name


def test_iron_phosphate_voltages_are_those_of_its_makers() -> None:
    # atoallinks.com, handling guideline for LiFePO4 cells (2024): at most 3.65 V, 0 to 45 °C;
    # machineu.com, 26650 solar light battery of four cells: 12.8 V nominal, 10 V end of discharge
    assert value("lfp", "cell_full") == 3.65
    assert 4 * value("lfp", "cell_nominal") == pytest.approx(12.8)
    assert 4 * value("lfp", "cell_minimum") == pytest.approx(10.0)
    assert (value("lfp", "charge_temp_never"), value("lfp", "charge_temp_high")) == (0.0, 45.0)


def test_a_resting_voltage_tells_nothing_of_iron_phosphate_and_the_curve_agrees() -> None:
    assert [n for n in EACH if not chemistries()[n].tells_charge] == ["lfp"]
    assert slope_v_per_share("lfp", 3.300, 3.295) is None
    assert slope_v_per_share("nmc", 4.10, 4.09) is not None


def test_a_checklist_takes_its_limits_from_its_chemistry() -> None:
    found, problems = parse_checklist(TEXT.format(chemistry="lfp", more=""))
    assert problems == []
    assert found.policy["cell_full"].text == "3.65 V" and found.policy["cell_full"].value == 3.65
    assert set(found.policy) == set(chemistries()["lfp"].limits)


def test_what_a_checklist_gives_itself_wins_and_what_it_leaves_out_is_not_there() -> None:
    own = '[policy.cell_full]\nlabel = "Full"\nvalue = "3.60 V"\nunit = "V"\nsource = "common practice, no source"\n'
    found, problems = parse_checklist(TEXT.format(chemistry="lfp", more='leave_out_policies = ["cell_hot"]\n' + own))
    assert problems == []
    assert found.policy["cell_full"].value == 3.60 and "cell_hot" not in found.policy


def test_an_unknown_chemistry_is_a_problem_with_its_line() -> None:
    _, problems = parse_checklist(TEXT.format(chemistry="lemon", more=""))
    assert [str(p) for p in problems] == ["line 6: file: chemistry 'lemon' is not known; there are: " + ", ".join(chemistries())]


@pytest.fixture
def own_lemon(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "ocv").mkdir()
    (tmp_path / FILE).write_text(OWN, encoding="utf-8")
    (tmp_path / "ocv" / "lemon_cell.toml").write_text(CURVE, encoding="utf-8")
    monkeypatch.setenv("BUILDTRACK_CONFIG", str(tmp_path))
    return tmp_path


def test_a_made_up_chemistry_needs_a_file_and_no_code(own_lemon: Path) -> None:
    found, problems = parse_checklist(TEXT.format(chemistry="lemon", more=""))
    assert problems == []
    assert {p.id: p.value for p in found.policies} == {"cell_full": 1.1, "cell_nominal": 0.9, "cell_empty": 0.7}
    sheet = sheet_with({"series_count": "3"}, found)
    assert sheet.number("pack_full_voltage") == pytest.approx(3.3)
    assert sheet.number("pack_nominal_voltage") == pytest.approx(2.7)
    # straight between the points of its curve: 0.8 V is a quarter full, 0.4 V a whole charge
    assert curve_for("lemon").soc(0.8) == pytest.approx(0.25)
    assert slope_v_per_share("lemon", 0.8, 0.8) == pytest.approx(0.4, rel=0.01)
    kind = chemistry("Lemon")
    assert isinstance(kind, Chemistry) and kind.charge_zones[0].rate == "0.1 C"


WRONG = [
    (OWN.replace("chemistries.lemon", "chemistries.nmc"), "chemistry 'nmc' comes with the program"),
    (OWN.replace('label = "Lemon', 'lable = "Lemon'), "'lable' is not a key of a chemistry"),
    (OWN.replace('curve = "lemon_cell"\n', ""), "'curve' is missing"),
    (OWN.replace("cell_full", "cell_fill"), "'cell_fill' is no limit of a chemistry"),
    (OWN.replace(', source_text = "made up for a test"', "", 1), "limit 'cell_full' has a value and a source_text"),
    (OWN.replace('rate = "0.1 C", ', ""), "each of 'charge_zones' has from, to, rate and voltage"),
    ("chemistries = 3\n", "holds tables"), ("x = ", "cannot be read"),
]


@pytest.mark.parametrize(("text", "says"), WRONG)
def test_a_mistake_in_a_persons_chemistries_is_one_clear_line(
        text: str, says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / FILE).write_text(text, encoding="utf-8")
    monkeypatch.setenv("BUILDTRACK_CONFIG", str(tmp_path))
    with pytest.raises(ValueError, match=says) as caught:
        chemistries()
    assert FILE in str(caught.value) and "\n" not in str(caught.value)
    assert any(says in str(p) for p in parse_checklist(TEXT.format(chemistry="lfp", more=""))[1])


def test_a_curve_that_is_not_there_is_refused(own_lemon: Path) -> None:
    (own_lemon / "ocv" / "half_cell.toml").write_text('title = "x"\n', encoding="utf-8")
    with pytest.raises(ValueError, match="lacks soc, voltage_v"):
        load_curve("half_cell")
    with pytest.raises(ValueError, match="there is no curve '../lemon_cell'"):
        load_curve("../lemon_cell")


def test_curves_of_known_chemistries_are_as_before() -> None:
    assert {n: generic_curve(n).key for n in ("NMC", "nca", "LCO", "lfp", "NMC811")} == {
        "NMC": "nmc_2050", "nca": "nca_2730", "LCO": "gauge_default", "lfp": "lfp_3000", "NMC811": "nmc811_5000"}
    assert curve_for("unknown").key == "nmc_2050"


def test_the_lead_replacement_charges_lower_than_its_chemistry_allows() -> None:
    shed = find_checklist("shed-light-lfp")
    assert shed.policy["cell_full"].value == 3.60
    # three lead cells of 2.40 V, shared by two
    assert 2 * shed.policy["cell_full"].value == pytest.approx(3 * 2.40)
