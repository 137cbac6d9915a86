"""Weather of open stations: which station and which of its years are taken."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np
import pandas as pd

from freecool.core.errors import Notice, WeatherError
from freecool.core.units import format_quantity
from freecool.weather.climate_zone import thermal_zone
from freecool.weather.clock import standard_offset_h
from freecool.weather.download import BY_MODEL, WHAT_ELSE
from freecool.weather.model import Location, Weather
from freecool.weather.places import ATTRIBUTION, Place, find_place
from freecool.weather.quality import LONGEST_FILLED_GAP_H
from freecool.weather.readers.station_checks import air_faults, without_implausible
from freecool.weather.readers.station_hours import (
    LEAST_MONTH_SHARE,
    local_hours,
    weather_columns,
    year_faults,
)
from freecool.weather.station import Station
from freecool.weather.station_list import Inventory, find_station, inventories, stations_near
from freecool.weather.station_years import NoHourlyData, StationRecord, hourly_record
from freecool.weather.table import weather_from_table

DEFAULT_YEARS = 10
FIRST_YEAR = 1931
LEAST_YEARS_SHARE = 0.5
"""Whole years among those asked for, below which the next station is tried (our own choice)."""
STATIONS_TRIED = 4


@dataclass(frozen=True, kw_only=True)
class StationRequest:
    """Weather asked of a station.

    Attributes
    ----------
    source : str
        "station:ID", "near:LAT,LON" or "near:TOWN".
    first, last : int
        Calendar years.
    offline : bool
        Use only what was fetched before.
    elevation_m : float, optional
        Of the building, that of the station if not given [m].
    allow_gaps : bool
        Keep years with gaps longer than 48 h.
    refresh : bool
        Fetch again what was fetched before.
    """

    source: str
    first: int
    last: int
    offline: bool
    elevation_m: float | None
    allow_gaps: bool
    refresh: bool = False

    @property
    def span(self) -> str:
        """The years as text, such as "2015-2024"."""
        return f"{self.first}-{self.last}"


class NoUsableYear(WeatherError):
    """A station without one whole year in the years asked for."""


def station_weather(
    source: str,
    *,
    years: tuple[int, int] | None = None,
    offline: bool = False,
    elevation_m: float | None = None,
    allow_gaps: bool = False,
    refresh: bool = False,
) -> Weather:
    """Weather of real years, given "station:ID", "near:LAT,LON", or "near:" and a town with its state or a ZIP code.

    Parameters
    ----------
    source : str
        The station, or the place near which one is looked for.
    years : tuple of int, optional
        First and last; the last ten complete years if not given.
    offline : bool
        Use only what was fetched before.
    elevation_m : float, optional
        Of the building; dry bulb is moved there by 6.5 K/km at the same relative humidity [m].
    allow_gaps : bool
        Keep years with gaps longer than 48 h.
    refresh : bool
        Fetch the years again that were fetched before.

    Returns
    -------
    Weather
        Of the whole years in the span.

    Raises
    ------
    WeatherError
        No station, no data, no whole year, or no connection.
    """
    scheme, _, rest = source.partition(":")
    first, last = _span(years)
    if offline and refresh:
        raise WeatherError("{offline} and {refresh} exclude each other: give one", offline=True, refresh=True)
    request = StationRequest(
        source=source,
        first=first,
        last=last,
        offline=offline,
        elevation_m=elevation_m,
        allow_gaps=allow_gaps,
        refresh=refresh,
    )
    if scheme == "station":
        return _weather(find_station(rest.strip(), offline=offline), request)
    place = place_of(rest)
    near = stations_near(place.latitude, place.longitude, offline=offline)
    listed = inventories(near, offline=offline)
    found = _nearest_usable([station for station in near if _may_have(listed[station.id], request)], request)
    return replace(found, notices=(*_place_notices(place, found), *found.notices)) if place.name else found


def _span(years: tuple[int, int] | None) -> tuple[int, int]:
    now = datetime.now(UTC).year
    first, last = years or (now - DEFAULT_YEARS, now - 1)
    if not FIRST_YEAR <= first <= last <= now:
        raise WeatherError(
            f"years {first}-{last} were asked for, expected first to last from {FIRST_YEAR} to {now}, such as "
            f"{now - DEFAULT_YEARS}-{now - 1}"
        )
    return first, last


def place_of(text: str) -> Place:
    """A place, given its latitude and longitude, a ZIP code, or a town with its state or country.

    Parameters
    ----------
    text : str
        Such as "36.07,-79.79", "27401", "Greensboro, NC" or "Lyon, France".

    Returns
    -------
    Place
        Without a name where coordinates were given.

    Raises
    ------
    WeatherError
        No place, or several of that name.
    """
    match = re.fullmatch(r"\s*([+-]?\d+(?:\.\d*)?)\s*[, ]\s*([+-]?\d+(?:\.\d*)?)\s*", text)
    if match:
        return Place(name="", county="", latitude=float(match[1]), longitude=float(match[2]), time_zone="")
    if not re.search(r"[^\W\d]{2}|\d{5}", text):
        raise WeatherError(
            f"'near:{text}': expected latitude and longitude in degrees, such as near:36.07,-79.79, or a town or ZIP "
            'code, such as near:"Greensboro, NC", near:"Lyon, France" or near:27401'
        )
    return find_place(text)


def _place_notices(place: Place, found: Weather) -> tuple[Notice, ...]:
    """What was understood of a place's name, and whose data told it."""
    text = (
        f"{place.name} ({place.county}) is taken at {place.latitude:g}, {place.longitude:g}; standard time is UTC"
        f"{found.location.utc_offset_h:+g} h, the climate zone's number by degree days {thermal_zone(found)}. "
        f"{ATTRIBUTION}"
    )
    return (Notice("place_by_name", text),)


