"""Open weather stations: their list, fetched in bounded time and kept on disk."""

from __future__ import annotations

import math
import re
import sqlite3
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from time import time
from typing import Any

import numpy as np
import pandas as pd

from freecool.core.atomic_file import atomic_file
from freecool.core.cache import cache_root
from freecool.core.errors import FreecoolError, WeatherError
from freecool.weather.download import (
    WHAT_ELSE,
    download_station_list,
    listed_inventory,
    listed_station,
)
from freecool.weather.faults import finite
from freecool.weather.station import Station

STATION_LIST_AGE_S = 30 * 86_400.0
"""Age at which the list is fetched again [s]."""
SEARCH_RADIUS_M = 150_000
"""How far from a place stations are looked for (our own choice) [m]."""
STATIONS_LISTED = 100
EARTH_RADIUS_M = 6_371_000.0
"""Mean radius, to 0.5 km: IUGG [m]."""
LOCATION_KEYS = ("latitude", "longitude", "elevation", "timezone")
YEAR = re.compile(r"\d{4}-")
STATION_ID = re.compile(r"[A-Za-z0-9]{3,10}")

# Of several threads one fetches the list.
_list_in_use = threading.RLock()


@dataclass(frozen=True, kw_only=True)
class Inventory:
    """What the list says of the data of a station.

    Attributes
    ----------
    first_year, last_year : int, optional
        Of its temperatures, else of its humidities; None where the list does not say.
    temperature, humidity : float, optional
        Share of the hours with a value, None where the list does not say [0-1].
    """

    first_year: int | None = None
    last_year: int | None = None
    temperature: float | None = None
    humidity: float | None = None


def stations_folder() -> Path:
    """Folder in which the list and the hourly years are kept.

    Returns
    -------
    Path
        In FREECOOL_CACHE_DIR where that is set, else in the user's cache.
    """
    return cache_root() / "stations"


def list_is_kept() -> bool:
    """Whether the list was fetched before.

    Returns
    -------
    bool
        True where it can be read.
    """
    return _is_station_list(stations_folder() / "stations.db")


def find_station(identifier: str, *, offline: bool = False) -> Station:
    """A station, given its identifier.

    Parameters
    ----------
    identifier : str
        Such as "72530".
    offline : bool
        Use only a list that was fetched before.

    Returns
    -------
    Station
        As the list has it.

    Raises
    ------
    WeatherError
        The identifier is not in the list, or the list cannot be had.
    """
    found = listed_station(_sound_list(offline), identifier) if STATION_ID.fullmatch(identifier) else None
    if found is None:
        raise WeatherError(
            f"station '{identifier}' is not in the list of stations, expected an identifier such as 72530: "
            "list those near a place with {stations_near}",
            stations_near=None,
        )
    return _station(identifier, found)


def stations_near(latitude: float, longitude: float, *, offline: bool = False) -> list[Station]:
    """Stations within 150 km, nearest first, given a place.

    Parameters
    ----------
    latitude, longitude : float
        North and east positive [degrees].
    offline : bool
        Use only a list that was fetched before.

    Returns
    -------
    list of Station
        At most a hundred.

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
    rows = _near(_sound_list(offline), latitude, longitude)
    if rows.empty:
        raise WeatherError(
            f"no weather station lies within {SEARCH_RADIUS_M / 1000:.0f} km of {latitude:g}, {longitude:g}: "
            f"check the sign of the longitude (west is negative), or {WHAT_ELSE}"
        )
    return [
        _station(str(identifier), {str(key): value for key, value in row.items()})
        for identifier, row in rows.iterrows()
    ]


def inventories(stations: Sequence[Station], *, offline: bool = False) -> dict[str, Inventory]:
    """What the list says of the data of stations, given the stations.

    Parameters
    ----------
    stations : sequence of Station
        Of the list.
    offline : bool
        Use only a list that was fetched before.

    Returns
    -------
    dict of Inventory
        By identifier, one for each station.

    Raises
    ------
    WeatherError
        The list cannot be had.
    """
    rows = listed_inventory(_sound_list(offline), [station.id for station in stations])
    unsaid = {station.id: Inventory() for station in stations}
    if rows is None:
        return unsaid
    rows = rows.reset_index()
    air = rows[rows["parameter"].isin(("temp", "rhum"))]
    return unsaid | {str(identifier): _inventory(group) for identifier, group in air.groupby("station")}


@contextmanager
def kept_file(path: Path) -> Iterator[Path]:
    """A path in the cache to write to, whole or not at all, given the path it will have.

    Parameters
    ----------
    path : Path
        In `stations_folder`.

    Yields
    ------
    Path
        To write to.

    Raises
    ------
    WeatherError
        The folder cannot be written.
    FreecoolError
        The file cannot be written.
    """
    remedy = "free space there, or set FREECOOL_CACHE_DIR to another folder"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WeatherError(f"{path.parent} cannot be written ({error.strerror or error}): {remedy}") from None
    with atomic_file(path, remedy) as target:
        yield target


def _inventory(rows: pd.DataFrame) -> Inventory:
    """Years and completeness, given what the list holds of one station's temperature and humidity."""
    air = rows[rows["parameter"] == "temp"]
    share = pd.to_numeric(rows["completeness"], errors="coerce")
    complete = share.groupby(rows["parameter"]).max().to_dict()
    span = air if len(air) else rows
    years = [[int(text[:4]) for text in span[edge] if YEAR.match(str(text))] for edge in ("start", "end")]
    return Inventory(
        first_year=min(years[0], default=None),
        last_year=max(years[1], default=None),
        temperature=_share(complete.get("temp")),
        humidity=_share(complete.get("rhum")),
    )


