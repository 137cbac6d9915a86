"""Sunshine: sun position, irradiance on planes, and an estimate where a source has none."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from freecool.core.errors import Notice
from freecool.weather.columns import SOLAR_COLUMNS
from freecool.weather.model import HOURS_PER_YEAR, Location, Weather

ALBEDO = 0.2
"""Reflectance of the ground: usual value of ISO 52010-1 and ASHRAE 140."""
LINKE_TURBIDITY = 3.0
"""Fixed haziness of the clear sky, an ordinary mid-latitude yearly mean (common practice, no source)."""
CLOUD_FACTOR, CLOUD_EXPONENT = 0.75, 3.4
"""Kasten and Czeplak, Solar Energy 24 (1980), p. 177: GHI = GHI_clear (1 - 0.75 (N/8)^3.4)."""

DARK_ZENITH_DEG = 98.5
"""Of the sun at mid-hour: all of the hour is dark."""
DARK_W_M2, MOST_DARK_HOURS = 10.0, 10
"""What a pyranometer may read at night, and how many hours a year may read more (our own limits)."""


def sun_position(times: pd.DatetimeIndex, location: Location) -> pd.DataFrame:
    """Sun position at the middle of each hour, given starts of hours and the location.

    Parameters
    ----------
    times : pandas.DatetimeIndex
        Starts of hours, shape (hours,).
    location : Location
        Where the sun is looked at.

    Returns
    -------
    pandas.DataFrame
        pvlib's columns apparent_zenith, zenith, azimuth [degrees] and others, one row an hour.
    """
    return _sun_position(times.as_unit("s").asi8.tobytes(), location).set_axis(times)


@lru_cache(maxsize=2)
def _sun_position(utc_seconds: bytes, location: Location) -> pd.DataFrame:
    """Sun position at the middle of hours in UTC; kept, since a record's own sunshine and its planes both ask."""
    from pvlib.solarposition import get_solarposition

    middle = pd.to_datetime(np.frombuffer(utc_seconds, np.int64) + 1800, unit="s", utc=True)
    positions: pd.DataFrame = get_solarposition(
        middle, location.latitude, location.longitude, altitude=location.elevation_m, method="nrel_numpy"
    )
    return positions


def sun_in_the_dark(table: pd.DataFrame, location: Location) -> str:
    """What is wrong with sunshine that comes while the sun is down, given a table without gaps and its location.

    Parameters
    ----------
    table : pandas.DataFrame
        Hourly, with measured ghi_w_m2 [W/m2].
    location : Location
        Where it was measured.

    Returns
    -------
    str
        A sentence, empty where the sun shines by day.

    Notes
    -----
    In half an hour the sun moves by 7.5 degrees at most, and the air lifts it by one: lower than that at mid-hour, the
    whole hour is dark. Years at hand have no such hour; an hour off they have 11 to 190, but for one within the high
    north and one invented.
    """
    zenith = sun_position(pd.DatetimeIndex(table.index), location)["zenith"].to_numpy()
    dark = (zenith > DARK_ZENITH_DEG) & (table["ghi_w_m2"].to_numpy() > DARK_W_M2)
    hours = int(dark.sum())
    if hours * HOURS_PER_YEAR <= MOST_DARK_HOURS * len(table):
        return ""
    return (
        f"the sun shines in {hours:,} hours in which it is well below the horizon: check latitude, longitude and UTC "
        "offset, and whether times name ends of hours or follow daylight saving"
    )


class PlaneSun(NamedTuple):
    """Irradiance on a plane in its two parts, mean of each hour, shapes (hours,)."""

    near_sun: np.ndarray
    """Direct and circumsolar [W/m2]."""
    elsewhere: np.ndarray
    """From the rest of the sky and from the ground [W/m2]."""
    incidence_deg: np.ndarray
    """Between the sun at mid-hour and the normal of the plane [degrees]."""

    def total(self) -> np.ndarray:
        """Both parts together.

        Returns
        -------
        ndarray
            Mean of each hour, shape (hours,) [W/m2].
        """
        both: np.ndarray = self.near_sun + self.elsewhere
        return both


