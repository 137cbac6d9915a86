"""Figures that stand for missing values, and what no air does: emptied, filled, counted, or refused."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from freecool.core.errors import WeatherError
from freecool.weather import Weather, open_weather
from freecool.weather.marks import without_marks
from freecool.weather.steps import ROUGHEST_K
from freecool.weather.table import weather_from_table

Find = Callable[[str], Path]
PLACE = "# latitude: 36.1\n# longitude: -79.95\n# elevation_m: 273\n# utc_offset_h: -5\n"
# Every tenth hour: its two neighbours are left.
TENTH = slice(5, None, 10)


@pytest.fixture(scope="module")
def greensboro(pvlib_weather: Find) -> Weather:
    return open_weather(pvlib_weather("723170TYA.CSV"))


def table_of(weather: Weather) -> pd.DataFrame:
    return weather.frame.copy()


def reopened(table: pd.DataFrame, weather: Weather, allow_gaps: bool = False) -> Weather:
    return weather_from_table(
        table, weather.location, name="x.csv", source="x.csv", kind="CSV", typical=True, allow_gaps=allow_gaps
    )


@pytest.mark.parametrize(
    ("column", "mark"),
    [
        *(("dry_bulb_f", mark) for mark in (-99.0, -88.8, 999.9, -9999.0, -9900.0, -146.2)),
        *(("dew_point_f", mark) for mark in (-99.9, 99.9)),
        *(("dew_point_c", mark) for mark in (-99.0, -72.78)),
        *(("relative_humidity_percent", mark) for mark in (-99.0, 999.0)),
        *(("wet_bulb_f", mark) for mark in (-99.0,)),
    ],
)
def test_marks_in_any_unit_are_filled_and_told(column: str, mark: float, greensboro: Weather, tmp_path: Path) -> None:
    from freecool.core import air

    frame = greensboro.frame
    dry_bulb, dew_point, pressure = (frame[name].to_numpy() for name in ("dry_bulb_c", "dew_point_c", "pressure_pa"))
    ratio = air.humidity_ratio_from_dew_point(dew_point, pressure)
    given = {
        "dry_bulb_f": dry_bulb * 1.8 + 32,
        "dew_point_f": dew_point * 1.8 + 32,
        "dew_point_c": dew_point,
        "relative_humidity_percent": 100 * air.relative_humidity(dry_bulb, ratio, pressure),
        "wet_bulb_f": air.wet_bulb(dry_bulb, ratio, pressure) * 1.8 + 32,
    }[column].copy()
    given[TENTH] = mark
    columns = {"dry_bulb_c": dry_bulb, "dew_point_c": dew_point, "pressure_pa": pressure}
    quantity = "dry_bulb_c" if column.startswith("dry_bulb") else "dew_point_c"
    table = pd.DataFrame(columns, index=pd.DatetimeIndex(frame.index).tz_localize(None))
    path = tmp_path / "marked.csv"
    path.write_text(PLACE + table.drop(columns=quantity).assign(**{column: given}).to_csv(index_label="time"))
    weather = open_weather(path)
    assert weather.quality.filled_hours == 876
    assert f"{mark:g} in 876 rows" in " ".join(weather.quality.notes)
    # Within what the filling of single hours misses by (a straight line between the neighbours).
    assert weather.frame[quantity].mean() == pytest.approx(frame[quantity].mean(), abs=0.05)
    assert np.abs(weather.frame[quantity].to_numpy() - frame[quantity].to_numpy()).max() < 8.0


def test_a_figure_like_a_mark_among_its_like_was_measured() -> None:
    cold = np.linspace(-105.0, -20.0, 1_000).round(0)
    for column, values in (
        ("dry_bulb_f", cold),
        ("dry_bulb_f", np.array([60.0, 88.8, 95.0, 99.9])),
        ("pressure_hpa", np.array([985.0, 999.0, 1012.0])),
        ("relative_humidity_percent", np.array([30.0, 77.7, 88.8, 97.0, 99.0])),
    ):
        kept, found = without_marks(values, column)
        assert not found
        np.testing.assert_array_equal(kept, values)


def test_sunshine_that_comes_too_often_is_a_mark(greensboro: Weather) -> None:
    light = greensboro.frame["dni_w_m2"].to_numpy(copy=True)
    kept, found = without_marks(light, "dni_w_m2")
    assert not found
    light[7::100] = 999.0
    kept, found = without_marks(light, "dni_w_m2")
    assert found == {999.0: 88}
    assert np.isnan(kept[7::100]).all()


def test_two_marks_in_one_column() -> None:
    kept, found = without_marks(np.array([1.0, -99.0, 20.0, -99.9, 9999.0, 12.0]), "dew_point_c")
    assert found == {-99.9: 1, 9999.0: 1, -99.0: 1}
    np.testing.assert_array_equal(kept, [1.0, np.nan, 20.0, np.nan, np.nan, 12.0])


@pytest.mark.parametrize("field", ["-99.0", "-99.9", "999", "9999", "-88.8"])
def test_marks_of_others_in_a_typical_year(field: str, pvlib_weather: Find, tmp_path: Path) -> None:
    lines = pvlib_weather("723170TYA.CSV").read_text("utf-8").splitlines()
    place = lines[1].split(",").index("Dry-bulb (C)")
    for row in range(10, 2_010, 10):
        parts = lines[row].split(",")
        parts[place] = field
        lines[row] = ",".join(parts)
    path = tmp_path / "marked.csv"
    path.write_text("\n".join(lines))
    weather = open_weather(path)
    assert weather.quality.filled_hours == 200
    assert {"missing_marks", "filled_weather"} <= {notice.code for notice in weather.notices}


@pytest.mark.parametrize(
    ("what", "column", "hours", "change", "told", "filled"),
    [
        ("a spike up", "dry_bulb_c", slice(4_000, 4_001), 20.0, "leaps there and back in 1 h", 1),
        ("three hours down", "dry_bulb_c", slice(4_000, 4_003), -20.0, "leaps there and back in 3 h", 3),
        ("a day at another level", "dry_bulb_c", slice(4_000, 4_024), -35.0, "leaps there and back in 24 h", 24),
        ("dew point far too low", "dew_point_c", slice(5_000, 5_006), -40.0, "leaps there and back in 6 h", 6),
    ],
)
def test_leaps_are_filled_and_counted(
    what: str, column: str, hours: slice, change: float, told: str, filled: int, greensboro: Weather
) -> None:
    table = table_of(greensboro)
    changed = table[column].to_numpy(copy=True)
    changed[hours] += change
    table[column] = changed
    weather = reopened(table, greensboro)
    assert weather.quality.filled_hours == filled, what
    assert told in " ".join(weather.quality.notes), what


def test_many_single_spikes_take_no_more_than_their_own_hours(greensboro: Weather) -> None:
    table = table_of(greensboro)
    changed = table["dry_bulb_c"].to_numpy(copy=True)
    changed[range(100, 8_700, 60)] -= 40.0
    table["dry_bulb_c"] = changed
    weather = reopened(table, greensboro)
    assert weather.quality.filled_hours == len(range(100, 8_700, 60))


def test_a_sensor_that_stands_still_is_filled_refused_or_kept(greensboro: Weather) -> None:
    for hours, filled in ((20, 0), (45, 44)):
        table = table_of(greensboro)
        table.iloc[4_000 : 4_000 + hours, 0] = 21.0
        assert reopened(table, greensboro).quality.filled_hours == filled
    table.iloc[4_000:4_100, 0] = 21.0
    with pytest.raises(WeatherError, match="June 2018 cannot be used: outdoor dry bulb is missing for 99 h in a row"):
        reopened(table, greensboro)
    table.iloc[4_000:4_720, 0] = 21.0
    with pytest.raises(WeatherError, match="outdoor dry bulb stands still as no air does in 719 h, first at 16 June"):
        reopened(table, greensboro, allow_gaps=True)


@pytest.mark.parametrize(
    ("what", "change", "refusal"),
    [
        ("noise", lambda t: t + np.random.default_rng(1).normal(0, 3, len(t)), "jumps to and fro by [0-9.]+ K"),
        ("shuffled", lambda t: np.random.default_rng(1).permutation(t), "as no air does|jumps to and fro"),
        ("a step that stays", lambda t: np.where(np.arange(len(t)) < 4_450, t, t - 40.0), "does not come back"),
        ("daily means", lambda t: np.repeat(t.reshape(-1, 24).mean(axis=1), 24), "that of the hour before in 96%"),
        ("six-hourly", lambda t: np.repeat(t[::6], 6), "so the values are no hourly ones"),
        ("many spikes", lambda t: np.where(np.arange(len(t)) % 20 == 3, t - 55.0, t), "leaps there and back as no air"),
    ],
)
def test_what_is_no_air_is_refused(
    what: str, change: Callable[[np.ndarray], np.ndarray], refusal: str, greensboro: Weather
) -> None:
    table = table_of(greensboro)
    table["dry_bulb_c"] = np.clip(change(table["dry_bulb_c"].to_numpy()), -90.0, 60.0)
    table["dew_point_c"] = np.minimum(table["dew_point_c"], table["dry_bulb_c"])
    with pytest.raises(WeatherError, match=refusal):
        reopened(table, greensboro)


def test_open_weather_is_below_every_limit(pvlib_weather: Find, shared_weather: Find) -> None:
    for path in (
        *(pvlib_weather(name) for name in ("723170TYA.CSV", "703165TY.csv", "12839.tm2")),
        *(
            shared_weather(path.name.removesuffix(".gz"))
            for path in (Path(__file__).parent / "weather").glob("*_TMY3*")
        ),
    ):
        weather = open_weather(path)
        assert not {"missing_marks", "impossible_air"} & {notice.code for notice in weather.notices}, path.name
        rough = float(np.sqrt(np.mean(np.square(np.diff(weather.frame["dry_bulb_c"].to_numpy(), 2)))))
        assert rough < ROUGHEST_K / 1.8, path.name
