"""One door for every weather source."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from freecool.errors import WeatherError
from freecool.weather.files import is_epw, is_tmy2, is_tmy3, read_epw, read_tmy2, read_tmy3
from freecool.weather.invented import invented_weather
from freecool.weather.model import Weather
from freecool.weather.plain_csv import read_csv
from freecool.weather.text import read_lines

DEFAULT_DEMO = "mixed-inland"


def open_weather(text: str | Path | None = None, *, allow_gaps: bool = False, **place: Any) -> Weather:
    """Weather, given a path, "demo:NAME", or nothing for the built-in invented year.

    Parameters
    ----------
    text : str, Path or None
        An EPW, TMY3, TMY2 or plain CSV file, told apart by content; or "demo:NAME".
    allow_gaps : bool
        Fill gaps longer than 48 h too, instead of refusing the month.
    **place
        For a plain CSV without header comments: name, latitude, longitude [degrees], elevation_m [m],
        utc_offset_h [h].

    Raises
    ------
    WeatherError
        The source cannot be read or is not fit for an answer; one sentence says why and what to do.
    """
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
        raise WeatherError(
            f"'{asked}': downloading station weather is not available in this version: "
            "save an EPW, TMY3 or CSV file and give its path, or use demo:mixed-inland"
        )
    if not asked:
        raise WeatherError("no weather source was given: give the path of a weather file, or demo:mixed-inland")
    lines = read_lines(asked)
    for recognises, read in ((is_epw, read_epw), (is_tmy3, read_tmy3), (is_tmy2, read_tmy2)):
        if recognises(lines):
            if place:
                raise WeatherError(f"{Path(asked).name} states its own place: leave out {', '.join(place)}")
            return read(asked, allow_gaps=allow_gaps)
    return read_csv(asked, allow_gaps=allow_gaps, **place)
