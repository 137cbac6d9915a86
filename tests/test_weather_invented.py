"""The invented climates: labelled, repeatable and like weather."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from freecool.core.errors import WeatherError
from freecool.weather.invented import DEMOS, invented_weather


@pytest.fixture(params=sorted(DEMOS))
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def daily_swing(dry_bulb: pd.Series) -> float:
    by_day = dry_bulb.to_numpy().reshape(365, 24)
    return float((by_day.max(axis=1) - by_day.min(axis=1)).mean())


def test_it_says_that_it_is_invented(name: str) -> None:
    weather = invented_weather(name)
    assert weather.invented
    assert weather.kind == "invented"
    assert "(invented)" in weather.location.name
    assert "invented year" in repr(weather)
    assert [notice.code for notice in weather.notices] == ["invented_weather"]
    assert weather.years == ()
    assert DEMOS[name].description


def test_it_is_the_same_at_every_call(name: str) -> None:
    pd.testing.assert_frame_equal(invented_weather(name).frame, invented_weather(name).frame)


def test_it_keeps_the_contract_of_weather(name: str) -> None:
    weather = invented_weather(name)
    frame = weather.frame
    index = pd.DatetimeIndex(frame.index)
    assert weather.hours == 8_760
    assert index.name == "time"
    assert (np.diff(index.asi8) == np.diff(index.asi8)[0]).all()
    assert index[0].utcoffset() == pd.Timedelta(hours=weather.location.utc_offset_h)
    assert list(frame) == ["dry_bulb_c", "dew_point_c", "pressure_pa", "ghi_w_m2", "dni_w_m2", "dhi_w_m2"]
    assert all(dtype.kind == "f" for dtype in frame.dtypes)
    assert not frame.isna().any().any()
    assert (frame["dew_point_c"] <= frame["dry_bulb_c"]).all()


def test_it_is_like_weather(name: str) -> None:
    # Bounds around what typical years of the contiguous United States hold (common practice, no source).
    frame = invented_weather(name).frame
    assert -25.0 < frame["dry_bulb_c"].min() < 5.0
    assert 32.0 < frame["dry_bulb_c"].max() < 42.0
    assert frame["dew_point_c"].max() < 29.0
    assert frame["dry_bulb_c"].diff().abs().max() < 12.0
    assert 1_300e3 < frame["ghi_w_m2"].sum() < 2_300e3
    midnight = pd.DatetimeIndex(frame.index).hour == 0
    assert (frame.loc[midnight, ["ghi_w_m2", "dni_w_m2", "dhi_w_m2"]] == 0.0).all().all()
    by_hour = frame["dry_bulb_c"].to_numpy().reshape(365, 24).mean(axis=0)
    assert by_hour.argmin() in (4, 5, 6)
    assert by_hour.argmax() in (14, 15, 16)
    day_means = frame["dry_bulb_c"].to_numpy().reshape(365, 24).mean(axis=1)
    assert 0.5 < np.corrcoef(day_means[:-1], day_means[1:])[0, 1] < 0.99


def test_the_three_differ_as_they_say() -> None:
    desert, coast, inland = (invented_weather(name) for name in ("high-desert", "humid-coast", "mixed-inland"))
    damp = {
        weather.location.name: int((weather.frame["dew_point_c"] > 15.56).sum()) for weather in (desert, coast, inland)
    }
    assert damp[coast.location.name] > 2_500
    assert damp[desert.location.name] < 100
    assert damp[desert.location.name] < damp[inland.location.name] < damp[coast.location.name]
    assert daily_swing(desert.frame["dry_bulb_c"]) > 12.0
    assert daily_swing(coast.frame["dry_bulb_c"]) < 9.0
    assert inland.frame["dry_bulb_c"].min() < coast.frame["dry_bulb_c"].min()
    assert [round(weather.location.elevation_m) for weather in (desert, coast, inland)] == [1_500, 5, 200]
    # Standard atmosphere at 1,500 m: 84.56 kPa (ASHRAE Fundamentals 2017 ch. 1 table 1, from memory).
    assert desert.frame["pressure_pa"].mean() == pytest.approx(84_560, abs=150)


def test_unknown_name_lists_the_known() -> None:
    with pytest.raises(WeatherError, match="expected one of high-desert, humid-coast, mixed-inland"):
        invented_weather("atlantis")
