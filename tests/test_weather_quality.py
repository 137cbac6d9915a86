"""Filling of gaps: measured errors on real weather, the rules for each length, and what is reported."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from freecool.core.errors import WeatherError
from freecool.weather import Weather, open_weather
from freecool.weather.quality import fill_by_interpolation, fill_from_adjacent_days, fill_series, gaps, repair

Find = Callable[[str], Path]


@pytest.fixture(scope="module")
def demo() -> Weather:
    return open_weather("demo:mixed-inland")


def filling_error(values: np.ndarray, length: int, fill: Callable[..., np.ndarray]) -> float:
    """Root-mean-square error [K] over 400 random gaps of a length."""
    random = np.random.default_rng(7)
    errors = []
    for first in random.integers(200, len(values) - 200 - length, 400):
        holed = values.copy()
        holed[first : first + length] = np.nan
        errors.append(fill(holed, first, first + length) - values[first : first + length])
    return float(np.sqrt(np.mean(np.square(errors))))


def adjacent(values: np.ndarray, first: int, end: int) -> np.ndarray:
    return fill_from_adjacent_days(values, first, end, edge_correction=True)


def test_adjacent_days_fill_a_day_better_than_a_line(shared_weather: Find) -> None:
    weather = open_weather(shared_weather("USA_IL_Chicago.OHare.Intl.AP.725300_TMY3.epw"))
    dry_bulb = weather.frame["dry_bulb_c"].to_numpy()
    linear = filling_error(dry_bulb, 24, fill_by_interpolation)
    by_days = filling_error(dry_bulb, 24, adjacent)
    # The study that the method rests on, over other gaps of the same year: 2.65 K over 4.05 K.
    assert by_days / linear == pytest.approx(2.65 / 4.05, abs=0.05)


@pytest.mark.parametrize(("length", "better"), [(1, 1.0), (2, 1.0), (6, 1.0), (12, 0.75), (24, 0.75), (48, 0.75)])
def test_each_method_is_the_better_one_at_its_length(length: int, better: float, pvlib_weather: Find) -> None:
    dry_bulb = open_weather(pvlib_weather("723170TYA.CSV")).frame["dry_bulb_c"].to_numpy()
    linear = filling_error(dry_bulb, length, fill_by_interpolation)
    by_days = filling_error(dry_bulb, length, adjacent)
    chosen, other = (linear, by_days) if length <= 3 else (by_days, linear)
    assert chosen < better * other


def test_gaps_are_found() -> None:
    nan = np.nan
    assert gaps(np.array([nan, 1.0, nan, nan, 2.0, nan])) == [(0, 1), (2, 4), (5, 6)]
    assert gaps(np.ones(4)) == []


def test_short_gap_by_hand() -> None:
    # Between 10 and 18 three hours lie at 12, 14 and 16.
    values = np.array([10.0, np.nan, np.nan, np.nan, 18.0])
    np.testing.assert_allclose(fill_by_interpolation(values, 1, 4), [12.0, 14.0, 16.0])


def test_adjacent_days_by_hand() -> None:
    # A daily wave on a steady drift of 0.1 K an hour: a day earlier is 2.4 K colder at every hour, edges too.
    hours = np.arange(24 * 9)
    truth = 8.0 * np.sin(2 * np.pi * hours / 24) + 0.1 * hours
    values = truth.copy()
    values[80:100] = np.nan
    np.testing.assert_allclose(adjacent(values, 80, 100), truth[80:100], atol=1e-9)


@given(first=st.integers(60, 8_600), length=st.integers(1, 48), level=st.floats(-40, 40))
def test_steady_weather_is_filled_exactly(first: int, length: int, level: float) -> None:
    values = np.full(8_760, level)
    values[first : first + length] = np.nan
    filled = fill_series(values, edge_correction=True, typical=False, allow_gaps=False)
    np.testing.assert_allclose(filled, level, atol=1e-9)


@given(
    st.lists(st.tuples(st.integers(0, 8_759), st.integers(1, 60)), min_size=1, max_size=12),
    st.booleans(),
)
def test_measured_values_stay_and_only_short_gaps_are_filled(holes: list[tuple[int, int]], typical: bool) -> None:
    hours = np.arange(8_760)
    values = 10 * np.sin(2 * np.pi * hours / 8_760) + 5 * np.sin(2 * np.pi * hours / 24)
    for first, length in holes:
        values[first : first + length] = np.nan
    filled = fill_series(values, edge_correction=True, typical=typical, allow_gaps=False)
    measured = ~np.isnan(values)
    np.testing.assert_array_equal(filled[measured], values[measured])
    assert np.nanmax(np.abs(filled)) < 40.0
    if not typical:
        for first, end in gaps(values):
            if end - first > 48:
                assert np.isnan(filled[first:end]).all()


def test_typical_year_closes_on_itself(demo: Weather) -> None:
    values = demo.frame["dry_bulb_c"].to_numpy().copy()
    truth = values.copy()
    values[-10:] = np.nan
    values[:8] = np.nan
    filled = fill_series(values, edge_correction=True, typical=True, allow_gaps=False)
    assert np.sqrt(np.mean((filled - truth)[np.isnan(values)] ** 2)) < 5.0
    middle = filled[[-1, 0]]
    assert abs(middle[0] - middle[1]) < 3.0


@pytest.mark.parametrize(
    ("length", "method"),
    [(1, "by interpolation"), (3, "by interpolation"), (4, "adjacent days"), (48, "adjacent days")],
)
def test_repair_counts_and_names_the_method(length: int, method: str, demo: Weather) -> None:
    table = demo.frame.copy()
    table.iloc[3_000 : 3_000 + length, 0] = np.nan
    repaired = repair(table, "x.csv", typical=False)
    assert repaired.quality.filled_hours == length
    assert len(repaired.quality.notes) == 1
    assert f"outdoor dry bulb {length} h" in repaired.quality.notes[0]
    assert method in repaired.quality.notes[0]
    assert [notice.code for notice in repaired.notices] == ["filled_weather"]
    assert not repaired.table.isna().any().any()


def test_longer_gap_refuses_the_month_unless_allowed(demo: Weather) -> None:
    table = demo.frame.copy()
    table.iloc[4_344:4_393, 0] = np.nan
    with pytest.raises(WeatherError, match=r"July 2018 cannot be used: outdoor dry bulb is missing for 49 h in a row"):
        repair(table, "x.csv", typical=False)
    repaired = repair(table, "x.csv", typical=False, allow_gaps=True)
    assert repaired.quality.filled_hours == 49
    assert "from the mean of the days around" in repaired.quality.notes[0]
    error = (repaired.table["dry_bulb_c"] - demo.frame["dry_bulb_c"]).to_numpy()[4_344:4_393]
    assert np.sqrt(np.mean(error**2)) < 2 * demo.frame["dry_bulb_c"].iloc[4_300:4_450].std()


@pytest.mark.parametrize("column", ["dry_bulb_c", "dew_point_c"])
def test_a_year_that_is_mostly_missing_is_refused_even_where_gaps_are_allowed(column: str, demo: Weather) -> None:
    for missing in (slice(300, 8_300), slice(0, None, 3)):
        table = demo.frame.copy()
        table.iloc[missing, list(table.columns).index(column)] = np.nan
        with pytest.raises(WeatherError, match=r"is missing in [0-9,]+ of 8,760 hours, expected at most 25%"):
            repair(table, "x.csv", typical=True, allow_gaps=True)
    table = demo.frame.copy()
    table.iloc[300:2_400, list(table.columns).index(column)] = np.nan
    assert repair(table, "x.csv", typical=True, allow_gaps=True).quality.filled_hours == 2_100


def test_dew_point_is_clipped_to_dry_bulb_and_counted(demo: Weather) -> None:
    table = demo.frame.copy()
    table.iloc[10:15, 1] = table.iloc[10:15, 0] + 0.4
    repaired = repair(table, "x.csv", typical=False)
    assert repaired.quality.clipped_hours == 5
    assert "dew point was above dry bulb in 5 hours" in repaired.quality.notes[0]
    assert (repaired.table["dew_point_c"] <= repaired.table["dry_bulb_c"]).all()


def test_sunshine_is_filled_from_days_not_across_the_night(demo: Weather) -> None:
    table = demo.frame.copy()
    noon = 180 * 24 + 11
    table.iloc[noon : noon + 3, 3] = np.nan
    filled = repair(table, "x.csv", typical=False).table["ghi_w_m2"]
    before, after = filled.iloc[noon - 24 : noon - 21], filled.iloc[noon + 24 : noon + 27]
    low, high = np.minimum(before, after.to_numpy()), np.maximum(before, after.to_numpy())
    assert (filled.iloc[noon : noon + 3].to_numpy() >= low.to_numpy() - 1e-9).all()
    assert (filled.iloc[noon : noon + 3].to_numpy() <= high.to_numpy() + 1e-9).all()


def test_gap_in_a_file_reaches_the_weather(demo: Weather, tmp_path: Path) -> None:
    frame = demo.frame.copy()
    frame.index = pd.DatetimeIndex(frame.index).tz_localize(None)
    frame = frame.drop(frame.index[500:530])
    head = "# latitude: 40\n# longitude: -90\n# elevation_m: 200\n# utc_offset_h: -6\n"
    path = tmp_path / "holed.csv"
    path.write_text(head + frame.to_csv(index_label="time"))
    weather = open_weather(path)
    assert weather.hours == 8_760
    assert weather.quality.filled_hours == 30
    pd.testing.assert_index_equal(weather.frame.index, demo.frame.index)
