"""A year of weather made by a test: any dry bulb, one dew point, no sun, sea level."""

from __future__ import annotations

import numpy as np
import pandas as pd

from freecool.weather import Weather
from freecool.weather.model import HOURS_PER_YEAR, TYPICAL_CALENDAR_YEAR, Location, Quality

SEA_LEVEL_PA = 101_325.0


def made_weather(dry_bulb_c: np.ndarray | float, dew_point_c: float) -> Weather:
    """A typical year, given dry bulb by hour (or one for all) and the highest dew point [degC]."""
    hours = pd.date_range(
        f"{TYPICAL_CALENDAR_YEAR}-01-01", periods=HOURS_PER_YEAR, freq="h", tz="Etc/GMT+7", name="time"
    )
    dry_bulb = np.broadcast_to(np.asarray(dry_bulb_c, float), HOURS_PER_YEAR)
    columns = {
        "dry_bulb_c": dry_bulb,
        "dew_point_c": np.minimum(dew_point_c, dry_bulb),
        "pressure_pa": SEA_LEVEL_PA,
        "ghi_w_m2": 0.0,
        "dni_w_m2": 0.0,
        "dhi_w_m2": 0.0,
    }
    location = Location(name="made by a test", latitude=40.0, longitude=-105.0, elevation_m=0.0, utc_offset_h=-7.0)
    quality = Quality(hours=HOURS_PER_YEAR, filled_hours=0, clipped_hours=0, notes=())
    return Weather(
        location=location,
        source="made by a test",
        kind="CSV",
        frame=pd.DataFrame(columns, index=hours),
        years=(),
        typical=True,
        quality=quality,
    )
