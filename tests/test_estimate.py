"""The answer: its contract, its sums, and what different climates must show."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from freecool.answers.estimate import Estimate, estimate
from freecool.answers.pick import sweep_differential
from freecool.answers.prepare import INFRARED
from freecool.cases.model import make_case
from freecool.core.units import parse
from freecool.weather import open_weather

GREENSBORO = "723170TYA.CSV"
LIGHT = "detached-house-light"


@pytest.fixture(scope="module")
def light(pvlib_weather: Callable[[str], Path]) -> Estimate:
    return estimate(make_case(preset=LIGHT), open_weather(str(pvlib_weather(GREENSBORO))))


@pytest.fixture(scope="module")
def office(pvlib_weather: Callable[[str], Path]) -> Estimate:
    return estimate(make_case(preset="small-office"), open_weather(str(pvlib_weather(GREENSBORO))))


# Keys that others build on: they may be added to, never renamed.
CONTRACT = {
    "weather": ("source", "name", "latitude", "longitude", "elevation_m", "hours", "years", "filled_hours"),
    "inputs": ("setpoint_c", "differential_k", "flow_m3_s", "fan_w_per_m3_s"),
    "hours": ("period", "permitted", "cooling", "coincident", "free_cooling", "carried", "damp", "unmet"),
    "energy": (
        "compressor_kwh_without",
        "compressor_kwh_with",
        "compressor_kwh_avoided",
        "fan_kwh_without",
        "fan_kwh_added",
        "net_kwh_saved",
        "net_percent",
        "cooling_percent",
        "heating_kwh_added",
    ),
    "humidity": ("risk", "rh_over_60_hours_without", "rh_over_60_hours_with", "moisture_kg_added"),
    "money": ("currency", "saved_per_year", "payback_years"),
    "model_band": ("net_kwh_saved", "compressor_kwh_avoided"),
}
TOP_LEVEL = (
    "freecool",
    "weather",
    "inputs",
    "hours",
    "energy",
    "humidity",
    "money",
    "break_even_differential_k",
    "model_band",
    "warnings",
)


def test_contract_keys(light: Any) -> None:
    answer = light.to_dict()
    assert [key for key in answer if key in TOP_LEVEL] == list(TOP_LEVEL)
    for block, keys in CONTRACT.items():
        assert [key for key in answer[block] if key in keys] == list(keys), block
    for block in ("hours", "energy", "model_band"):
        assert tuple(answer[block]) == CONTRACT[block]
    assert set(answer) == {
        *TOP_LEVEL,
        "verdict",
        "alternatives",
        "monthly",
        "open_windows",
        "indoor_humidity",
        "likely_band",
        "moved_by",
    }
    assert all(set(notice) == {"code", "text"} for notice in answer["warnings"])


def test_answer_is_plain_json(light: Any) -> None:
    text = json.dumps(light.to_dict(), allow_nan=False)
    again = json.loads(text)
    assert again["energy"]["net_kwh_saved"] == light.energy.net_kwh_saved
    assert again["humidity"]["risk"] in ("low", "watch", "high")


@pytest.mark.parametrize("name", ["light", "office"])
def test_sums(name: str, request: pytest.FixtureRequest) -> None:
    answer = request.getfixturevalue(name)
    energy, hours, hourly = answer.energy, answer.hours, answer.hourly
    assert energy.compressor_kwh_avoided == pytest.approx(energy.compressor_kwh_without - energy.compressor_kwh_with)
    assert energy.net_kwh_saved == pytest.approx(energy.compressor_kwh_avoided - energy.fan_kwh_added)
    assert energy.net_percent == pytest.approx(
        100.0 * energy.net_kwh_saved / (energy.compressor_kwh_without + energy.fan_kwh_without)
    )
    sums = hourly.sum(numeric_only=True)
    assert sums["compressor_w_without"] / 1e3 == pytest.approx(energy.compressor_kwh_without)
    assert sums["compressor_w_with"] / 1e3 == pytest.approx(energy.compressor_kwh_with)
    assert (sums["fan_w_with"] - sums["fan_w_without"]) / 1e3 == pytest.approx(energy.fan_kwh_added)
    assert (sums["heating_w_with"] - sums["heating_w_without"]) / 1e3 == pytest.approx(
        energy.heating_kwh_added, abs=1e-6
    )
    assert hourly["permitted"].sum() == hours.permitted
    assert hourly["damper_share"].sum() == pytest.approx(hours.free_cooling)
    assert (hourly["relative_humidity_percent_with"] > 60.0).sum() == answer.humidity.rh_over_60_hours_with
    assert (hourly["relative_humidity_percent_without"] > 60.0).sum() == answer.humidity.rh_over_60_hours_without
    months = answer.monthly.sum()
    assert len(answer.monthly) == 12
    assert months["compressor_kwh_avoided"] == pytest.approx(energy.compressor_kwh_avoided)
    assert months["fan_kwh_added"] == pytest.approx(energy.fan_kwh_added, abs=1e-9)
    assert months["net_kwh_saved"] == pytest.approx(energy.net_kwh_saved)
    assert months["permitted_hours"] == hours.permitted
    assert months["cooling_hours"] == hours.cooling


def test_hours_are_nested(light: Any) -> None:
    """A carried or coincident hour is a cooling hour; free cooling needs a permitted hour."""
    hours = light.hours
    assert 0.0 < hours.carried <= hours.cooling <= hours.period
    assert 0.0 < hours.coincident <= min(hours.permitted, hours.cooling)
    assert 0.0 < hours.free_cooling <= hours.permitted
    assert 0.0 < hours.damp <= hours.permitted


def test_office_with_a_continuous_fan_adds_no_fan_energy_while_occupied(office: Any) -> None:
    hourly = office.hourly
    occupied = (hourly.index.day_of_week < 5) & (hourly.index.hour >= 7) & (hourly.index.hour < 18)
    added = hourly["fan_w_with"] - hourly["fan_w_without"]
    assert np.abs(added[occupied]).max() < 1e-9
    assert hourly["damper_share"][occupied].sum() > 50.0
    assert office.break_even_differential_k == 0.0


def test_model_band_holds_the_number_and_the_second_network(light: Any) -> None:
    low, high = light.model_band["net_kwh_saved"]
    assert light.energy.net_kwh_saved in (low, high)
    assert low < high
    low, high = light.model_band["compressor_kwh_avoided"]
    assert light.energy.compressor_kwh_avoided in (low, high)


def test_free_fan_saves_all_that_the_compressor_is_spared(pvlib_weather: Callable[[str], Path]) -> None:
    case = make_case({"fan": {"power": "0 W/cfm"}}, preset=LIGHT)
    energy = estimate(case, open_weather(str(pvlib_weather(GREENSBORO)))).energy
    assert energy.fan_kwh_added == 0.0
    assert energy.compressor_kwh_avoided > 0.0
    assert energy.net_kwh_saved == pytest.approx(energy.compressor_kwh_avoided)


def test_permitted_hours_are_those_of_the_raw_file(light: Any, pvlib_weather: Callable[[str], Path]) -> None:
    """75 °F less 5 °F: every hour at 70 °F or below, as the mean of the readings at its start and end."""
    with pvlib_weather(GREENSBORO).open(newline="") as file:
        next(file)
        dry_bulb = [float(row["Dry-bulb (C)"]) for row in csv.DictReader(file)]
    assert len(dry_bulb) == 8760
    means = [(before + t) / 2.0 for before, t in zip([dry_bulb[-1], *dry_bulb], dry_bulb, strict=False)]
    assert light.hours.permitted == sum(t * 1.8 + 32.0 <= 70.0 + 1e-6 for t in means)
    assert light.hours.period == 8760


def test_damp_climate_is_told_from_a_dry_one(light: Any, shared_weather: Callable[[str], Path]) -> None:
    """The same house and rule: a humid summer climate gets damp, the high desert does not."""
    desert = estimate(make_case(preset=LIGHT), open_weather(str(shared_weather("723650TYA_Albuquerque_TMY3.csv"))))

    def added(answer: Estimate) -> float:
        return answer.humidity.rh_over_60_hours_with - answer.humidity.rh_over_60_hours_without

    assert light.humidity.risk != "low"
    assert desert.humidity.risk == "low"
    assert added(light) > 10.0 * max(added(desert), 1.0)
    assert light.hours.damp > 10.0 * desert.hours.damp
    assert desert.hours.carried > light.hours.carried


def test_one_station_in_two_formats(shared_weather: Callable[[str], Path]) -> None:
    """Golden as EPW, but for its heat of the sky, and as TMY3: the EPW rounds nothing that energy feels by 0.1 %."""
    weathers = [
        open_weather(str(shared_weather(name)))
        for name in ("USA_CO_Golden-NREL.724666_TMY3.epw", "724666TYA_GoldenNREL_TMY3.csv")
    ]
    epw, tmy3 = (
        estimate(make_case(preset=LIGHT), replace(each, frame=each.frame.drop(columns=INFRARED, errors="ignore")))
        for each in weathers
    )
    dry_bulb = [answer.weather.frame["dry_bulb_c"].to_numpy() for answer in (epw, tmy3)]
    np.testing.assert_allclose(dry_bulb[0], dry_bulb[1], atol=0.051)
    assert epw.hours.permitted == tmy3.hours.permitted
    assert epw.energy.compressor_kwh_without == pytest.approx(tmy3.energy.compressor_kwh_without, rel=1e-3)
    # Not their difference, which is near nothing here.
    assert epw.energy.compressor_kwh_avoided == pytest.approx(tmy3.energy.compressor_kwh_avoided, rel=1e-3)
    assert epw.energy.fan_kwh_added == pytest.approx(tmy3.energy.fan_kwh_added, rel=1e-3)


def test_a_building_that_is_never_cooled_is_told_so(pvlib_weather: Callable[[str], Path]) -> None:
    case = make_case(
        {"schedule": {"cooling": "95F"}, "gains": {"occupied": 0, "unoccupied": 0}}, preset="detached-house-heavy"
    )
    answer = estimate(case, open_weather(str(pvlib_weather("703165TY.csv"))))
    assert answer.hours.cooling == 0.0
    assert answer.verdict == "no"
    assert answer.energy.net_kwh_saved == 0.0
    assert "never_coincident" in {notice.code for notice in answer.warnings}


def test_differential_in_kelvin_and_fahrenheit_is_the_same(light: Any, pvlib_weather: Callable[[str], Path]) -> None:
    kelvin = parse("5 F", "difference")
    case = make_case(
        {"rule": {"differential": kelvin}, "schedule": {"cooling": parse("75F", "temperature"), "heating": 20.0}},
        preset=LIGHT,
        units="si",
    )
    again = estimate(case, open_weather(str(pvlib_weather(GREENSBORO))))
    assert again.energy.net_kwh_saved == pytest.approx(light.energy.net_kwh_saved, rel=1e-9)


@pytest.mark.parametrize("preset", [LIGHT, "small-office"])
def test_minimum_outdoor_air_alone_avoids_nothing(preset: str) -> None:
    """A rule that never opens: with and without the damper the fan draws the same, in every run of every job."""
    told = {
        "damper": {"minimum_share": 0.2, "relief_fan": "0.2 W/cfm"},
        "rule": {"high_limit": "40F", "low_limit": "70F"},
    }
    case, weather = make_case(told, preset=preset), open_weather("demo:mixed-inland")
    answer = estimate(case, weather)
    assert answer.energy.compressor_kwh_without > 100.0
    assert answer.energy.compressor_kwh_avoided == answer.energy.fan_kwh_added == answer.energy.heating_kwh_added == 0.0
    assert answer.model_band == {"net_kwh_saved": (0.0, 0.0), "compressor_kwh_avoided": (0.0, 0.0)}
    sweep = sweep_differential(case, weather, (0.0, 3.0), draws=0)
    varied = [*(candidate.outcome.energy.net_kwh_saved for candidate in sweep.candidates), *sweep.model_band]
    varied += [variation.net_kwh_saved for variation in (*sweep.precool, *sweep.fan)]
    assert len(varied) > 8
    assert set(varied) == {0.0}
