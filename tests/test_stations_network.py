"""Station weather when the network or the disk fails, and what is kept, through the real client."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from station_server import FAULTS, STATIONS, StationServer, kept_files

from freecool import open_weather
from freecool.core.errors import WeatherError
from freecool.weather import download, network, station_years
from freecool.weather.station_list import inventories, stations_folder, stations_near

NEAR = "near:36.07,-79.79"
HEALTHY = STATIONS[0]


@contextmanager
def impatient(fault: str) -> Iterator[None]:
    """The same limits, shorter, so that eight faults do not take minutes; shortest where the server hangs."""
    seconds = 1.5 if fault == "hang" else 4.0
    with pytest.MonkeyPatch.context() as limits:
        limits.setattr(download, "STATION_LIST_SECONDS", seconds)
        limits.setattr(download, "STATION_LIST_MIRROR_SECONDS", 1)
        limits.setattr(download, "HOURLY_FILE_SECONDS", seconds)
        yield


# What goes wrong.


@pytest.mark.parametrize("fault", FAULTS)
def test_faulty_list_is_one_sentence_and_leaves_nothing(station_server: StationServer, fault: str) -> None:
    station_server.list_fault = fault
    started = time.perf_counter()
    said = r"the list of weather stations .*, or try demo:mixed-inland"
    with impatient(fault), pytest.raises(WeatherError, match=said):
        open_weather(NEAR, years=(2022, 2022))
    assert time.perf_counter() - started < 10.0
    assert kept_files() == []
    station_server.heal()
    assert open_weather(NEAR, years=(2022, 2022)).years == (2022,)


@pytest.mark.parametrize(
    ("fault", "reason"),
    [
        ("429", "too many requests, answer 429"), ("500", "the server answered 500"),
        ("hang", "no answer within 1.5 s"), ("reset", "the connection was cut"),
        ("truncated", "what came is damaged or no data"), ("html", "what came is damaged or no data"),
        ("empty", "what came is damaged or no data"),
    ],
)  # fmt: skip
def test_faulty_hours_are_one_sentence_and_leave_nothing(
    station_server: StationServer, fault: str, reason: str
) -> None:
    station_server.hourly_fault = fault
    started = time.perf_counter()
    said = rf"station {HEALTHY.id} .*: the hours of 2022 cannot be fetched \({reason}\)"
    with impatient(fault), pytest.raises(WeatherError, match=said):
        open_weather(f"station:{HEALTHY.id}", years=(2022, 2022))
    # The server would keep a caller for a minute; the rest is the time of a busy computer.
    assert time.perf_counter() - started < 10.0
    assert kept_files() == ["stations.db"]
    station_server.heal()
    assert open_weather(f"station:{HEALTHY.id}", years=(2022, 2022)).years == (2022,)


def test_hours_that_are_not_there_are_said_so_and_not_remembered(station_server: StationServer) -> None:
    station_server.hourly_fault = "404"
    with pytest.raises(WeatherError, match="has no hourly data in 2022-2022"):
        open_weather(f"station:{HEALTHY.id}", years=(2022, 2022))
    assert kept_files() == ["stations.db"]
    station_server.heal()
    assert open_weather(f"station:{HEALTHY.id}", years=(2022, 2022)).years == (2022,)


def test_hung_server_ends_within_the_stated_time(station_server: StationServer) -> None:
    assert open_weather(f"station:{HEALTHY.id}", years=(2022, 2022)).years == (2022,)
    station_server.hourly_fault = "hang"
    started = time.perf_counter()
    with pytest.raises(WeatherError, match="no answer within 20 s"):
        open_weather(f"station:{HEALTHY.id}", years=(2010, 2015))
    assert time.perf_counter() - started < download.HOURLY_FILE_SECONDS + 2.0


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


def test_offline_uses_what_was_fetched_and_never_the_network(station_server: StationServer) -> None:
    fetched = open_weather(NEAR, years=(2022, 2023))
    station_server.asked.clear()
    kept = open_weather(NEAR, years=(2022, 2023), offline=True)
    pd.testing.assert_frame_equal(kept.frame, fetched.frame)
    assert kept.attribution == fetched.attribution
    with pytest.raises(WeatherError, match=r"no year of 2012-2012 was fetched before, .*run once without offline=True"):
        open_weather(f"station:{HEALTHY.id}", years=(2012, 2012), offline=True)
    assert station_server.asked == []


def test_offline_with_nothing_fetched_says_so(station_server: StationServer) -> None:
    with pytest.raises(WeatherError, match="the list of stations was not fetched before"):
        open_weather(NEAR, offline=True)
    assert station_server.asked == []


def test_settled_years_are_not_fetched_again(station_server: StationServer) -> None:
    open_weather(NEAR, years=(2022, 2022))
    assert station_server.asked == ["/stations.db", "/hourly/2022/99001.csv.gz", "/hourly/2023/99001.csv.gz"]
    open_weather(NEAR, years=(2022, 2022))
    assert len(station_server.asked) == 3


def test_damaged_kept_files_are_fetched_again(station_server: StationServer) -> None:
    open_weather(NEAR, years=(2022, 2022))
    folder = stations_folder()
    for path in (folder / "stations.db", folder / "hourly" / HEALTHY.id / "2022.parquet"):
        path.write_bytes(path.read_bytes()[:2000])
    assert open_weather(NEAR, years=(2022, 2022)).quality.filled_hours == 0


def test_years_of_a_client_that_kept_an_empty_one_are_not_believed(station_server: StationServer) -> None:
    open_weather(NEAR, years=(2022, 2022))
    path = stations_folder() / "hourly" / HEALTHY.id / "2022.parquet"
    pd.DataFrame(columns=list(download.QUANTITIES), dtype=float).to_parquet(path)
    assert open_weather(NEAR, years=(2022, 2022)).quality.filled_hours == 0


def half_a_year(table: pd.DataFrame) -> pd.DataFrame:
    return table.iloc[: len(table) // 2]


@pytest.mark.parametrize(
    ("what", "damage", "kept"),
    [
        ("half a year", half_a_year, True),
        ("no temperature", lambda table: table.assign(temp=np.nan), False),
        ("no humidity", lambda table: table.drop(columns=["rhum", "rhum_source"]), False),
        ("text for temperature", lambda table: table.assign(temp="warm"), False),
        ("other columns", lambda table: table.rename(columns=str.upper), False),
    ],
)
def test_a_year_that_came_wrong_is_asked_for_again(
    station_server: StationServer, what: str, damage: Callable[[pd.DataFrame], pd.DataFrame], kept: bool
) -> None:
    source, place = f"station:{HEALTHY.id}", stations_folder() / "hourly" / HEALTHY.id
    station_server.damage = damage
    with pytest.raises(WeatherError, match=rf"station {HEALTHY.id} \(Oxbow Field"):
        open_weather(source, years=(2022, 2022))
    assert (place / "2022.parquet").exists() == kept, what
    for path in place.glob("*.parquet"):
        # What is wrong is believed for a day.
        os.utime(path, (time.time() - 2 * 86_400,) * 2)
    station_server.heal()
    assert open_weather(source, years=(2022, 2022)).quality.filled_hours == 0
    station_server.asked.clear()
    open_weather(source, years=(2022, 2022))
    assert station_server.asked == []


def test_refresh_fetches_again_but_keeps_what_is_better(station_server: StationServer) -> None:
    source = f"station:{HEALTHY.id}"
    first = open_weather(source, years=(2022, 2022))
    station_server.asked.clear()
    station_server.damage = half_a_year
    again = open_weather(source, years=(2022, 2022), refresh=True)
    assert len(station_server.asked) == 2
    pd.testing.assert_frame_equal(again.frame, first.frame)
    station_server.damage = lambda table: table.assign(temp=table["temp"] + 1.0)
    warmer = open_weather(source, years=(2022, 2022), refresh=True)
    assert warmer.frame["dry_bulb_c"].mean() == pytest.approx(first.frame["dry_bulb_c"].mean() + 1.0, abs=0.01)
    with pytest.raises(WeatherError, match="exclude each other"):
        open_weather(source, years=(2022, 2022), refresh=True, offline=True)


def test_a_year_that_unpacks_without_end_is_refused(
    station_server: StationServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(network, "LARGEST_UNPACKED_BYTES", 300_000)
    said = rf"station {HEALTHY.id} .*: the hours of 2022 cannot be fetched \(what came is damaged or no data\)"
    with pytest.raises(WeatherError, match=said):
        open_weather(f"station:{HEALTHY.id}", years=(2022, 2022))
    monkeypatch.setattr(network, "LARGEST_UNPACKED_BYTES", 50_000_000)
    monkeypatch.setattr(network, "LARGEST_PACKED_BYTES", 3_000)
    with pytest.raises(WeatherError, match=said):
        open_weather(f"station:{HEALTHY.id}", years=(2022, 2022))
    assert kept_files() == ["stations.db"]


def test_one_odd_neighbour_does_not_break_the_list(station_server: StationServer) -> None:
    expected = [station.id for station in stations_near(36.07, -79.79)]
    assert expected[0] == HEALTHY.id
    # As told by the law of cosines on a sphere of 6,371 km: Oxbow Field lies 0.03 degrees north and 0.01 west.
    by_hand = 6_371_000 * np.radians(np.hypot(0.03, 0.01 * np.cos(np.radians(36.08))))
    assert stations_near(36.07, -79.79)[0].distance_m == pytest.approx(by_hand, rel=0.002)
    with closing(sqlite3.connect(stations_folder() / "stations.db")) as database, database:
        for number, (latitude, elevation) in enumerate([("36.08", "high"), ("north", "12"), (None, "12")]):
            name = f"9901{number}"
            place = (name, latitude, elevation)
            database.execute("INSERT INTO stations VALUES (?, 'XX', 'XX', ?, -79.8, ?, 'America/New_York')", place)
            database.execute("INSERT INTO names VALUES (?, 'en', 'Odd (invented)')", (name,))
        database.execute("UPDATE inventory SET start = NULL, end = NULL WHERE station = ?", (HEALTHY.id,))
        database.execute("UPDATE inventory SET completeness = 'much' WHERE station = '99002'")
    near = stations_near(36.07, -79.79)
    assert [station.id for station in near] == expected
    told = inventories(near)
    assert (told[HEALTHY.id].first_year, told["99002"].temperature) == (None, None)
    assert open_weather(NEAR, years=(2022, 2022)).years == (2022,)
    # A place that is a station's own.
    assert stations_near(HEALTHY.latitude, HEALTHY.longitude)[0].distance_m == pytest.approx(0.0, abs=0.1)
    with pytest.raises(WeatherError, match="the list does not tell its elevation"):
        open_weather("station:99010", years=(2022, 2022))


def test_folder_that_cannot_be_written_is_named(
    station_server: StationServer, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("in the way")
    monkeypatch.setenv("FREECOOL_CACHE_DIR", str(in_the_way))
    with pytest.raises(WeatherError, match="set FREECOOL_CACHE_DIR to another folder"):
        open_weather(NEAR, years=(2022, 2022))


@pytest.mark.parametrize(("kilobytes", "place"), [(8, "stations.db"), (64, "2022.parquet")])
def test_full_disk_is_one_sentence_and_leaves_nothing(
    station_server: StationServer, tmp_path: Path, kilobytes: int, place: str
) -> None:
    # A file that may not grow stands for a disk that is full; the list takes 30 kB, a year 120 kB.
    command = [sys.executable, "-m", "freecool", "value", NEAR, "--years", "2022-2022"]
    ended = subprocess.run(
        ["bash", "-c", f'ulimit -f {kilobytes}; exec "$@"', "bash", *command],
        env=os.environ | station_server.environment, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert ended.returncode == 2
    assert ended.stdout == ""
    assert f"{place}: cannot be written (File too large); free space there" in ended.stderr
    assert "set FREECOOL_CACHE_DIR to another folder" in ended.stderr
    assert len(ended.stderr.strip().splitlines()) == 1
    assert kept_files() == ([] if place == "stations.db" else ["stations.db"])


def test_year_that_cannot_be_kept_again_is_used_as_it_was(
    station_server: StationServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = open_weather(NEAR, years=(2022, 2022))
    monkeypatch.setattr(station_years, "_is_current", lambda *_: False)
    station_server.hourly_fault = "500"
    again = open_weather(NEAR, years=(2022, 2022))
    pd.testing.assert_frame_equal(again.frame, first.frame)


def test_threads_at_once_do_no_harm(station_server: StationServer) -> None:
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda _: open_weather(NEAR, years=(2022, 2022)), range(4)))
    for weather in found[1:]:
        pd.testing.assert_frame_equal(weather.frame, found[0].frame)


@pytest.mark.long
def test_two_processes_at_once_do_no_harm(station_server: StationServer, tmp_path: Path) -> None:
    environment = os.environ | station_server.environment | {"FREECOOL_CACHE_DIR": str(tmp_path)}
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
    package = Path(download.__file__).parents[1]
    importing = [path.name for path in package.rglob("*.py") if "import meteostat" in path.read_text(encoding="utf-8")]
    assert importing == ["download.py"]


def test_socket_limit_is_put_back(station_server: StationServer) -> None:
    import socket

    before = socket.getdefaulttimeout()
    open_weather(NEAR, years=(2022, 2022))
    assert socket.getdefaulttimeout() == before
    assert threading.active_count() < 50
