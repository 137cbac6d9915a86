"""Station weather through the real client against a loopback server: what comes back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import psychrolib
import pytest
from station_server import STATIONS, StationServer, invented_hours

from freecool import open_weather
from freecool.weather.clock import standard_offset_h
from freecool.weather.readers.station_hours import cloud_oktas, dew_point_c, station_pressure_pa
from freecool.weather.sun import fill_sunshine
from freecool.weather.table import standard_pressure_pa

if TYPE_CHECKING:
    from conftest import Outside


HEALTHY = STATIONS[0]


def test_values_are_those_served_in_standard_time(station_server: StationServer) -> None:
    weather = open_weather(f"station:{HEALTHY.id}", years=(2023, 2023))
    assert weather.location.utc_offset_h == -5.0
    served = pd.concat([invented_hours(HEALTHY.id, year) for year in (2023, 2024)])
    in_utc = weather.frame.index.tz_convert("UTC").tz_localize(None)  # type: ignore[attr-defined]
    np.testing.assert_allclose(weather.frame["dry_bulb_c"], served.loc[in_utc, "temp"], atol=1e-9)
    assert len(weather.frame) == 8760
    assert (np.diff(weather.frame.index.to_numpy()) == np.timedelta64(1, "h")).all()
    # 1 m/s is 3.6 km/h.
    np.testing.assert_allclose(3.6 * weather.frame["wind_m_s"], served.loc[in_utc, "wspd"], atol=1e-9)


def test_no_daylight_saving_hour_is_missing_or_doubled(station_server: StationServer) -> None:
    weather = open_weather("station:99003", years=(2021, 2021))
    assert weather.location.utc_offset_h == 1.0
    assert weather.quality.filled_hours == 0
    local = weather.frame.index.tz_localize(None)  # type: ignore[attr-defined]
    assert local.is_unique
    assert (local == pd.date_range("2021-01-01", periods=8760, freq="h")).all()


def test_zone_off_by_half_an_hour_lies_between_two_hours(station_server: StationServer) -> None:
    weather = open_weather("station:99004", years=(2021, 2021))
    assert weather.location.utc_offset_h == 5.5
    served = invented_hours("99004", 2021)["temp"]
    # 12:00 at UTC+5:30 is 6:30 UTC.
    noon = weather.frame["dry_bulb_c"].loc["2021-07-01 12:00+05:30"]
    assert noon == pytest.approx(served.loc[["2021-07-01 06:00", "2021-07-01 07:00"]].mean(), abs=1e-9)


@pytest.mark.parametrize(
    ("zone", "hours"),
    [  # IANA time zone database
        ("America/Denver", -7.0), ("America/Phoenix", -7.0), ("Europe/Dublin", 0.0), ("Australia/Adelaide", 9.5),
        ("Asia/Kathmandu", 5.75), ("America/St_Johns", -3.5), ("Europe/Madrid", 1.0),
    ],
)  # fmt: skip
def test_standard_offset_leaves_daylight_saving_out(zone: str, hours: float) -> None:
    assert standard_offset_h(zone, 2023) == hours


def test_dew_point_inverts_the_relative_humidity_of_the_client() -> None:
    from meteostat.utils.conversions import temp_dwpt_to_rhum

    for dry_bulb, dew_point in ((30.0, 18.0), (5.0, 4.0), (-12.0, -20.0), (20.0, 20.0)):
        rhum = temp_dwpt_to_rhum({"temp": dry_bulb, "dwpt": dew_point})
        assert dew_point_c(np.array([dry_bulb]), np.array([rhum]))[0] == pytest.approx(dew_point, abs=0.11)


def test_dew_point_agrees_with_psychrolib(outside: Outside) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    # Alduchov and Eskridge state 0.4 % in vapour pressure from -40 to 50 degC, under 0.1 K in dew point.
    for dry_bulb, share in ((35.0, 0.4), (24.0, 0.6), (15.0, 0.9)):
        ours = float(dew_point_c(np.array([dry_bulb]), np.array([100.0 * share]))[0])
        outside(
            f"dew point at {dry_bulb:g} °C and {share:.0%}", "psychrolib",
            psychrolib.GetTDewPointFromRelHum(dry_bulb, share), ours, 0.1,
        )  # fmt: skip


def test_station_pressure_agrees_with_psychrolib(outside: Outside) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    elevation = 1609.0
    # In the standard atmosphere this dry bulb belongs to this elevation.
    dry_bulb = pd.Series([15.0 - 0.0065 * elevation] * 48)
    ours = station_pressure_pa(pd.Series([101_325.0] * 48), dry_bulb, elevation)
    source = "psychrolib.GetStandardAtmPressure"
    outside("station pressure at 1609 m", source, psychrolib.GetStandardAtmPressure(elevation), ours.iloc[24], 30.0)
    assert ours.iloc[0] == pytest.approx(standard_pressure_pa(elevation), rel=5e-4)


def test_high_station_has_station_pressure(station_server: StationServer) -> None:
    weather = open_weather("station:99002", years=(2023, 2023))
    assert weather.frame["pressure_pa"].mean() == pytest.approx(standard_pressure_pa(1609.0), abs=1_500.0)


def test_model_values_are_left_out(station_server: StationServer) -> None:
    station_server.by_model[HEALTHY.id] = [("2023-06-10 05:00", "2023-06-10 14:00")]
    weather = open_weather(f"station:{HEALTHY.id}", years=(2023, 2023))
    assert weather.quality.filled_hours == 10
    assert "forecast models are left out (in 10 h)" in weather.notices[0].text
    assert "there were none" in open_weather(f"station:{HEALTHY.id}", years=(2022, 2022)).notices[0].text
    assert "dwd_mosmix" not in weather.attribution


def test_site_elevation_moves_dry_bulb_at_the_same_relative_humidity(station_server: StationServer) -> None:
    low = open_weather(f"station:{HEALTHY.id}", years=(2023, 2023))
    high = open_weather(f"station:{HEALTHY.id}", years=(2023, 2023), elevation_m=HEALTHY.elevation_m + 1000.0)
    # ISO 2533:1975: 6.5 K per 1000 m.
    np.testing.assert_allclose(low.frame["dry_bulb_c"] - high.frame["dry_bulb_c"], 6.5, atol=1e-9)
    assert high.location.elevation_m == 1270.0
    assert any(notice.code == "lapse_rate" and "-6.5 K" in notice.text for notice in high.notices)
    assert high.frame["pressure_pa"].mean() == pytest.approx(standard_pressure_pa(1270.0), abs=1_000.0)


def test_cloud_from_sunshine_leaves_the_same_light() -> None:
    index = pd.date_range("2023-06-01", periods=4, freq="h")
    table = pd.DataFrame({"cldc": np.nan, "tsun": [60.0, 30.0, 0.0, 15.0], "coco": np.nan}, index=index)
    cloud, made_of = cloud_oktas(table)
    # Kasten and Czeplak (1980): 1 - 0.75 (N/8)^3.4 must be 0.25 + 0.75 of the sunny share.
    np.testing.assert_allclose(1 - 0.75 * (cloud / 8) ** 3.4, [1.0, 0.625, 0.25, 0.4375])
    assert made_of == "4 h of sunshine minutes"


def test_too_little_cloud_is_no_cloud() -> None:
    index = pd.date_range("2023-06-01", periods=10, freq="h")
    table = pd.DataFrame({"cldc": [3.0] + [np.nan] * 9, "tsun": np.nan, "coco": np.nan}, index=index)
    assert cloud_oktas(table)[0].isna().all()


@pytest.mark.parametrize(
    ("place", "name"),
    [
        ("Melbourne FL", "722040TYA_MelbourneFL_TMY3.csv"), ("Albuquerque NM", "723650TYA_Albuquerque_TMY3.csv"),
        ("Golden CO", "724666TYA_GoldenNREL_TMY3.csv"), ("Sacramento CA", "724839TYA_Sacramento_TMY3.csv"),
        ("Greensboro NC", "723170TYA.CSV"), ("Sand Point AK", "703165TY.csv"),
    ],
)  # fmt: skip
def test_sun_from_cloud_errs_as_the_page_says(
    pvlib_weather: Callable[[str], Path], shared_weather: Callable[[str], Path], place: str, name: str
) -> None:
    path = shared_weather(name) if "_" in name else pvlib_weather(name)
    weather = open_weather(path)
    tenths = pd.read_csv(path, skiprows=1)["TotCld (tenths)"].to_numpy()
    table = weather.frame.assign(cloud_oktas=0.8 * tenths, ghi_w_m2=np.nan, dni_w_m2=np.nan, dhi_w_m2=np.nan)
    made = fill_sunshine(table, weather.location)[0]["ghi_w_m2"]
    error = made.sum() / weather.frame["ghi_w_m2"].sum() - 1.0
    page = (Path(__file__).parents[1] / "docs" / "stations.md").read_text("utf-8")
    assert f"| {place}, TMY3 | {100.0 * error:+.1f} % |".replace("-", "−") in page
