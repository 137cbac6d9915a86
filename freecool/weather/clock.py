"""Times as written in a plain CSV, brought to local standard time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from freecool.weather.table import Faults, shorten, show_time

TIME = re.compile(
    r"(\d{4}-\d{2}-\d{2})[T ](\d{2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?\s*(?:(Z)|([+-])(\d{2}):?(\d{2}))?",
    re.ASCII,
)
EXPECTED_TIME = "'2015-07-01 14:00' in local standard time, or with a UTC offset as in '2015-07-01 14:00-07:00'"
CHANGEOVER_HOURS = range(0, 4)
"""Clock hours in which daylight saving begins or ends somewhere."""


class Clock(NamedTuple):
    """Times of all rows in local standard time, with the station's UTC offset [h] (NaN when unknown)."""

    times: pd.DatetimeIndex
    utc_offset_h: float
    naive: bool
    hour_ending: bool


def read_times(texts: Sequence[str], rows: np.ndarray, utc_offset_h: float, faults: Faults) -> Clock:
    """Times in local standard time, given their texts, row numbers and the UTC offset [h] or NaN.

    Times with a UTC offset are brought to the one of the place: the one given, else the smallest in the file, since
    daylight saving only adds to it. Where 24:00 occurs the times name ends of hours. Faults are raised.
    """
    matches = [TIME.fullmatch(text.strip()) for text in texts]
    unread = [position for position, match in enumerate(matches) if match is None]
    if unread:
        also = f" (and {len(unread) - 1:,} more rows)" if len(unread) > 1 else ""
        faults.add(f"row {rows[unread[0]]}: time is '{shorten(texts[unread[0]])}'{also}, expected {EXPECTED_TIME}")
        faults.raise_any()
    parts = [match.groups() for match in matches if match]
    hours, minutes, seconds = (np.array([int(part[place] or 0) for part in parts], dtype=int) for place in (1, 2, 3))
    midnight = (hours == 24) & (minutes == 0) & (seconds == 0)
    days = pd.to_datetime(pd.Series([part[0] for part in parts]), format="%Y-%m-%d", errors="coerce").to_numpy()
    off = np.isnat(days) | ((hours > 23) & ~midnight) | (minutes > 59) | (seconds > 59)
    if off.any():
        first = int(np.argmax(off))
        faults.add(f"row {rows[first]}: there is no time '{shorten(texts[first])}', expected {EXPECTED_TIME}")
        faults.raise_any()
    local = days.astype("datetime64[s]") + (hours * 3600 + minutes * 60 + seconds).astype("timedelta64[s]")
    hour_ending = bool(midnight.any())
    if hour_ending:
        local = local - _step(local)

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
    return Clock(pd.DatetimeIndex(local), utc_offset_h, bool(naive.all()), hour_ending)


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
    """Usual distance of neighbouring times [h], given the times."""
    return float(_step(times.to_numpy(dtype="datetime64[s]")) / np.timedelta64(3600, "s"))


def find_daylight_saving(times: pd.DatetimeIndex, rows: np.ndarray) -> str:
    """What shows that clock times follow daylight saving, empty when nothing does, given times as written.

    An hour missing at night on a Sunday of March on which the United States or Europe change their clocks
    shows it; so does any one missing night hour with a doubled night hour in another season.
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
    change = [hour for hour in missing if _is_spring_change(hour)]
    if not (change or doubled):
        return ""
    hour = (change or missing)[0]
    row = rows[int(np.argmax(hours > hour))]
    also = f" and {show_time(doubled[0], True)} comes twice" if doubled else ""
    return (
        f"row {row}: {show_time(hour, True)} is missing{also}, so the times follow daylight saving: "
        f"give local standard time all year, or write the UTC offset behind each time"
    )


def _is_spring_change(hour: pd.Timestamp) -> bool:
    # Second Sunday of March (15 USC 260a) or last Sunday of March (Directive 2000/84/EC).
    return hour.month == 3 and hour.weekday() == 6 and (8 <= hour.day <= 14 or hour.day >= 25)
