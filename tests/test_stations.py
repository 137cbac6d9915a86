"""Station weather through the real client against a loopback server, healthy and in every faulty mode."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from http.server import ThreadingHTTPServer
from pathlib import Path

import numpy as np
import pandas as pd
import psychrolib
import pytest
from station_server import FAULTS, STATIONS, StationServer, invented_hours, serve

from freecool import make_case, open_weather
from freecool.errors import WeatherError
from freecool.estimate import estimate
from freecool.weather import stations
from freecool.weather.station_years import (
    cloud_oktas,
    dew_point_of,
    standard_offset_h,
    station_pressure_pa,
    year_faults,
)
from freecool.weather.sun import fill_sunshine
from freecool.weather.table import standard_pressure_pa

NEAR = "near:36.07,-79.79"
HEALTHY = STATIONS[0]


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[StationServer, ThreadingHTTPServer]]:
    state, server = serve(tmp_path_factory.mktemp("server"))
    yield state, server
    server.shutdown()


@pytest.fixture
def server(
    running: tuple[StationServer, ThreadingHTTPServer], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> StationServer:
    """The healthy server, with an empty folder of kept years."""
    import meteostat
    import meteostat.providers.meteostat.hourly as hourly

    state = running[0]
    state.heal()
    address = f"http://127.0.0.1:{state.port}"
    monkeypatch.setenv("FREECOOL_CACHE_DIR", str(tmp_path))
    monkeypatch.setattr(meteostat.config, "stations_db_endpoints", [f"{address}/stations.db"])
    monkeypatch.setattr(hourly, "ENDPOINT", address + "/hourly/{year}/{station}.csv.gz")
    return state


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same limits, shorter, so that eight faults do not take minutes."""
    monkeypatch.setattr(stations, "STATION_LIST_SECONDS", 1.5)
    monkeypatch.setattr(stations, "STATION_LIST_MIRROR_SECONDS", 1)
    monkeypatch.setattr(stations, "HOURLY_FILE_SECONDS", 1.5)


def kept_files() -> list[str]:
    folder = stations.stations_folder()
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


# What comes back.


def test_ten_years_give_an_answer_with_good_and_bad_years(server: StationServer) -> None:
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
    # Beyond the download, and with compiled code at hand, two cores have 3 s (issue 4).
    started = time.perf_counter()
    estimate(make_case(), open_weather(NEAR, years=(2015, 2024)))
    assert time.perf_counter() - started < 3.0


def test_values_are_those_served_in_standard_time(server: StationServer) -> None:
    weather = open_weather(f"station:{HEALTHY.id}", years=(2023, 2023))
    assert weather.site.utc_offset_h == -5.0
    served = pd.concat([invented_hours(HEALTHY.id, year) for year in (2023, 2024)])
    in_utc = weather.frame.index.tz_convert("UTC").tz_localize(None)
    np.testing.assert_allclose(weather.frame["dry_bulb_c"], served.loc[in_utc, "temp"], atol=1e-9)
    assert len(weather.frame) == 8760
    assert (np.diff(weather.frame.index.to_numpy()) == np.timedelta64(1, "h")).all()


def test_no_daylight_saving_hour_is_missing_or_doubled(server: StationServer) -> None:
    weather = open_weather("station:99003", years=(2021, 2021))
    assert weather.site.utc_offset_h == 1.0
    assert weather.quality.filled_hours == 0
    local = weather.frame.index.tz_localize(None)
    assert local.is_unique
    assert (local == pd.date_range("2021-01-01", periods=8760, freq="h")).all()


def test_zone_off_by_half_an_hour_lies_between_two_hours(server: StationServer) -> None:
    weather = open_weather("station:99004", years=(2021, 2021))
    assert weather.site.utc_offset_h == 5.5
    served = invented_hours("99004", 2021)["temp"]
    # 12:00 at UTC+5:30 is 6:30 UTC.
    noon = weather.frame["dry_bulb_c"].loc["2021-07-01 12:00+05:30"]
    assert noon == pytest.approx(served.loc[["2021-07-01 06:00", "2021-07-01 07:00"]].mean(), abs=1e-9)


