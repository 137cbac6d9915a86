"""The closed form of the break-even beside the peak of a sweep, in dry and in humid weather."""

from __future__ import annotations

import gzip
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pytest
from reference_year import full_coil

from freecool.answers.break_even import break_even_differential, break_even_of, humidity_at_stake
from freecool.answers.prepare import prepare
from freecool.cases.model import make_case
from freecool.core import air
from freecool.core.units import BTU_H_W, CFM_M3_S, parse
from freecool.physics.cooling_unit import rated_unit
from freecool.physics.damper import Fan
from freecool.physics.year import NO_DAMPER, simulate
from freecool.weather import open_weather

if TYPE_CHECKING:
    from collections.abc import Callable

    from freecool.weather import Weather

KEPT = Path(__file__).parent / "weather"
# How far the figures may lie from the flat top of the sweep, where the saving is within 1 % of its peak, in steps of
# 0.5 °F. The figures were known when this was written.
TOLERANCE_F = 1.0


class Found(NamedTuple):
    """Differentials of a house in a place [°F]."""

    sensible: float
    with_drying: float
    top: tuple[float, float]


def found(weather: Weather, fan: str) -> Found:
    case = make_case({"fan": {"power": fan}}, preset="detached-house-light")
    p = prepare(case, weather)
    sensible = break_even_of(case, p) * 1.8
    w, pressure, room_c = humidity_at_stake(p), float(p.zone.hours.pressure_pa.mean()), case.schedule.cooling
    assert w is not None
    density = float(air.dry_air_density(room_c, w, pressure))
    drying = 0.0
    for _ in range(50):
        # The coil's total in place of its sensible capacity: all drying wanted.
        _, power, _, _, total = full_coil(p.unit, p.fan.flow_m3_s * density, room_c, w, room_c - drying, pressure)
        cop = (total - p.fan.watts) / (power + p.fan.watts)
        drying = p.fan.watts * (cop + 1.0) / (p.fan.flow_m3_s * density * float(air.heat_capacity(w)))
    base = simulate(p.zone, p.unit, p.fan, NO_DAMPER)
    steps = np.arange(0.0, 14.1, 0.5)
    net = []
    for degrees in steps:
        limits = p.limits._replace(differential_k=degrees / 1.8)
        year = simulate(p.zone, p.unit, p.fan, p.damper, limits, base)
        net.append(sum((base.total(name) - year.total(name))[0] for name in ("compressor_j", "fan_j")))
    top = steps[np.array(net) > 0.99 * max(net)]
    return Found(sensible, drying * 1.8, (float(top[0]), float(top[-1])))


@pytest.mark.parametrize("name", ["724839TYA_Sacramento_TMY3.csv", "723650TYA_Albuquerque_TMY3.csv"])
@pytest.mark.parametrize("fan", ["0.2 W/cfm", "0.365 W/cfm", "0.5 W/cfm"])
def test_in_dry_weather_the_sweep_peaks_at_the_break_even(name: str, fan: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(gzip.decompress((KEPT / f"{name}.gz").read_bytes()))
    at = found(open_weather(str(tmp_path / name)), fan)
    assert at.top[0] - TOLERANCE_F < at.sensible < at.top[1] + TOLERANCE_F


@pytest.mark.parametrize("fan", ["0.2 W/cfm", "0.365 W/cfm", "0.5 W/cfm"])
def test_in_humid_weather_it_peaks_above_and_no_higher_than_with_all_drying(
    fan: str, pvlib_weather: Callable[[str], Path]
) -> None:
    at = found(open_weather(str(pvlib_weather("723170TYA.CSV"))), fan)
    assert at.sensible < at.top[1]
    assert at.with_drying > at.sensible + 0.5
    assert at.top[0] < at.with_drying + TOLERANCE_F


@pytest.mark.parametrize(("watts_per_cfm", "expected_f"), [(0.2, 2.9), (0.365, 5.2), (0.5, 7.1)])
def test_hand_values_at_a_net_sensible_eer_of_12(watts_per_cfm: float, expected_f: float) -> None:
    """0.2, 0.365 and 0.5 x (12 + 3.412) / 1.08; the unit's efficiency is the same everywhere and its coil dry.

    1.08 is for air of 70 degF, ours of 75 degF is 1 % lighter; the expected values are rounded to 0.1 degF.
    """
    flow = 1200.0 * CFM_M3_S
    fan = Fan(flow, 1200.0 * watts_per_cfm, False, 1.0)
    gross_w, flat = 10_000.0, (1.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    unit = rated_unit(gross_w, 3.5, 0.75, 0.0)._replace(
        capacity_w=gross_w,
        power_w=(gross_w - fan.watts) / (12.0 * BTU_H_W) - fan.watts,
        capacity_curve=flat,
        power_curve=flat,
        power_times_capacity=False,
    )
    got = break_even_differential(unit, fan, parse("75F", "temperature"), 1.0, False, 101_325.0, 0.001) * 1.8
    assert got == pytest.approx(expected_f, abs=0.05 + 0.01 * expected_f)
