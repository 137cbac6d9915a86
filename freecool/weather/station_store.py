"""Open weather stations: their list and their hourly years, fetched in bounded time and kept.

The only file that imports meteostat, whose own cache keeps failures as empty years and stays off.
"""

from __future__ import annotations

import errno
import logging
import math
import re
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path
from time import time
from typing import Any, NamedTuple

import pandas as pd

from freecool.core.atomic_file import atomic_file
from freecool.core.cache import cache_root
from freecool.core.errors import FreecoolError, WeatherError
from freecool.weather.download import failure_reason, with_timeout

STATION_LIST_SECONDS = 15.0
"""Longest wait for the list of stations, all mirrors together. [s]"""
STATION_LIST_MIRROR_SECONDS = 7
"""Longest silence of one mirror of the list. [s]"""
HOURLY_FILE_SECONDS = 20.0
"""Longest wait for one station and year. [s]"""
STATION_LIST_AGE_S = 30 * 86_400.0
"""Age at which the list is fetched again. [s]"""
SETTLED_S = 31 * 86_400.0
"""Time after its last needed hour at which a year's file no longer grows (our own choice). [s]"""
RECENT_S = 86_400.0
"""Age below which a growing year's file is not fetched again. [s]"""
SEARCH_RADIUS_M = 150_000
"""How far from a place stations are looked for (our own choice). [m]"""
STATIONS_LISTED = 100
DISK_FAULTS = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}

QUANTITIES = ("temp", "rhum", "pres", "cldc", "tsun", "coco", "wspd")
"""Air [°C], relative humidity [%], sea-level pressure [hPa], cloud [oktas], sunshine [min], condition code, wind
[km/h]."""
BY_MODEL = "by_model"
"""Column of a record: 1 in hours whose temperature or humidity a forecast model made and that were emptied."""
PLACE = ("latitude", "longitude", "elevation", "timezone")
STATION_ID = re.compile(r"[A-Za-z0-9]{3,10}")
WHAT_ELSE = "give a weather file (EPW, TMY3 or CSV), or try demo:mixed-inland"
# The package's pages and an older statement of terms differ, so both are shown.
LICENCE = (
    "Hourly data by Meteostat (https://meteostat.net), licence CC BY 4.0; an older statement of terms says "
    "CC BY-NC 4.0 (no commercial use), so check before handing it on"
)

# Settings and log of the client are shared by the process.
_client_in_use = threading.RLock()


class Station(NamedTuple):
    """A weather station of the list; distance from the place asked for, NaN where none was. [m]"""

    id: str
    name: str
    latitude: float
    longitude: float
    elevation_m: float
    time_zone: str
    distance_m: float = math.nan


class Record(NamedTuple):
    """Hourly measured values of one station in UTC, the years that no file was found for, and whose data they are."""

    table: pd.DataFrame
    missing_years: tuple[int, ...]
    attribution: str


class NoHourlyData(WeatherError):
    """A station without a single hour in the years asked for."""


class Inventory(NamedTuple):
    """What the list says of a station: years and completeness of temperature and humidity, None if unsaid."""

    first_year: int | None
    last_year: int | None
    temperature: float | None
    humidity: float | None


def stations_folder() -> Path:
    """Folder in which the list and the hourly years are kept."""
    return cache_root() / "stations"


def find_station(identifier: str, *, offline: bool = False) -> Station:
    """A station, given its identifier.

    Raises
    ------
    WeatherError
        The identifier is not in the list, or the list cannot be had.
    """
    found = None
    if STATION_ID.fullmatch(identifier):
        with _listed(offline) as meteostat:
            found = meteostat.stations.meta(identifier)
    if found is None:
        raise WeatherError(
            f"station '{identifier}' is not in the list of stations, expected an identifier such as 72530: "
            "list those near a place with 'freecool weather find LAT LON'"
        )
    return _station(identifier, vars(found))


def stations_near(latitude: float, longitude: float, *, offline: bool = False) -> list[Station]:
    """Stations within 150 km, nearest first, given a place in degrees.

    Raises
    ------
    WeatherError
        There are none, or the list cannot be had.
    """
    if not (-90.0 <= latitude <= 90.0 and -180.0 <= longitude <= 180.0):
        raise WeatherError(
            f"latitude {latitude:g}, longitude {longitude:g} is no place on Earth, expected -90 to 90 and "
            "-180 to 180 degrees: give latitude first, west negative"
        )
    with _listed(offline) as meteostat:
        point = meteostat.Point(latitude, longitude)
        rows = meteostat.stations.nearby(point, radius=SEARCH_RADIUS_M, limit=STATIONS_LISTED)
    rows = rows.dropna(subset=list(PLACE))
    if rows.empty:
        raise WeatherError(
            f"no weather station lies within {SEARCH_RADIUS_M / 1000:.0f} km of {latitude:g}, {longitude:g}: "
            f"check the sign of the longitude (west is negative), or {WHAT_ELSE}"
        )
    return [_station(str(identifier), row.to_dict()) for identifier, row in rows.iterrows()]


