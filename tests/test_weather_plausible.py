"""Units, places and seasons that the air itself contradicts are refused; open weather is not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from freecool.core.errors import WeatherError
from freecool.weather import Weather, open_weather
from freecool.weather.model import Location
from freecool.weather.plausible import refuse_implausible

Find = Callable[[str], Path]
Values = np.ndarray
Change = Callable[[pd.DataFrame], pd.DataFrame]
FILES = ("723170TYA.CSV", "703165TY.csv", "12839.tm2")


def read_twice(values: pd.Series) -> pd.Series:
    """Degrees Celsius that stand in a column in °F."""
    return (values - 32.0) / 1.8


def from_july(change: Callable[[pd.Series], pd.Series]) -> Callable[[pd.Series], pd.Series]:
    return lambda values: values.where(values.index < values.index[24 * 181], change(values))


@pytest.fixture(scope="module")
def years(pvlib_weather: Find) -> dict[str, Weather]:
    """Greensboro NC, Sand Point AK and Miami FL."""
    return {name: open_weather(pvlib_weather(name)) for name in FILES}


@pytest.mark.parametrize(
    ("what", "change", "refusal"),
    [
        (
            "both temperatures in °C read as °F",
            lambda t: t.assign(dry_bulb_c=read_twice(t["dry_bulb_c"]), dew_point_c=read_twice(t["dew_point_c"])),
            "averages -?[0-9.]+ °C, expected .* may stand in a column in °F",
        ),
        (
            "half the year in °C read as °F",
            lambda t: t.assign(
                dry_bulb_c=from_july(read_twice)(t["dry_bulb_c"]), dew_point_c=from_july(read_twice)(t["dew_point_c"])
            ),
            "check whether the unit changes there|averages|culminates",
        ),
        (
            "dry bulb in °F read as °C",
            lambda t: t.assign(dry_bulb_c=t["dry_bulb_c"] * 1.8 + 32.0),
            "may stand in a column in °C",
        ),
    ],
)
@pytest.mark.parametrize("file", FILES)
def test_wrong_units_are_refused(file: str, what: str, change: Change, refusal: str, years: dict[str, Weather]) -> None:
    weather = years[file]
    refuse_implausible(weather.frame, weather.location, "x.csv")
    with pytest.raises(WeatherError, match=refusal):
        refuse_implausible(change(weather.frame), weather.location, "x.csv")


@pytest.mark.parametrize("file", ["723170TYA.CSV", "12839.tm2"])
def test_dew_point_in_celsius_read_as_fahrenheit_is_refused(file: str, years: dict[str, Weather]) -> None:
    frame = years[file].frame
    with pytest.raises(WeatherError, match=r"outdoor dew point never passes -[0-9.]+ °C .* drier than any place"):
        refuse_implausible(frame.assign(dew_point_c=read_twice(frame["dew_point_c"])), years[file].location, "x.csv")


@pytest.mark.parametrize("file", FILES)
def test_the_other_half_of_the_globe_is_refused(file: str, years: dict[str, Weather]) -> None:
    weather = years[file]
    flipped = replace(weather.location, latitude=-weather.location.latitude)
    with pytest.raises(WeatherError, match=r"culminates about .* check the sign of the latitude"):
        refuse_implausible(weather.frame, flipped, "x.csv")


@pytest.mark.parametrize(
    # Normals of dry bulb 1991-2020 or as encyclopedias have them, from memory.
    ("town", "latitude", "elevation_m", "mean_c"),
    [
        ("Reykjavik", 64.1, 60, 5.1), ("Yakutsk", 62.0, 100, -8.8), ("Verkhoyansk", 67.5, 140, -14.2),
        ("Oymyakon", 63.5, 745, -15.5), ("Harbin", 45.8, 140, 5.0), ("Winnipeg", 49.9, 239, 3.1),
        ("Lhasa", 29.7, 3650, 8.8), ("La Paz", -16.5, 4060, 8.5), ("Lima", -12.0, 30, 19.5),
        ("Kuwait", 29.2, 55, 27.0), ("Death Valley", 36.5, -59, 25.1), ("Palermo", 38.1, 20, 19.0),
        ("Bergen", 60.4, 12, 8.6), ("Longyearbyen", 78.2, 28, -4.0), ("Dallol", 14.2, -130, 34.6),
        ("Singapore", 1.4, 16, 27.8), ("Quito", -0.2, 2850, 14.3), ("San Francisco", 37.6, 5, 14.4),
        ("Tromsø", 69.7, 10, 3.3), ("Ulan Bator", 47.9, 1330, 0.2),
        ("Eureka", 80.0, 10, -18.1), ("South Pole", -90.0, 2835, -49.0),
        ("Leh", 34.2, 3500, 7.0), ("Ushuaia", -54.8, 20, 5.9), ("Mohe", 53.0, 433, -3.9),
        ("Punta Arenas", -53.0, 40, 6.5), ("Ouagadougou", 12.4, 300, 29.0),
        ("Phoenix", 33.4, 340, 24.6), ("Flagstaff", 35.1, 2135, 8.4),
    ],
)  # fmt: skip
def test_towns_of_every_climate_are_within(town: str, latitude: float, elevation_m: float, mean_c: float) -> None:
    times = pd.date_range("2018-01-01", periods=8_760, freq="h")
    place = Location(name=town, latitude=latitude, longitude=0.0, elevation_m=elevation_m, utc_offset_h=0.0)
    table = pd.DataFrame({"dry_bulb_c": mean_c, "dew_point_c": 5.0}, index=times)
    refuse_implausible(table, place, town)


# Columns of one file that contradict each other.


def save(path: Path, table: pd.DataFrame) -> Path:
    head = "# latitude: 36.1\n# longitude: -79.95\n# elevation_m: 273\n# utc_offset_h: -5\n"
    path.write_text(head + table.to_csv(index_label="time"))
    return path


@pytest.mark.parametrize(
    ("columns", "refusal"),
    [
        (
            lambda t: {"dry_bulb_f": t["dry_bulb_c"] * 1.8 + 42.0},
            r"row 6 \(1 January 00:00\): dry_bulb_c is .* and dry_bulb_f is .* they disagree, as 8,760 rows do",
        ),
        (
            lambda t: {"dry_bulb_f": (t["dry_bulb_c"] * 1.8 + 32.0 + 2.0 * (t.index.hour == 3)).round()},
            r"row 9 \(1 January 03:00\): .* as 3[0-9]{2} rows do",
        ),
        (lambda t: {"dew_point_f": t["dew_point_c"]}, "dew_point_c is .* and dew_point_f is .* disagree"),
        (
            lambda t: {"pressure_hpa": t["pressure_pa"] / 100.0 + 5.0},
            "pressure_hpa is .* they disagree",
        ),
        (
            lambda t: {"relative_humidity_percent": 20.0 + 0.0 * t["dry_bulb_c"]},
            "by dew_point_c the dew point is .* by rel",
        ),
    ],
)
def test_columns_at_odds_are_refused_with_the_row(
    columns: Callable[[pd.DataFrame], dict[str, pd.Series]], refusal: str, years: dict[str, Weather], tmp_path: Path
) -> None:
    frame = years["723170TYA.CSV"].frame
    table = frame.set_axis(pd.DatetimeIndex(frame.index).tz_localize(None))
    with pytest.raises(WeatherError, match=refusal):
        open_weather(save(tmp_path / "odd.csv", table.assign(**columns(table))))


def test_columns_that_agree_to_a_rounding_are_read(years: dict[str, Weather], tmp_path: Path) -> None:
    frame = years["723170TYA.CSV"].frame
    table = frame.set_axis(pd.DatetimeIndex(frame.index).tz_localize(None))
    rounded = table.assign(
        dry_bulb_f=(table["dry_bulb_c"] * 1.8 + 32.0).round(), pressure_hpa=(table["pressure_pa"] / 100.0).round()
    )
    weather = open_weather(save(tmp_path / "twice.csv", rounded))
    np.testing.assert_allclose(weather.frame["dry_bulb_c"], frame["dry_bulb_c"], atol=1e-6)