def _near(station_list: Path, latitude: float, longitude: float) -> pd.DataFrame:
    """Stations with a place, a height and a time zone, nearest first, with their distance [m].

    The client's own search fails as a whole where one station's figures are text.
    """
    text = (
        f"SELECT id, name, {', '.join(LOCATION_KEYS)} FROM stations "
        "JOIN names ON names.station = stations.id AND names.language = 'en'"
    )
    with closing(sqlite3.connect(f"file:{station_list}?mode=ro", uri=True)) as database:
        rows = pd.read_sql_query(text, database, index_col="id")
    figures = ["latitude", "longitude", "elevation"]
    rows[figures] = rows[figures].apply(pd.to_numeric, errors="coerce")
    rows = rows.dropna(subset=list(LOCATION_KEYS))
    north, east, there = np.radians(rows["latitude"]), np.radians(rows["longitude"] - longitude), math.radians(latitude)
    chord = np.sin((north - there) / 2.0) ** 2 + np.cos(north) * math.cos(there) * np.sin(east / 2.0) ** 2
    rows["distance"] = 2.0 * EARTH_RADIUS_M * np.arcsin(np.sqrt(chord))
    return rows[rows["distance"] <= SEARCH_RADIUS_M].sort_values("distance").head(STATIONS_LISTED)


def _share(completeness: Any) -> float | None:
    if completeness is None or pd.isna(completeness):
        return None
    # The list gives percent in some editions, a share in others.
    return float(completeness) / (100.0 if completeness > 1.0 else 1.0)


def _station(identifier: str, row: Mapping[Any, Any]) -> Station:
    figures = {key: finite(str(row.get(key))) for key in ("latitude", "longitude", "elevation")}
    lacking = [key for key in LOCATION_KEYS if pd.isna(figures.get(key, row.get(key)))]
    if lacking:
        raise WeatherError(f"station {identifier}: the list does not tell its {', '.join(lacking)}: take another one")
    return Station(
        id=identifier,
        name=str(row.get("name") or identifier),
        latitude=figures["latitude"],
        longitude=figures["longitude"],
        elevation_m=figures["elevation"],
        time_zone=str(row["timezone"]),
        distance_m=float(row.get("distance", math.nan)),
    )


def _sound_list(offline: bool) -> Path:
    """The kept list of stations, fetched where it is missing, damaged or old."""
    with _list_in_use:
        path = stations_folder() / "stations.db"
        sound = _is_station_list(path)
        if offline and not sound:
            raise WeatherError(
                "the list of stations was not fetched before, and offline was asked for: run once without "
                f"{{offline}}, or {WHAT_ELSE}",
                offline=True,
            )
        if not sound or (not offline and time() - path.stat().st_mtime > STATION_LIST_AGE_S):
            try:
                _fetch_station_list(path)
            except FreecoolError:
                # An old list serves as well as a new one.
                if not sound:
                    raise
        return path


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


def _fetch_station_list(path: Path) -> None:
    with kept_file(path) as target:
        failures = download_station_list(target)
        if not _is_station_list(target):
            detail = f" ({failures[0]})" if failures else ""
            raise WeatherError(
                f"the list of weather stations came damaged{detail}, expected an SQLite database: try again later, "
                f"or {WHAT_ELSE}"
            )
