"""Which years and which station are taken, and what several years say, against a loopback server."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from station_server import STATIONS, StationServer

from freecool import make_case, open_weather
from freecool.answers.estimate import estimate
from freecool.answers.pick import sweep_differential
from freecool.answers.real_years import most_years, most_years_text
from freecool.answers.typical import COMPARED_PRESETS, compare_typical
from freecool.core.errors import WeatherError
from freecool.core.units import true_minus
from freecool.weather.readers.station_hours import year_faults
from freecool.weather.save import save_weather
from freecool.weather.station_list import stations_folder
from freecool.weather.typical import typical_year

NEAR = "near:36.07,-79.79"
HEALTHY = STATIONS[0]


def test_ten_years_give_an_answer_with_good_and_bad_years(station_server: StationServer) -> None:
    weather = open_weather(NEAR, years=(2015, 2024))
    assert weather.years == tuple(range(2015, 2025))
    assert weather.hours == 10 * 8760 + 3 * 24
    answer = estimate(make_case(), weather)
    told = answer.to_dict()
    assert [year["year"] for year in told["spread"]["years"]] == list(range(2015, 2025))
    assert told["spread"]["p10"] < told["spread"]["p50"] < told["spread"]["p90"]
    mean = np.mean([year["net_kwh_saved"] for year in told["spread"]["years"]])
    # The mean of the years and the mean per year of the whole run differ by leap days only.
    assert told["energy"]["net_kwh_saved"] == pytest.approx(mean, rel=0.01)
    assert "Meteostat" in told["weather"]["attribution"]
    assert "CC BY" in told["weather"]["attribution"]
    assert "isd_lite" in told["weather"]["attribution"]
    # Counted by hand in what each year saved: the third smallest of ten is what eight reach.
    reached = sorted(year["net_kwh_saved"] for year in told["spread"]["years"])[2]
    assert told["spread"]["most_years"] == {"years": 8, "of": 10, "net_kwh_saved": reached, "saving": 10}
    assert answer.sentence.endswith(f" In 8 of 10 years it saves at least {int(reached)} kWh.")


@pytest.mark.long
def test_command_tells_good_and_bad_years(station_server: StationServer) -> None:
    command = [sys.executable, "-m", "freecool", "value", NEAR, "--years", "2015-2024"]
    environment = os.environ | station_server.environment
    runs = [
        subprocess.run([*command, *more], env=environment, capture_output=True, text=True, timeout=180, check=False)
        for more in (["--json"], ["--offline"])
    ]
    assert [run.returncode for run in runs] == [0, 0], [run.stderr for run in runs]
    told, text = json.loads(runs[0].stdout), " ".join(runs[1].stdout.split())
    spread = told["spread"]
    assert true_minus(told["verdict"]["text"]) in text
    assert "In 8 of 10 years it saves at least" in told["verdict"]["text"]
    assert true_minus(f"{spread['p10']:,.0f} to {spread['p90']:,.0f} kWh") in text
    assert true_minus(f"half of them above {spread['p50']:,.0f}") in text
    for year in spread["years"]:
        assert true_minus(f"{year['year']}: {year['net_kwh_saved']:,.0f}") in text
    assert "licence CC BY 4.0" in text
    assert "licence CC BY 4.0" in told["weather"]["attribution"]


@pytest.mark.parametrize(
    ("net_kwh", "text"),
    [  # Counted by hand.
        ((), ""),
        ((50.0, 60.0, 70.0, 80.0), ""),
        ((50.9, 40.2, 70.0, 60.0, 80.0), "In 4 of 5 years it saves at least 50 kWh."),
        ((1.0, 9.0, 3.0, 8.0, 5.0, 6.0, 7.0), "In 5 of 7 years it saves at least 5 kWh."),
        ((-5.0, -4.0, 30.0, 40.0, 50.0), "It saves in 3 of 5 years."),
        ((0.4, 0.4, 0.4, 0.4, -1.0), "It saves in 4 of 5 years."),
        ((-5.0, -4.0, -3.0, -2.0, 0.0), "It saves in none of 5 years."),
        ((2000.7,) * 10, "In 8 of 10 years it saves at least 2,000 kWh."),
    ],
)
def test_what_most_years_reach(net_kwh: tuple[float, ...], text: str) -> None:
    assert most_years_text(most_years(net_kwh)) == text


def test_pick_tells_what_most_years_reach(station_server: StationServer) -> None:
    weather = open_weather(NEAR, years=(2015, 2024))
    sweep = sweep_differential(make_case(preset="small-office"), weather, [2.0, 4.0], draws=2)
    reached = sorted(year.net_kwh_saved for year in estimate(sweep.picked_case(), weather).by_year)[2]
    assert sweep.reasons[-1] == f"In 8 of 10 years the pick saves at least {int(reached):,} kWh, with exact sensors."


@pytest.mark.long
def test_typical_year_answers_as_the_page_says(station_server: StationServer) -> None:
    weather = open_weather(NEAR, years=(2015, 2024))
    typical = typical_year(weather)
    page = (Path(__file__).parents[1] / "docs" / "stations.md").read_text("utf-8")
    for preset in COMPARED_PRESETS:
        row = compare_typical(preset, typical, weather)
        assert (
            f"| {preset} | {row.typical_year:,.0f} | {row.mean_of_years:,.0f} | {row.p10:,.0f} to {row.p90:,.0f} |"
        ) in page
        # Our own margin: a typical year is not an extreme one.
        assert row.p10 < row.typical_year < row.p90


def test_years_apart_are_saved_and_read_back_the_same(station_server: StationServer, tmp_path: Path) -> None:
    station_server.without.update({(HEALTHY.id, 2020), (HEALTHY.id, 2021)})
    weather = open_weather(f"station:{HEALTHY.id}", years=(2018, 2023))
    # The hours that 2019 and 2022 borrow from their absent neighbours are filled.
    assert weather.years == (2018, 2019, 2022, 2023)
    save_weather(weather, tmp_path / "saved.csv")
    back = open_weather(tmp_path / "saved.csv")
    assert back.years == weather.years
    assert back.frame.index.equals(weather.frame.index)
    np.testing.assert_allclose(back.frame.to_numpy(), weather.frame.to_numpy(), atol=1e-6, rtol=0)
    assert back.quality.filled_hours == 0
    assert set(weather.notices) < set(back.notices)
    assert "No hour of 2020, 2021 is there" in back.notices[-1].text
    one, two = (estimate(make_case(), each).to_dict()["spread"]["years"] for each in (weather, back))
    assert [year["net_kwh_saved"] for year in two] == pytest.approx([year["net_kwh_saved"] for year in one], abs=1e-3)


def test_incomplete_years_are_dropped_and_named(station_server: StationServer) -> None:
    station_server.holes[HEALTHY.id] = [
        ("2018-06-02", "2018-06-09 23:00"),
        ("2020-03-03 00:00", "2020-03-05 02:00"),
        ("2021-05-01 00:00", "2021-05-01 05:00"),
    ]
    station_server.without.add((HEALTHY.id, 2022))
    weather = open_weather(f"station:{HEALTHY.id}", years=(2017, 2023))
    assert weather.years == (2017, 2019, 2021, 2023)
    assert sorted(set(weather.frame.index.year)) == [2017, 2019, 2021, 2023]  # type: ignore[attr-defined]
    assert weather.hours == 4 * 8760
    text = next(notice.text for notice in weather.notices if notice.code == "dropped_years")
    assert "2018 (June has 73% of its hours)" in text
    assert "2020 (March has a gap of 51 h)" in text
    assert "2022 (no data)" in text
    answer = estimate(make_case(), weather)
    assert [year.year for year in answer.by_year] == [2017, 2019, 2021, 2023]
    # A year's own answer does not depend on the years it stands with, but for the state it starts from.
    alone = estimate(make_case(), open_weather(f"station:{HEALTHY.id}", years=(2021, 2021)))
    assert answer.by_year[2].net_kwh_saved == pytest.approx(alone.energy.net_kwh_saved, abs=1.0)


def test_a_gap_of_48_h_counts_and_one_of_49_h_does_not() -> None:
    times = pd.date_range("2023-01-01", "2023-12-31 23:00", freq="h")
    for length, faulty in ((48, False), (49, True)):
        table = pd.DataFrame({"temp": 20.0, "rhum": 50.0}, index=times)
        table.iloc[4000 : 4000 + length, 0] = np.nan
        assert bool(year_faults(table)) is faulty
        assert not year_faults(table, allow_gaps=True)


def test_the_nearest_station_without_data_is_passed_over(station_server: StationServer) -> None:
    station_server.without.update((HEALTHY.id, year) for year in range(2010, 2027))
    weather = open_weather(NEAR, years=(2022, 2023))
    assert "99002" in weather.location.name
    assert "26 km away, at 5,279 ft (1609 m)" in weather.notices[0].text


def test_no_station_with_data_near(station_server: StationServer) -> None:
    station_server.without.update((station.id, year) for station in STATIONS for year in range(2010, 2027))
    with pytest.raises(WeatherError, match=r"no station near has a whole year in 2022-2023 .* take other years"):
        open_weather(NEAR, years=(2022, 2023))


@pytest.mark.parametrize(
    ("source", "message"),
    [
        ("station:77777", "station '77777' is not in the list"),
        ("station:%", "station '%' is not in the list"),
        ("station:", "station '' is not in the list"),
        ("station:99005", "the list does not tell its elevation"),
        ("near:36.07", "expected latitude and longitude"),
        ("near:136.07,-79.79", "no place on Earth"),
        ("near:36.07,79.79", r"no weather station lies within 150 km .*west is negative"),
    ],
)
def test_wrong_places_are_named(station_server: StationServer, source: str, message: str) -> None:
    with pytest.raises(WeatherError, match=message):
        open_weather(source, years=(2022, 2023))


def test_years_outside_the_record_are_named(station_server: StationServer) -> None:
    with pytest.raises(WeatherError, match="expected first to last from 1931"):
        open_weather(NEAR, years=(2023, 2020))


# Values that no weather has are judged as in files.


@pytest.mark.parametrize(
    ("quantity", "value", "every", "told"),
    [
        ("temp", -99.0, 20, "outdoor dry bulb in 438 h"),
        ("temp", -88.8, 20, "outdoor dry bulb in 438 h"),
        ("rhum", 0.0, 20, "outdoor relative humidity in 438 h"),
        ("pres", 868.0, 20, "station pressure in 438 h"),
        # These the client drops by its own limits.
        ("temp", 71.0, 100, ""),
        ("rhum", 999.0, 20, ""),
    ],
)
def test_impossible_values_of_a_station_are_left_out(
    station_server: StationServer, quantity: str, value: float, every: int, told: str
) -> None:
    true = open_weather(f"station:{HEALTHY.id}", years=(2021, 2021))

    def damage(table: pd.DataFrame) -> pd.DataFrame:
        return table.assign(**{quantity: table[quantity].where(np.arange(len(table)) % every != 7, value)})

    station_server.damage = damage
    shutil.rmtree(stations_folder() / "hourly")
    weather = open_weather(f"station:{HEALTHY.id}", years=(2021, 2021))
    texts = {notice.code: notice.text for notice in weather.notices}
    assert told in texts.get("implausible_values", "")
    assert weather.quality.filled_hours > 80 or "standard_pressure" in texts
    for column in ("dry_bulb_c", "dew_point_c", "pressure_pa"):
        assert weather.frame[column].mean() == pytest.approx(true.frame[column].mean(), rel=0.004, abs=0.05)


def test_a_year_of_noise_is_left_out_and_named(station_server: StationServer) -> None:
    def damage(table: pd.DataFrame) -> pd.DataFrame:
        noise = np.random.default_rng(3).normal(0.0, 4.0, len(table))
        return table.assign(temp=table["temp"] + noise * (table["year"] == 2020))

    station_server.damage = damage
    weather = open_weather(f"station:{HEALTHY.id}", years=(2019, 2021))
    assert weather.years == (2019, 2021)
    dropped = next(notice.text for notice in weather.notices if notice.code == "dropped_years")
    assert "2020 (outdoor dry bulb jumps to and fro" in dropped


def test_a_station_whose_clock_is_off_is_passed_over(station_server: StationServer) -> None:
    station_server.damage = lambda table: table.assign(temp=np.roll(table["temp"], 12), rhum=np.roll(table["rhum"], 12))
    said = rf"station {HEALTHY.id} .*: the daily wave of outdoor dry bulb peaks"
    with pytest.raises(WeatherError, match=said):
        open_weather(f"station:{HEALTHY.id}", years=(2021, 2021))
    assert "99002" in open_weather(NEAR, years=(2021, 2021)).location.name
