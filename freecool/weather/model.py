"""The one form every weather source ends in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args

import pandas as pd

from freecool.core.errors import Notice

AirAt = Literal["mean", "start", "end"]
AIR_AT = get_args(AirAt)
HOURS_PER_YEAR = 8_760
TYPICAL_CALENDAR_YEAR = 2018
"""Calendar a typical year is laid on: not a leap year, and it begins on a Monday."""


@dataclass(frozen=True, kw_only=True)
class Location:
    """Where the weather was measured.

    Attributes
    ----------
    name : str
        Station or place.
    latitude, longitude : float
        North and east positive [degrees].
    elevation_m : float
        Above sea level [m].
    utc_offset_h : float
        Local standard time less UTC, without daylight saving [h].
    """

    name: str
    latitude: float
    longitude: float
    elevation_m: float
    utc_offset_h: float


@dataclass(frozen=True, kw_only=True)
class Quality:
    """How much of the weather was measured and what was repaired.

    Attributes
    ----------
    hours : int
        Hours in the record [h].
    filled_hours : int
        Hours in which at least one missing value was filled [h].
    clipped_hours : int
        Hours whose dew point stood above the dry bulb and was set to it [h].
    notes : tuple of str
        One sentence for each kind of repair: what, how often and by which method.
    """

    hours: int
    filled_hours: int
    clipped_hours: int
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False, kw_only=True)
class Weather:
    """Hourly outdoor air and sunshine at one location, in SI units and local standard time.

    Attributes
    ----------
    location : Location
        Where it was measured.
    source : str
        What was asked for, such as the path.
    kind : str
        "TMY3", "EPW", "TMY2", "CSV", "station" or "invented".
    frame : pandas.DataFrame
        One row an hour without gaps, save that whole years may be left out; indexed by "time", the start of
        the hour at a fixed offset from UTC; columns dry_bulb_c [°C], dew_point_c [°C], pressure_pa [Pa], and
        ghi_w_m2, dni_w_m2, dhi_w_m2 [W/m2]; where the source tells them also wind_m_s [m/s] and
        horizontal_infrared_w_m2, what the sky sends down as heat [W/m2], both with NaN where it does not.
    years : tuple of int
        Calendar years the record holds whole, within a day; every year it touches where it holds
        none whole; empty for a typical year.
    typical : bool
        True for a year made of months from several years. It is laid on the calendar of 2018, which is not
        a leap year and begins on a Monday: row i is the hour that starts at i o'clock from 1 January.
    quality : Quality
        What was filled and clipped.
    notices : tuple of Notice
        Cautions a reader of any result must see.
    attribution : str
        Owner and licence of the data where known, else empty.
    invented : bool
        True for the built-in demonstration climates, which no station measured.
    air_at : {"mean", "start", "end"}
        Whether dry bulb, dew point and pressure are means of the hour or readings at its start or its end; sunshine
        always is the hour's mean.
    """

    location: Location
    source: str
    kind: str
    frame: pd.DataFrame
    years: tuple[int, ...]
    typical: bool
    quality: Quality
    notices: tuple[Notice, ...] = ()
    attribution: str = ""
    invented: bool = False
    air_at: AirAt = "mean"

    @property
    def hours(self) -> int:
        """Hours in the record [h]."""
        return len(self.frame)

    def to_dict(self) -> dict[str, Any]:
        """Where it comes from and what was repaired, as one JSON-ready object.

        Returns
        -------
        dict
            Plain values; units stand in the keys.
        """
        location, quality = self.location, self.quality
        return {
            "source": self.source,
            "kind": self.kind,
            "name": location.name,
            "latitude": location.latitude,
            "longitude": location.longitude,
            "elevation_m": location.elevation_m,
            "hours": self.hours,
            "years": list(self.years),
            "filled_hours": quality.filled_hours,
            "clipped_hours": quality.clipped_hours,
            "repairs": list(quality.notes),
            "invented": self.invented,
            "attribution": self.attribution,
        }

    def __repr__(self) -> str:
        location = self.location
        if self.invented:
            period = "invented year"
        elif self.typical:
            period = "typical year"
        else:
            period = f"{self.frame.index[0]:%Y-%m-%d} to {self.frame.index[-1]:%Y-%m-%d}"
        return (
            f"<Weather {location.name} ({location.latitude:.2f}, {location.longitude:.2f}, "
            f"{location.elevation_m:.0f} m), {self.kind}, {period}, {self.hours:,} hours, "
            f"{self.quality.filled_hours:,} filled, mean {self.frame['dry_bulb_c'].mean():.1f} °C>"
        )
