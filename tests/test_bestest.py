"""The zone and night air against ASHRAE 140 (BESTEST), weather DRYCOLD; ranges of its 2007 to 2017 editions.

No coefficient is tuned on any of these. The cell's own inputs: no furniture, inside films 3.16 + 5.13 W/m2K in all
(from memory), all window sun to the surfaces, mass classes from the layer order.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from freecool.answers.prepare import drive_inputs
from freecool.physics.cooling_unit import rated_unit
from freecool.physics.damper import Fan
from freecool.physics.year import Hours, Zone, simulate
from freecool.physics.zone import Element, Splits, element_network, five_resistance_network, merge, modes_of

if TYPE_CHECKING:
    from conftest import Outside


SOURCE = "ASHRAE 140-2007..2017, DRYCOLD"
# Wall, floor, roof: resistance, areal capacity, class.
CELLS = {
    "light": ((1.789, 9_576 + 665 + 4_293, "D"), (25.254, 19_500, "I"), (2.992, 7_980 + 1_127 + 9_063, "IE")),
    "heavy": ((1.797, 140_000 + 861 + 4_293, "I"), (25.246, 112_000, "I"), (2.992, 7_980 + 1_127 + 9_063, "IE")),
}
INSIDE_CONVECTION = 3.16
WINDOW_M2, WINDOW_U, WINDOW_G = 12.0, 3.0, 0.71
WALLS = ((9.6, 180.0), (16.2, 90.0), (16.2, 270.0), (21.6, 0.0))
VOLUME_M3, FLOOR_M2 = 129.6, 48.0
SEA_LEVEL_DENSITY, AIR_HEAT = 1.2, 1006.0
NIGHT_FLOW_M3_H = 1703.0 * 0.822
NEVER = 1e6

HEATING_COOLING = [
    ("600", 4.296, 5.709, 6.137, 7.964),
    ("640", 2.751, 3.803, 5.952, 7.811),
    ("650", 0.0, 0.0, 4.816, 6.545),
    ("900", 1.170, 2.041, 2.132, 3.415),
    ("940", 0.793, 1.411, 2.079, 3.241),
    ("950", 0.0, 0.0, 0.387, 0.921),
]
PEAK_COOLING_KW = [
    ("600", 5.965, 6.827),
    ("640", 5.892, 6.776),
    ("650", 5.831, 6.679),
    ("900", 2.888, 3.871),
    ("940", 2.888, 3.871),
    ("950", 2.033, 3.170),
]
# Maximum and minimum; 600FF also -75.1 in one copy.
FREE_FLOAT = [
    ("600FF", 64.9, 69.5, -18.8, -15.6),
    ("650FF", 63.2, 68.2, -23.0, -21.6),
    ("900FF", 41.8, 44.8, -6.4, -1.6),
    ("950FF", 35.5, 38.5, -20.2, -18.6),
]
# Heating and cooling, kWh: ISO 52016-1:2017 clause 7.2 (its own hourly method on the same cases).
ISO_52016 = {"600": (5133, 7503), "640": (3112, 7057), "900": (1823, 3358), "940": (1303, 3261)}
# Heating, then cooling.
SOURCE_2020 = "ASHRAE 140-2020, Denver 725650"
DENVER_REASON = "the cell of the older editions: the 2020 edition's glass, films and infiltration are not modelled"
DENVER_2020 = {
    "600": (3.993, 4.504, 5.432, 6.162),
    "650": (0.0, 0.0, 4.186, 4.945),
    "900": (1.379, 1.814, 2.267, 2.714),
    "950": (0.0, 0.0, 0.586, 0.707),
}


def cell(weight: str) -> list[Element]:
    wall, floor, roof = CELLS[weight]

    def opaque(area: Any, part: Any, sky_share: Any, plane: Any) -> Any:
        sun = (((*plane, area * 0.6),)) if plane else ()
        return Element(area, *part, INSIDE_CONVECTION, sky_share, "air", sun)  # type: ignore[call-arg]

    elements = [opaque(area, wall, 0.5, (90.0, azimuth)) for area, azimuth in WALLS]
    elements += [opaque(48.0, roof, 1.0, (0.0, 180.0)), opaque(48.0, floor, 0.0, None)]
    resistance = 1.0 / WINDOW_U - 1.0 / (INSIDE_CONVECTION + 5.13) - 1.0 / 24.14
    elements.append(Element(WINDOW_M2, resistance, 0.0, "none", INSIDE_CONVECTION, 0.5))
    return merge(elements)


def run(case: str, weather: Any, on_plane: Any, second: bool = False) -> Any:
    """Hourly table of a case on the element network, or on the second one."""
    heavy, night_air, free = case[0] == "9", case[1:3] == "50", case.endswith("FF")
    elements = cell("heavy" if heavy else "light")
    outdoor = weather.frame["dry_bulb_c"].to_numpy()
    count = outdoor.size
    clock = np.arange(count) % 24
    day = (clock >= 7) & (clock < 18)
    air_change = np.full(count, 0.41 * VOLUME_M3 / 3600.0 * SEA_LEVEL_DENSITY)
    cool, warm = np.full(count, 27.0), np.full(count, 20.0)
    if case[1:3] == "40":
        warm[(clock >= 23) | (clock < 7)] = 10.0
    if night_air:
        air_change[~day] += NIGHT_FLOW_M3_H / 3600.0 * SEA_LEVEL_DENSITY
        warm[:] = -NEVER
        cool[~day] = NEVER
    if free:
        cool[:], warm[:] = NEVER, -NEVER
    glass = ((180.0, WINDOW_M2 * WINDOW_G),)
    drives = drive_inputs(elements, glass, outdoor, np.full(count, 200.0), on_plane)
    network = (
        five_resistance_network(elements, FLOOR_M2)
        if second
        else element_network(elements, 130_000.0, Splits(internal_to_air=0.4, window_to_air=0.0))
    )
    modes = modes_of(network)
    constant = np.ones(count)
    hours = Hours(
        input_k=drives @ modes.G.T,
        outdoor_c=outdoor,
        outdoor_w=0.001 * constant,
        outdoor_dew_c=-20.0 * constant,
        pressure_pa=101_325.0 * constant,
        density_kg_m3=SEA_LEVEL_DENSITY * constant,
        heat_j_kgk=AIR_HEAT * constant,
        air_change_kg_s=air_change,
        ventilation_m3_s=0.0 * constant,
        window_kg_s=0.0 * constant,
        moisture_kg_s=0.0 * constant,
        cool_c=cool,
        heat_c=warm,
        continuous=0.0 * constant,
        price=0.0 * constant,
        year=np.zeros(count, dtype=np.int64),
    )
    unlimited = rated_unit(200_000.0, 3.5, 0.75, 0.0)
    return simulate(Zone(modes, hours, 1000.0), unlimited, Fan(10.0, 0.0, False, 1.0), hourly=True)


@pytest.fixture(scope="module")
def drycold(shared_weather: Callable[[str], Path]) -> Any:
    from drycold import plane_irradiance, read_drycold

    path = shared_weather("DRYCOLD.TMY")
    weather = read_drycold(path)
    planes = cache(lambda tilt, azimuth: plane_irradiance(path, tilt, azimuth))
    return cache(lambda case, second=False: run(case, weather, planes, second))


def annual(year: Any) -> tuple[float, float]:
    """Heating and cooling [MWh]."""
    return float(year.total("heating_j")[0]) / 3.6e9, float(year.total("cooling_j")[0]) / 3.6e9


@pytest.mark.parametrize(("case", "heat_low", "heat_high", "cool_low", "cool_high"), HEATING_COOLING)
def test_annual_energy(
    case: Any, heat_low: Any, heat_high: Any, cool_low: Any, cool_high: Any, drycold: Any, outside: Outside
) -> None:
    heating, cooling = annual(drycold(case))
    if case in ISO_52016:
        for name, published, got in zip(("heating", "cooling"), ISO_52016[case], (heating, cooling), strict=True):
            outside.print_only(f"case {case} {name} kWh", "ISO 52016-1:2017 clause 7.2", published, 1000.0 * got)
    outside.within(f"case {case} heating MWh", SOURCE, heat_low, heat_high, heating)
    outside.within(f"case {case} cooling MWh", SOURCE, cool_low, cool_high, cooling)


def test_saving_by_night_air_in_heavy_cell(drycold: Any, outside: Outside) -> None:
    saving = annual(drycold("900"))[1] - annual(drycold("950"))[1]
    outside.within("night air saves, 900 - 950, MWh", SOURCE, 1.75, 2.83, saving)


def test_saving_by_night_air_in_light_cell(drycold: Any, outside: Outside) -> None:
    """Pass mark fixed beforehand: within 10 % of the published range."""
    saving = annual(drycold("600"))[1] - annual(drycold("650"))[1]
    outside.within("night air saves, 600 - 650, MWh (1.28-1.42 by 10 %)", SOURCE, 1.28 * 0.9, 1.42 * 1.1, saving)


@pytest.mark.parametrize(("case", "max_low", "max_high", "min_low", "min_high"), FREE_FLOAT)
def test_free_float(
    case: Any, max_low: Any, max_high: Any, min_low: Any, min_high: Any, drycold: Any, outside: Outside
) -> None:
    """Pass mark fixed beforehand: within 1.0 K of the published range."""
    indoor = drycold(case).column("indoor_c")
    outside.within(f"{case} maximum degC (range by 1 K)", SOURCE, max_low - 1.0, max_high + 1.0, float(indoor.max()))
    outside.within(f"{case} minimum degC (range by 1 K)", SOURCE, min_low - 1.0, min_high + 1.0, float(indoor.min()))


@pytest.mark.parametrize(("case", "low", "high"), PEAK_COOLING_KW)
def test_peak_cooling(case: Any, low: Any, high: Any, drycold: Any, outside: Outside) -> None:
    got = float(drycold(case).column("cooling_w").max()) / 1000.0
    outside.within(f"case {case} peak cooling kW", SOURCE, low, high, got)


@pytest.mark.parametrize(("case", "heat_low", "heat_high", "cool_low", "cool_high"), HEATING_COOLING)
def test_annual_energy_of_the_second_network(
    case: Any, heat_low: Any, heat_high: Any, cool_low: Any, cool_high: Any, drycold: Any, outside: Outside
) -> None:
    heating, cooling = annual(drycold(case, True))
    outside.within(f"5R1C case {case} heating MWh", SOURCE, heat_low, heat_high, heating)
    outside.within(f"5R1C case {case} cooling MWh", SOURCE, cool_low, cool_high, cooling)


@pytest.fixture(scope="module")
def denver(shared_weather: Callable[[str], Path]) -> Any:
    from freecool.weather import Sun, open_weather

    weather = open_weather(str(shared_weather("USA_CO_Denver.Intl.AP.725650_TMY3.epw")))
    sun = Sun(weather)
    return cache(lambda case: annual(run(case, weather, sun.on_plane)))


@pytest.mark.parametrize("case", ["650", "950"])
def test_heating_in_denver_with_night_air(case: str, denver: Any, outside: Outside) -> None:
    outside.within(f"case {case} heating MWh", SOURCE_2020, *DENVER_2020[case][:2], denver(case)[0])


@pytest.mark.xfail(strict=True, raises=AssertionError, reason=DENVER_REASON)
@pytest.mark.parametrize(
    ("case", "what"),
    [("600", "heating"), ("600", "cooling"), ("650", "cooling"), ("900", "heating"), ("900", "cooling"),
     ("950", "cooling")],
)  # fmt: skip
def test_annual_energy_in_denver(case: str, what: str, denver: Any, outside: Outside) -> None:
    place = ("heating", "cooling").index(what)
    low, high = DENVER_2020[case][2 * place : 2 * place + 2]
    outside.within(f"case {case} {what} MWh", SOURCE_2020, low, high, denver(case)[place])