@pytest.mark.parametrize(
    ("zone", "hours"),
    [  # IANA time zone database
        ("America/Denver", -7.0), ("America/Phoenix", -7.0), ("Europe/Dublin", 0.0), ("Australia/Adelaide", 9.5),
        ("Asia/Kathmandu", 5.75), ("America/St_Johns", -3.5), ("Europe/Madrid", 1.0),
    ],
)  # fmt: skip
def test_standard_offset_leaves_daylight_saving_out(zone: str, hours: float) -> None:
    assert standard_offset_h(zone, 2023) == hours


def test_dew_point_inverts_the_relative_humidity_of_the_client() -> None:
    from meteostat.utils.conversions import temp_dwpt_to_rhum

    for dry_bulb, dew_point in ((30.0, 18.0), (5.0, 4.0), (-12.0, -20.0), (20.0, 20.0)):
        rhum = temp_dwpt_to_rhum({"temp": dry_bulb, "dwpt": dew_point})
        assert dew_point_of(np.array([dry_bulb]), np.array([rhum]))[0] == pytest.approx(dew_point, abs=0.11)


def test_dew_point_agrees_with_psychrolib(outside) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    # Alduchov and Eskridge state 0.4 % in vapour pressure from -40 to 50 degC, under 0.1 K in dew point.
    for dry_bulb, share in ((35.0, 0.4), (24.0, 0.6), (15.0, 0.9)):
        ours = float(dew_point_of(np.array([dry_bulb]), np.array([100.0 * share]))[0])
        outside(
            f"dew point at {dry_bulb:g} °C and {share:.0%}", "psychrolib",
            psychrolib.GetTDewPointFromRelHum(dry_bulb, share), ours, 0.1,
        )  # fmt: skip


def test_station_pressure_agrees_with_psychrolib(outside) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    elevation = 1609.0
    # In the standard atmosphere this dry bulb belongs to this elevation.
    dry_bulb = pd.Series([15.0 - 0.0065 * elevation] * 48)
    ours = station_pressure_pa(pd.Series([101_325.0] * 48), dry_bulb, elevation)
    source = "psychrolib.GetStandardAtmPressure"
    outside("station pressure at 1609 m", source, psychrolib.GetStandardAtmPressure(elevation), ours.iloc[24], 30.0)
    assert ours.iloc[0] == pytest.approx(standard_pressure_pa(elevation), rel=5e-4)


def test_high_station_has_station_pressure(server: StationServer) -> None:
    weather = open_weather("station:99002", years=(2023, 2023))
    assert weather.frame["pressure_pa"].mean() == pytest.approx(standard_pressure_pa(1609.0), abs=1_500.0)


def test_model_values_are_left_out(server: StationServer) -> None:
    server.by_model[HEALTHY.id] = [("2023-06-10 05:00", "2023-06-10 14:00")]
    weather = open_weather(f"station:{HEALTHY.id}", years=(2023, 2023))
    assert weather.quality.filled_hours == 10
    assert "forecast models are left out" in weather.notices[0].text
    assert "dwd_mosmix" not in weather.attribution


def test_site_elevation_moves_dry_bulb_at_the_same_relative_humidity(server: StationServer) -> None:
    low = open_weather(f"station:{HEALTHY.id}", years=(2023, 2023))
    high = open_weather(f"station:{HEALTHY.id}", years=(2023, 2023), elevation_m=HEALTHY.elevation_m + 1000.0)
    # ISO 2533:1975: 6.5 K per 1000 m.
    np.testing.assert_allclose(low.frame["dry_bulb_c"] - high.frame["dry_bulb_c"], 6.5, atol=1e-9)
    assert high.site.elevation_m == 1270.0
    assert any(notice.code == "lapse_rate" and "-6.5 K" in notice.text for notice in high.notices)
    assert high.frame["pressure_pa"].mean() == pytest.approx(standard_pressure_pa(1270.0), abs=1_000.0)


# Which years and which station.


