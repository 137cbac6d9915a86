"""The faults of a weather file: collected, so that one message names them all, and worded alike in every reader."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from freecool.core.errors import WeatherError
from freecool.weather.columns import COLUMNS
from freecool.weather.model import Location

FAULTS_NAMED = 6
EMPTY_MARKS = {"", "nan", "na", "n/a", "null", "none", "m", "-"}
"""Texts that stand for a missing value."""

WRONG_UNITS = {
    "dry_bulb_c": (
        ("high", 20.0, 140.0, "°F", "name the column dry_bulb_f"),
        ("high", 200.0, 335.0, "kelvin", "subtract 273.15"),
    ),
    "dew_point_c": (
        ("high", 10.0, 104.0, "°F", "name the column dew_point_f"),
        ("high", 170.0, 320.0, "kelvin", "subtract 273.15"),
    ),
    "wet_bulb_c": (("high", 10.0, 113.0, "°F", "name the column wet_bulb_f"),),
    "humidity_ratio_kg_kg": (
        ("high", 0.1, 40.0, "g/kg", "divide by 1000"),
        ("high", 0.1, 300.0, "grains/lb", "divide by 7000"),
    ),
    "pressure_pa": (
        ("low", 450.0, 1_100.0, "hPa or mbar", "name the column pressure_hpa"),
        ("low", 45.0, 110.0, "kPa", "multiply by 1000"),
        ("low", 13.0, 33.0, "inches of mercury", "multiply by 3386.39"),
    ),
    "pressure_hpa": (
        ("high", 45_000.0, 110_000.0, "Pa", "name the column pressure_pa"),
        ("low", 45.0, 110.0, "kPa", "multiply by 10"),
        ("low", 13.0, 33.0, "inches of mercury", "multiply by 33.8639"),
    ),
}
"""For values beyond the plausible range on one side: range of the median, probable unit, remedy."""


class Faults:
    """The faults of one file, collected so that one message names them all.

    Parameters
    ----------
    name : str
        What to call the file in the message.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.texts: list[str] = []
        self.parameters: dict[str, object] = {}

    def add(self, text: str, **parameters: object) -> None:
        """Keep one fault, given its text.

        Parameters
        ----------
        text : str
            What is wrong, where, what is expected and what to do.
        **parameters : object
            As of `freecool.core.errors.FreecoolError`.
        """
        self.texts.append(text)
        self.parameters |= parameters

    def raise_any(self) -> None:
        """Raise one error naming the faults, if there are any.

        Raises
        ------
        WeatherError
            There are faults.
        """
        if self.texts:
            named = "; ".join(self.texts[:FAULTS_NAMED])
            rest = len(self.texts) - FAULTS_NAMED
            more = f"; and {rest} more faults" if rest > 0 else ""
            raise WeatherError(f"{self.name} {named}{more}", **self.parameters)


def shorten(text: str, length: int = 40) -> str:
    """A piece of a file fit for a message, given the piece and the longest length.

    Parameters
    ----------
    text : str
        The piece.
    length : int
        Characters shown at most.

    Returns
    -------
    str
        The piece without surrounding blanks, cut where it is longer.
    """
    text = text.strip()
    return text if len(text) <= length else text[: length - 1] + "…"


def show_time(time: pd.Timestamp, with_year: bool = False) -> str:
    """An hour as people write it, given its time.

    Parameters
    ----------
    time : pandas.Timestamp
        Start of the hour.
    with_year : bool
        Whether several years are meant.

    Returns
    -------
    str
        Such as "1 July 14:00".
    """
    return f"{time.day} {time:{'%B %Y' if with_year else '%B'} %H:%M}"


