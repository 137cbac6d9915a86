"""A loopback server in the bulk format of the open station data, with invented weather, healthy or faulty.

Hourly files: gzip CSV, one a station and year, UTC; the list: an SQLite file. Format as found by running the
client against it (docs/stations.md). Stations and values are invented.
"""

from __future__ import annotations

import gzip
import socket
import sqlite3
import struct
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
import pytest

from freecool.core.compiled import cache_folder
from freecool.weather.station_list import stations_folder

FAULTS = ("404", "429", "500", "hang", "reset", "truncated", "html", "empty")
HTML = b"<!doctype html><html><body>Please sign in to this network.</body></html>"


class Invented(NamedTuple):
    """An invented station."""

    id: str
    name: str
    latitude: float
    longitude: float
    elevation_m: int
    time_zone: str


STATIONS = (
    Invented("99001", "Oxbow Field (invented)", 36.10, -79.80, 270, "America/New_York"),
    Invented("99002", "Alder Mesa (invented)", 36.30, -79.80, 1609, "America/New_York"),
    Invented("99003", "Reed Gap (invented)", 50.00, 8.50, 100, "Europe/Berlin"),
    Invented("99004", "Banyan Post (invented)", 28.60, 77.20, 216, "Asia/Kolkata"),
)
"""99001 is healthy, others as `StationServer.holes` says; 99001 and 99002 lie 22 km apart."""


@dataclass
class StationServer:
    """What the server answers; change it while it runs."""

    port: int = 0
    list_fault: str = ""
    hourly_fault: str = ""
    without: set[tuple[str, int]] = field(default_factory=set)
    """(station, year) that has no file."""
    holes: dict[str, list[tuple[str, str]]] = field(default_factory=dict)
    """Hours without temperature and humidity, first and last, by station."""
    by_model: dict[str, list[tuple[str, str]]] = field(default_factory=dict)
    """Hours whose values a forecast model made, by station."""
    damage: Callable[[pd.DataFrame], pd.DataFrame] | None = None
    """What becomes of a year's file of 99001, given its columns as they are served."""
    asked: list[str] = field(default_factory=list)
    """Paths asked for so far."""

    @property
    def environment(self) -> dict[str, str]:
        """Settings that point the client here; it reads them when it is imported."""
        base = f"http://127.0.0.1:{self.port}"
        return {
            "MS_HOURLY_ENDPOINT": f"{base}/hourly/{{year}}/{{station}}.csv.gz",
            "MS_STATIONS_DB_ENDPOINTS": f'["{base}/stations.db"]',
        }

    def heal(self) -> None:
        """Healthy again, and nothing asked yet."""
        self.list_fault = self.hourly_fault = ""
        self.without.clear()
        self.holes.clear()
        self.by_model.clear()
        self.damage = None
        self.asked.clear()


def invented_hours(station: str, year: int) -> pd.DataFrame:
    """Invented hourly values of a station and a year in UTC: a season, a day and passing weather."""
    times = pd.date_range(f"{year}-01-01", f"{year}-12-31 23:00", freq="h")
    hour = np.arange(len(times))
    random = np.random.default_rng(year * 100 + int(station) % 100)
    passing = np.convolve(random.standard_normal(len(times) + 200), np.exp(-np.arange(200) / 60.0), "valid")[1:] / 5.5
    season = -np.cos(2 * np.pi * (hour / 24 - 20) / 365)
    east = next(known.longitude for known in STATIONS if known.id == station) - STATIONS[0].longitude
    day = np.cos(2 * np.pi * (hour % 24 - 20 + east / 15.0) / 24)
    temp = 14.0 + 11.0 * season + 5.0 * day + 4.0 * passing
    rhum = np.clip(68.0 - 18.0 * day + 8.0 * passing, 15, 100).round()
    cloud = np.clip(4.0 + 3.0 * passing, 0, 8).round()
    return pd.DataFrame(
        {
            "temp": temp.round(1),
            "rhum": rhum,
            "pres": (1016.0 - 6.0 * passing).round(1),
            "cldc": cloud,
            "coco": 3.0,
            "wspd": (12.0 - 2.0 * season + 3.0 * day - 4.0 * passing).clip(0.0).round(1),
        },
        index=times,
    )