class Sun:
    """Irradiance on any plane where a weather was measured: sun position computed once, given the weather.

    Parameters
    ----------
    weather : Weather
        With its three irradiances.
    """

    def __init__(self, weather: Weather) -> None:
        from pvlib.atmosphere import get_relative_airmass
        from pvlib.irradiance import get_extra_radiation

        frame = weather.frame
        times = pd.DatetimeIndex(frame.index)
        position = sun_position(times, weather.location)
        self._zenith = position["apparent_zenith"].to_numpy()
        self._azimuth = position["azimuth"].to_numpy()
        self._airmass = np.asarray(get_relative_airmass(self._zenith))
        self._extra = np.asarray(get_extra_radiation(times.day_of_year.to_numpy()))
        self._global, self._direct, self._diffuse = (frame[name].to_numpy() for name in SOLAR_COLUMNS)

    def on_plane(self, tilt_deg: float, azimuth_deg: float) -> np.ndarray:
        """Total irradiance on a plane, given its tilt and azimuth.

        Parameters
        ----------
        tilt_deg : float
            0 horizontal facing up, 90 vertical [degrees].
        azimuth_deg : float
            Direction the plane faces: 0 north, 90 east, 180 south [degrees].

        Returns
        -------
        ndarray
            Direct, sky and ground-reflected irradiance, mean of each hour, shape (hours,) [W/m2]; see `parts`.
        """
        return self.parts(tilt_deg, azimuth_deg).total()

    def parts(self, tilt_deg: float, azimuth_deg: float) -> PlaneSun:
        """Irradiance on a plane by where it comes from, given its tilt and azimuth.

        Parameters
        ----------
        tilt_deg : float
            0 horizontal facing up, 90 vertical [degrees].
        azimuth_deg : float
            Direction the plane faces: 0 north, 90 east, 180 south [degrees].

        Returns
        -------
        PlaneSun
            Near the sun and elsewhere, and the angle of incidence.

        Notes
        -----
        Perez et al., Solar Energy 44 (1990), p. 271, with ground reflectance 0.2 and the sun at mid-hour.
        Where the sun is below the horizon at mid-hour the little light of the rest of the hour is taken
        as diffuse from a uniform sky.
        """
        from pvlib.irradiance import aoi_projection, perez

        with np.errstate(invalid="ignore", divide="ignore"):
            sky: Any = perez(
                tilt_deg,
                azimuth_deg,
                self._diffuse,
                self._direct,
                self._extra,
                self._zenith,
                self._azimuth,
                self._airmass,
                return_components=True,
            )
        cosine = np.clip(aoi_projection(tilt_deg, azimuth_deg, self._zenith, self._azimuth), -1.0, 1.0)
        tilt = np.radians(tilt_deg)
        from_ground = self._global * ALBEDO * (1 - np.cos(tilt)) / 2
        near_sun = self._direct * np.maximum(cosine, 0.0) + np.asarray(sky["poa_circumsolar"])
        elsewhere = np.asarray(sky["poa_isotropic"]) + np.asarray(sky["poa_horizon"]) + from_ground
        known = (self._zenith < 90.0) & np.isfinite(near_sun + elsewhere)
        near_sun = np.where(known, near_sun, 0.0)
        elsewhere = np.where(known, elsewhere, self._diffuse * (1 + np.cos(tilt)) / 2 + from_ground)
        # A dark horizon may take more than the rest of the sky gives.
        near_sun = np.maximum(near_sun + np.minimum(elsewhere, 0.0), 0.0)
        return PlaneSun(near_sun, np.maximum(elsewhere, 0.0), np.degrees(np.arccos(cosine)))


def solar_on_plane(weather: Weather, tilt_deg: float, azimuth_deg: float) -> np.ndarray:
    """Total irradiance on one plane, given weather, tilt and azimuth; see `Sun.on_plane`.

    Parameters
    ----------
    weather : Weather
        With its three irradiances.
    tilt_deg : float
        0 horizontal facing up, 90 vertical [degrees].
    azimuth_deg : float
        Direction the plane faces: 0 north, 90 east, 180 south [degrees].

    Returns
    -------
    ndarray
        Mean of each hour, shape (hours,) [W/m2].
    """
    return Sun(weather).on_plane(tilt_deg, azimuth_deg)


def cloud_factor(cover: np.ndarray) -> np.ndarray:
    """Share of the clear sky's global irradiance that is left, given the covered part of the sky.

    Parameters
    ----------
    cover : ndarray
        Any shape [0-1].

    Returns
    -------
    ndarray
        Of the shape of the cover [0-1].

    Notes
    -----
    Kasten and Czeplak, Solar Energy 24 (1980), p. 177.
    """
    return 1.0 - CLOUD_FACTOR * cover**CLOUD_EXPONENT


