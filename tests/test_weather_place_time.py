"""Clock, sun and place that contradict each other are refused or told; open weather passes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta, timezone
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from freecool.core.errors import WeatherError
from freecool.weather import Weather, open_weather
from freecool.weather.model import Location
from freecool.weather.place_time import check_sun, check_warmest_hour, check_zone
from freecool.weather.sun import clear_sky, sun_position
from freecool.weather.table import weather_from_table

Find = Callable[[str], Path]
FILES = ("723170TYA.CSV", "703165TY.csv", "12839.tm2")
SKY = ["ghi_w_m2", "dni_w_m2", "dhi_w_m2"]
AIR = ["dry_bulb_c", "dew_point_c", "pressure_pa"]


@pytest.fixture(scope="module")
def years(pvlib_weather: Find) -> dict[str, Weather]:
    """Greensboro NC, Sand Point AK and Miami FL."""
    return {name: open_weather(pvlib_weather(name)) for name in FILES}


def moved(weather: Weather, hours: int, columns: list[str] | None = None, **place: float) -> Weather:
    """As if its clock had been ahead by some hours, or its place been told otherwise."""
    location = replace(weather.location, **place)  # type: ignore[arg-type]
    table = weather.frame.copy()
    for column in columns or list(table.columns):
        table[column] = np.roll(table[column].to_numpy(), hours)
    naive = pd.DatetimeIndex(table.index).tz_localize(None)
    table.index = naive.tz_localize(timezone(timedelta(hours=location.utc_offset_h))).rename("time")
    return weather_from_table(
        table, location, name="x.csv", source="x.csv", kind="CSV", typical=True, air_at=weather.air_at
    )


def codes(weather: Weather) -> set[str]:
    return {notice.code for notice in weather.notices}


@pytest.mark.parametrize("file", FILES)
@pytest.mark.parametrize(
    ("what", "hours", "refusal"),
    [
        ("UTC taken for local time in the west", 5, "h later than it stands|peaks"),
        ("half a day", 12, "than it stands"),
        ("a quarter of a day back", -6, "h earlier than it stands"),
        ("three hours", 3, "h later than it stands"),
    ],
)
def test_a_shifted_clock_is_refused_by_the_sun(
    file: str, what: str, hours: int, refusal: str, years: dict[str, Weather]
) -> None:
    with pytest.raises(WeatherError, match=refusal):
        moved(years[file], hours)


@pytest.mark.parametrize(("hours", "told"), [(0, set()), (1, {"sun_in_the_dark"}), (-1, {"sun_in_the_dark"})])
def test_one_hour_is_told(hours: int, told: set[str], years: dict[str, Weather]) -> None:
    assert codes(moved(years["723170TYA.CSV"], hours)) == told


@pytest.mark.parametrize("hours", [-6, 5, 9, 12])
def test_without_measured_sun_the_warmest_hour_tells(hours: int, years: dict[str, Weather]) -> None:
    weather = years["723170TYA.CSV"]
    bare = replace(weather, frame=weather.frame.drop(columns=SKY))
    moved(bare, 0)
    with pytest.raises(
        WeatherError, match=r"the daily wave of outdoor dry bulb peaks [0-9.]+ h (after|before) the sun's"
    ):
        moved(bare, hours)


def test_air_that_runs_off_its_own_sun_is_refused(years: dict[str, Weather]) -> None:
    with pytest.raises(WeatherError, match="outdoor dry bulb peaks"):
        moved(years["723170TYA.CSV"], 12, AIR)


def test_daylight_saving_with_its_hours_filled_is_recognised(years: dict[str, Weather]) -> None:
    # From the second Sunday of March to the first of November an hour later; the lost hour filled, the doubled one cut.
    weather = years["723170TYA.CSV"]
    frame = weather.frame.copy()
    first, last = 24 * (31 + 28 + 10) + 2, 24 * (304 + 3) + 1
    for column in frame.columns:
        values = frame[column].to_numpy(copy=True)
        values[first + 1 : last + 1] = values[first:last].copy()
        frame[column] = values
    with pytest.raises(WeatherError, match=r"later from April to October .* follow daylight saving"):
        check_sun(frame, weather.location, "x.csv")


@pytest.mark.parametrize(
    ("what", "place", "refusal"),
    [
        ("sign of the offset", {"utc_offset_h": 5.0}, r"expected UTC-5 h \(America/New_York\) .* the sign of the UTC"),
        ("sign of the longitude", {"longitude": 79.95}, "the sign of the UTC offset or of the longitude"),
        ("latitude and longitude exchanged", {"latitude": -79.95, "longitude": 36.1}, "expected UTC"),
        ("UTC", {"utc_offset_h": 0.0}, "if the times are UTC, write Z behind each"),
        ("two hours west", {"utc_offset_h": -7.0}, "check the UTC offset, and latitude and longitude"),
        ("no place", {"latitude": 0.0, "longitude": 0.0}, "check the UTC offset"),
    ],
)
def test_a_place_that_is_not_of_its_clock_is_refused(
    what: str, place: dict[str, Any], refusal: str, years: dict[str, Weather]
) -> None:
    location = replace(years["723170TYA.CSV"].location, **place)
    with pytest.raises(WeatherError, match=refusal):
        check_zone(location, "x.csv")


@pytest.mark.parametrize(
    # IANA time zone database; offsets of standard time.
    ("town", "latitude", "longitude", "hours"),
    [
        ("Urumqi by Beijing", 43.8, 87.6, 8.0), ("Urumqi by its own", 43.8, 87.6, 6.0), ("Madrid", 40.4, -3.7, 1.0),
        ("Reykjavik", 64.1, -21.9, 0.0), ("Kathmandu", 27.7, 85.3, 5.75), ("Delhi", 28.6, 77.2, 5.5),
        ("Sand Point", 55.3, -160.5, -9.0), ("Apia", -13.8, -171.8, 13.0),
        ("Auckland", -36.8, 174.8, 12.0), ("Buenos Aires", -34.6, -58.4, -3.0), ("Eucla", -31.7, 128.9, 8.75),
        ("Sand Point before 1983", 55.3, -160.5, -10.0), ("Detroit", 42.3, -83.0, -5.0), ("Kashgar", 39.5, 76.0, 8.0),
    ],
)  # fmt: skip
def test_political_time_is_right(town: str, latitude: float, longitude: float, hours: float) -> None:
    place = Location(name=town, latitude=latitude, longitude=longitude, elevation_m=10.0, utc_offset_h=hours)
    assert check_zone(place, town) == ()


def test_an_hour_off_the_zone_is_told() -> None:
    madrid = Location(name="Madrid", latitude=40.4, longitude=-3.7, elevation_m=650.0, utc_offset_h=2.0)
    (notice,) = check_zone(madrid, "x.csv")
    assert notice.code == "time_zone"
    assert "+2 h, expected UTC+1 h (Europe/Madrid)" in notice.text


@pytest.mark.parametrize(("scale", "what"), [(0.317, "Btu/(h ft2)"), (0.2778, "Wh for kJ"), (1.9, "twice the light")])
def test_sunshine_in_another_unit_is_refused(scale: float, what: str, years: dict[str, Weather]) -> None:
    weather = years["723170TYA.CSV"]
    with pytest.raises(WeatherError, match="of what falls above the air"):
        check_sun(weather.frame.assign(ghi_w_m2=weather.frame["ghi_w_m2"] * scale), weather.location, what)


@pytest.mark.parametrize(("one", "other"), [("ghi_w_m2", "dni_w_m2"), ("dni_w_m2", "dhi_w_m2")])
@pytest.mark.parametrize("file", FILES)
def test_irradiances_exchanged_are_refused(file: str, one: str, other: str, years: dict[str, Weather]) -> None:
    frame = years[file].frame
    with pytest.raises(WeatherError, match="off what direct and diffuse make together"):
        check_sun(frame.assign(**{one: frame[other], other: frame[one]}), years[file].location, "x.csv")


@pytest.mark.parametrize(
    ("latitude", "longitude", "hours"),
    # Tromsø, Longyearbyen, Singapore, Quito, Urumqi by Beijing, Ushuaia, the South Pole.
    [
        (69.7, 18.9, 1), (78.2, 15.6, 1), (1.35, 103.8, 8), (-0.2, -78.5, -5), (43.8, 87.6, 8), (-54.8, -68.3, -3),
        (-89.9, 0.0, 12),
    ],
)  # fmt: skip
def test_clouds_at_any_latitude_pass(latitude: float, longitude: float, hours: int) -> None:
    place = Location(name="x", latitude=latitude, longitude=longitude, elevation_m=10.0, utc_offset_h=hours)
    times = pd.date_range("2018-01-01", periods=8_760, freq="h", tz=timezone(timedelta(hours=hours)), unit="s")
    clear = clear_sky(sun_position(times, place), times, 10.0)
    days = np.repeat(np.random.default_rng(1).uniform(0.25, 1.0, 365), 24)
    light = pd.DataFrame({column: values * days for column, values in clear.items()}, index=times)
    assert check_sun(light, place, "x.csv") == ()
    assert check_zone(place, "x.csv") == ()


def test_open_weather_passes(pvlib_weather: Find, shared_weather: Find) -> None:
    kept = (Path(__file__).parent / "weather").glob("*.gz")
    names = [path.name.removesuffix(".gz") for path in kept if "DRYCOLD" not in path.name]
    for path in (*map(pvlib_weather, FILES), *map(shared_weather, names)):
        weather = open_weather(path)
        assert codes(weather) <= {"pressure_elevation"}, path.name
        assert not check_sun(weather.frame, weather.location, path.name)
        assert not check_warmest_hour(weather.frame, weather.location, weather.air_at, path.name)
