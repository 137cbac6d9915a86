"""What is in a Weather: months, dry-bulb bins, damp hours, repairs and provenance."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from freecool.weather.model import Weather

BIN_F = 5.0
DEW_POINT_LIMITS_F = (55.0, 60.0, 65.0)


class Month(NamedTuple):
    """Means of one calendar month over all years."""

    month: int
    dry_bulb_c: float
    dew_point_c: float
    daily_global_wh_m2: float


class Bin(NamedTuple):
    """Hours a year in one 5 °F bin of dry bulb, lower end included."""

    from_f: float
    to_f: float
    hours: float


class Description(NamedTuple):
    """A weather in figures; hours are means per year."""

    weather: Weather
    months: tuple[Month, ...]
    bins: tuple[Bin, ...]
    dew_point_hours: tuple[tuple[float, float], ...]
    """(limit [°F], hours a year with a dew point above it)."""

    def to_dict(self) -> dict[str, Any]:
        """As one JSON-ready object."""
        return {
            "weather": {**self.weather.to_dict(), "typical": self.weather.typical},
            "months": [month._asdict() for month in self.months],
            "dry_bulb_bins": [bin_._asdict() for bin_ in self.bins],
            "dew_point_hours": [{"above_f": limit, "hours": hours} for limit, hours in self.dew_point_hours],
            "warnings": [notice.to_dict() for notice in self.weather.notices],
        }


def describe(weather: Weather) -> Description:
    """A weather in figures, given the weather."""
    frame = weather.frame
    years = weather.hours / 8_760.0 if weather.typical or not weather.years else float(len(weather.years))
    months = frame.groupby(pd.DatetimeIndex(frame.index).month).mean()
    dry_bulb_f, dew_point_f = (frame[name].to_numpy() * 1.8 + 32.0 for name in ("dry_bulb_c", "dew_point_c"))
    # Values exact in °F come back from °C a rounding below their bin.
    bins, counts = np.unique(np.floor(dry_bulb_f / BIN_F + 1e-9), return_counts=True)
    return Description(
        weather,
        tuple(
            Month(int(number), float(dry_bulb), float(dew_point), 24.0 * float(sun))
            for number, dry_bulb, dew_point, sun in zip(
                months.index, months["dry_bulb_c"], months["dew_point_c"], months["ghi_w_m2"], strict=True
            )
        ),
        tuple(
            Bin(BIN_F * low, BIN_F * (low + 1.0), count / years)
            for low, count in zip(bins.tolist(), counts.tolist(), strict=True)
        ),
        tuple((limit, float((dew_point_f > limit + 1e-9).sum()) / years) for limit in DEW_POINT_LIMITS_F),
    )
