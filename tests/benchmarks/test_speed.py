"""How fast, as ratios within one run: no limit is asserted, machines differ.

Run with ``pytest tests/benchmarks --benchmark-enable -s``.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from time import perf_counter
from typing import NamedTuple

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))

from reference_year import Room, reference_year, room_of

from freecool import air
from freecool.case import make_case
from freecool.physics.year import Hours, Year, Zone, simulate
from freecool.prepare import FURNITURE_J_M2K, Prepared, drive_inputs, envelope, prepare
from freecool.weather import Sun, open_weather

WEATHER = "723170TYA.CSV"
# A part of the summer, when the coil works; the slow reference takes too long for more.
SLOW = slice(4_400, 5_400)
STATES = 9


class Bench(NamedTuple):
    """One case ready to run, and the same on the slow reference."""

    prepared: Prepared
    room: Room
    drives: np.ndarray

    def year(self) -> Year:
        p = self.prepared
        return simulate(p.zone, p.unit, p.fan, p.damper, p.limits, warm_up=False)

    def slow(self) -> dict[str, np.ndarray]:
        p = self.prepared
        hours = Hours(*(column[SLOW] for column in p.zone.hours))
        return reference_year(self.room, self.drives[SLOW], hours, p.zone.store_kg, p.unit, p.fan, p.damper, p.limits)

    def same_hours(self) -> Year:
        p = self.prepared
        hours = Hours(*(column[SLOW] for column in p.zone.hours))
        return simulate(p.zone._replace(hours=hours), p.unit, p.fan, p.damper, p.limits, warm_up=False)


@pytest.fixture(scope="module")
def ready(pvlib_weather) -> Bench:
    """The default house, whose merged network has nine states."""
    case = make_case()
    weather = open_weather(str(pvlib_weather(WEATHER)))
    prepared, house = prepare(case, weather), envelope(case.building)
    gains = np.full(weather.hours, case.building.floor_area * case.gains.occupied)
    outdoor = weather.frame["dry_bulb_c"].to_numpy()
    drives = drive_inputs(house.elements, house.glass, outdoor, gains, Sun(weather).on_plane)
    assert prepared.zone.network.c.size == STATES
    return Bench(prepared, room_of(house.elements, FURNITURE_J_M2K * house.floor_m2), drives)


def seconds(run: Callable[[], object], times: int) -> float:
    """Best of several runs after a first one that compiles [s]."""
    run()
    best = float("inf")
    for _ in range(times):
        start = perf_counter()
        run()
        best = min(best, perf_counter() - start)
    return best


def air_states(zone: Zone) -> None:
    hours = zone.hours
    w = air.humidity_ratio_from_dew_point(hours.outdoor_dew_c, hours.pressure_pa)
    air.enthalpy(hours.outdoor_c, w)
    air.wet_bulb(hours.outdoor_c, w, hours.pressure_pa)


def test_year(benchmark, ready) -> None:
    assert benchmark(ready.year).total("compressor_j")[0] > 0.0


def test_air_states(benchmark, ready) -> None:
    benchmark(air_states, ready.prepared.zone)


def test_reading_a_file(benchmark, pvlib_weather) -> None:
    assert benchmark(open_weather, str(pvlib_weather(WEATHER))).hours == 8760


def test_table_of_ratios(ready, pvlib_weather, capsys) -> None:
    """Every time over that of one scenario-year."""
    path = str(pvlib_weather(WEATHER))
    year = seconds(ready.year, 20)
    times = {
        f"one scenario-year, {STATES} states, coil and moisture, no warm-up": year,
        "8,760 humidity ratios, enthalpies and wet bulbs": seconds(lambda: air_states(ready.prepared.zone), 5),
        "reading a TMY3 file": seconds(lambda: open_weather(path), 3),
    }
    fast, slow = seconds(ready.same_hours, 20), seconds(ready.slow, 1)
    with capsys.disabled():
        print()
        for name, taken in times.items():
            print(f"{name:<68} {1e3 * taken:10.2f} ms {taken / year:10.1f} x")
        print(
            f"{'the slow reference over the compiled loop, same hours':<68} {1e3 * slow:10.2f} ms {slow / fast:10.1f} x"
        )
    assert ready.slow()["compressor_w"].sum() > 0.0
