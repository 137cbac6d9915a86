"""The ASHRAE 140 (BESTEST) weather DRYCOLD: a TMY1 file, whose hours count solar time.

Columns: "Typical Meteorological Year User's Manual", TD-9734 (1981), from memory.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

from freecool.weather import Location, PlaneSun, Quality, Weather

STATION = "23062"
HOURS = 8760
MISSING = 9999
# ASHRAE 140-2017, table of the DRYCOLD weather site, from memory.
SITE = Location(name="DRYCOLD", latitude=39.8, longitude=-104.9, elevation_m=1609.0, utc_offset_h=-7.0)
YEAR = 2018
ALBEDO = 0.2


def read_drycold(path: Path) -> Weather:
    """DRYCOLD as weather, given its file.

    Row i keeps the hour that ends at i + 1 o'clock solar time, under the standard-time hour of the same
    number: the two clocks are at most 16 minutes apart. Sun positions at the true times are
    `plane_irradiance`'s.
    """
    rows = _rows(path)
    direct, global_horizontal = _direct(rows), _global(rows)
    diffuse = _diffuse(direct, global_horizontal, _sun(rows)["zenith"].to_numpy())
    hours = pd.date_range(f"{YEAR}-01-01", periods=HOURS, freq="h", tz="Etc/GMT+7", name="time")
    frame = pd.DataFrame(
        {
            "dry_bulb_c": _numbers(rows, 103, 107) / 10.0,
            "dew_point_c": _numbers(rows, 107, 111) / 10.0,
            "pressure_pa": _numbers(rows, 98, 103) * 10.0,
            "ghi_w_m2": global_horizontal,
            "dni_w_m2": direct,
            "dhi_w_m2": diffuse,
        },
        index=hours,
    )
    return Weather(
        location=SITE,
        source=str(path),
        kind="TMY1",
        frame=frame,
        years=(),
        typical=True,
        quality=Quality(hours=HOURS, filled_hours=0, clipped_hours=0, notes=()),
        notices=(),
        attribution="",
        invented=False,
        # Surface observations are at the hour; from memory, as the columns.
        air_at="end",
    )


def plane_sun(path: Path, tilt: float, azimuth: float) -> PlaneSun:
    """Irradiance on a plane of each solar hour, given tilt and azimuth (north 0, east 90) [deg].

    Perez sky through pvlib, the sun at the true middle of each solar hour.
    """
    from pvlib import atmosphere, irradiance

    rows = _rows(path)
    sun = _sun(rows)
    direct, global_horizontal = _direct(rows), _global(rows)
    seen = sun["apparent_zenith"].to_numpy()
    toward = sun["azimuth"].to_numpy()
    sky = irradiance.perez(
        tilt,
        azimuth,
        _diffuse(direct, global_horizontal, sun["zenith"].to_numpy()),
        direct,
        irradiance.get_extra_radiation(sun.index).to_numpy(),
        seen,
        toward,
        atmosphere.get_relative_airmass(seen),
        return_components=True,
    )
    incidence = irradiance.aoi(tilt, azimuth, seen, toward)
    sky_seen = (1.0 + np.cos(np.radians(tilt))) / 2.0
    from_ground = global_horizontal * ALBEDO * (1.0 - sky_seen)
    near_sun = irradiance.beam_component(tilt, azimuth, seen, toward, direct) + sky["poa_circumsolar"]
    elsewhere = sky["poa_sky_diffuse"] - sky["poa_circumsolar"] + from_ground
    # Perez has no value without air mass, that is with the sun down: the last light comes from all the sky.
    known = np.isfinite(atmosphere.get_relative_airmass(seen)) & np.isfinite(near_sun + elsewhere)
    last_light = global_horizontal * sky_seen + from_ground
    return PlaneSun(np.where(known, near_sun, 0.0), np.where(known, elsewhere, last_light), incidence)


def plane_irradiance(path: Path, tilt: float, azimuth: float) -> np.ndarray:
    """Total irradiance on a plane [W/m2] of each solar hour, given tilt and azimuth (north 0, east 90) [deg]."""
    return plane_sun(path, tilt, azimuth).total()


@cache
def _rows(path: Path) -> tuple[str, ...]:
    rows = tuple(Path(path).read_text(encoding="ascii").splitlines())
    assert len(rows) == HOURS, f"{path} has {len(rows)} lines, expected {HOURS}"
    assert all(row.startswith(STATION) for row in rows), f"{path} is not of station {STATION}"
    return rows


def _numbers(rows: tuple[str, ...], start: int, stop: int) -> np.ndarray:
    return np.array([int(row[start:stop]) for row in rows], dtype=float)


def _direct(rows: tuple[str, ...]) -> np.ndarray:
    """Direct normal irradiance [W/m2]; at night the file has none (9999)."""
    energy_kj = _numbers(rows, 24, 28)
    return np.where(energy_kj == MISSING, 0.0, energy_kj / 3.6)


def _global(rows: tuple[str, ...]) -> np.ndarray:
    """Global horizontal irradiance, standard year corrected [W/m2]."""
    energy_kj = _numbers(rows, 54, 58)
    assert (energy_kj != MISSING).all(), "an hour has no global irradiance"
    return energy_kj / 3.6


def _diffuse(direct: np.ndarray, global_horizontal: np.ndarray, zenith_deg: np.ndarray) -> np.ndarray:
    rest = global_horizontal - direct * np.cos(np.radians(zenith_deg))
    return np.clip(rest, 0.0, global_horizontal)  # type: ignore[no-any-return]


@cache
def _sun(rows: tuple[str, ...]) -> pd.DataFrame:
    """Position of the sun at the middle of each solar hour, from the standard time the file gives for it."""
    from pvlib.solarposition import get_solarposition

    clock = _numbers(rows, 15, 19)
    minutes = 60.0 * (clock // 100) + clock % 100
    days = pd.date_range(f"{YEAR}-01-01", periods=HOURS // 24, freq="D", tz="Etc/GMT+7").repeat(24)
    times = days + pd.to_timedelta(minutes, unit="min")
    return get_solarposition(times, SITE.latitude, SITE.longitude, altitude=SITE.elevation_m)  # type: ignore[no-any-return]
