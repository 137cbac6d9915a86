"""Figures that stand for a missing value: the marks of the trade, told from weather by standing apart from it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from freecool.core.errors import Notice
from freecool.weather.columns import COLUMNS, SOLAR_COLUMNS

APART = 0.15
"""Share of the column's own span by which a mark stands off every other value (our own limit)."""
DIGITS_ALIKE = tuple(
    float(f"{sign}{digit * whole}.{digit * decimals}0")
    for sign in ("-", "")
    for digit in "987"
    for whole in range(2, 7)
    for decimals in range(3)
)
MARKS = np.array([*DIGITS_ALIKE, -9900.0, 9900.0, -9990.0, 9990.0])
"""99, 99.9, 999, 9999, 88.8, 77.7 and the like with either sign, and -9900 of TMY3 (common practice, no source)."""

SUN_MARKS = (99.0, 99.9, 999.0, 999.9)
"""Of sunshine, within what the sun gives."""
OFTEN, OFTENER, BRIGHT_W_M2 = 20, 5, 50.0
"""Hours with one value, and times as many as with any other bright one [W/m2], that make it a mark (our own)."""


@lru_cache
def _marks_of(column: str) -> np.ndarray:
    """The marks in a column's unit, with those of the other temperature unit that were converted."""
    if column.endswith("_f"):
        return np.concatenate((MARKS, MARKS * 1.8 + 32.0))
    if column.endswith("_c"):
        return np.concatenate((MARKS, (MARKS - 32.0) / 1.8))
    return MARKS


def without_marks(values: np.ndarray, column: str, scale: float = 1.0) -> tuple[np.ndarray, dict[float, int]]:
    """A column with NaN in place of missing marks, given its values as the file has them.

    A figure such as -99 is a mark where the column's unit cannot be that low or high, or where nothing else in the
    column comes near it: -99 °F among values down to -98 °F was measured. Sunshine of 999 W/m2 is one where it comes
    far oftener than any other.

    Parameters
    ----------
    values : ndarray
        NaN where missing, shape (rows,) [unit of the file].
    column : str
        Of `columns.COLUMNS`.
    scale : float
        Factor from the file's unit to that of the column.

    Returns
    -------
    values : ndarray
        Shape (rows,) [unit of the file].
    found : dict
        Rows by mark; empty where there was none.
    """
    found: dict[float, int] = {}
    if column in SOLAR_COLUMNS:
        values, found = _without_repeated(values)
    lowest, highest = sorted((COLUMNS[column].lowest / scale, COLUMNS[column].highest / scale))
    while True:
        mark = _outermost_mark(values, _marks_of(column), lowest, highest)
        if math.isnan(mark):
            return values, found
        marked = values == mark
        found[mark] = int(marked.sum())
        values = np.where(marked, np.nan, values)


def _without_repeated(values: np.ndarray) -> tuple[np.ndarray, dict[float, int]]:
    """Sunshine without marks that bright hours reach too, told by how often they come."""
    found = {}
    for mark in SUN_MARKS:
        marked = values == mark
        count = int(marked.sum())
        if count < OFTEN:
            continue
        others = values[(values > BRIGHT_W_M2) & ~marked]
        if not len(others) or count > OFTENER * np.unique(others, return_counts=True)[1].max():
            found[mark] = count
            values = np.where(marked, np.nan, values)
    return values, found


def _outermost_mark(values: np.ndarray, marks: np.ndarray, lowest: float, highest: float) -> float:
    # A mark stands apart, so it is the smallest or the largest value: two look-ups and most columns are done.
    ends = (float(np.fmin.reduce(values)), float(np.fmax.reduce(values)))
    for end in ends:
        if not _is_mark(end, marks):
            continue
        if not lowest <= end <= highest:
            return end
        known = values[~np.isnan(values)]
        rest = known[(known >= lowest) & (known <= highest) & ~_is_mark(known, marks)]
        if not len(rest):
            continue
        low, high = float(rest.min()), float(rest.max())
        if max(low - end, end - high) > APART * max(high - low, 1e-9):
            return end
    return math.nan


def _is_mark(values: np.ndarray | float, marks: np.ndarray) -> np.ndarray:
    found: np.ndarray = np.abs(np.subtract.outer(values, marks)).min(axis=-1) < 0.006
    return found


def marks_notice(found: Mapping[str, Mapping[float, int]]) -> tuple[Notice, ...]:
    """A caution that names the marks taken for missing values, given the rows by mark of each column.

    Parameters
    ----------
    found : mapping
        Rows by mark, by column.

    Returns
    -------
    tuple of Notice
        One, or none where nothing was found.
    """
    parts = [
        f"{COLUMNS[column].description} {mark:g} in {count:,} rows"
        for column, marks in found.items()
        for mark, count in marks.items()
    ]
    text = f"Taken for missing values, as nothing else in the column comes near or so often: {', '.join(parts)}."
    return (Notice("missing_marks", text),) if parts else ()