def serve(folder: Path) -> tuple[StationServer, ThreadingHTTPServer]:
    """A running server and what to tell it, given a folder for its list of stations."""
    state = StationServer()
    list_path = folder / "list.db"
    write_list(list_path)
    listed = list_path.read_bytes()

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            state.asked.append(self.path)
            is_list = self.path == "/stations.db"
            fault = state.list_fault if is_list else state.hourly_fault
            if fault:
                self._fail(fault, listed if is_list else gzip.compress(b"year,month\n" * 9000))
                return
            body = listed if is_list else self._hourly()
            self._answer(200 if body else 404, body or b"not here")

        def _hourly(self) -> bytes | None:
            year, name = self.path.split("/")[2:4]
            station = name.split(".")[0]
            if (station, int(year)) in state.without or station not in {known.id for known in STATIONS}:
                return None
            return _hourly_file(
                station,
                int(year),
                tuple(state.holes.get(station, ())),
                tuple(state.by_model.get(station, ())),
                state.damage if station == STATIONS[0].id else None,
            )

        def _answer(self, code: int, body: bytes, length: int | None = None) -> None:
            self.send_response(code)
            self.send_header("Content-Length", str(len(body) if length is None else length))
            self.end_headers()
            self.wfile.write(body)

        def _fail(self, fault: str, body: bytes) -> None:
            if fault.isdigit():
                self._answer(int(fault), b"no")
            elif fault == "hang":
                threading.Event().wait(60)
            elif fault == "reset":
                self.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
                self.connection.shutdown(socket.SHUT_RD)
                self.connection.close()
            elif fault == "truncated":
                # Cut, yet with a length that agrees, as a proxy stores it.
                self._answer(200, body[: len(body) // 2])
            else:
                self._answer(200, HTML if fault == "html" else b"")

        def log_message(self, *_: object) -> None:
            pass

    class Server(ThreadingHTTPServer):
        daemon_threads = True

        def handle_error(self, *_: object) -> None:
            """A client that went away is part of the game."""

    server = Server(("127.0.0.1", 0), Handler)
    state.port = server.server_address[1]
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return state, server


def write_list(path: Path) -> None:
    """Write a list of the invented stations, given a path."""
    with sqlite3.connect(path) as database:
        database.executescript(
            "CREATE TABLE stations (id TEXT PRIMARY KEY, country TEXT, region TEXT, latitude REAL, longitude REAL,"
            " elevation INTEGER, timezone TEXT);"
            "CREATE TABLE names (station TEXT, language TEXT, name TEXT);"
            "CREATE TABLE identifiers (station TEXT, key TEXT, value TEXT);"
            "CREATE TABLE inventory (station TEXT, provider TEXT, parameter TEXT, start TEXT, end TEXT,"
            " completeness INTEGER);"
        )
        for station in STATIONS:
            place = (station.latitude, station.longitude, station.elevation_m, station.time_zone)
            database.execute("INSERT INTO stations VALUES (?, 'XX', 'XX', ?, ?, ?, ?)", (station.id, *place))
            database.execute("INSERT INTO names VALUES (?, 'en', ?)", (station.id, station.name))
            for parameter, complete in (("temp", 99), ("rhum", 97)):
                database.execute(
                    "INSERT INTO inventory VALUES (?, 'isd_lite', ?, '1990-01-01', '2026-01-31', ?)",
                    (station.id, parameter, complete),
                )
        # Nearest to Oxbow Field, but of unknown height.
        database.execute("INSERT INTO stations VALUES ('99005', 'XX', 'XX', 36.07, -79.79, NULL, 'America/New_York')")
        database.execute("INSERT INTO names VALUES ('99005', 'en', 'Heather Knoll (invented)')")
    database.close()


@cache
def _hourly_file(
    station: str,
    year: int,
    holes: tuple[tuple[str, str], ...],
    by_model: tuple[tuple[str, str], ...],
    damage: Callable[[pd.DataFrame], pd.DataFrame] | None = None,
) -> bytes:
    table = invented_hours(station, year)
    for first, last in holes:
        table.loc[first:last, ["temp", "rhum"]] = np.nan
    source = pd.Series("isd_lite", index=table.index)
    for first, last in by_model:
        source.loc[first:last] = "dwd_mosmix"
    columns: dict[str, object] = {part: getattr(table.index, part) for part in ("year", "month", "day", "hour")}
    for name in ("temp", "rhum", "prcp", "snwd", "wdir", "wspd", "wpgt", "pres", "tsun", "cldc", "coco"):
        values = table[name] if name in table else pd.Series(np.nan, index=table.index)
        columns[name] = values.to_numpy()
        columns[f"{name}_source"] = source.where(values.notna()).to_numpy()
    served = pd.DataFrame(columns)
    return gzip.compress((damage(served) if damage else served).to_csv(index=False).encode(), 1)


@pytest.fixture(scope="session")
def stations_running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[StationServer, ThreadingHTTPServer]]:
    """The server, once for all tests."""
    state, server = serve(tmp_path_factory.mktemp("server"))
    yield state, server
    server.shutdown()
    server.server_close()


@pytest.fixture
def station_server(
    stations_running: tuple[StationServer, ThreadingHTTPServer], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> StationServer:
    """The healthy server, which the client is pointed to, with an empty folder of kept years."""
    import meteostat
    import meteostat.providers.meteostat.hourly as hourly

    state = stations_running[0]
    state.heal()
    share_compiled(tmp_path)
    address = f"http://127.0.0.1:{state.port}"
    monkeypatch.setenv("FREECOOL_CACHE_DIR", str(tmp_path))
    monkeypatch.setattr(meteostat.config, "stations_db_endpoints", [f"{address}/stations.db"])
    monkeypatch.setattr(hourly, "ENDPOINT", address + "/hourly/{year}/{station}.csv.gz")
    return state


def share_compiled(folder: Path) -> None:
    """Lend a fresh cache folder the compiled code of this one, so that no command under test compiles again."""
    compiled = Path(cache_folder())
    (folder / compiled.name).symlink_to(compiled)


def kept_files() -> list[str]:
    """What is in the folder of kept files."""
    folder = stations_folder()
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())