def test_incomplete_years_are_dropped_and_named(server: StationServer) -> None:
    server.holes[HEALTHY.id] = [
        ("2018-06-02", "2018-06-09 23:00"),
        ("2020-03-03 00:00", "2020-03-05 02:00"),
        ("2021-05-01 00:00", "2021-05-01 05:00"),
    ]
    server.without.add((HEALTHY.id, 2022))
    weather = open_weather(f"station:{HEALTHY.id}", years=(2017, 2023))
    assert weather.years == (2017, 2019, 2021, 2023)
    assert sorted(set(weather.frame.index.year)) == [2017, 2019, 2021, 2023]
    assert weather.hours == 4 * 8760
    text = next(notice.text for notice in weather.notices if notice.code == "dropped_years")
    assert "2018 (June has 73% of its hours)" in text
    assert "2020 (March has a gap of 51 h)" in text
    assert "2022 (no data)" in text
    answer = estimate(make_case(), weather)
    assert [year["year"] for year in answer.by_year] == [2017, 2019, 2021, 2023]
    # A year's own answer does not depend on the years it stands with, but for the state it starts from.
    alone = estimate(make_case(), open_weather(f"station:{HEALTHY.id}", years=(2021, 2021)))
    assert answer.by_year[2]["net_kwh_saved"] == pytest.approx(alone.energy.net_kwh_saved, abs=1.0)


def test_a_gap_of_48_h_counts_and_one_of_49_h_does_not() -> None:
    times = pd.date_range("2023-01-01", "2023-12-31 23:00", freq="h")
    for length, faulty in ((48, False), (49, True)):
        table = pd.DataFrame({"temp": 20.0, "rhum": 50.0}, index=times)
        table.iloc[4000 : 4000 + length, 0] = np.nan
        assert bool(year_faults(table)) is faulty
        assert not year_faults(table, allow_gaps=True)


def test_the_nearest_station_without_data_is_passed_over(server: StationServer) -> None:
    server.without.update((HEALTHY.id, year) for year in range(2010, 2027))
    weather = open_weather(NEAR, years=(2022, 2023))
    assert "99002" in weather.site.name
    assert "26 km away, at 1609 m" in weather.notices[0].text


def test_no_station_with_data_near(server: StationServer) -> None:
    server.without.update((station.id, year) for station in STATIONS for year in range(2010, 2027))
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
def test_wrong_places_are_named(server: StationServer, source: str, message: str) -> None:
    with pytest.raises(WeatherError, match=message):
        open_weather(source, years=(2022, 2023))


def test_years_outside_the_record_are_named(server: StationServer) -> None:
    with pytest.raises(WeatherError, match="expected first to last from 1931"):
        open_weather(NEAR, years=(2023, 2020))


# Cloud.


def test_cloud_from_sunshine_leaves_the_same_light() -> None:
    index = pd.date_range("2023-06-01", periods=4, freq="h")
    table = pd.DataFrame({"cldc": np.nan, "tsun": [60.0, 30.0, 0.0, 15.0], "coco": np.nan}, index=index)
    cloud, made_of = cloud_oktas(table)
    # Kasten and Czeplak (1980): 1 - 0.75 (N/8)^3.4 must be 0.25 + 0.75 of the sunny share.
    np.testing.assert_allclose(1 - 0.75 * (cloud / 8) ** 3.4, [1.0, 0.625, 0.25, 0.4375])
    assert made_of == "4 h of sunshine minutes"


def test_too_little_cloud_is_no_cloud() -> None:
    index = pd.date_range("2023-06-01", periods=10, freq="h")
    table = pd.DataFrame({"cldc": [3.0] + [np.nan] * 9, "tsun": np.nan, "coco": np.nan}, index=index)
    assert cloud_oktas(table)[0].isna().all()


