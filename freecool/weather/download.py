"""Open station data, fetched by the station client in bounded time.

The only file that imports meteostat, whose own cache keeps failures as empty years and stays off.
"""

from __future__ import annotations

import errno
import logging
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from freecool.core.cancel import Cancelled
from freecool.core.errors import WeatherError
from freecool.weather.network import LOG, failure_reason, fetch_packed, with_timeout

if TYPE_CHECKING:
    from freecool.weather.station import Station

STATION_LIST_SECONDS = 15.0
"""Longest wait for the list of stations, all mirrors together [s]."""
STATION_LIST_MIRROR_SECONDS = 7
"""Longest silence of one mirror of the list [s]."""
HOURLY_FILE_SECONDS = 20.0
"""Longest wait for one station and year [s]."""
DISK_FAULTS = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
QUANTITIES = ("temp", "rhum", "pres", "cldc", "tsun", "coco", "wspd")
"""Air [°C], relative humidity [%], sea-level pressure [hPa], cloud [oktas], sunshine [min], condition code, wind
[km/h]."""
BY_MODEL = "by_model"
"""Column of a year: 1 in hours whose temperature or humidity a forecast model made and that were emptied."""
WHAT_ELSE = "give a weather file (EPW, TMY3 or CSV), or try demo:mixed-inland"

# Settings and log of the client are shared by the process.
_client_in_use = threading.RLock()


def download_station_list(target: Path) -> list[str]:
    """Fetch the list of stations into a file, given its path.

    Parameters
    ----------
    target : Path
        SQLite file to write.

    Returns
    -------
    list of str
        Failures that the client only logged; the file may then be damaged.

    Raises
    ------
    WeatherError
        It cannot be fetched within the stated time.
    OSError
        The disk is full.
    """
    with _client(target) as meteostat:
        try:
            return with_timeout(lambda: meteostat.stations.connect(in_memory=False).close(), STATION_LIST_SECONDS)[1]
        except Cancelled:
            raise
        except Exception as error:
            if isinstance(error, OSError) and error.errno in DISK_FAULTS:
                raise
            reason = failure_reason(error, STATION_LIST_SECONDS)
            raise WeatherError(
                f"the list of weather stations cannot be fetched ({reason}): check the connection and try again, use "
                f"{{offline}} with what was fetched before, or {WHAT_ELSE}",
                offline=True,
            ) from None


def listed_station(station_list: Path, identifier: str) -> dict[str, Any] | None:
    """What the list tells of a station, given the list and an identifier.

    Parameters
    ----------
    station_list : Path
        A sound list.
    identifier : str
        Of the station.

    Returns
    -------
    dict or None
        By the client's names; None where the list does not hold it.
    """
    with _client(station_list) as meteostat:
        found = meteostat.stations.meta(identifier)
    return None if found is None else vars(found)


def listed_inventory(station_list: Path, identifiers: Sequence[str]) -> pd.DataFrame | None:
    """What the list tells of the data of stations, given the list and their identifiers.

    Parameters
    ----------
    station_list : Path
        A sound list.
    identifiers : sequence of str
        Of the stations.

    Returns
    -------
    pandas.DataFrame or None
        One row a station, provider and quantity, in the client's columns; None where it tells nothing.
    """
    with _client(station_list) as meteostat:
        found: pd.DataFrame | None = meteostat.stations.inventory(list(identifiers)).df
    return found


