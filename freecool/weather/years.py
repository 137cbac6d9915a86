"""Which years of a record count."""

from __future__ import annotations

import re
from dataclasses import replace

from freecool.core.errors import Notice, WeatherError
from freecool.weather.model import Weather

SPAN = re.compile(r"\s*(\d{4})\s*(?:-\s*(\d{4})\s*)?", re.ASCII)


def year_span(text: str | None) -> tuple[int, int] | None:
    """First and last year, given "2015-2024", "2019" or nothing.

    Parameters
    ----------
    text : str or None
        As a person writes it.

    Returns
    -------
    tuple of int, or None
        First and last; None where nothing is given.

    Raises
    ------
    WeatherError
        Something else.
    """
    if not text:
        return None
    match = SPAN.fullmatch(text)
    if match is None:
        raise WeatherError(f"{{years}} is {text[:40]!r}: expected one year or a span, such as 2015-2024.", years=None)
    return int(match[1]), int(match[2] or match[1])


def only_years(weather: Weather, first: int, last: int) -> Weather:
    """The part of a record of real years that lies in a span, given the record, the first and the last year.

    Parameters
    ----------
    weather : Weather
        Of real years.
    first, last : int
        Of the years wanted.

    Returns
    -------
    Weather
        Of those of its whole years that lie in the span.

    Raises
    ------
    WeatherError
        A typical year has no years to choose from, or none of them are there.
    """
    if weather.typical:
        raise WeatherError(
            f"{weather.source} is a typical year, so years {first}-{last} cannot be chosen from it; "
            "leave {years} out.",
            years=None,
        )
    chosen = tuple(year for year in weather.years if first <= year <= last)
    if not chosen:
        raise WeatherError(
            f"{weather.source} has the years {', '.join(map(str, weather.years))}, none of them in {first}-{last}."
        )
    return _kept(weather, chosen)


def whole_years(weather: Weather) -> Weather:
    """A record without the hours outside its whole years, given the record.

    Parameters
    ----------
    weather : Weather
        Of real years, or typical.

    Returns
    -------
    Weather
        With a notice where hours were left out; a typical year as it is.
    """
    if weather.typical:
        return weather
    kept = _kept(weather, weather.years)
    left = weather.hours - kept.hours
    if not left:
        return weather
    notice = Notice("part_years_left_out", f"{left:,} hours outside the whole years of the weather were left out.")
    return replace(kept, notices=(*kept.notices, notice))


def _kept(weather: Weather, years: tuple[int, ...]) -> Weather:
    index = weather.frame.index
    frame = weather.frame[index.year.isin(years)]  # type: ignore[attr-defined]
    return replace(weather, frame=frame, years=years)