@pytest.mark.parametrize(
    ("name", "year_error"),
    [  # Measured with this file's own cloud column, as docs/stations.md tells.
        ("723170TYA.CSV", -0.065), ("703165TY.csv", -0.063),
    ],
)  # fmt: skip
def test_sun_from_cloud_errs_as_the_page_says(pvlib_weather, outside, name: str, year_error: float) -> None:
    weather = open_weather(pvlib_weather(name))
    tenths = pd.read_csv(pvlib_weather(name), skiprows=1)["TotCld (tenths)"].to_numpy()
    table = weather.frame.assign(cloud_oktas=0.8 * tenths, ghi_w_m2=np.nan, dni_w_m2=np.nan, dhi_w_m2=np.nan)
    made = fill_sunshine(table, weather.site)[0]["ghi_w_m2"]
    error = made.sum() / weather.frame["ghi_w_m2"].sum() - 1.0
    outside(f"{name}: yearly sun from cloud cover, error", "global irradiance of the file", year_error, error, 0.001)


# What goes wrong.


@pytest.mark.usefixtures("impatient")
@pytest.mark.parametrize("fault", FAULTS)
def test_faulty_list_is_one_sentence_and_leaves_nothing(server: StationServer, fault: str) -> None:
    server.list_fault = fault
    started = time.perf_counter()
    with pytest.raises(WeatherError, match=r"the list of weather stations .*, or try demo:mixed-inland"):
        open_weather(NEAR, years=(2022, 2022))
    assert time.perf_counter() - started < 10.0
    assert kept_files() == []
    server.heal()
    assert open_weather(NEAR, years=(2022, 2022)).years == (2022,)


@pytest.mark.usefixtures("impatient")
@pytest.mark.parametrize(
    ("fault", "reason"),
    [
        ("429", "too many requests, answer 429"), ("500", "the server answered 500"),
        ("hang", "no answer within 1.5 s"), ("reset", "the connection was cut"),
        ("truncated", "what came is damaged or no data"), ("html", "what came is damaged or no data"),
        ("empty", "what came is damaged or no data"),
    ],
)  # fmt: skip
def test_faulty_hours_are_one_sentence_and_leave_nothing(server: StationServer, fault: str, reason: str) -> None:
    server.hourly_fault = fault
    started = time.perf_counter()
    with pytest.raises(
        WeatherError, match=rf"station {HEALTHY.id} .*: the hours of 2022 cannot be fetched \({reason}\)"
    ):
        open_weather(f"station:{HEALTHY.id}", years=(2022, 2022))
    # The server would keep a caller for a minute; the rest is the time of a busy computer.
    assert time.perf_counter() - started < 10.0
    assert kept_files() == ["stations.db"]
    server.heal()
    assert open_weather(f"station:{HEALTHY.id}", years=(2022, 2022)).years == (2022,)


def test_hours_that_are_not_there_are_said_so_and_not_remembered(server: StationServer) -> None:
    server.hourly_fault = "404"
    with pytest.raises(WeatherError, match="has no hourly data in 2022-2022"):
        open_weather(f"station:{HEALTHY.id}", years=(2022, 2022))
    assert kept_files() == ["stations.db"]
    server.heal()
    assert open_weather(f"station:{HEALTHY.id}", years=(2022, 2022)).years == (2022,)


def test_hung_server_ends_within_the_stated_time(server: StationServer) -> None:
    assert open_weather(f"station:{HEALTHY.id}", years=(2022, 2022)).years == (2022,)
    server.hourly_fault = "hang"
    started = time.perf_counter()
    with pytest.raises(WeatherError, match="no answer within 20 s"):
        open_weather(f"station:{HEALTHY.id}", years=(2010, 2015))
    assert time.perf_counter() - started < stations.HOURLY_FILE_SECONDS + 2.0


def test_no_network_at_all_is_one_sentence_within_20_s(tmp_path: Path) -> None:
    # Port 9 of the loopback refuses, as an unplugged cable does once names are resolved.
    environment = os.environ | {
        "FREECOOL_CACHE_DIR": str(tmp_path),
        "MS_STATIONS_DB_ENDPOINTS": '["http://127.0.0.1:9/stations.db", "http://no.such.host.invalid/stations.db"]',
    }
    command = [sys.executable, "-m", "freecool", "value", NEAR]
    started = time.perf_counter()
    ended = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=60, check=False)
    assert time.perf_counter() - started < 20.0
    assert ended.returncode == 2
    assert ended.stdout == ""
    assert ended.stderr.startswith("freecool: the list of weather stations cannot be fetched")
    assert "demo:mixed-inland" in ended.stderr
    assert len(ended.stderr.strip().splitlines()) == 1


