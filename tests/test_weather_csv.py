"""Plain CSV: every humidity and unit, every clock, and every refusal."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from freecool.core.errors import WeatherError
from freecool.weather import Weather, open_weather

PLACE = "# name: Testing\n# latitude: 40\n# longitude: -90\n# elevation_m: 200\n# utc_offset_h: -6\n"
Save = Callable[..., Path]


@pytest.fixture(scope="module")
def demo() -> Weather:
    return open_weather("demo:mixed-inland")


@pytest.fixture
def frame(demo: Weather) -> pd.DataFrame:
    frame = demo.frame.copy()
    frame.index = pd.DatetimeIndex(frame.index).tz_localize(None)
    return frame


@pytest.fixture
def save(tmp_path: Path) -> Save:
    def write(frame: pd.DataFrame | str, head: str = PLACE) -> Path:
        path = tmp_path / "weather.csv"
        body = frame if isinstance(frame, str) else frame.to_csv(index_label="time", date_format="%Y-%m-%d %H:%M")
        path.write_text(head + body)
        return path

    return write


def codes(weather: Weather) -> list[str]:
    return [notice.code for notice in weather.notices]


def with_texts(frame: pd.DataFrame, times: list[str]) -> str:
    return frame.assign(time=times).set_index("time").to_csv()


def test_round_trip(frame: pd.DataFrame, demo: Weather, save: Save) -> None:
    weather = open_weather(save(frame))
    pd.testing.assert_frame_equal(weather.frame, demo.frame, check_exact=False, atol=1e-6)
    assert weather.kind == "CSV"
    assert weather.years == (2018,)
    assert not weather.typical
    assert weather.location.name == "Testing"
    assert weather.notices == ()


def humidity_as(humidity: str, frame: pd.DataFrame) -> np.ndarray:
    from freecool.core import air

    dry_bulb, dew_point, pressure = (frame[name].to_numpy() for name in ("dry_bulb_c", "dew_point_c", "pressure_pa"))
    ratio = air.humidity_ratio_from_dew_point(dew_point, pressure)
    return {
        "dew_point_f": dew_point * 1.8 + 32,
        "relative_humidity_percent": 100 * air.relative_humidity(dry_bulb, ratio, pressure),
        "humidity_ratio_kg_kg": ratio,
        "wet_bulb_c": air.wet_bulb(dry_bulb, ratio, pressure),
        "wet_bulb_f": air.wet_bulb(dry_bulb, ratio, pressure) * 1.8 + 32,
    }[humidity]


@pytest.mark.parametrize(
    "humidity",
    ["dew_point_f", "relative_humidity_percent", "humidity_ratio_kg_kg", "wet_bulb_c", "wet_bulb_f"],
)
def test_humidity_in_any_form(humidity: str, frame: pd.DataFrame, demo: Weather, save: Save) -> None:
    weather = open_weather(save(frame.drop(columns="dew_point_c").assign(**{humidity: humidity_as(humidity, frame)})))
    np.testing.assert_allclose(weather.frame["dew_point_c"], demo.frame["dew_point_c"], atol=0.05)


def test_published_dew_points(frame: pd.DataFrame, save: Save, outside: Callable[..., None]) -> None:
    # One hour of the year, as no year holds still.
    hour = int(((frame["dry_bulb_c"] - 24.0).abs() + (frame["dew_point_c"] - 13.0).abs()).argmin())
    dry = frame.drop(columns=["dew_point_c", "pressure_pa"])
    dry.iloc[hour, 0] = (75.0 - 32.0) / 1.8
    for column, value, dew_point_f, source, tolerance in (
        (
            "humidity_ratio_kg_kg",
            65 / 7000,
            55.0,
            "California Title 24: 65 gr/lb is 55 °F dew point, whole degrees",
            0.5,
        ),
        ("relative_humidity_percent", 50.0, 55.1, "psychrometric chart, 75 °F and 50 % RH, from memory", 0.1),
        ("wet_bulb_f", 62.5, 55.1, "psychrometric chart, 75 °F and 62.5 °F wet bulb, from memory", 0.2),
    ):
        humidity = humidity_as(column, frame)
        humidity[hour] = value
        weather = open_weather(save(dry.assign(**{column: humidity}), PLACE.replace("200", "0")))
        got = weather.frame["dew_point_c"].iloc[hour] * 1.8 + 32
        outside(f"dew point [°F] from {column}", source, dew_point_f, got, tolerance)


def test_fahrenheit_and_hectopascal(frame: pd.DataFrame, demo: Weather, save: Save) -> None:
    other = frame.assign(dry_bulb_f=frame["dry_bulb_c"] * 1.8 + 32, pressure_hpa=frame["pressure_pa"] / 100)
    weather = open_weather(save(other.drop(columns=["dry_bulb_c", "pressure_pa"])))
    pd.testing.assert_frame_equal(weather.frame, demo.frame, check_exact=False, atol=1e-6)


def test_pressure_may_come_from_elevation(frame: pd.DataFrame, save: Save, outside: Callable[..., None]) -> None:
    head = PLACE.replace("200", "1500")
    weather = open_weather(save(frame.drop(columns="pressure_pa"), head))
    source = "ASHRAE Fundamentals 2017 ch. 1 table 1, from memory"
    outside("standard pressure at 1,500 m [kPa]", source, 84.556, weather.frame["pressure_pa"].iloc[0] / 1e3, 0.01)
    assert codes(weather) == ["standard_pressure"]


def test_elevation_may_come_from_pressure(frame: pd.DataFrame, save: Save) -> None:
    weather = open_weather(save(frame, PLACE.replace("# elevation_m: 200\n", "")))
    assert weather.location.elevation_m == pytest.approx(200.0, abs=30.0)


def test_arguments_override_the_header(frame: pd.DataFrame, save: Save) -> None:
    weather = open_weather(save(frame), latitude=41.0, name="Other")
    assert (weather.location.latitude, weather.location.name) == (41.0, "Other")


@pytest.mark.parametrize("offset", ["Z", "+00:00"])
def test_universal_time_is_brought_to_the_site(offset: str, frame: pd.DataFrame, demo: Weather, save: Save) -> None:
    times = [f"{time + pd.Timedelta(hours=6):%Y-%m-%dT%H:%M:%S}{offset}" for time in frame.index]
    weather = open_weather(save(with_texts(frame, times)))
    pd.testing.assert_frame_equal(weather.frame, demo.frame, check_exact=False, atol=1e-6)


def test_daylight_saving_with_offsets_is_read_right(frame: pd.DataFrame, demo: Weather, save: Save) -> None:
    clock = pd.DatetimeIndex(demo.frame.index).tz_convert("America/Chicago")
    head = PLACE.replace("# utc_offset_h: -6\n", "")
    weather = open_weather(save(with_texts(frame, [time.isoformat() for time in clock]), head))
    assert weather.location.utc_offset_h == -6.0
    pd.testing.assert_frame_equal(weather.frame, demo.frame, check_exact=False, atol=1e-6)


@pytest.mark.parametrize("zone", ["America/Chicago", "Europe/Berlin", "Europe/London", "Australia/Sydney"])
def test_daylight_saving_without_offsets_is_refused(zone: str, frame: pd.DataFrame, save: Save) -> None:
    winter = {"America/Chicago": 6, "Europe/Berlin": -1, "Europe/London": 0, "Australia/Sydney": -10}[zone]
    standard = pd.DatetimeIndex(frame.index).tz_localize(f"Etc/GMT{winter:+d}")
    frame.index = standard.tz_convert(zone).tz_localize(None)
    with pytest.raises(WeatherError, match=r"row \d+: .* is missing and .* comes twice, .* give local standard time"):
        open_weather(save(frame))


def test_daylight_saving_with_the_doubled_hour_dropped_is_refused(frame: pd.DataFrame, save: Save) -> None:
    clock = pd.DatetimeIndex(frame.index).tz_localize("Etc/GMT+6").tz_convert("America/Chicago").tz_localize(None)
    frame = frame.set_axis(clock)
    with pytest.raises(WeatherError, match="11 March 2018 02:00 is missing, so the times follow daylight saving"):
        open_weather(save(frame[~clock.duplicated()]))


@pytest.mark.parametrize(
    ("hour", "remedy"), [("2018-11-04 01:00", "follow daylight"), ("2018-11-06 01:00", "remove one")]
)
def test_an_hour_doubled_in_the_night_of_the_change(hour: str, remedy: str, frame: pd.DataFrame, save: Save) -> None:
    # The lost hour of spring was filled, the doubled one of autumn left.
    again = frame.loc[[pd.Timestamp(hour)]] + 0.3
    with pytest.raises(WeatherError, match=f"expected each time once: .*{remedy}"):
        open_weather(save(pd.concat([frame, again]).sort_index(kind="stable")))


def test_one_missing_night_hour_is_only_a_gap(frame: pd.DataFrame, save: Save) -> None:
    weather = open_weather(save(frame.drop(pd.Timestamp("2018-06-03 02:00"))))
    assert weather.quality.filled_hours == 1


def test_many_missing_hours_are_no_daylight_saving(frame: pd.DataFrame, save: Save) -> None:
    # The hour of the change is one of them.
    lost = np.union1d(np.arange(25, 8_700, 40), np.flatnonzero(frame.index == pd.Timestamp("2018-03-11 02:00")))
    assert open_weather(save(frame.drop(frame.index[lost]))).quality.filled_hours == len(lost)


def test_times_to_24_are_ends_of_hours(frame: pd.DataFrame, demo: Weather, save: Save) -> None:
    times = [f"{time:%Y-%m-%d} {time.hour + 1:02d}:00" for time in frame.index]
    weather = open_weather(save(with_texts(frame, times)))
    pd.testing.assert_frame_equal(weather.frame, demo.frame, check_exact=False, atol=1e-6)
    assert codes(weather) == ["hour_ending_times"]


def test_a_file_may_say_that_its_times_are_ends_of_hours(frame: pd.DataFrame, demo: Weather, save: Save) -> None:
    ends = frame.set_axis(frame.index + pd.Timedelta(hours=1))
    weather = open_weather(save(ends, PLACE + "# times: end\n"))
    pd.testing.assert_frame_equal(weather.frame, demo.frame, check_exact=False, atol=1e-6)
    assert codes(weather) == []
    with pytest.raises(WeatherError, match="times is 'middle', expected start or end"):
        open_weather(save(ends, PLACE + "# times: middle\n"))


def test_unsorted_and_repeated_rows_are_repaired_and_counted(frame: pd.DataFrame, demo: Weather, save: Save) -> None:
    shuffled = pd.concat([frame.iloc[5_000:], frame.iloc[:5_000], frame.iloc[:7]])
    weather = open_weather(save(shuffled))
    pd.testing.assert_frame_equal(weather.frame, demo.frame, check_exact=False, atol=1e-6)
    assert codes(weather) == ["sorted_rows", "repeated_rows"]
    assert "7 rows repeated an earlier row" in weather.notices[1].text


def test_quarter_hours_are_averaged(frame: pd.DataFrame, save: Save) -> None:
    quarters = frame.loc[frame.index.repeat(4)]
    quarters.index = frame.index[0] + pd.to_timedelta(np.arange(4 * 8_760) * 15, unit="min")
    quarters["dry_bulb_c"] += np.tile([0.0, 1.0, 2.0, 3.0], 8_760)
    weather = open_weather(save(quarters))
    np.testing.assert_allclose(weather.frame["dry_bulb_c"], frame["dry_bulb_c"] + 1.5, atol=1e-9)
    assert codes(weather) == ["averaged_subhourly"]


def test_several_years_with_a_leap_year(frame: pd.DataFrame, save: Save) -> None:
    hours = pd.date_range("2019-01-01", "2021-12-31 23:00", freq="h")
    years = frame.iloc[np.arange(len(hours)) % 8_760].set_axis(hours)
    weather = open_weather(save(years))
    assert weather.years == (2019, 2020, 2021)
    assert weather.hours == 365 * 24 * 3 + 24
    assert weather.frame.loc["2020-02-29"].shape[0] == 24


@pytest.mark.parametrize(
    ("expected", "change"),
    [
        ("holds °F: name the column dry_bulb_f", lambda f: f.assign(dry_bulb_c=f["dry_bulb_c"] * 1.8 + 32)),
        ("holds kelvin: subtract 273.15", lambda f: f.assign(dry_bulb_c=f["dry_bulb_c"] + 273.15)),
        ("holds °C: name the column dry_bulb_c", lambda f: f.rename(columns={"dry_bulb_c": "dry_bulb_f"})),
        ("holds °F: name the column dew_point_f",
         lambda f: f.assign(dew_point_c=f["dew_point_c"] * 1.8 + 32)),
        ("holds hPa or mbar: name the column pressure_hpa",
         lambda f: f.assign(pressure_pa=f["pressure_pa"] / 100)),
        ("holds kPa: multiply by 1000", lambda f: f.assign(pressure_pa=f["pressure_pa"] / 1000)),
        ("holds inches of mercury", lambda f: f.assign(pressure_pa=f["pressure_pa"] / 3386.39)),
        ("holds Pa: name the column", lambda f: f.rename(columns={"pressure_pa": "pressure_hpa"})),
        ("averages .* expected about", lambda f: f.assign(pressure_pa=f["pressure_pa"] - 9_000)),
        ("holds a fraction: multiply by 100", lambda f: f.assign(dew_point_c=0.6).rename(
            columns={"dew_point_c": "relative_humidity_percent"})),
        ("holds g/kg: divide by 1000", lambda f: f.assign(dew_point_c=8.0).rename(
            columns={"dew_point_c": "humidity_ratio_kg_kg"})),
        ("holds grains/lb: divide by 7000", lambda f: f.assign(dew_point_c=65.0).rename(
            columns={"dew_point_c": "humidity_ratio_kg_kg"})),
        ("holds kW/m2: multiply by 1000", lambda f: f.assign(ghi_w_m2=f["ghi_w_m2"] / 1000)),
        ("columns are exchanged", lambda f: f.rename(
            columns={"dry_bulb_c": "dew_point_c", "dew_point_c": "dry_bulb_c"})),
        ("lacks the column time", lambda f: f.rename_axis("when").reset_index().rename_axis("row")),
        ("lacks one of the columns dry_bulb_c, dry_bulb_f: rename 'drybulb_c'",
         lambda f: f.rename(columns={"dry_bulb_c": "drybulb_c"})),
        ("lacks one of the columns dew_point_c", lambda f: f.drop(columns="dew_point_c")),
        ("covers 5,000 hours, expected at least one whole year", lambda f: f.iloc[:5_000]),
        ("3 h apart, expected 1 h or less", lambda f: f.iloc[::3]),
        ("row 8767 .* has the time of row 7 but other values", lambda f: pd.concat([f, f.iloc[[0]] + 1.0])),
        ("row 8766 is in 2318 .* correct the date",
         lambda f: f.set_axis([*f.index[:-1], pd.Timestamp("2318-01-01")])),
    ],
)  # fmt: skip
def test_refusals_name_the_remedy(
    expected: str, change: Callable[[pd.DataFrame], pd.DataFrame], frame: pd.DataFrame, save: Save
) -> None:
    changed = change(frame)
    path = save(changed.to_csv(index_label=changed.index.name or "time", date_format="%Y-%m-%d %H:%M"))  # type: ignore[call-overload]
    with pytest.raises(WeatherError, match=expected) as caught:
        open_weather(path)
    assert str(caught.value).startswith("weather.csv")
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 1_000


def test_all_faults_in_one_message_with_row_and_time(frame: pd.DataFrame, save: Save) -> None:
    texts = frame.round(3).astype(str)
    texts.iloc[4, 0], texts.iloc[4_358, 0], texts.iloc[9, 3] = "warm", "182.4", "5000"
    with pytest.raises(WeatherError) as caught:
        open_weather(save(texts))
    # The header is row 6 of the file, so hour 0 is row 7 and hour 4358 (1 July 14:00) row 4365.
    assert "row 11: dry_bulb_c is 'warm', expected a number" in str(caught.value)
    assert "row 4365 (1 July 14:00): outdoor dry bulb is 182.4 °C, expected -90 to 60 °C" in str(caught.value)
    assert "row 16 (1 January 09:00): global horizontal irradiance is 5000 W/m2" in str(caught.value)


def test_a_stray_value_is_not_taken_for_a_unit(frame: pd.DataFrame, save: Save) -> None:
    frame["dry_bulb_c"] += 20.0
    frame.iloc[7, 0] = 444.0
    with pytest.raises(WeatherError, match="correct the value, or leave the field empty"):
        open_weather(save(frame))


@pytest.mark.parametrize(
    "text",
    [
        "07/01/2018 14:00",
        "2018-02-30 14:00",
        "2018-07-01 25:00",
        "2018-07-01 14:61",
        "noon",
        "",
        "2018-07-01",
    ],
)
def test_unreadable_times_are_refused(text: str, frame: pd.DataFrame, save: Save) -> None:
    times = [f"{time:%Y-%m-%d %H:%M}" for time in frame.index]
    times[50] = text
    with pytest.raises(WeatherError, match=r"row 57.*expected '2015-07-01 14:00' in local standard time"):
        open_weather(save(with_texts(frame, times)))


def test_times_with_and_without_offset_are_refused(frame: pd.DataFrame, save: Save) -> None:
    times = [f"{time:%Y-%m-%d %H:%M}" for time in frame.index]
    times[50] += "-06:00"
    with pytest.raises(WeatherError, match=r"row 57.*give all times with a UTC offset or none"):
        open_weather(save(with_texts(frame, times)))


def test_unknown_place_is_refused(frame: pd.DataFrame, save: Save) -> None:
    with pytest.raises(WeatherError, match="expected latitude, longitude, utc_offset_h in lines above the header"):
        open_weather(save(frame, ""))
    with pytest.raises(WeatherError, match="latitude is 'north', expected a number"):
        open_weather(save(frame, PLACE.replace("40", "north")))
    with pytest.raises(WeatherError, match="latitude is 400, expected -90 to 90 degrees"):
        open_weather(save(frame, PLACE.replace("40", "400")))


def test_ragged_and_doubled_columns_are_refused(frame: pd.DataFrame, save: Save) -> None:
    lines = frame.to_csv(index_label="time").split("\n")
    with pytest.raises(WeatherError, match="row 16 has 9 fields, expected 7 as in the header"):
        open_weather(save("\n".join([*lines[:10], lines[10] + ",1,2", *lines[11:]])))
    with pytest.raises(WeatherError, match="column dry_bulb_c comes twice"):
        open_weather(save("\n".join([lines[0].replace("dew_point_c", "dry_bulb_c"), *lines[1:]])))
    with pytest.raises(WeatherError, match="has a header but no rows"):
        open_weather(save(lines[0] + "\n"))
    with pytest.raises(WeatherError, match="holds only comments"):
        open_weather(save(""))
