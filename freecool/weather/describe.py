"""What is in a Weather: months, dry-bulb bins, damp hours, repairs and provenance."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import pandas as pd

from freecool.weather.model import Weather

BIN_F = 5.0
DEW_POINT_LIMITS_F = (55.0, 60.0, 65.0)
ROUNDING_F = 1e-9
"""Values exact in °F come back from °C a rounding below their bin."""


@dataclass(frozen=True, kw_only=True)
class MonthMeans:
    """Means of one calendar month over all years.

    Attributes
    ----------
    month : int
        1 to 12.
    dry_bulb_c, dew_point_c : float
        Means [°C].
    daily_global_wh_m2 : float
        Global horizontal irradiance of a day [Wh/m2].
    """

    month: int
    dry_bulb_c: float
    dew_point_c: float
    daily_global_wh_m2: float


@dataclass(frozen=True, kw_only=True)
class DryBulbBin:
    """Hours a year in one bin of dry bulb.

    Attributes
    ----------
    from_f, to_f : float
        Lower end, included, and upper end [°F].
    hours : float
        Mean of a year [h].
    """

    from_f: float
    to_f: float
    hours: float


@dataclass(frozen=True, kw_only=True)
class Description:
    """A weather in figures.

    Attributes
    ----------
    weather : Weather
        What is described.
    months : tuple of MonthMeans
        January to December.
    bins : tuple of DryBulbBin
        Of 5 °F, from cold to hot, those that have hours.
    dew_point_hours : tuple of tuple of float
        (limit [°F], hours a year with a dew point above it [h]).
    """

    weather: Weather
    months: tuple[MonthMeans, ...]
    bins: tuple[DryBulbBin, ...]
    dew_point_hours: tuple[tuple[float, float], ...]

    def to_dict(self) -> dict[str, Any]:
        """As one JSON-ready object.

        Returns
        -------
        dict
            Keys weather, months, dry_bulb_bins, dew_point_hours and warnings.
        """
        return {
            "weather": {**self.weather.to_dict(), "typical": self.weather.typical},
            "months": [asdict(month) for month in self.months],
            "dry_bulb_bins": [asdict(bin_) for bin_ in self.bins],
            "dew_point_hours": [{"above_f": limit, "hours": hours} for limit, hours in self.dew_point_hours],
            "warnings": [notice.to_dict() for notice in self.weather.notices],
        }


def describe(weather: Weather) -> Description:
    """A weather in figures, given the weather.

    Parameters
    ----------
    weather : Weather
        Of one or several years.

    Returns
    -------
    Description
        Hours are means per year.
    """
    frame = weather.frame
    years = weather.hours / 8_760.0 if weather.typical or not weather.years else float(len(weather.years))
    dry_bulb_f, dew_point_f = (frame[name].to_numpy() * 1.8 + 32.0 for name in ("dry_bulb_c", "dew_point_c"))
    return Description(
        weather=weather,
        months=_month_means(frame),
        bins=_bins(dry_bulb_f, years),
        dew_point_hours=tuple(
            (limit, float((dew_point_f > limit + ROUNDING_F).sum()) / years) for limit in DEW_POINT_LIMITS_F
        ),
    )


def _month_means(frame: pd.DataFrame) -> tuple[MonthMeans, ...]:
    months = frame.groupby(pd.DatetimeIndex(frame.index).month).mean()
    return tuple(
        MonthMeans(
            month=int(number),
            dry_bulb_c=float(dry_bulb),
            dew_point_c=float(dew_point),
            daily_global_wh_m2=24.0 * float(sun),
        )
        for number, dry_bulb, dew_point, sun in zip(
            months.index, months["dry_bulb_c"], months["dew_point_c"], months["ghi_w_m2"], strict=True
        )
    )


def _bins(dry_bulb_f: np.ndarray, years: float) -> tuple[DryBulbBin, ...]:
    bins, counts = np.unique(np.floor(dry_bulb_f / BIN_F + ROUNDING_F), return_counts=True)
    return tuple(
        DryBulbBin(from_f=BIN_F * low, to_f=BIN_F * (low + 1.0), hours=count / years)
        for low, count in zip(bins.tolist(), counts.tolist(), strict=True)
    )