def finite(text: str) -> float:
    """A number, given its text.

    Parameters
    ----------
    text : str
        As the file has it.

    Returns
    -------
    float
        The number, NaN where the text holds none or an infinite one.
    """
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def numbers(texts: Sequence[str], column: str, rows: np.ndarray, faults: Faults) -> np.ndarray:
    """Values of a column, given its texts; a text that is neither a number nor empty is a fault.

    Parameters
    ----------
    texts : sequence of str
        One a row.
    column : str
        What to call the column in a message.
    rows : ndarray of int
        Row of each text in the file, shape (rows,).
    faults : Faults
        To add to.

    Returns
    -------
    ndarray
        Values, NaN where nothing is told, shape (rows,) [unit of the column].
    """
    try:
        # Python reads 1_000 as a number; a file that holds it is damaged.
        if "_" not in "".join(texts):
            return np.array(texts, dtype=float)
    except ValueError:
        pass
    values = np.full(len(texts), np.nan)
    wrong: list[int] = []
    for position, text in enumerate(texts):
        stripped = text.strip()
        if stripped.lower() in EMPTY_MARKS:
            continue
        try:
            values[position] = float(stripped.replace("_", "?"))
        except ValueError:
            wrong.append(position)
    if wrong:
        first = wrong[0]
        also = f" (and {len(wrong) - 1:,} more rows)" if len(wrong) > 1 else ""
        faults.add(
            f"row {rows[first]}: {column} is '{shorten(texts[first])}'{also}, expected a number, "
            "or nothing where the value is missing"
        )
    return values


def check_ranges(table: pd.DataFrame, rows: np.ndarray, faults: Faults) -> None:
    """Add a fault for each column with implausible values, given the table and its file rows.

    Parameters
    ----------
    table : pandas.DataFrame
        Columns named as in `columns.COLUMNS`, indexed by time.
    rows : ndarray of int
        Row of each line of the table in the file, shape (rows,).
    faults : Faults
        To add to.
    """
    times = pd.DatetimeIndex(table.index)
    several_years = times.year.nunique() > 1
    for name in table.columns:
        column = COLUMNS[name]
        values = table[name].to_numpy(dtype=float)
        wrong = (values < column.lowest) | (values > column.highest)
        if not wrong.any():
            continue
        worst = int(np.argmax(wrong))
        count = int(wrong.sum())
        also = f"; {count:,} of {len(values):,} values are outside" if count > 1 else ""
        faults.add(
            f"row {rows[worst]} ({show_time(times[worst], several_years)}): {column.description} is "
            f"{values[worst]:g} {column.unit}, expected {column.lowest:g} to {column.highest:g} "
            f"{column.unit}{also}"
            f"{_probable_unit(name, values, wrong)}"
        )


def checked_location(
    name: str, latitude: float, longitude: float, elevation_m: float, utc_offset_h: float, faults: Faults
) -> Location:
    """A location, given its figures; each that no place on Earth has is a fault.

    Parameters
    ----------
    name : str
        Station or place.
    latitude, longitude : float
        North and east positive [degrees].
    elevation_m : float
        Above sea level [m].
    utc_offset_h : float
        Local standard time less UTC [h].
    faults : Faults
        To add to.

    Returns
    -------
    Location
        The location, even where it is faulty.
    """
    limits = (
        ("latitude", latitude, -90.0, 90.0, "degrees"),
        ("longitude", longitude, -180.0, 180.0, "degrees"),
        ("elevation", elevation_m, -450.0, 6_000.0, "m"),
        ("UTC offset", utc_offset_h, -12.0, 14.0, "h"),
    )
    for what, value, lowest, highest, unit in limits:
        if not lowest <= value <= highest:
            faults.add(f"header: {what} is {value:g}, expected {lowest:g} to {highest:g} {unit}")
    return Location(
        name=name, latitude=latitude, longitude=longitude, elevation_m=elevation_m, utc_offset_h=utc_offset_h
    )


def _probable_unit(name: str, values: np.ndarray, wrong: np.ndarray) -> str:
    column = COLUMNS[name]
    median = float(np.nanmedian(values))
    # A few stray values are a sensor's fault, not a unit's.
    common = wrong.mean() >= 0.01
    for side, lowest, highest, unit, remedy in WRONG_UNITS.get(name, ()):
        beyond = np.nanmax(values) > column.highest if side == "high" else np.nanmin(values) < column.lowest
        if common and beyond and lowest <= median <= highest:
            return f", so the column probably holds {unit}: {remedy}"
    return ": correct the value, or leave the field empty where it is missing"