def inventories(stations: Sequence[Station], *, offline: bool = False) -> dict[str, Inventory]:
    """What the list says of the data of stations, given the stations."""
    with _listed(offline) as meteostat:
        rows = meteostat.stations.inventory([station.id for station in stations]).df
    told = {station.id: Inventory(None, None, None, None) for station in stations}
    if rows is None:
        return told
    rows = rows.reset_index()
    for identifier, group in rows[rows["parameter"].isin(("temp", "rhum"))].groupby("station"):
        air = group[group["parameter"] == "temp"]
        complete = {name: part["completeness"].max() for name, part in group.groupby("parameter")}
        span = air if len(air) else group
        told[str(identifier)] = Inventory(
            int(str(span["start"].min())[:4]),
            int(str(span["end"].max())[:4]),
            _share(complete.get("temp")),
            _share(complete.get("rhum")),
        )
    return told


def hourly_record(station: Station, first: pd.Timestamp, last: pd.Timestamp, *, offline: bool = False) -> Record:
    """Hourly values of a station, given the first and the last hour in UTC.

    Years once fetched are kept; a kept year is used again unless it was still growing. The first failure
    ends the fetching.

    Raises
    ------
    WeatherError
        A year cannot be fetched in the stated time, or there are no data at all.
    """
    tables, missing, sources = [], [], set()
    for year in range(first.year, last.year + 1):
        table = _year(station, year, min(last, pd.Timestamp(year, 12, 31, 23)), offline)
        if table is None:
            missing.append(year)
            continue
        sources.update(table.attrs.get("sources", ()))
        tables.append(table)
    if not tables:
        # A zone's first or last hours may lie in a neighbouring year.
        day = pd.Timedelta(days=1)
        span = f"{(first + day).year}-{(last - day).year}"
        if offline:
            raise WeatherError(
                f"station {station.id} ({station.name}): no year of {span} was fetched before, and offline was "
                f"asked for: run once without --offline, or {WHAT_ELSE}"
            )
        raise NoHourlyData(
            f"station {station.id} ({station.name}) has no hourly data in {span}: take other years or another "
            "station ('freecool weather find LAT LON' lists them)"
        )
    table = pd.concat(tables)
    hours = pd.date_range(first, last, freq="h")
    named = f"; gathered from {', '.join(sorted(sources))}" if sources else ""
    return Record(table[~table.index.duplicated()].reindex(hours), tuple(missing), f"{LICENCE}{named}.")


def _share(completeness: Any) -> float | None:
    if completeness is None or pd.isna(completeness):
        return None
    # The list gives percent in some editions, a share in others.
    return float(completeness) / (100.0 if completeness > 1.0 else 1.0)


def _station(identifier: str, row: dict[str, Any]) -> Station:
    lacking = [key for key in PLACE if pd.isna(row.get(key))]
    if lacking:
        raise WeatherError(f"station {identifier}: the list does not tell its {', '.join(lacking)}: take another one")
    return Station(
        identifier,
        str(row.get("name") or identifier),
        float(row["latitude"]),
        float(row["longitude"]),
        float(row["elevation"]),
        str(row["timezone"]),
        float(row.get("distance", math.nan)),
    )


def _client() -> Any:
    import meteostat

    settings = meteostat.config
    settings.cache_enable = False
    # Left in here and taken out in _measured, so that they can be counted.
    settings.include_model_data = True
    settings.block_large_requests = False
    settings.network_timeout = STATION_LIST_MIRROR_SECONDS
    settings.network_max_retries = 0
    # Our own file, judged by our own age: the client shall never fetch over it.
    settings.stations_db_ttl = 2**40
    logging.getLogger("meteostat").setLevel(logging.WARNING)
    return meteostat


@contextmanager
def _listed(offline: bool) -> Iterator[Any]:
    """The client, with a sound list of stations beside it."""
    with _client_in_use:
        path = stations_folder() / "stations.db"
        meteostat = _client()
        sound = _is_station_list(path)
        if offline and not sound:
            raise WeatherError(
                f"the list of stations was not fetched before, and offline was asked for: run once without --offline, "
                f"or {WHAT_ELSE}"
            )
        if not sound or (not offline and time() - path.stat().st_mtime > STATION_LIST_AGE_S):
            try:
                _fetch_station_list(meteostat, path)
            except FreecoolError:
                # An old list serves as well as a new one.
                if not sound:
                    raise
        meteostat.config.stations_db_file = str(path)
        yield meteostat


def _is_station_list(path: Path) -> bool:
    if not path.is_file():
        return False
    try:
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as database:
            database.execute("SELECT id, latitude, longitude, elevation, timezone FROM stations LIMIT 1").fetchone()[0]
            for table in ("names", "identifiers", "inventory"):
                database.execute(f"SELECT station FROM {table} LIMIT 1")
            return bool(database.execute("PRAGMA quick_check(1)").fetchone()[0] == "ok")
    except (sqlite3.DatabaseError, TypeError):
        return False


