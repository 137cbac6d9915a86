"""Sun position, irradiance on planes and estimated sunshine, against published formulas and pvlib."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta, timezone
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from freecool.weather import Sun, Weather, open_weather, solar_on_plane
from freecool.weather.invented import DEMOS
from freecool.weather.sun import clear_sky, fill_sunshine, sun_in_the_dark, sun_position

Find = Callable[[str], Path]
SOLAR = ["ghi_w_m2", "dni_w_m2", "dhi_w_m2"]


@pytest.fixture(scope="module")
def greensboro(pvlib_weather: Find) -> Weather:
    return open_weather(pvlib_weather("723170TYA.CSV"))


@pytest.fixture(scope="module")
def sun(greensboro: Weather) -> Sun:
    return Sun(greensboro)


def without(weather: Weather, *columns: str, cloud: float = np.nan) -> pd.DataFrame:
    table = weather.frame.assign(cloud_oktas=cloud)
    table[list(columns)] = np.nan
    return table


@pytest.mark.parametrize(
    ("change", "seen"),
    [
        ({}, False),
        ({"utc_offset_h": -6.0}, True),
        ({"utc_offset_h": -4.0}, True),
        ({"longitude": 79.95}, True),
        ({"latitude": -36.1}, True),
        # A quarter of an hour is no more than a town at the edge of its time zone is used to.
        ({"longitude": -76.2}, False),
    ],
)
def test_sunshine_in_the_dark_is_a_clock_or_a_place_that_is_wrong(
    change: dict[str, Any], seen: bool, greensboro: Weather
) -> None:
    """The file as it is, and under a clock an hour off or another side of the Earth."""
    where = replace(greensboro.location, **change)
    index = pd.DatetimeIndex(greensboro.frame.index).tz_localize(None)
    clock = index.tz_localize(timezone(timedelta(hours=where.utc_offset_h))).rename("time")
    assert bool(sun_in_the_dark(greensboro.frame.set_axis(clock), where)) == seen


def test_noon_height_of_the_solstices(greensboro: Weather, outside: Callable[..., None]) -> None:
    # At noon the zenith angle is latitude less declination, ±23.44 degrees on the solstices.
    times = pd.DatetimeIndex(greensboro.frame.index)
    zenith = pd.Series(sun_position(times, greensboro.location)["zenith"].to_numpy(), times)
    source = "obliquity of the ecliptic 23.44°, Astronomical Almanac"
    for day, declination in (("2018-06-21", 23.44), ("2018-12-21", -23.44)):
        outside(f"least zenith angle on {day} [°]", source, 36.1 - declination, float(zenith[day].min()), 0.6)


def test_sun_is_at_mid_hour(greensboro: Weather) -> None:
    # Greensboro lies 4.95 degrees west of its meridian, so equinox noon is near 12:20 to 12:35 standard time.
    times = pd.DatetimeIndex(greensboro.frame.index)
    day = sun_position(times, greensboro.location)["azimuth"].to_numpy()[
        times.date == pd.Timestamp("2018-03-20").date()
    ]
    assert day[11] < 180.0 < day[13]
    assert day[12] == pytest.approx(180.0, abs=5.0)


@pytest.mark.parametrize(("tilt", "azimuth"), [(0, 180), (30, 135), (90, 0), (90, 90), (90, 180), (90, 270)])
def test_plane_is_the_reference_librarys(tilt: float, azimuth: float, greensboro: Weather, sun: Sun) -> None:
    # Source: pvlib.irradiance.get_total_irradiance on Series, with its own sun position for a Location.
    import pvlib

    frame, location = greensboro.frame, greensboro.location
    middle = frame.set_axis(pd.DatetimeIndex(frame.index) + pd.Timedelta(minutes=30))
    location = pvlib.location.Location(location.latitude, location.longitude, altitude=location.elevation_m)
    position = location.get_solarposition(middle.index)
    zenith = position["apparent_zenith"]
    expected = pvlib.irradiance.get_total_irradiance(
        tilt,
        azimuth,
        zenith,
        position["azimuth"],
        middle["dni_w_m2"],
        middle["ghi_w_m2"],
        middle["dhi_w_m2"],
        dni_extra=pvlib.irradiance.get_extra_radiation(middle.index),
        airmass=pvlib.atmosphere.get_relative_airmass(zenith),
        albedo=0.2,
        model="perez",
    )["poa_global"].to_numpy()
    up = position["apparent_zenith"].to_numpy() < 90
    got = sun.on_plane(tilt, azimuth)
    known = up & np.isfinite(expected)
    # Both take the sun's distance of a day, ours of the local one: 0.06 % at most in the evening.
    np.testing.assert_allclose(got[known], expected[known], rtol=1e-3, atol=1e-3)
    # pvlib gives NaN where the sun is up and the file holds no light; ours is finite.
    assert (middle.loc[up & ~known, ["dni_w_m2", "dhi_w_m2"]] == 0.0).all().all()
    assert got[~up].sum() < 0.005 * got.sum()


def test_horizontal_plane_is_the_global_irradiance(greensboro: Weather, sun: Sun) -> None:
    # The measured three agree with each other to about 1 % a year.
    ghi = greensboro.frame["ghi_w_m2"]
    assert sun.on_plane(0.0, 180.0).sum() == pytest.approx(ghi.sum(), rel=0.015)


def test_known_order_of_facades(sun: Sun) -> None:
    north, east, south, west = (sun.on_plane(90.0, azimuth).sum() for azimuth in (0, 90, 180, 270))
    assert south > east > north
    assert south > west > north
    assert west == pytest.approx(east, rel=0.1)


@pytest.mark.parametrize("demo", DEMOS)
@settings(max_examples=15)
@given(tilt=st.floats(0, 180), azimuth=st.floats(0, 360))
def test_any_plane_is_finite_and_not_negative(demo: str, tilt: float, azimuth: float) -> None:
    irradiance = solar_on_plane(open_weather(f"demo:{demo}"), tilt, azimuth)
    assert np.isfinite(irradiance).all()
    assert (irradiance >= 0.0).all()
    assert irradiance.max() < 1_500.0


def test_light_without_sun_or_with_odd_values_is_finite(greensboro: Weather) -> None:
    frame = greensboro.frame.copy()
    frame.loc[:, SOLAR] = [500.0, 900.0, 0.0]
    irradiance = Sun(replace(greensboro, frame=frame)).on_plane(90.0, 180.0)
    assert np.isfinite(irradiance).all()
    assert (irradiance >= 0.0).all()


@pytest.mark.parametrize(
    ("oktas", "factor"),
    [
        (0.0, 1.0), (1.0, 0.9994), (2.0, 0.9933), (3.0, 0.9733), (4.0, 0.9289), (5.0, 0.8483), (6.0, 0.7180),
        (7.0, 0.5237), (8.0, 0.25), (9.0, 0.25),
    ],
)  # fmt: skip
def test_cloud_cover_reduces_clear_sky(
    oktas: float, factor: float, greensboro: Weather, outside: Callable[..., None]
) -> None:
    # 1 - 0.75 (N/8)^3.4 by hand: (4/8)^3.4 = 0.0947, (6/8)^3.4 = 0.3760, and so on; 9 is an obscured sky.
    table, notices = fill_sunshine(without(greensboro, *SOLAR, cloud=oktas), greensboro.location)
    times = pd.DatetimeIndex(table.index)
    clear = clear_sky(sun_position(times, greensboro.location), times, greensboro.location.elevation_m)["ghi_w_m2"]
    source = "Kasten and Czeplak, Solar Energy 24 (1980)"
    outside(
        f"share of clear-sky irradiance at {oktas:g} oktas",
        source,
        factor,
        table["ghi_w_m2"].sum() / clear.sum(),
        5e-4,
    )
    assert [notice.code for notice in notices] == ["estimated_solar"]


def test_clear_sky_is_the_brightest_measured(greensboro: Weather) -> None:
    # Clear days of the typical year reach the clear sky at noon, none passes it by much (cloud edges do).
    times = pd.DatetimeIndex(greensboro.frame.index)
    clear = clear_sky(sun_position(times, greensboro.location), times, greensboro.location.elevation_m)["ghi_w_m2"]
    ratio = (greensboro.frame["ghi_w_m2"] / np.where(clear > 300, clear, np.nan)).dropna()  # type: ignore[var-annotated]
    assert 0.93 < ratio.quantile(0.98) < 1.1


def test_sun_position_is_computed_once_for_a_record(greensboro: Weather, monkeypatch: pytest.MonkeyPatch) -> None:
    from pvlib import solarposition

    asked, computed = [], solarposition.get_solarposition
    monkeypatch.setattr(solarposition, "get_solarposition", lambda *a, **k: asked.append(a) or computed(*a, **k))  # type: ignore[func-returns-value]
    location = replace(greensboro.location, latitude=12.5)
    table = fill_sunshine(without(greensboro, *SOLAR, cloud=4.0), location)[0]
    Sun(replace(greensboro, frame=table, location=location)).on_plane(90.0, 180.0)
    assert len(asked) == 1
    # Another place is another sun.
    Sun(replace(greensboro, location=replace(location, longitude=10.0)))
    assert len(asked) == 2


def test_estimate_from_cloud_agrees_over_the_year(pvlib_weather: Find, outside: Callable[..., None]) -> None:
    from pvlib.iotools import read_tmy3

    path = pvlib_weather("723170TYA.CSV")
    weather = open_weather(path)
    cloud = read_tmy3(path)[0]["TotCld (tenths)"].to_numpy() * 0.8
    table, _ = fill_sunshine(without(weather, *SOLAR).assign(cloud_oktas=cloud), weather.location)
    source = "the file's own modelled and measured irradiance"
    measured = weather.frame["ghi_w_m2"].sum()
    outside(
        "Greensboro, yearly sun from cloud cover over measured",
        source,
        1.0,
        table["ghi_w_m2"].sum() / measured,
        0.1,
    )


def test_global_alone_is_split_so_that_it_closes(greensboro: Weather, outside: Callable[..., None]) -> None:
    table, notices = fill_sunshine(without(greensboro, "dni_w_m2", "dhi_w_m2"), greensboro.location)
    measured = greensboro.frame
    zenith = sun_position(pd.DatetimeIndex(table.index), greensboro.location)["zenith"].to_numpy()
    up = zenith < 85
    closed = table["dni_w_m2"] * np.cos(np.radians(zenith)) + table["dhi_w_m2"]
    np.testing.assert_allclose(closed[up], measured["ghi_w_m2"][up], atol=0.01)
    source = "the file's own diffuse irradiance"
    outside("Greensboro, yearly diffuse sun split by Erbs over the file's", source, 1.0,
            table["dhi_w_m2"].sum() / measured["dhi_w_m2"].sum(), 0.12)  # fmt: skip
    assert "Erbs" in notices[0].text


def test_direct_and_diffuse_give_global(greensboro: Weather) -> None:
    table, notices = fill_sunshine(without(greensboro, "ghi_w_m2"), greensboro.location)
    assert table["ghi_w_m2"].sum() == pytest.approx(greensboro.frame["ghi_w_m2"].sum(), rel=0.015)
    assert "computed from direct and diffuse" in notices[0].text


def test_nothing_given_is_a_clear_sky_with_a_caution(greensboro: Weather) -> None:
    table, notices = fill_sunshine(without(greensboro, *SOLAR), greensboro.location)
    assert table["ghi_w_m2"].sum() > 1.15 * greensboro.frame["ghi_w_m2"].sum()
    assert notices[0].code == "estimated_solar"
    assert "too high" in notices[0].text
    assert not table[SOLAR].isna().any().any()


def test_measured_sunshine_is_left_alone(greensboro: Weather) -> None:
    table, notices = fill_sunshine(without(greensboro), greensboro.location)
    pd.testing.assert_frame_equal(table[SOLAR], greensboro.frame[SOLAR])
    assert notices == ()
