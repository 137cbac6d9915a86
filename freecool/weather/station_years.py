"""The hourly years of open weather stations, fetched once and kept on disk."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from time import time

import pandas as pd

from freecool.core.errors import FreecoolError, WeatherError
from freecool.weather.download import BY_MODEL, QUANTITIES, WHAT_ELSE, download_hours
from freecool.weather.station import Station
from freecool.weather.station_list import kept_file, stations_folder

SETTLED_S = 31 * 86_400.0
"""Time after its last needed hour at which a year's file no longer grows (our own choice) [s]."""
RECENT_S = 86_400.0
"""Age below which a growing year's file is not fetched again [s]."""
LEAST_HOURS_OF_AIR = 7_884
"""Hours of a year with temperature and humidity, nine in ten, with which it is kept for good (our own choice) [h]."""
# The package's pages and an older statement of terms differ, so both are shown.
LICENCE = (
    "Hourly data by Meteostat (https://meteostat.net), licence CC BY 4.0; an older statement of terms says "
    "CC BY-NC 4.0 (no commercial use), so check before handing it on"
)


@dataclass(frozen=True, kw_only=True)
class StationRecord:
    """Hourly measured values of one station.

    Attributes
    ----------
    table : pandas.DataFrame
        One row an hour in UTC, columns `download.QUANTITIES` and `download.BY_MODEL`, NaN where nothing was measured.
    missing_years : tuple of int
        Years that no file was found for.
    attribution : str
        Whose data they are, with the licence.
    """

    table: pd.DataFrame
    missing_years: tuple[int, ...]
    attribution: str


class NoHourlyData(WeatherError):
    """A station without a single hour in the years asked for."""


def hourly_record(
    station: Station, first: pd.Timestamp, last: pd.Timestamp, *, offline: bool = False, refresh: bool = False
) -> StationRecord:
    """Hourly values of a station, given the first and the last hour.

    Years once fetched are kept; a kept year is used again unless it was still growing, or holds temperature and
    humidity in too few of its hours: then it is asked for again, once a day. The first failure ends the fetching.

    Parameters
    ----------
    station : Station
        Of the list.
    first, last : pandas.Timestamp
        In UTC, without time zone.
    offline : bool
        Use only years that were fetched before.
    refresh : bool
        Fetch every year again.

    Returns
    -------
    StationRecord
        Every hour from first to last.

    Raises
    ------
    WeatherError
        A year cannot be fetched in the stated time, or there are no data at all.
    """
    years = range(first.year, last.year + 1)
    ends = {year: min(last, pd.Timestamp(year, 12, 31, 23)) for year in years}
    found = {year: _year(station, year, ends[year], offline, refresh) for year in years}
    tables = [table for table in found.values() if table is not None]
    if not tables:
        # A zone's first or last hours may lie in a neighbouring year.
        day = pd.Timedelta(days=1)
        raise _nothing_found(station, f"{(first + day).year}-{(last - day).year}", offline)
    table = pd.concat(tables)
    sources = sorted({source for part in tables for source in part.attrs.get("sources", ())})
    named = f"; gathered from {', '.join(sources)}" if sources else ""
    return StationRecord(
        table=table[~table.index.duplicated()].reindex(pd.date_range(first, last, freq="h")),
        missing_years=tuple(year for year, part in found.items() if part is None),
        attribution=f"{LICENCE}{named}.",
    )


def _nothing_found(station: Station, span: str, offline: bool) -> WeatherError:
    if offline:
        return WeatherError(
            f"station {station.id} ({station.name}): no year of {span} was fetched before, and offline was "
            f"asked for: run once without {{offline}}, or {WHAT_ELSE}",
            offline=True,
        )
    return NoHourlyData(
        f"station {station.id} ({station.name}) has no hourly data in {span}: take other years or another "
        "station ({stations_near} lists them)",
        stations_near=None,
    )


def _year(station: Station, year: int, needed_until: pd.Timestamp, offline: bool, refresh: bool) -> pd.DataFrame | None:
    """One kept or fetched year, None where the station has none."""
    path = stations_folder() / "hourly" / station.id / f"{year}.parquet"
    kept = _kept(path)
    if offline or (kept is not None and not refresh and _is_current(path, kept, needed_until)):
        return kept
    try:
        fetched = download_hours(station, year)
        if fetched is None or (kept is not None and _hours_of_air(fetched) < _hours_of_air(kept)):
            # What is worse does not replace what is better.
            if kept is not None:
                path.touch()
            return kept
        with kept_file(path) as target, target.open("wb") as file:
            fetched.to_parquet(file)
    except FreecoolError:
        if kept is None:
            raise
        return kept
    return fetched


def _kept(path: Path) -> pd.DataFrame | None:
    try:
        table = pd.read_parquet(path)
        numeric = table[[*QUANTITIES, BY_MODEL]].astype(float)
    except (OSError, ValueError, KeyError, TypeError):
        # Not there, damaged, or not what is kept here: fetched again.
        return None
    numeric.attrs = table.attrs
    return numeric if isinstance(table.index, pd.DatetimeIndex) and _hours_of_air(numeric) else None


def _hours_of_air(table: pd.DataFrame) -> int:
    return int(table[["temp", "rhum"]].notna().all(axis=1).sum())


def _is_current(path: Path, kept: pd.DataFrame, needed_until: pd.Timestamp) -> bool:
    fetched = path.stat().st_mtime
    settled = fetched > needed_until.timestamp() + SETTLED_S and _hours_of_air(kept) >= LEAST_HOURS_OF_AIR
    return settled or time() - fetched < RECENT_S