def _may_have(listed: Inventory, request: StationRequest) -> bool:
    # The list is not complete: where it says nothing, the station is tried.
    if listed.first_year is None or listed.last_year is None:
        return True
    return listed.first_year <= request.last and listed.last_year >= request.first


def _nearest_usable(near: Sequence[Station], request: StationRequest) -> Weather:
    """The nearest station with half of the years asked for, else the one with most, given stations by distance."""
    found: list[Weather] = []
    passed: list[NoUsableYear] = []
    for station in near[:STATIONS_TRIED]:
        try:
            found.append(_weather(station, request))
        except NoUsableYear as error:
            passed.append(error)
            continue
        if len(found[-1].years) >= LEAST_YEARS_SHARE * (request.last - request.first + 1):
            return found[-1]
    if not found:
        reasons = "; ".join(error.text for error in passed) or "the list names none"
        parameters = {name: value for error in passed for name, value in error.parameters.items()}
        raise WeatherError(
            f"{request.source}: no station near has a whole year in {request.span} ({reasons}): take other years, or "
            f"{WHAT_ELSE}",
            **parameters,
        )
    return max(found, key=lambda weather: len(weather.years))


def _weather(station: Station, request: StationRequest) -> Weather:
    offset_h = standard_offset_h(station.time_zone, request.last)
    record = _record(station, request, offset_h)
    local, implausible = without_implausible(local_hours(record.table, request.first, request.last, offset_h))
    faults = _faults(local, record, request)
    kept = tuple(year for year in range(request.first, request.last + 1) if year not in faults)
    name = f"station {station.id} ({station.name})"
    if not kept:
        raise NoUsableYear(
            f"{name} has no whole year of temperature and humidity in {request.span}: {_reasons(faults)}; take other "
            "years or another station ({stations_near} lists them)",
            stations_near=None,
        )
    local = local[pd.DatetimeIndex(local.index).year.isin(kept)]
    elevation_m = station.elevation_m if request.elevation_m is None else request.elevation_m
    table, notices = weather_columns(local, station.elevation_m, elevation_m)
    try:
        found = weather_from_table(
            table,
            Location(
                name=f"{station.name} ({station.id})",
                latitude=station.latitude,
                longitude=station.longitude,
                elevation_m=elevation_m,
                utc_offset_h=offset_h,
            ),
            name=name,
            source=request.source,
            kind="station",
            typical=False,
            # The rule for years has judged the gaps; what is left may be filled, also where two years now touch.
            allow_gaps=True,
            attribution=record.attribution,
            # A row is what was "recorded at that time" (documentation of meteostat's hourly data), and begins an hour.
            air_at="start",
        )
    except WeatherError as error:
        # Another station may serve.
        raise NoUsableYear(error.text, **error.parameters) from None
    origin = _station_notice(station, int((local[BY_MODEL] > 0.0).sum()))
    return replace(
        found, years=kept, notices=(origin, *_dropped_notices(faults), *implausible, *notices, *found.notices)
    )


def _record(station: Station, request: StationRequest, utc_offset_h: float) -> StationRecord:
    shift = pd.Timedelta(hours=utc_offset_h)
    first = (pd.Timestamp(request.first, 1, 1) - shift).floor("h")
    last = (pd.Timestamp(request.last, 12, 31, 23) - shift).ceil("h")
    try:
        return hourly_record(station, first, last, offline=request.offline, refresh=request.refresh)
    except NoHourlyData as error:
        raise NoUsableYear(error.text, **error.parameters) from None


def _faults(local: pd.DataFrame, record: StationRecord, request: StationRequest) -> dict[int, str]:
    faults = air_faults(local) | year_faults(local, allow_gaps=request.allow_gaps)
    absent = "not fetched before" if request.offline else "no data"
    return faults | {year: absent for year in record.missing_years if year in faults}


def _reasons(faults: Mapping[int, str]) -> str:
    return "; ".join(f"{year} ({reason})" for year, reason in faults.items())


def _dropped_notices(faults: Mapping[int, str]) -> list[Notice]:
    if not faults:
        return []
    rule = f"{LEAST_MONTH_SHARE:.0%} of each month's hours, no gap over {LONGEST_FILLED_GAP_H} h and sound values"
    return [Notice("dropped_years", f"Years left out, for want of {rule}: {_reasons(faults)}.")]


def _station_notice(station: Station, hours_by_model: int) -> Notice:
    away = "" if np.isnan(station.distance_m) else f", {station.distance_m / 1000.0:.0f} km away"
    height = f"{format_quantity(station.elevation_m, 'length', digits=0)} ({station.elevation_m:.0f} m)"
    made = f"in {hours_by_model:,} h" if hours_by_model else "there were none in these years"
    text = (
        f"Weather of station {station.id}, {station.name}{away}, at {height}; "
        f"values made by forecast models are left out ({made})."
    )
    return Notice("station", text)
