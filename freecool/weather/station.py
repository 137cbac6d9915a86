"""A weather station."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Station:
    """A weather station of the list.

    Attributes
    ----------
    id, name : str
        Identifier and name.
    latitude, longitude : float
        North and east positive [degrees].
    elevation_m : float
        Above sea level [m].
    time_zone : str
        Of the IANA database.
    distance_m : float
        From the place asked for, NaN where none was [m].
    """

    id: str
    name: str
    latitude: float
    longitude: float
    elevation_m: float
    time_zone: str
    distance_m: float = math.nan
