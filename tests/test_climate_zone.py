"""The number of the ASHRAE 169 climate zone from a year's weather."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from made_weather import made_weather

from freecool.weather import open_weather
from freecool.weather.climate_zone import degree_days, thermal_zone

if TYPE_CHECKING:
    from conftest import Outside


TABLE = "ASHRAE 169 table of stations (from memory)"
# File, lowest and highest zone number the table may give it.
SHARED = {
    "722040TYA_MelbourneFL_TMY3.csv": (1, 2),
    "723650TYA_Albuquerque_TMY3.csv": (4, 4),
    "724666TYA_GoldenNREL_TMY3.csv": (5, 5),
    "724839TYA_Sacramento_TMY3.csv": (3, 3),
    "USA_CO_Denver.Intl.AP.725650_TMY3.epw": (5, 5),
    "USA_GA_Atlanta-Hartsfield-Jackson.Intl.AP.722190_TMY3.epw": (3, 3),
    "USA_IL_Chicago.OHare.Intl.AP.725300_TMY3.epw": (5, 5),
}
CARRIED = {"723170TYA.CSV": (3, 4), "703165TY.csv": (7, 7), "12839.tm2": (1, 1)}
# Heating below 65 degF and cooling above 50 degF, in degF days, of long-term records.
NORMALS = {
    "723650TYA_Albuquerque_TMY3.csv": (4425, 3908),
    "724839TYA_Sacramento_TMY3.csv": (2749, 4474),
    "USA_CO_Denver.Intl.AP.725650_TMY3.epw": (6020, 2732),
    "USA_GA_Atlanta-Hartsfield-Jackson.Intl.AP.722190_TMY3.epw": (2991, 5038),
    "USA_IL_Chicago.OHare.Intl.AP.725300_TMY3.epw": (6536, 2941),
}


@pytest.mark.parametrize("name", SHARED)
def test_zone_of_a_city(name: Any, shared_weather: Callable[[str], Path], outside: Outside) -> None:
    zone = thermal_zone(open_weather(str(shared_weather(name))))
    outside.within(f"climate zone number, {name}", TABLE, *SHARED[name], float(zone))


@pytest.mark.parametrize("name", CARRIED)
def test_zone_of_a_city_that_pvlib_carries(name: Any, pvlib_weather: Callable[[str], Path], outside: Outside) -> None:
    zone = thermal_zone(open_weather(str(pvlib_weather(name))))
    outside.within(f"climate zone number, {name}", TABLE, *CARRIED[name], float(zone))


@pytest.mark.parametrize("name", NORMALS)
def test_degree_days_are_near_the_long_term_ones(
    name: Any, shared_weather: Callable[[str], Path], outside: Outside
) -> None:
    """A typical year need not be the mean of its record: 400 degF days apart at most."""
    cooling, heating = degree_days(open_weather(str(shared_weather(name))))
    source = "ASHRAE 90.1-2004 table D-1 (from memory)"
    outside(f"heating degF days below 65 degF, {name}", source, NORMALS[name][0], heating * 1.8, 400.0)
    outside(f"cooling degF days above 50 degF, {name}", source, NORMALS[name][1], cooling * 1.8, 400.0)


# A steady year's degree days are 365 times one difference; bounds of ASHRAE 169-2013 table A-3 (from memory).
@pytest.mark.parametrize(
    ("cooling_k_days", "below", "above"), [(6000.0, "1", "0"), (5000.0, "2", "1"), (3500.0, "3", "2")]
)
def test_a_steady_hot_year_at_the_bounds(cooling_k_days: float, below: str, above: str) -> None:
    bound = 10.0 + cooling_k_days / 365.0
    assert [thermal_zone(made_weather(bound + step, 5.0)) for step in (-0.01, 0.01)] == [below, above]


@pytest.mark.parametrize(
    ("heating_k_days", "warmer", "colder"),
    [(2000.0, "3", "4"), (3000.0, "4", "5"), (4000.0, "5", "6"), (5000.0, "6", "7"), (7000.0, "7", "8")],
)
def test_a_steady_cold_year_at_the_bounds(heating_k_days: float, warmer: str, colder: str) -> None:
    bound = (65.0 - 32.0) / 1.8 - heating_k_days / 365.0
    assert [thermal_zone(made_weather(bound + step, 5.0)) for step in (0.01, -0.01)] == [warmer, colder]


def test_degree_days_come_from_daily_means() -> None:
    """Days of 12 h at 0 degC and 12 h at 20 degC have a mean of 10 degC: no cooling above 50 degF."""
    swing = np.where(np.arange(8760) % 24 < 12, 0.0, 20.0)
    cooling, heating = degree_days(made_weather(swing, -5.0))
    assert cooling == pytest.approx(0.0, abs=1e-9)
    assert heating == pytest.approx(365.0 * (65.0 - 50.0) / 1.8)