# What is kept.


def test_offline_uses_what_was_fetched_and_never_the_network(server: StationServer) -> None:
    fetched = open_weather(NEAR, years=(2022, 2023))
    server.asked.clear()
    kept = open_weather(NEAR, years=(2022, 2023), offline=True)
    pd.testing.assert_frame_equal(kept.frame, fetched.frame)
    assert kept.attribution == fetched.attribution
    with pytest.raises(WeatherError, match=r"no year of 2012-2012 was fetched before, .*run once without --offline"):
        open_weather(f"station:{HEALTHY.id}", years=(2012, 2012), offline=True)
    assert server.asked == []


def test_offline_with_nothing_fetched_says_so(server: StationServer) -> None:
    with pytest.raises(WeatherError, match="the list of stations was not fetched before"):
        open_weather(NEAR, offline=True)
    assert server.asked == []


def test_settled_years_are_not_fetched_again(server: StationServer) -> None:
    open_weather(NEAR, years=(2022, 2022))
    assert server.asked == ["/stations.db", "/hourly/2022/99001.csv.gz", "/hourly/2023/99001.csv.gz"]
    open_weather(NEAR, years=(2022, 2022))
    assert len(server.asked) == 3


def test_damaged_kept_files_are_fetched_again(server: StationServer) -> None:
    open_weather(NEAR, years=(2022, 2022))
    folder = stations.stations_folder()
    for path in (folder / "stations.db", folder / "hourly" / HEALTHY.id / "2022.parquet"):
        path.write_bytes(path.read_bytes()[:2000])
    assert open_weather(NEAR, years=(2022, 2022)).quality.filled_hours == 0


def test_years_of_a_client_that_kept_an_empty_one_are_not_believed(server: StationServer) -> None:
    open_weather(NEAR, years=(2022, 2022))
    path = stations.stations_folder() / "hourly" / HEALTHY.id / "2022.parquet"
    pd.DataFrame(columns=list(stations.QUANTITIES), dtype=float).to_parquet(path)
    assert open_weather(NEAR, years=(2022, 2022)).quality.filled_hours == 0


def test_folder_that_cannot_be_written_is_named(server: StationServer, monkeypatch, tmp_path: Path) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("in the way")
    monkeypatch.setenv("FREECOOL_CACHE_DIR", str(in_the_way))
    with pytest.raises(WeatherError, match="set FREECOOL_CACHE_DIR to another folder"):
        open_weather(NEAR, years=(2022, 2022))


def test_threads_at_once_do_no_harm(server: StationServer) -> None:
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda _: open_weather(NEAR, years=(2022, 2022)), range(4)))
    for weather in found[1:]:
        pd.testing.assert_frame_equal(weather.frame, found[0].frame)


def test_two_processes_at_once_do_no_harm(server: StationServer, tmp_path: Path) -> None:
    environment = os.environ | server.environment | {"FREECOOL_CACHE_DIR": str(tmp_path)}
    code = f"from freecool import open_weather; print(open_weather({NEAR!r}, years=(2021, 2023)).frame.sum().sum())"
    running = [
        subprocess.Popen([sys.executable, "-c", code], env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        for _ in range(2)
    ]
    told = [process.communicate(timeout=60) for process in running]
    assert [process.returncode for process in running] == [0, 0], told
    assert told[0][0] == told[1][0]
    assert kept_files() == [f"hourly/{HEALTHY.id}/{year}.parquet" for year in (2021, 2022, 2023, 2024)] + [
        "stations.db"
    ]


def test_only_one_file_imports_the_client() -> None:
    package = Path(stations.__file__).parents[1]
    importing = [path.name for path in package.rglob("*.py") if "import meteostat" in path.read_text(encoding="utf-8")]
    assert importing == ["stations.py"]


def test_socket_limit_is_put_back(server: StationServer) -> None:
    import socket

    before = socket.getdefaulttimeout()
    open_weather(NEAR, years=(2022, 2022))
    assert socket.getdefaulttimeout() == before
    assert threading.active_count() < 50
