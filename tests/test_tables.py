"""The year by hour, month and outdoor temperature: the same year, cut otherwise."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from test_cli import freecool

from freecool.answers.estimate import Estimate, estimate
from freecool.answers.hourly import HOURLY_MEANS
from freecool.answers.prepare import prepare
from freecool.answers.tables import BIN_F
from freecool.cases.model import make_case
from freecool.weather import open_weather

PRESETS = ("detached-house-medium", "small-office")


@pytest.fixture(scope="module", params=PRESETS)
def answer(request: pytest.FixtureRequest) -> Estimate:
    return estimate(make_case(preset=request.param), open_weather("demo:mixed-inland"))


@pytest.mark.parametrize("name", ["bins", "monthly"])
def test_every_cut_adds_up_to_the_year(answer: Estimate, name: str) -> None:
    table = getattr(answer, name)
    for block in (answer.hours, answer.energy):
        for column in ("compressor_kwh_without", "compressor_kwh_avoided", "fan_kwh_added", "net_kwh_saved"):
            if hasattr(block, column):
                assert table[column].sum() == pytest.approx(getattr(block, column), abs=1e-6)
    assert table["permitted_hours"].sum() == answer.hours.permitted
    assert table["cooling_hours"].sum() == answer.hours.cooling
    assert table["free_cooling_hours"].sum() == pytest.approx(answer.hours.free_cooling, abs=1e-6)


def test_bins_hold_the_hours_of_their_temperatures(answer: Estimate) -> None:
    """Counted again by another way, from the hourly table."""
    warm_f = answer.hourly["outdoor_dry_bulb_c"].to_numpy() * 1.8 + 32.0
    for low_f, row in answer.bins.iterrows():
        assert row["outdoor_to_f"] == int(str(low_f)) + BIN_F
        inside = (warm_f >= int(str(low_f)) - 1e-6) & (warm_f < row["outdoor_to_f"] - 1e-6)
        assert row["hours"] == inside.sum()
        dew = answer.hourly["outdoor_dew_point_c"].to_numpy()[inside].mean()
        assert row["mean_dew_point_c"] == pytest.approx(dew)
    assert answer.bins["hours"].sum() == 8760
    assert list(answer.bins.index) == sorted(answer.bins.index)


def test_every_hourly_column_is_told_in_the_table_and_on_the_page(answer: Estimate) -> None:
    columns = answer.hourly.attrs["columns"]
    assert list(columns) == ["time", *answer.hourly.columns]
    assert set(answer.bins.attrs["columns"]) == {answer.bins.index.name, *answer.bins.columns}
    page = (Path(__file__).parents[1] / "docs" / "python.md").read_text("utf-8")
    for name, means in HOURLY_MEANS.items():
        assert f"| `{name}` | {means} |" in page
    assert set(columns.values()) - {columns["time"]} == set(HOURLY_MEANS.values())


@pytest.mark.parametrize(
    ("preset", "told", "apart_k"),
    [
        ("detached-house-medium", {}, 1e-9),
        ("equipment-room", {"damper": {"integrated": False}}, 1e-9),
        # Its ventilation has the density of outdoor air in the zone, of mixed air in the fan.
        ("small-office", {}, 0.45),
    ],
)
def test_supply_air_brings_the_heat_of_the_room_s_balance(preset: str, told: Any, apart_k: float) -> None:
    """By another way: all heat to the room's air, less infiltration's, over the air that the fan moves."""
    case, weather = make_case(told, preset=preset), open_weather("demo:high-desert")
    answer, prepared = estimate(case, weather), prepare(case, weather)
    hours, table = prepared.zone.hours, answer.hourly
    ventilation = np.where(hours.continuous > 0.0, hours.ventilation_m3_s, 0.0)
    infiltration_w_k = (hours.air_change_kg_s - ventilation * hours.density_kg_m3) * hours.heat_j_kgk
    for name, run in zip(("without", "with"), answer.pair, strict=True):
        room_c, mixed_c = run.column("indoor_c"), table[f"mixed_air_c_{name}"].to_numpy()
        moved = np.maximum(hours.continuous, np.maximum(run.column("damper"), run.column("run_time")))
        heat_w = (
            run.column("sensible_to_air_w")
            + run.column("extra_air_w")
            - run.column("extra_air_w_k") * room_c
            - infiltration_w_k * (hours.outdoor_c - room_c)
        )
        kg_s = prepared.fan.flow_m3_s * hours.density_kg_m3 * (hours.outdoor_c + 273.15) / (mixed_c + 273.15)
        runs = moved > 0.0
        supply_c = room_c[runs] + heat_w[runs] / (moved * kg_s * hours.heat_j_kgk)[runs]
        assert table[f"supply_air_c_{name}"].to_numpy()[runs] == pytest.approx(supply_c, abs=apart_k)
        assert list(table[f"mixed_air_c_{name}"].notna()) == list(runs)


def test_the_mixed_air_low_limit_holds_the_damper_back() -> None:
    """60 °F, kept by mixing wherever the air that comes in is colder and return air warmer."""
    case = make_case({"damper": {"mixed_air_minimum": "60F"}}, preset="equipment-room")
    table = estimate(case, open_weather("demo:high-desert")).hourly
    wide_open = table[(table["damper_share"] > 0.0) & (table["outdoor_dry_bulb_c"] < 10.0)]
    assert len(wide_open) > 1_000
    # Nothing but the damper moves air in the hours in which the compressor stays off.
    alone = wide_open[wide_open["compressor_w_with"] == 0.0]
    assert alone["mixed_air_c_with"].to_numpy() == pytest.approx((60.0 - 32.0) / 1.8, abs=1e-9)


def test_nothing_is_saved_where_the_rule_is_shut(answer: Estimate) -> None:
    """Set point 75 °F less 5 °F: from 70 °F on only what the mass carries over."""
    warm = answer.bins[answer.bins.index >= 75]
    assert warm["free_cooling_hours"].sum() < 0.05 * answer.hours.free_cooling + 1e-9
    assert answer.bins["free_cooling_hours"].sum() > 0.0


def test_the_file_is_the_table(tmp_path: Path) -> None:
    path = tmp_path / "bins.csv"
    told = json.loads(freecool("value", "demo:mixed-inland", "--bins", str(path), "--json").output)
    with path.open(newline="") as file:
        rows = list(csv.DictReader(file))
    net = sum(float(row["net_kwh_saved"]) for row in rows)
    assert net == pytest.approx(told["energy"]["net_kwh_saved"], abs=0.01)
    assert [month["month"] for month in told["monthly"]] == list(range(1, 13))
    months = np.sum([month["net_kwh_saved"] for month in told["monthly"]])
    assert months == pytest.approx(told["energy"]["net_kwh_saved"], abs=1e-6)


def test_a_wrong_ending_is_refused_before_any_work(tmp_path: Path) -> None:
    run = freecool("value", "demo:mixed-inland", "--bins", str(tmp_path / "bins.xls"))
    assert run.code == 2
    assert ".csv or .parquet" in run.errors
