"""A typical year by ISO 15927-4: distances by hand, and a record whose answer is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from freecool import make_case, open_weather
from freecool.answers.estimate import estimate
from freecool.core.errors import WeatherError
from freecool.weather import Weather
from freecool.weather.typical import choose_years, daily_means, finkelstein_schafer, smooth_join, typical_year

YEARS = (2019, 2020, 2021, 2022, 2023)


def record(offsets_k: dict[int, dict[int, float]]) -> Weather:
    """Years that repeat an invented one, each month warmer by what is told for (year, month), else by the year."""
    demo = open_weather("demo:mixed-inland")
    zone = demo.frame.index.tz  # type: ignore[attr-defined]
    parts = []
    for year, by_month in offsets_k.items():
        index = pd.date_range(f"{year}-01-01", f"{year}-12-31 23:00", freq="h", tz=zone, name="time")
        index = index[~((index.month == 2) & (index.day == 29))]
        part = demo.frame.set_axis(index).copy()
        shift = index.month.map(lambda month, by=by_month: by.get(month, 0.0)).to_numpy(dtype=float)  # type: ignore[misc]
        part["dry_bulb_c"] += shift
        part["dew_point_c"] += shift
        part["ghi_w_m2"] *= 1.0 + shift / 100.0
        parts.append(part)
    frame = pd.concat(parts)
    return replace(demo, frame=frame, years=tuple(offsets_k), typical=False, invented=False)


@pytest.fixture(scope="module")
def known() -> Weather:
    """Five years in which the middle one of each month is known: year 2019 + month % 5 has no offset."""
    spread = (-4.0, -2.0, 0.0, 2.0, 4.0)
    return record(
        {
            year: {month: spread[(place + 2 - month % 5) % 5] for month in range(1, 13)}
            for place, year in enumerate(YEARS)
        }
    )


def test_distance_by_hand() -> None:
    # Whole 1..5, part {1, 5}: ranks in the part 1/3, 2/3; in the whole 1/6, 5/6: |1/3-1/6| + |2/3-5/6| = 1/3.
    assert finkelstein_schafer(np.array([1.0, 5.0]), np.arange(1.0, 6.0)) == pytest.approx(1 / 3)
    # Part {2, 4}: in the whole 2/6, 4/6, in the part 1/3, 2/3: no distance.
    assert finkelstein_schafer(np.array([2.0, 4.0]), np.arange(1.0, 6.0)) == pytest.approx(0.0)
    assert finkelstein_schafer(np.array([4.0, 2.0]), np.array([5.0, 3.0, 1.0, 2.0, 4.0])) == pytest.approx(0.0)


def test_the_middle_year_of_each_month_is_chosen(known: Weather) -> None:
    assert choose_years(daily_means(known)) == {month: 2019 + month % 5 for month in range(1, 13)}


def test_wind_decides_among_the_best_three(known: Weather) -> None:
    # By hand: of 3.5, 5.0, 7.0, 5.5 and 4.0 m/s at -4, -2, 0, 2 and 4 K the mean is 5.0; the three nearest in
    # distribution, -2, 0 and 2 K, are then 1.5, 2.0 and 0.5 m/s off it: 2 K warmer wins, though -4 K hits the mean.
    wind_by_offset = {-4.0: 5.0, -2.0: 3.5, 0.0: 7.0, 2.0: 5.5, 4.0: 4.0}
    daily = daily_means(known)
    spread = (-4.0, -2.0, 0.0, 2.0, 4.0)
    offset = [spread[(day.year - 2019 + 2 - day.month % 5) % 5] for day in pd.DatetimeIndex(daily.index)]
    daily["wind_m_s"] = [wind_by_offset[kelvin] for kelvin in offset]
    assert choose_years(daily) == {month: 2019 + (month + 1) % 5 for month in range(1, 13)}
    # Without wind in a year it cannot be judged; without any the best stands.
    warmer = np.array(offset) == 2.0
    assert choose_years(daily.assign(wind_m_s=daily["wind_m_s"].mask(warmer))) == {
        month: 2019 + (month - 1) % 5 for month in range(1, 13)
    }
    assert choose_years(daily.assign(wind_m_s=np.nan)) == choose_years(daily_means(known))


def test_made_of_the_chosen_months(known: Weather) -> None:
    made = typical_year(known)
    demo = open_weather("demo:mixed-inland").frame
    assert made.typical
    assert made.years == ()
    assert len(made.frame) == 8760
    assert made.frame.index.equals(demo.index)
    # Every chosen month is the invented one itself, so that all joins are smooth already, up to its own
    # curvature at midnight.
    np.testing.assert_allclose(made.frame["dry_bulb_c"], demo["dry_bulb_c"], atol=0.3)
    np.testing.assert_array_equal(made.frame["ghi_w_m2"], demo["ghi_w_m2"])
    inside = (made.frame.index.day > 1) & (made.frame.index.day < 28)  # type: ignore[attr-defined]
    np.testing.assert_array_equal(made.frame["dry_bulb_c"][inside], demo["dry_bulb_c"][inside])
    text = made.notices[-1].text
    assert "Jan 2020, Feb 2021" in text
    assert "wind speed, the standard's tie-break, is not in the data" in text
    assert "asks for at least 10 years" in text


def test_join_is_smooth_and_only_near_it_bent() -> None:
    values = np.concatenate([np.full(100, 10.0), np.full(100, 20.0)])
    values = smooth_join(values, 100)
    assert values[99] == pytest.approx(15.0)
    assert values[100] == pytest.approx(15.0)
    assert (values[:92] == 10.0).all()
    assert (values[108:] == 20.0).all()
    assert np.abs(np.diff(values)).max() < 1.0
    assert (np.diff(values) >= 0.0).all()


def test_join_of_december_and_january_closes_the_year() -> None:
    values = np.concatenate([np.full(100, 10.0), np.full(100, 20.0)])
    values = smooth_join(values, 0)
    assert values[-1] == pytest.approx(15.0)
    assert values[0] == pytest.approx(15.0)
    assert (values[8:192] == np.concatenate([np.full(92, 10.0), np.full(92, 20.0)])).all()


def test_a_steady_slope_is_no_step() -> None:
    values = np.arange(200.0)
    np.testing.assert_allclose(smooth_join(values, 100), np.arange(200.0))


def test_typical_year_of_a_cool_and_a_hot_extreme_answers_like_the_mean_of_the_years(known: Weather) -> None:
    case = make_case()
    typical, mean = (estimate(case, weather).energy for weather in (typical_year(known), known))
    # ISO 15927-4 promises means, not savings: in this invented record the two agree to a tenth (our own margin).
    assert typical.compressor_kwh_without == pytest.approx(mean.compressor_kwh_without, rel=0.1)


def test_a_typical_year_cannot_be_made_of_one() -> None:
    with pytest.raises(WeatherError, match="is a typical year already"):
        typical_year(open_weather("demo:mixed-inland"))


def test_two_years_are_too_few() -> None:
    with pytest.raises(WeatherError, match="has 2 whole years, expected 3 or more"):
        typical_year(record({2019: {}, 2020: {}}))
