"""How fast one year is, as ratios within one run: no limit is asserted, machines differ.

Run with ``pytest tests/benchmarks --benchmark-enable``.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from time import perf_counter, thread_time
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from arithmetic_floor import Work, do_only_the_arithmetic
from reference_year import Room, reference_year, room_of
from timing import best_of

from freecool.answers.floor import ground_temperature
from freecool.answers.prepare import FURNITURE_J_M2K, Prepared, drive_inputs, envelope, outdoors_of, prepare
from freecool.cases.model import make_case
from freecool.core import air
from freecool.physics import cooling_unit, hour, re_evaporation, year
from freecool.physics.year import NO_DAMPER, NO_LIMITS, Hours, YearRun, simulate
from freecool.weather import Weather, open_weather

WEATHER = "723170TYA.CSV"
PRESETS = ("detached-house-medium", "small-office", "equipment-room")
# A part of the summer, when the coil works; the slow reference takes too long for more.
SLOW = slice(4_400, 5_400)
# What one run of `freecool value` on a file loads, from the outside.
LIBRARIES = "numpy, pandas, psychrolib, numba, pvlib.irradiance, pydantic, typer, rich"
FLOOR_RUNS = 60


class Baseline(NamedTuple):
    """One case ready to run, and the same on the slow reference."""

    prepared: Prepared
    room: Room
    drives: np.ndarray

    def year(self) -> YearRun:
        p = self.prepared
        return simulate(p.zone, p.unit, p.fan, p.damper, p.limits, warm_up=False)

    def slow(self) -> dict[str, np.ndarray]:
        p = self.prepared
        hours = Hours(*(column[SLOW] for column in p.zone.hours))  # type: ignore[arg-type]
        return reference_year(self.room, self.drives[SLOW], hours, p.zone.store_kg, p.unit, p.fan, p.damper, p.limits)

    def same_hours(self) -> YearRun:
        p = self.prepared
        hours = Hours(*(column[SLOW] for column in p.zone.hours))  # type: ignore[arg-type]
        return simulate(p.zone._replace(hours=hours), p.unit, p.fan, p.damper, p.limits, warm_up=False, hourly=True)


@pytest.fixture(scope="module")
def weather(pvlib_weather: Callable[[str], Path]) -> Weather:
    return open_weather(str(pvlib_weather(WEATHER)))


@pytest.fixture(scope="module")
def ready(weather: Any) -> Baseline:
    """The default house."""
    case = make_case()
    prepared, house = prepare(case, weather), envelope(case.building)
    gains = np.full(weather.hours, case.building.floor_area * case.gains.occupied)
    at = outdoors_of(weather)
    ground_c = ground_temperature(house.exchange, case.schedule, at.swing, at.year_angle)
    drives = drive_inputs(house.elements, house.glass, at, gains, ground_c)
    return Baseline(prepared, room_of(house.elements, FURNITURE_J_M2K * house.floor_m2), drives)


def test_year(benchmark: Any, ready: Any) -> None:
    assert benchmark(ready.year).total("compressor_j")[0] > 0.0


def test_reading_a_file(benchmark: Any, pvlib_weather: Callable[[str], Path]) -> None:
    assert benchmark(open_weather, str(pvlib_weather(WEATHER))).hours == 8760


def test_against_the_slow_reference(ready: Any, ratios: Any) -> None:
    """The same thousand hours in plain Python, every node kept and each hour solved as a linear system."""
    start = perf_counter()
    slow = ready.slow()
    slow_s = perf_counter() - start
    (fast_s,) = best_of(20, ready.same_hours)
    np.testing.assert_allclose(ready.same_hours().column("compressor_w"), slow["compressor_w"], atol=0.01)
    assert slow["compressor_w"].sum() > 0.0
    ratios.add("the slow reference in plain Python, 1,000 hours", slow_s, "the compiled loop, same hours", fast_s)


def test_against_an_hour_count(ready: Any, weather: Any, ratios: Any) -> None:
    """What people do today: hours at or below set point less differential, in pandas. The rule counts the same."""
    case = make_case()
    limit = case.schedule.cooling - case.rule.differential
    dry_bulb = pd.Series(outdoors_of(weather).dry_bulb_c)

    def hour_count() -> int:
        return int((dry_bulb <= limit + 1e-9).sum())

    assert ready.year().total("permitted")[0] == hour_count() > 0
    counted, run = best_of(50, hour_count, ready.year)
    ratios.add("one scenario-year, coil and moisture, no warm-up", run, "an hour count in pandas", counted)


def search_steps(
    monkeypatch: pytest.MonkeyPatch, prepared: Prepared, fitted: bool, base: YearRun
) -> tuple[int, int, YearRun]:
    """Newton and settling steps of a year's coils, counted while the loop's Python runs uncompiled, and that year."""
    steps = settling_steps = 0

    def counted(table: Any, t: Any) -> Any:
        nonlocal steps
        steps += 1
        return read(table, t)

    def counted_share(*told: Any) -> Any:
        nonlocal settling_steps
        settling_steps += 1
        return share(*told)

    read, share = air.read_saturation.py_func, re_evaporation.latent_share.py_func
    monkeypatch.setattr(re_evaporation, "latent_share", counted_share)
    monkeypatch.setattr(hour, "settled_load", re_evaporation.settled_load.py_func)
    monkeypatch.setattr(air, "read_saturation", counted)
    monkeypatch.setattr(cooling_unit, "wet_bulb_of", air.wet_bulb_of.py_func)
    monkeypatch.setattr(cooling_unit, "saturated_temperature", air.saturated_temperature.py_func)
    monkeypatch.setattr(cooling_unit, "condensing_onset", cooling_unit.condensing_onset.py_func)
    monkeypatch.setattr(hour, "run_coil", cooling_unit.run_coil.py_func)
    for stage in ("coil_in_mixture", "cycling", "staged"):
        monkeypatch.setattr(hour, stage, getattr(hour, stage).py_func)
    monkeypatch.setattr(year, "compressor_stage", hour.compressor_stage.py_func)
    monkeypatch.setattr(year, "run_year", year.run_year.py_func)
    p = prepared
    damper, limits = (p.damper, p.limits) if fitted else (NO_DAMPER, NO_LIMITS)
    run = simulate(p.zone, p.unit, p.fan, damper, limits, base=base, hourly=True)
    monkeypatch.undo()
    return steps, settling_steps, run


@pytest.mark.parametrize("fitted", [False, True], ids=["without", "with"])
@pytest.mark.parametrize("preset", PRESETS)
def test_against_the_arithmetic_floor(
    preset: Any, fitted: bool, weather: Any, monkeypatch: pytest.MonkeyPatch, ratios: Any
) -> None:
    p = prepare(make_case(preset=preset), weather)
    hours = p.zone.hours
    base = simulate(p.zone, p.unit, p.fan)
    steps, settling_steps, told = search_steps(monkeypatch, p, fitted, base)
    damper, limits = (p.damper, p.limits) if fitted else (NO_DAMPER, NO_LIMITS)

    def run() -> YearRun:
        return simulate(p.zone, p.unit, p.fan, damper, limits, base=base)

    np.testing.assert_allclose(told.totals, run().totals, rtol=1e-9)
    coil, opened = told.called, told.column("damper") > 0.0
    order = np.argsort(np.select([coil & opened, coil, opened], [0, 1, 2], 3), kind="stable")
    work = Work(coil.size, int((coil & opened).sum()), int(coil.sum()), int(opened.sum()), steps, settling_steps)
    forced = np.ascontiguousarray(hours.input_k[order])
    drives = (
        hours.outdoor_c, hours.outdoor_w, hours.pressure_pa, hours.density_kg_m3, hours.heat_j_kgk,
        hours.air_change_kg_s, hours.moisture_kg_s, hours.price,
    )  # fmt: skip
    sorted_drives = np.ascontiguousarray(np.column_stack(drives)[order])
    curves = np.array(p.unit.capacity_curve + p.unit.power_curve)
    pressure, modes = air.saturation_table().pressure_pa, p.zone.modes

    def floor() -> np.ndarray:
        totals, parts = np.zeros(12), 20.0 * modes.uniform
        do_only_the_arithmetic(
            modes.keep, modes.push, modes.response, forced, sorted_drives, pressure, curves, totals, parts, work
        )
        return np.append(totals, parts)

    assert np.isfinite(floor()).all()
    taken, least = best_of(FLOOR_RUNS, run, floor, clock=thread_time)
    kinds = (
        f"{work.coil_hours:,} coil and {work.damper_hours:,} damper hours, {steps / max(work.coil_hours, 1):.1f} steps"
    )
    ratios.add(f"a year of {preset}, {kinds}", taken, "its arithmetic floor", least)


def test_start_up_and_first_run(pvlib_weather: Callable[[str], Path], tmp_path: Path, ratios: Any) -> None:
    """`freecool value` in a fresh process: with an empty cache, then from the cache, over bare imports."""
    command = [sys.executable, "-m", "freecool", "value", str(pvlib_weather(WEATHER)), "--json"]
    environment = os.environ | {"FREECOOL_CACHE_DIR": str(tmp_path)}

    def value() -> str:
        return subprocess.run(command, env=environment, check=True, capture_output=True, text=True).stdout

    def imports() -> None:
        subprocess.run([sys.executable, "-c", f"import {LIBRARIES}"], check=True)

    start = perf_counter()
    first = value()
    first_s = perf_counter() - start
    later_s, imports_s = best_of(2, value, imports)
    assert value() == first
    ratios.add("freecool value FILE, a process", later_s, f"a process that imports {LIBRARIES}", imports_s)
    ratios.add("freecool value FILE, first run, which compiles", first_s, "a later run", later_s)
