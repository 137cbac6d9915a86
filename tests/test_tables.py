"""The year by hour, month and outdoor temperature: the same year, cut otherwise."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from test_cli import freecool

from freecool.answers.estimate import Estimate, estimate
from freecool.answers.tables import BIN_F, HOURLY_MEANS
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
    assert list(columns) == list(answer.hourly.columns)
    page = (Path(__file__).parents[1] / "docs" / "python.md").read_text("utf-8")
    for name, means in HOURLY_MEANS.items():
        assert f"| `{name}` | {means} |" in page
    assert set(columns.values()) == set(HOURLY_MEANS.values())


def test_nothing_is_saved_where_the_rule_is_shut(answer: Estimate) -> None:
    """Set point 75 °F less 5 °F: from 70 °F on only what the mass carries over."""
    warm = answer.bins[answer.bins.index >= 75]
    assert warm["free_cooling_hours"].sum() < 0.05 * answer.hours.free_cooling + 1e-9
    assert answer.bins["free_cooling_hours"].sum() > 0.0


def test_the_file_is_the_table(tmp_path: Path) -> None:
    path = tmp_path / "bins.csv"
    told = json.loads(freecool("value", "demo:mixed-inland", "--bins", str(path), "--json").output)
    with path.open(newline="") as file:
        lines = [line for line in file if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    net = sum(float(row["net_kwh_saved"]) for row in rows)
    assert net == pytest.approx(told["energy"]["net_kwh_saved"], abs=0.01)
    assert [month["month"] for month in told["monthly"]] == list(range(1, 13))
    months = np.sum([month["net_kwh_saved"] for month in told["monthly"]])
    assert months == pytest.approx(told["energy"]["net_kwh_saved"], abs=1e-6)


def test_a_wrong_ending_is_refused_before_any_work(tmp_path: Path) -> None:
    run = freecool("value", "demo:mixed-inland", "--bins", str(tmp_path / "bins.xls"))
    assert run.code == 2
    assert ".csv or .parquet" in run.errors
