"""One door for every weather source."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from freecool.core.errors import WeatherError
from freecool.weather.invented import invented_weather
from freecool.weather.model import Weather
from freecool.weather.readers.csv import read_csv
from freecool.weather.readers.epw import is_epw, read_epw
from freecool.weather.readers.text import read_text_file
from freecool.weather.readers.tmy import is_tmy2, is_tmy3, read_tmy2, read_tmy3
from freecool.weather.years import only_years

DEFAULT_DEMO = "mixed-inland"
READERS = ((is_epw, read_epw), (is_tmy3, read_tmy3), (is_tmy2, read_tmy2))
"""Formats that are told apart by content: how one is recognised, and its reader. Any other text is a plain CSV."""


def open_weather(
    text: str | Path | None = None,
    *,
    allow_gaps: bool = False,
    years: tuple[int, int] | None = None,
    offline: bool = False,
    refresh: bool = False,
    **location: Any,
) -> Weather:
    """Weather, given a path, "station:ID", "near:PLACE", "demo:NAME", or nothing for the built-in invented year.

    Parameters
    ----------
    text : str, Path or None
        An EPW, TMY3, TMY2 or plain CSV file, told apart by content; or "station:ID", "near:LAT,LON",
        "near:Greensboro, NC", "near:Lyon, France", "near:27401", "demo:NAME".
    allow_gaps : bool
        Fill gaps longer than 48 h too, instead of refusing the month.
    years : tuple of int, optional
        First and last of the real years wanted; of a station the last ten complete ones if not given.
    offline : bool
        Of a station, use only what was fetched before.
    refresh : bool
        Of a station, fetch again what was fetched before.
    **location
        For a plain CSV without header comments: name, latitude, longitude [degrees], elevation_m [m],
        utc_offset_h [h]. For a station: elevation_m of the building.

    Returns
    -------
    Weather
        Hourly, without gaps.

    Raises
    ------
    WeatherError
        The source cannot be read or is not fit for an answer; one sentence says why and what to do.
    """
    given = {key: value for key, value in location.items() if value is not None}
    found = _open(text, given, allow_gaps=allow_gaps, years=years, offline=offline, refresh=refresh)
    return found if years is None else only_years(found, *years)


def _open(
    text: str | Path | None,
    location: dict[str, Any],
    *,
    allow_gaps: bool,
    years: tuple[int, int] | None,
    offline: bool,
    refresh: bool,
) -> Weather:
    source = f"demo:{DEFAULT_DEMO}" if text is None else str(text).strip()
    scheme, _, rest = source.partition(":")
    if scheme == "demo":
        _refuse_location(f"the demo climate {rest}", location)
        return invented_weather(rest)
    if scheme in {"station", "near"}:
        from freecool.weather.readers.stations import station_weather

        elevation_m = location.pop("elevation_m", None)
        _refuse_location(source, location)
        return station_weather(
            source, years=years, offline=offline, elevation_m=elevation_m, allow_gaps=allow_gaps, refresh=refresh
        )
    if not source:
        raise WeatherError("no weather source was given: give the path of a weather file, or demo:mixed-inland")
    file = read_text_file(source)
    for recognises, read in READERS:
        if recognises(file.lines):
            _refuse_location(file.name, location)
            return read(file, allow_gaps=allow_gaps)
    return read_csv(file, allow_gaps=allow_gaps, **location)


def _refuse_location(source: str, location: dict[str, Any]) -> None:
    if location:
        named = ", ".join(f"{{{key}}}" for key in location)
        raise WeatherError(f"{source} states its own place: leave out {named}", **dict.fromkeys(location))
