"""Times as written in a plain CSV, brought to local standard time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import pandas as pd

from freecool.core.errors import WeatherError
from freecool.weather.faults import Faults, shorten, show_time

TIME = re.compile(
    r"(\d{4}-\d{2}-\d{2})[T ](\d{2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?\s*(?:(Z)|([+-])(\d{2}):?(\d{2}))?",
    re.ASCII,
)
EXPECTED_TIME = "'2015-07-01 14:00' in local standard time, or with a UTC offset as in '2015-07-01 14:00-07:00'"
MOST_MISSING_A_YEAR = 3
"""Single night hours missing in a year, above which one on the day of the change proves nothing (our own limit)."""
CHANGEOVER_HOURS = range(0, 4)
"""Clock hours in which daylight saving begins or ends somewhere."""


@dataclass(frozen=True, kw_only=True)
class Clock:
    """Times of all rows in local standard time.

    Attributes
    ----------
    times : pandas.DatetimeIndex
        One a row, without time zone, shape (rows,).
    utc_offset_h : float
        Local standard time less UTC, NaN when unknown [h].
    naive : bool
        True where the times carry no UTC offset.
    hour_ending : bool
        True where times run to 24:00 and so name ends of hours, though the file does not say so; all are starts here.
    """

    times: pd.DatetimeIndex
    utc_offset_h: float
    naive: bool
    hour_ending: bool


def read_times(
    texts: Sequence[str], rows: np.ndarray, utc_offset_h: float, faults: Faults, hour_ending: bool = False
) -> Clock:
    """Times in local standard time, given their texts and the UTC offset.

    Times with a UTC offset are brought to that of the location: the one given, else the smallest in the file,
    since daylight saving only adds to it. Where 24:00 occurs the times name ends of hours.

    Parameters
    ----------
    texts : sequence of str
        One a row.
    rows : ndarray of int
        Row of each in the file, shape (rows,).
    utc_offset_h : float
        Local standard time less UTC, NaN when unknown [h].
    faults : Faults
        To add to.
    hour_ending : bool
        The file says that its times name ends of hours.

    Returns
    -------
    Clock
        The times.

    Raises
    ------
    WeatherError
        A time cannot be read, there is no such time, or only some carry a UTC offset.
    """
    parts = _time_parts(texts, rows, faults)
    local, hour_ending = _local_times(parts, texts, rows, faults, hour_ending)
    offsets = np.array([_offset_h(part) for part in parts])
    naive = np.isnan(offsets)
    if naive.any() and not naive.all():
        first = int(np.argmax(naive != naive[0]))
        faults.add(
            f"row {rows[first]}: time is '{shorten(texts[first])}', expected the form of row {rows[0]}, "
            f"'{shorten(texts[0])}': give all times with a UTC offset or none"
        )
        faults.raise_any()
    if not naive.all():
        if np.isnan(utc_offset_h) and (offsets != 0.0).any():
            utc_offset_h = float(offsets.min())
        if not np.isnan(utc_offset_h):
            local = local + np.round((utc_offset_h - offsets) * 3600).astype("timedelta64[s]")
    return Clock(
        times=pd.DatetimeIndex(local),
        utc_offset_h=utc_offset_h,
        naive=bool(naive.all()),
        hour_ending=hour_ending,
    )


def standard_offset_h(time_zone: str, year: int) -> float:
    """Offset of standard time from UTC, without daylight saving, given an IANA time zone and a year.

    Parameters
    ----------
    time_zone : str
        Such as "America/Denver".
    year : int
        Whose standard time is meant.

    Returns
    -------
    float
        East positive [h].

    Raises
    ------
    WeatherError
        There is no such time zone.
    """
    try:
        zone = ZoneInfo(time_zone)
    except (ZoneInfoNotFoundError, ValueError):
        raise WeatherError(f"time zone '{time_zone}' of the station is unknown: take another station") from None
    offsets = [datetime(year, month, 1, tzinfo=zone).utcoffset() or timedelta() for month in (1, 7)]
    return min(offsets) / timedelta(hours=1)


def _time_parts(texts: Sequence[str], rows: np.ndarray, faults: Faults) -> list[tuple[str | None, ...]]:
    """Groups of `TIME` in each text; a text that is no time is refused."""
    matches = [TIME.fullmatch(text.strip()) for text in texts]
    unread = [position for position, match in enumerate(matches) if match is None]
    if unread:
        also = f" (and {len(unread) - 1:,} more rows)" if len(unread) > 1 else ""
        faults.add(f"row {rows[unread[0]]}: time is '{shorten(texts[unread[0]])}'{also}, expected {EXPECTED_TIME}")
        faults.raise_any()
    return [match.groups() for match in matches if match]


def _local_times(
    parts: Sequence[Sequence[str | None]], texts: Sequence[str], rows: np.ndarray, faults: Faults, told: bool
) -> tuple[np.ndarray, bool]:
    """Starts of the intervals as the clock shows them, and whether the file names their ends without saying so."""
    hours, minutes, seconds = (
        np.array([int(part[position] or 0) for part in parts], dtype=int) for position in (1, 2, 3)
    )
    midnight = (hours == 24) & (minutes == 0) & (seconds == 0)
    days = pd.to_datetime(pd.Series([part[0] for part in parts]), format="%Y-%m-%d", errors="coerce").to_numpy()
    off = np.isnat(days) | ((hours > 23) & ~midnight) | (minutes > 59) | (seconds > 59)
    if off.any():
        first = int(np.argmax(off))
        faults.add(f"row {rows[first]}: there is no time '{shorten(texts[first])}', expected {EXPECTED_TIME}")
        faults.raise_any()
    local = days.astype("datetime64[s]") + (hours * 3600 + minutes * 60 + seconds).astype("timedelta64[s]")
    seen = bool(midnight.any())
    return (local - _step(local) if told or seen else local), seen and not told


def _offset_h(part: Sequence[str | None]) -> float:
    if part[4]:
        return 0.0
    if not part[5]:
        return float("nan")
    size = int(part[6] or 0) + int(part[7] or 0) / 60
    return -size if part[5] == "-" else size


def _step(times: np.ndarray) -> np.timedelta64:
    steps = np.diff(np.sort(times))
    steps = steps[steps > np.timedelta64(0, "s")]
    return np.median(steps.astype(int)).astype("timedelta64[s]") if len(steps) else np.timedelta64(0, "s")


def step_hours(times: pd.DatetimeIndex) -> float:
    """Usual distance of neighbouring times, given the times.

    Parameters
    ----------
    times : pandas.DatetimeIndex
        In any order, shape (rows,).

    Returns
    -------
    float
        Median of the distances above zero, 0 where there is none [h].
    """
    return float(_step(times.to_numpy(dtype="datetime64[s]")) / np.timedelta64(3600, "s"))


def find_daylight_saving(times: pd.DatetimeIndex, rows: np.ndarray) -> str:
    """What shows that clock times follow daylight saving, given times as written.

    An hour missing at night on a Sunday of March on which the United States or Europe change their clocks
    shows it, where few others are missing; so does any one missing night hour with a doubled night hour in another
    season.

    Parameters
    ----------
    times : pandas.DatetimeIndex
        As the file has them, shape (rows,).
    rows : ndarray of int
        Row of each in the file, shape (rows,).

    Returns
    -------
    str
        The fault; empty when nothing shows it.
    """
    hours = times.floor("h")
    present = hours.unique().sort_values()
    jumps = present[:-1][np.diff(present.to_numpy()) == np.timedelta64(2, "h")] + pd.Timedelta(hours=1)
    missing = [hour for hour in jumps if hour.hour in CHANGEOVER_HOURS]
    if not missing:
        return ""
    repeated = times[times.duplicated()]
    doubled = [
        time
        for time in repeated
        if time.hour in CHANGEOVER_HOURS and any(60 < abs((time - hour).days) % 365 < 305 for hour in missing)
    ]
    # Where many hours are missing, one of them falls on such a Sunday by chance.
    by_chance = len(missing) > MOST_MISSING_A_YEAR * present.year.nunique()
    change = [hour for hour in missing if _is_spring_change(hour) and not by_chance]
    if not (change or doubled):
        return ""
    hour = (change or missing)[0]
    row = rows[int(np.argmax(hours > hour))]
    also = f" and {show_time(doubled[0], True)} comes twice" if doubled else ""
    return (
        f"row {row}: {show_time(hour, True)} is missing{also}, so the times follow daylight saving: "
        f"give local standard time all year, or write the UTC offset behind each time"
    )


def is_autumn_change(hour: pd.Timestamp) -> bool:
    """Whether clocks go back in an hour, given its time.

    Parameters
    ----------
    hour : pandas.Timestamp
        As the clock shows it.

    Returns
    -------
    bool
        True for a night hour of the day on which the United States or Europe end daylight saving.
    """
    # First Sunday of November (15 USC 260a) or last Sunday of October (Directive 2000/84/EC).
    in_season = (hour.month == 11 and hour.day <= 7) or (hour.month == 10 and hour.day >= 25)
    return hour.weekday() == 6 and in_season and hour.hour in CHANGEOVER_HOURS


def _is_spring_change(hour: pd.Timestamp) -> bool:
    # Second Sunday of March (15 USC 260a) or last Sunday of March (Directive 2000/84/EC).
    return hour.month == 3 and hour.weekday() == 6 and (8 <= hour.day <= 14 or hour.day >= 25)