def _fetch_station_list(meteostat: Any, path: Path) -> None:
    def fetch(target: Path) -> None:
        meteostat.config.stations_db_file = str(target)
        meteostat.stations.connect(in_memory=False).close()

    with _kept_file(path) as target:
        try:
            failures = with_timeout(lambda: fetch(target), STATION_LIST_SECONDS)[1]
        except Exception as error:
            if isinstance(error, OSError) and error.errno in DISK_FAULTS:
                raise
            reason = failure_reason(error, STATION_LIST_SECONDS)
            raise WeatherError(
                f"the list of weather stations cannot be fetched ({reason}): check the connection and try again, use "
                f"--offline with what was fetched before, or {WHAT_ELSE}"
            ) from None
        if not _is_station_list(target):
            detail = f" ({failures[0]})" if failures else ""
            raise WeatherError(
                f"the list of weather stations came damaged{detail}, expected an SQLite database: try again later, "
                f"or {WHAT_ELSE}"
            )


def _year(station: Station, year: int, needed_until: pd.Timestamp, offline: bool) -> pd.DataFrame | None:
    """One kept or fetched year, None where the station has none."""
    path = stations_folder() / "hourly" / station.id / f"{year}.parquet"
    kept = _kept(path)
    if offline or (kept is not None and _is_current(path, needed_until)):
        return kept
    try:
        fetched = _fetch_year(station, year)
        if fetched is None:
            return kept
        with _kept_file(path) as target, target.open("wb") as file:
            fetched.to_parquet(file)
    except FreecoolError:
        if kept is None:
            raise
        return kept
    return fetched


def _kept(path: Path) -> pd.DataFrame | None:
    try:
        table = pd.read_parquet(path)
    except (OSError, ValueError):
        # Not there, or damaged: fetched again.
        return None
    return table if len(table) and {*QUANTITIES, BY_MODEL} <= set(table.columns) else None


def _is_current(path: Path, needed_until: pd.Timestamp) -> bool:
    fetched = path.stat().st_mtime
    return fetched > needed_until.timestamp() + SETTLED_S or time() - fetched < RECENT_S


def _fetch_year(station: Station, year: int) -> pd.DataFrame | None:
    with _client_in_use:
        meteostat = _client()
        known = meteostat.Station(
            id=station.id,
            name=station.name,
            latitude=station.latitude,
            longitude=station.longitude,
            elevation=station.elevation_m,
            timezone=station.time_zone,
        )
        quantities = [meteostat.Parameter[name.upper()] for name in QUANTITIES]

        def fetch() -> Any:
            return meteostat.hourly(
                known, datetime(year, 1, 1), datetime(year, 12, 31, 23, 59), parameters=quantities
            ).fetch(sources=True)

        try:
            table, failures = with_timeout(fetch, HOURLY_FILE_SECONDS)
        except Exception as error:
            failures = [failure_reason(error, HOURLY_FILE_SECONDS)]
        if failures:
            raise WeatherError(
                f"station {station.id} ({station.name}): the hours of {year} cannot be fetched ({failures[0]}): try "
                f"again later, use --offline with the years fetched before, or {WHAT_ELSE}"
            )
    return None if table is None else _measured(table)


def _measured(fetched: pd.DataFrame) -> pd.DataFrame | None:
    """The measured values of a year, None where there are none, given what the client fetched with its sources."""
    from meteostat.core.providers import provider_service
    from meteostat.enumerations import Grade

    known = {str(provider.id): provider for provider in provider_service.providers}
    models = [name for name, provider in known.items() if provider.grade in (Grade.FORECAST, Grade.ANALYSIS)]
    sources = fetched.reindex(columns=[f"{name}_source" for name in QUANTITIES]).set_axis(list(QUANTITIES), axis=1)
    made = sources.isin(models)
    table = fetched.reindex(columns=list(QUANTITIES)).astype(float).mask(made)
    if table.isna().all(axis=None):
        return None
    table[BY_MODEL] = made[["temp", "rhum"]].any(axis=1).astype(float)
    table.index = pd.DatetimeIndex(table.index).tz_localize(None)
    values = sources.where(table[list(QUANTITIES)].notna()).to_numpy().ravel()
    used = {part for name in pd.unique(values[pd.notna(values)]) for part in str(name).split()}
    licences = [known[name].license for name in used if name in known]
    told = {f"{licence.attribution} ({licence.name})" for licence in licences if licence and licence.attribution}
    table.attrs = {"sources": sorted(used | told)}
    return table


@contextmanager
def _kept_file(path: Path) -> Iterator[Path]:
    """A path in the cache to write to, whole or not at all."""
    remedy = "free space there, or set FREECOOL_CACHE_DIR to another folder"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WeatherError(f"{path.parent} cannot be written ({error.strerror or error}): {remedy}") from None
    with atomic_file(path, remedy) as target:
        yield target
