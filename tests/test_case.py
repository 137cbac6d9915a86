"""Cases: precedence, units of bare numbers, presets, and a plain sentence for every mistake."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from freecool.answers.estimate import estimate
from freecool.cases.case_file import read_case_file
from freecool.cases.model import Case, case_fields, make_case
from freecool.cases.presets import DEFAULT_PRESET, PRESETS, SOURCES
from freecool.cases.quantity import ELEVATION
from freecool.core.errors import CaseError
from freecool.core.units import parse
from freecool.weather import open_weather


def test_option_beats_file_beats_preset() -> None:
    preset = make_case()
    told = {"schedule": {"cooling": "77F"}, "fan": {"power": "0.5 W/cfm"}}
    file = make_case(told)
    both = make_case(told, {"schedule": {"cooling": "73F"}})
    assert preset.preset == DEFAULT_PRESET
    assert [round(case.schedule.cooling * 1.8 + 32.0, 6) for case in (preset, file, both)] == [75.0, 77.0, 73.0]
    assert both.fan.power == file.fan.power == pytest.approx(parse("0.5 W/cfm", "fan_power"))
    assert both.schedule.heating == preset.schedule.heating


def test_preset_named_by_option_beats_the_one_in_the_file() -> None:
    told = {"preset": "shop", "rule": {"differential": "3F"}}
    assert make_case(told).preset == "shop"
    chosen = make_case(told, preset="small-office")
    assert chosen.preset == "small-office"
    assert chosen.fan.flow == pytest.approx(parse("5000 cfm", "flow"))
    assert chosen.rule.differential == pytest.approx(3.0 / 1.8)


@pytest.mark.parametrize(
    ("units", "number", "celsius"), [("ip", 77, 25.0), ("si", 25, 25.0), ("si", "77F", 25.0), ("ip", "25C", 25.0)]
)
def test_a_bare_number_takes_the_unit_system(units: str, number: Any, celsius: float) -> None:
    case = make_case({"schedule": {"cooling": number}}, units=units)  # type: ignore[arg-type]
    assert case.schedule.cooling == pytest.approx(celsius)
    assert case.rule.differential == pytest.approx(5.0 / 1.8), "a default with a unit must not change with the system"


@pytest.mark.parametrize("units", ["ip", "si"])
@pytest.mark.parametrize("preset", list(PRESETS))
def test_presets_do_not_depend_on_the_unit_system(preset: Any, units: str) -> None:
    assert make_case(preset=preset, units=units) == make_case(preset=preset)  # type: ignore[arg-type]


@pytest.mark.parametrize("preset", list(PRESETS))
def test_every_preset_gives_an_answer(preset: Any) -> None:
    answer = estimate(make_case(preset=preset), open_weather("demo:mixed-inland"))
    assert answer.hours.cooling > 0.0
    assert answer.hours.unmet < 300.0
    assert answer.energy.compressor_kwh_avoided > 0.0


BAD = {
    "unknown preset": ({"preset": "smal-office"}, "'small-office'"),
    "unknown section": ({"fann": {}}, "'fan'"),
    "unknown key": ({"fan": {"flw": 1}}, "fan.flw is not a key (did you mean 'flow'?)"),
    "no table": ({"fan": 3}, "expected a table [fan]"),
    "set point of 750": ({"schedule": {"cooling": 750}}, "schedule.cooling"),
    "set point in the wrong system": ({"schedule": {"cooling": 24}}, "write the unit"),
    "wrong unit": ({"fan": {"flow": "1200 W"}}, "is not a unit of flow"),
    "no number": ({"fan": {"flow": "much"}}, "expected a number with a unit"),
    "heating above cooling": ({"schedule": {"heating": "76F"}}, "heating must be at least"),
    "setback heating above cooling": ({"schedule": {"heating_unoccupied": "74.5F"}}, "heating must be at least"),
    "hours": ({"schedule": {"occupied_hours": "morning"}}, "schedule.occupied_hours is 'morning'"),
    "days": ({"schedule": {"occupied_days": "mon-fry"}}, "occupied_days is 'mon-fry'"),
    "share above one": ({"damper": {"outdoor_share": 1.5}}, "damper.outdoor_share is 1.5, expected more than 0 to 1"),
    "minimum as great as the open share": (
        {"damper": {"outdoor_share": 0.4, "minimum_share": 0.4}},
        "damper.minimum_share is 0.4 and outdoor_share 0.4: expected an open damper to bring more outdoor air than a "
        "shut one; give a smaller minimum_share or a larger outdoor_share",
    ),
    "leakage above the open share": ({"damper": {"outdoor_share": 0.3, "leakage": 0.4}}, "leakage is 0.4"),
    "minimum of all": ({"damper": {"minimum_share": 1}}, "damper.minimum_share is 1, expected 0 to less than 1"),
    "relief fan in the wrong unit": ({"damper": {"relief_fan": "3 W"}}, "is not a unit of fan power"),
    "negative price": ({"money": {"price": -0.1}}, "money.price is -0.1, expected 0 to 10"),
    "rule name": ({"rule": {"name": "enthalpie"}}, "expected one of differential, return-differential"),
    "climate zone": ({"site": {"climate_zone": "9Z"}}, "site.climate_zone is '9Z'"),
    "fan too small for the unit": ({"fan": {"flow": "100 cfm"}}, "cfm a ton"),
    "half a mild point": ({"unit": {"mild_eer": 14}}, "go together"),
    "a truth for a number": ({"fan": {"flow": True}}, "fan.flow"),
    "infinite": ({"schedule": {"cooling": "inf"}}, "schedule.cooling"),
    "not a number": ({"money": {"price": float("nan")}}, "money.price is nan, expected 0 to 10"),
    "no yes or no": ({"fan": {"variable": "often"}}, "fan.variable is 'often', expected true or false"),
    "long name": ({"name": "x" * 301}, "name has 301 characters, expected at most 300"),
    "no list": ({"money": {"tariff": 5}}, "money.tariff is 5, expected a list of tables"),
    "years": ({"money": {"life_years": 2.5}}, "money.life_years is 2.5, expected a whole number, 1 to 60"),
    "a fan for nothing": ({"fan": {"power": 0}}, "fan.power is 0, which would cost nothing; write 0W/cfm if that"),
    "a fan in the wrong power of ten": ({"fan": {"power": "0.4W/(m3/s)"}}, "(0.4 W/(m³/s)), expected 0.05 W/cfm to 2"),
    "a high limit in °C": ({"rule": {"high_limit": 24}}, "24 °F (-4.44 °C), expected 40 °F to 100 °F; write the unit"),
    "a dew-point limit in °C": ({"rule": {"dew_point_limit": "13"}}, "13 °F (-10.6 °C), expected 30 °F to 75 °F"),
    "an enthalpy limit in kJ/kg": ({"rule": {"enthalpy_limit": 47}}, "expected 20 Btu/lb to 40 Btu/lb"),
    "an efficiency as a COP": ({"unit": {"eer": 3.5}}, "unit.eer is 3.5"),
    "a capacity in kW": ({"unit": {"capacity": 10.5}}, "expected 130 to 1,000 cfm a ton"),
    "no hour": ({"schedule": {"occupied_hours": "7-7"}}, "'7-7' covers no hour: \"0-24\" is the whole day"),
    "midnight to midnight": ({"schedule": {"occupied_hours": "0-0"}}, "covers no hour"),
    "a number of hours": ({"schedule": {"occupied_hours": "24"}}, "covers no hour"),
    "an hour of nothing among others": ({"schedule": {"occupied_hours": "6-8,9-9"}}, "'9-9' covers no hour"),
    "a truth for a price": ({"money": {"price": True}}, "money.price is True, expected 0 to 10"),
    "a truth for a count": ({"building": {"storeys": True}}, "building.storeys is True, expected a whole number, 1 to"),
    "a truth for an optional number": ({"unit": {"low_flow": True}}, "unit.low_flow is True, expected 0.1 to 1"),
    "a truth within a list": ({"money": {"tariff": [{"price": True}]}}, "price is True, expected 0 to 10"),
    "no preset": ({"preset": ""}, "'' is not a building preset"),
    "a preset that is none": ({"preset": False}, "False is not a building preset"),
    "half a mild point's capacity": (
        {"unit": {"mild_capacity": "0.5ton", "mild_eer": 14}},
        "mild_capacity is 0.5 ton and capacity 3 ton: expected 0.8 to 1.5 times as much",
    ),
    "a mild point of another unit": ({"unit": {"mild_capacity": "500ton", "mild_eer": 14}}, "give figures of one unit"),
}

# A number in the wrong system's unit, as it is typed: what the other system would say.
MISREAD = [
    ("si", {"fan": {"power": 0.365}}, "0.365 W/(m³/s)"),
    ("si", {"schedule": {"cooling": 75}}, "75 °C"),
    ("si", {"rule": {"high_limit": 65}}, "65 °C"),
    ("si", {"rule": {"dew_point_limit": 55}}, "55 °C"),
    ("si", {"rule": {"enthalpy_limit": 28}}, "28 kJ/kg"),
    ("si", {"fan": {"flow": 1200}}, "1,200 m³/s"),
    ("si", {"unit": {"eer": 12}}, "12 W/W"),
    ("si", {"damper": {"mixed_air_minimum": 50}}, "50 °C"),
    ("ip", {"fan": {"power": 750}}, "750 W/cfm"),
    ("ip", {"fan": {"flow": 0.6}}, "0.6 cfm"),
    ("ip", {"damper": {"mixed_air_minimum": 10}}, "10 °F"),
    ("ip", {"humidity": {"caution_dew_point": 15.5}}, "15.5 °F"),
]


@pytest.mark.parametrize(("units", "told", "read_as"), MISREAD)
def test_a_number_in_the_wrong_unit_is_refused_with_what_it_was_read_as(units: Any, told: Any, read_as: str) -> None:
    with pytest.raises(CaseError) as caught:
        make_case(told, units=units)
    assert f": {read_as} (" in str(caught.value)
    assert str(caught.value).endswith("; write the unit if another was meant.")


def test_every_number_has_its_range() -> None:
    numbers = [field for field in case_fields().values() if field.kind in ("quantity", "number", "integer")]
    assert len(numbers) > 60
    assert [field.key for field in numbers if field.bounds is None] == []


@pytest.mark.parametrize(("text", "units", "said"), [
    ("99999", "ip", "--elevation is '99999': 99,999 ft (30,479.7 m), expected -1,500 ft to 18,000 ft"),
    ("99999", "si", "--elevation is '99999': 99,999 m"),
    ("high", "ip", "--elevation is 'high': expected a number with a unit"),
    ("inf", "ip", "--elevation is 'inf': expected a number with a unit"),
])  # fmt: skip
def test_an_elevation_where_nobody_lives_is_refused(text: str, units: Any, said: str) -> None:
    with pytest.raises(CaseError) as caught:
        ELEVATION.told(text, units, "--elevation")
    assert str(caught.value).startswith(said)


def test_a_fan_without_power_is_told_with_its_unit() -> None:
    assert make_case({"fan": {"power": "0W/cfm"}}).fan.power == 0.0
    assert make_case({"damper": {"relief_fan": 0}}).damper.relief_fan == 0.0


@pytest.mark.parametrize("name", BAD)
def test_a_mistake_gets_a_plain_sentence(name: Any) -> None:
    told, said = BAD[name]
    with pytest.raises(CaseError) as caught:
        make_case(told, where="mine.toml")  # type: ignore[arg-type]
    text = str(caught.value)
    assert text.startswith("mine.toml: ")
    assert said in text
    assert text.endswith(".")
    for jargon in ("Traceback", "pydantic", "validation error", "input should", "\n", "type="):
        assert jargon not in text


def test_all_faults_come_in_one_message() -> None:
    with pytest.raises(CaseError) as caught:
        make_case({"fan": {"flow": "x"}, "money": {"price": -1}, "damper": {"leekage": 0}})
    assert all(place in str(caught.value) for place in ("fan.flow", "money.price", "damper.leekage"))


def test_case_files(tmp_path: Path) -> None:
    good = tmp_path / "good.toml"
    good.write_text('preset = "shop"\n[rule]\ndifferential = "4F"\n', encoding="utf-8-sig")
    assert make_case(read_case_file(good)).rule.differential == pytest.approx(4.0 / 1.8)
    broken = tmp_path / "broken.toml"
    broken.write_text("[rule\n")
    with pytest.raises(CaseError, match=r"not valid TOML.*line 1"):
        read_case_file(broken)
    latin = tmp_path / "latin.toml"
    latin.write_bytes('name = "Café"'.encode("latin-1"))
    with pytest.raises(CaseError, match="UTF-8"):
        read_case_file(latin)
    with pytest.raises(CaseError, match="no such case file"):
        read_case_file(tmp_path / "missing.toml")
    with pytest.raises(CaseError, match="cannot be read"):
        read_case_file(tmp_path)


@pytest.mark.parametrize("place", list(SOURCES))
def test_every_source_belongs_to_a_key(place: Any) -> None:
    part: BaseModel = make_case()
    for piece in place.split("."):
        assert piece in type(part).model_fields, place
        part = getattr(part, piece)
    assert SOURCES[place].strip()


@pytest.mark.parametrize(
    ("hours", "count", "first"), [("7-18", 11, 7), ("22-6", 8, 22), ("0-24", 24, 0), ("9", 1, 9), ("6-8,17-22", 7, 6)]
)
def test_occupied_hours(hours: str, count: int, first: int) -> None:
    found = make_case({"schedule": {"occupied_hours": hours}}).schedule.hours()
    assert len(found) == count
    assert first in found


@pytest.mark.parametrize(
    ("days", "expected"),
    [("mon-fri", {0, 1, 2, 3, 4}), ("sat-mon", {5, 6, 0}), ("wed", {2}), ("mon-sun", set(range(7)))],
)
def test_occupied_days(days: str, expected: Any) -> None:
    assert make_case({"schedule": {"occupied_days": days}}).schedule.days() == expected


def test_resolved_case_names_its_units() -> None:
    told = make_case().to_dict()
    assert told["schedule"]["cooling_c"] == pytest.approx(23.8889, abs=1e-4)
    assert told["fan"]["flow_m3_s"] == pytest.approx(1200.0 * 0.000471947443)
    assert told["unit"]["capacity_w"] == pytest.approx(3.0 * 3516.85284)


def test_a_case_cannot_be_changed_behind_an_answer() -> None:
    case: Case = make_case()
    with pytest.raises(ValueError, match="frozen"):
        case.schedule.cooling = 20.0  # type: ignore[misc]