def download_hours(station: Station, year: int) -> pd.DataFrame | None:
    """Measured values of a station in one year, given both.

    Parameters
    ----------
    station : Station
        Of the list.
    year : int
        In UTC.

    Returns
    -------
    pandas.DataFrame or None
        One row an hour in UTC, columns `QUANTITIES` and `BY_MODEL`, NaN where nothing was measured, and whose data
        they are in ``attrs["sources"]``; None where there is nothing, or no temperature or no humidity at all.

    Raises
    ------
    WeatherError
        It cannot be fetched within the stated time.
    """
    from meteostat.providers.meteostat import hourly

    with _client() as meteostat:
        endpoint = hourly.ENDPOINT
        try:
            packed, failures = with_timeout(
                lambda: fetch_packed(endpoint.format(station=station.id, year=year), HOURLY_FILE_SECONDS),
                HOURLY_FILE_SECONDS,
            )
            if packed is None:
                return None
            # The client unpacks whatever comes, so it is handed what was fetched and measured before.
            hourly.ENDPOINT = _Fetched(packed)  # type: ignore[assignment]
            table, failures = with_timeout(lambda: _read_hours(meteostat, station, year), HOURLY_FILE_SECONDS)
            measured = None if table is None else _measured(table)
        except Cancelled:
            raise
        except Exception as error:
            failures, measured = [failure_reason(error, HOURLY_FILE_SECONDS)], None
        finally:
            hourly.ENDPOINT = endpoint
    if failures:
        raise WeatherError(
            f"station {station.id} ({station.name}): the hours of {year} cannot be fetched ({failures[0]}): try "
            f"again later, use {{offline}} with the years fetched before, or {WHAT_ELSE}",
            offline=True,
        )
    return measured


class _Fetched:
    """In place of an address, what was fetched from it."""

    def __init__(self, packed: bytes) -> None:
        self.packed = packed

    def format(self, **_: object) -> BytesIO:
        return BytesIO(self.packed)


def _read_hours(meteostat: Any, station: Station, year: int) -> Any:
    known = meteostat.Station(
        id=station.id,
        name=station.name,
        latitude=station.latitude,
        longitude=station.longitude,
        elevation=station.elevation_m,
        timezone=station.time_zone,
    )
    quantities = [meteostat.Parameter[name.upper()] for name in QUANTITIES]
    first, last = datetime(year, 1, 1), datetime(year, 12, 31, 23, 59)
    # The first of the two calls reads the file already.
    return meteostat.hourly(known, first, last, parameters=quantities).fetch(sources=True)


@contextmanager
def _client(station_list: Path | None = None) -> Iterator[Any]:
    """The client with our settings, one user at a time."""
    with _client_in_use:
        import meteostat

        settings = meteostat.config
        settings.cache_enable = False
        # Left in here and taken out in _measured, so that they can be counted.
        settings.include_model_data = True
        settings.block_large_requests = False
        settings.network_timeout = STATION_LIST_MIRROR_SECONDS
        settings.network_max_retries = 0
        # The list's age is judged by us, so the client must never fetch over it.
        settings.stations_db_ttl = 2**40
        if station_list is not None:
            settings.stations_db_file = str(station_list)
        logging.getLogger(LOG).setLevel(logging.WARNING)
        yield meteostat


def _measured(fetched: pd.DataFrame) -> pd.DataFrame | None:
    """The measured values of a year, None where there are none, given what the client fetched with its sources."""
    from meteostat.core.providers import provider_service
    from meteostat.enumerations import Grade

    known = {str(provider.id): provider for provider in provider_service.providers}
    models = [name for name, provider in known.items() if provider.grade in (Grade.FORECAST, Grade.ANALYSIS)]
    sources = fetched.reindex(columns=[f"{name}_source" for name in QUANTITIES]).set_axis(list(QUANTITIES), axis=1)
    made = sources.isin(models)
    table = fetched.reindex(columns=list(QUANTITIES)).astype(float).mask(made)
    if table[["temp", "rhum"]].isna().all().any():
        return None
    table[BY_MODEL] = made[["temp", "rhum"]].any(axis=1).astype(float)
    table.index = pd.DatetimeIndex(table.index).tz_localize(None)
    values = sources.where(table[list(QUANTITIES)].notna()).to_numpy().ravel()
    used = {part for name in pd.unique(values[pd.notna(values)]) for part in str(name).split()}
    licences = [known[name].license for name in used if name in known]
    owners = {f"{licence.attribution} ({licence.name})" for licence in licences if licence and licence.attribution}
    table.attrs = {"sources": sorted(used | owners)}
    return table
