"""Water that a continuous fan carries back from the coil.

Henderson and Rengarajan, A model to predict the latent capacity of air conditioners and heat pumps at part-load
conditions with constant fan operation, ASHRAE Transactions 102(1), 1996, pp. 266-274. Only its abstract could be read:
equations and the usual parameters (1000 s, 1.5, 3 1/h, 45 s) are from memory, and so is the curve that they give.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from scipy.optimize import brentq

from freecool.answers.prepare import prepare
from freecool.cases.model import make_case
from freecool.physics.re_evaporation import (
    NO_RE_EVAPORATION,
    latent_share,
    re_evaporation_of,
    settled_load,
)
from freecool.physics.year import NO_DAMPER, simulate
from freecool.weather import open_weather

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from freecool.weather import Weather

LATENT_W, DEPRESSION_K = 2000.0, 7.2
DRIP_S, RATIO, CYCLES_H, START_S = 1000.0, 1.5, 3.0, 45.0
USUAL = re_evaporation_of(LATENT_W, DEPRESSION_K, DRIP_S, RATIO, CYCLES_H, START_S)


@pytest.fixture(scope="module")
def greensboro(pvlib_weather: Callable[[str], Path]) -> Weather:
    return open_weather(str(pvlib_weather("723170TYA.CSV")))


def published(run: float) -> float:
    """The latent heat ratio over the steady one, by the time at which the coil drips again."""
    on, off = 3600.0 / (4.0 * CYCLES_H * (1.0 - run)), 3600.0 / (4.0 * CYCLES_H * run)
    off = min(off, 2.0 * DRIP_S / RATIO)
    gone = RATIO * off - RATIO**2 * off**2 / (4.0 * DRIP_S)
    wet_again = brentq(lambda t: t - gone - START_S * (1.0 - math.exp(-t / START_S)), 1.0, 1e5)
    return float(max(0.0, (on - wet_again) / (on + START_S * (math.exp(-on / START_S) - 1.0))))


@pytest.mark.parametrize("run", [0.05, 0.2, 0.4, 0.5, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 0.99])
def test_latent_share_is_the_published_one(run: float) -> None:
    """Within 0.001: the published form leaves out how capacity still rises once the coil drips."""
    assert latent_share(USUAL, LATENT_W, DEPRESSION_K, run) == pytest.approx(published(run), abs=1e-3)


def test_a_cycle_by_hand() -> None:
    """Run time 0.8: on 300/0.2 = 1500 s, off 300/0.8 = 375 s.

    Evaporated 1.5 x 375 - 1.5^2 x 375^2 / (4 x 1000) = 562.5 - 79.1 = 483.4 s of latent capacity; condensed
    1500 - 45 = 1455 s; left 1 - 483.4 / 1455 = 0.6678. At 0.5 more evaporates, 697.5 s, than condenses, 555 s.
    """
    assert latent_share(USUAL, LATENT_W, DEPRESSION_K, 0.8) == pytest.approx(0.6678, abs=1e-4)
    assert latent_share(USUAL, LATENT_W, DEPRESSION_K, 0.5) == 0.0


@pytest.mark.parametrize("run", [0.65, 0.75, 0.9])
@pytest.mark.parametrize("latent_w", [1200.0, 2000.0])
def test_a_coil_followed_through_its_cycles_drips_as_much(run: float, latent_w: float) -> None:
    """Tenths of a second: condensate runs off a full coil, and a coil dries as the root of the water on it."""
    step = 0.1
    on, off = 300.0 / (1.0 - run), 300.0 / run
    water, dripped, condensed = 0.0, 0.0, 0.0
    first_w = RATIO * LATENT_W
    for cycle in range(12):
        for n in range(round(on / step)):
            gained = latent_w * (1.0 - math.exp(-(n + 0.5) * step / START_S)) * step
            runs_off = max(water + gained - USUAL.held_j, 0.0)
            water += gained - runs_off
            if cycle == 11:
                dripped, condensed = dripped + runs_off, condensed + gained
        for _ in range(round(off / step)):
            water = max(water - first_w * math.sqrt(water / USUAL.held_j) * step, 0.0)
    assert latent_share(USUAL, latent_w, DEPRESSION_K, run) == pytest.approx(dripped / condensed, abs=2e-3)


def test_both_limits_and_what_lies_between() -> None:
    assert latent_share(USUAL, LATENT_W, DEPRESSION_K, 1.0) == 1.0
    assert latent_share(USUAL, LATENT_W, DEPRESSION_K, 1e-6) == 0.0
    shares = [latent_share(USUAL, LATENT_W, DEPRESSION_K, run) for run in np.linspace(0.01, 1.0, 100)]
    assert shares == sorted(shares)
    assert 0.9 < shares[-2] < 1.0
    # Air that is saturated takes up nothing, drier air more.
    assert latent_share(USUAL, LATENT_W, 0.0, 0.5) == 1.0
    assert latent_share(USUAL, LATENT_W, 10.0, 0.8) < latent_share(USUAL, LATENT_W, 5.0, 0.8)


@pytest.mark.parametrize("need_w", [50.0, 2000.0, 4000.0, 5000.0, 5900.0, 6000.0])
def test_total_capacity_stays(need_w: float) -> None:
    """What is brought to the room and what leaves as water are together the load ratio of total capacity."""
    sensible_w = 6000.0
    load, share = settled_load(USUAL, LATENT_W, DEPRESSION_K, sensible_w, need_w, 0.15)
    run = load / (1.0 - 0.15 * (1.0 - load))
    assert share == pytest.approx(latent_share(USUAL, LATENT_W, DEPRESSION_K, run), abs=1e-9)
    assert need_w + load * share * LATENT_W == pytest.approx(load * (sensible_w + LATENT_W), rel=1e-9)
    assert need_w / (sensible_w + LATENT_W) <= load <= need_w / sensible_w
    assert settled_load(NO_RE_EVAPORATION, LATENT_W, DEPRESSION_K, sensible_w, need_w, 0.15) == (
        need_w / sensible_w,
        1.0,
    )


def water_and_kwh(preset: str, weather: Weather, **told: Any) -> tuple[float, float, float]:
    """Water that the coil takes [kg], compressor [J] and sensible cooling [J] of a year without the damper."""
    prepared = prepare(make_case(told, preset=preset), weather)
    year = simulate(prepared.zone, prepared.unit, prepared.fan, NO_DAMPER)
    return tuple(float(year.total(name)[0]) for name in ("moisture_coil_kg", "compressor_j", "cooling_j"))  # type: ignore[return-value]


def test_a_fan_on_call_carries_nothing_back(greensboro: Weather) -> None:
    off = {"re_evaporation": False}
    preset = "detached-house-light"
    assert water_and_kwh(preset, greensboro) == water_and_kwh(preset, greensboro, unit=off)


def test_a_continuous_fan_dries_less_for_less_compressor_time(greensboro: Weather) -> None:
    with_it = water_and_kwh("small-office", greensboro)
    without = water_and_kwh("small-office", greensboro, unit={"re_evaporation": False})
    assert with_it[0] < 0.8 * without[0]
    assert with_it[1] < without[1]
    assert with_it[2] == pytest.approx(without[2], rel=0.01)