def clear_sky(position: pd.DataFrame, times: pd.DatetimeIndex, elevation_m: float) -> dict[str, np.ndarray]:
    """Irradiance under a cloudless sky, given sun position, hours and elevation.

    Parameters
    ----------
    position : pandas.DataFrame
        As `sun_position` gives it.
    times : pandas.DatetimeIndex
        Starts of the hours, shape (hours,).
    elevation_m : float
        Above sea level [m].

    Returns
    -------
    dict
        ghi_w_m2, dni_w_m2 and dhi_w_m2, one value an hour [W/m2].

    Notes
    -----
    Ineichen and Perez, Solar Energy 73 (2002), p. 151, with a fixed Linke turbidity of 3.
    """
    from pvlib.atmosphere import alt2pres, get_absolute_airmass, get_relative_airmass
    from pvlib.clearsky import ineichen
    from pvlib.irradiance import get_extra_radiation

    zenith = position["apparent_zenith"].to_numpy()
    airmass = get_absolute_airmass(get_relative_airmass(zenith), alt2pres(elevation_m))
    extra = np.asarray(get_extra_radiation(times.day_of_year.to_numpy()))
    with np.errstate(divide="ignore", invalid="ignore"):
        sky: Any = ineichen(zenith, airmass, LINKE_TURBIDITY, altitude=elevation_m, dni_extra=extra)
    return {f"{part}_w_m2": np.nan_to_num(np.asarray(sky[part])) for part in ("ghi", "dni", "dhi")}


def split_global(ghi: np.ndarray, position: pd.DataFrame, times: pd.DatetimeIndex) -> tuple[np.ndarray, np.ndarray]:
    """Direct normal and diffuse irradiance, given global horizontal, sun position and hours.

    Parameters
    ----------
    ghi : ndarray
        Global horizontal irradiance, shape (hours,) [W/m2].
    position : pandas.DataFrame
        As `sun_position` gives it.
    times : pandas.DatetimeIndex
        Starts of the hours, shape (hours,).

    Returns
    -------
    direct, diffuse : ndarray
        Direct normal and diffuse horizontal, shape (hours,) [W/m2].

    Notes
    -----
    Erbs, Klein and Duffie, Solar Energy 28 (1982), p. 293.
    """
    from pvlib.irradiance import erbs

    parts: Any = erbs(ghi, position["zenith"].to_numpy(), times.day_of_year.to_numpy())
    diffuse = np.clip(np.nan_to_num(np.asarray(parts["dhi"])), 0.0, ghi)
    direct = np.maximum(np.nan_to_num(np.asarray(parts["dni"])), 0.0)
    return direct, diffuse


def fill_sunshine(table: pd.DataFrame, location: Location) -> tuple[pd.DataFrame, tuple[Notice, ...]]:
    """The table with all three irradiances, and a caution where they are estimated, given table and location.

    Columns that are NaN throughout are derived: the third irradiance from the other two, direct and diffuse
    from global, all from cloud cover, or else from a cloudless sky.

    Parameters
    ----------
    table : pandas.DataFrame
        Hourly, columns ghi_w_m2, dni_w_m2, dhi_w_m2 [W/m2] and cloud_oktas [oktas].
    location : Location
        Where it was measured.

    Returns
    -------
    table : pandas.DataFrame
        With all three irradiances.
    notices : tuple of Notice
        A caution where any is estimated.
    """
    table = table.copy()
    ghi, dni, dhi = (table[name].to_numpy() for name in SOLAR_COLUMNS)
    has_global, has_direct, has_diffuse = (not np.isnan(values).all() for values in (ghi, dni, dhi))
    if has_global and has_direct and has_diffuse:
        return table, ()
    times = pd.DatetimeIndex(table.index)
    position = sun_position(times, location)
    cosine = np.maximum(np.cos(np.radians(position["zenith"].to_numpy())), 0.0)
    if has_direct and has_diffuse:
        ghi = dni * cosine + dhi
        text = "Global irradiance is not given; it is computed from direct and diffuse."
    elif has_global:
        dni, dhi = split_global(ghi, position, times)
        text = "Direct and diffuse irradiance are estimated from global irradiance (Erbs 1982)."
    elif not table["cloud_oktas"].isna().all():
        # A sky obscured by fog, 9, is as dark as an overcast one.
        cloud = np.clip(table["cloud_oktas"].to_numpy(), 0.0, 8.0) / 8.0
        ghi = clear_sky(position, times, location.elevation_m)["ghi_w_m2"] * cloud_factor(cloud)
        dni, dhi = split_global(ghi, position, times)
        text = (
            "Sunshine is not measured; it is estimated from cloud cover (Kasten and Czeplak 1980), "
            "good on average but not hour by hour."
        )
    else:
        clear = clear_sky(position, times, location.elevation_m)
        ghi, dni, dhi = (clear[name] for name in SOLAR_COLUMNS)
        text = (
            "Sunshine and cloud cover are not given; a cloudless sky was taken all year, so solar gain "
            "and the need for cooling come out too high."
        )
    table["ghi_w_m2"], table["dni_w_m2"], table["dhi_w_m2"] = ghi, dni, dhi
    return table, (Notice("estimated_solar", text),)
