"""One door for every weather source."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from freecool.core.errors import WeatherError
from freecool.weather.invented import invented_weather
from freecool.weather.model import Weather
from freecool.weather.readers.csv import read_csv
from freecool.weather.readers.files import is_epw, is_tmy2, is_tmy3, read_epw, read_tmy2, read_tmy3
from freecool.weather.readers.text import read_lines
from freecool.weather.years import only_years

DEFAULT_DEMO = "mixed-inland"


def open_weather(
    text: str | Path | None = None,
    *,
    allow_gaps: bool = False,
    years: tuple[int, int] | None = None,
    offline: bool = False,
    **place: Any,
) -> Weather:
    """Weather, given a path, "station:ID", "near:LAT,LON", "demo:NAME", or nothing for the built-in invented year.

    Parameters
    ----------
    text : str, Path or None
        An EPW, TMY3, TMY2 or plain CSV file, told apart by content; or "station:ID", "near:LAT,LON", "demo:NAME".
    allow_gaps : bool
        Fill gaps longer than 48 h too, instead of refusing the month.
    years : tuple of int, optional
        First and last of the real years wanted; of a station the last ten complete ones if not given.
    offline : bool
        Of a station, use only what was fetched before.
    **place
        For a plain CSV without header comments: name, latitude, longitude [degrees], elevation_m [m],
        utc_offset_h [h]. For a station: elevation_m of the building.

    Raises
    ------
    WeatherError
        The source cannot be read or is not fit for an answer; one sentence says why and what to do.
    """
    found = _open(text, allow_gaps, years, offline, place)
    return found if years is None else only_years(found, *years)


def _open(
    text: str | Path | None, allow_gaps: bool, years: tuple[int, int] | None, offline: bool, place: dict[str, Any]
) -> Weather:
    place = {key: value for key, value in place.items() if value is not None}
    asked = DEFAULT_DEMO if text is None else str(text).strip()
    scheme, _, rest = asked.partition(":")
    if place and (text is None or scheme == "demo"):
        raise WeatherError(f"the demo climate {asked} states its own place: leave out {', '.join(place)}")
    if text is None:
        return invented_weather(DEFAULT_DEMO)
    if scheme == "demo":
        return invented_weather(rest)
    if scheme in {"station", "near"}:
        from freecool.weather.readers.stations import station_weather

        elevation_m = place.pop("elevation_m", None)
        if place:
            raise WeatherError(f"{asked} states its own place: leave out {', '.join(place)}")
        return station_weather(asked, years=years, offline=offline, elevation_m=elevation_m, allow_gaps=allow_gaps)
    if not asked:
        raise WeatherError("no weather source was given: give the path of a weather file, or demo:mixed-inland")
    lines = read_lines(asked)
    for recognises, read in ((is_epw, read_epw), (is_tmy3, read_tmy3), (is_tmy2, read_tmy2)):
        if recognises(lines):
            if place:
                raise WeatherError(f"{Path(asked).name} states its own place: leave out {', '.join(place)}")
            return read(asked, allow_gaps=allow_gaps)
    return read_csv(asked, allow_gaps=allow_gaps, **place)
