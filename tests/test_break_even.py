"""The closed form of the break-even beside the peak of a sweep, in dry and in humid weather."""

from __future__ import annotations

import gzip
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pytest
from made_weather import made_weather
from reference_year import bisect, full_coil
from test_differential import SET_POINT_C, constant_load

from freecool.answers.break_even import break_even_differential, break_even_of, humidity_at_stake
from freecool.answers.prepare import prepare
from freecool.cases.model import make_case
from freecool.cases.sections import DamperCase, Ventilation
from freecool.core import air
from freecool.core.units import BTU_H_W, CFM_M3_S, parse
from freecool.physics.cooling_unit import rated_unit
from freecool.physics.damper import Fan
from freecool.physics.rule import Limits
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
    case = make_case({"fan": {"power": fan}, "damper": {"outdoor_share": 1.0}}, preset="detached-house-light")
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


# Known when this was written: 1 to 1.5 % without `lighter`, the density of the cooler air, and under 4e-5 with it.
HOUR_SHARE = 1e-4
DEW_POINT_C = -15.0
KELVIN = 273.15


def balance_k(mode: str, told: dict[str, Any], ventilation: str) -> tuple[float, float]:
    """(differential at which a settled hour uses as much open as shut, closed form) [K], the coil dry."""
    case = constant_load(0.365, 0.0)
    case = case.model_copy(
        update={
            "fan": case.fan.model_copy(update={"mode": mode}),
            "damper": DamperCase.model_validate(told),
            "ventilation": Ventilation.model_validate({"flow": ventilation}),
        }
    )
    p = prepare(case, made_weather(np.full(8760, SET_POINT_C - 3.0), DEW_POINT_C))
    settled = p.zone.hours._replace(**{name: column[:300] for name, column in p.zone.hours._asdict().items()})

    def cheaper_open(difference_k: float) -> float:
        outdoor_c = np.full(300, SET_POINT_C - difference_k)
        density = air.dry_air_density(outdoor_c, settled.outdoor_w, settled.pressure_pa)
        hours = settled._replace(outdoor_c=outdoor_c, density_kg_m3=density)
        used = []
        for limits in (Limits(differential_k=np.inf), Limits(differential_k=0.0)):
            year = simulate(p.zone._replace(hours=hours), p.unit, p.fan, p.damper, limits, hourly=True, warm_up=False)
            used.append((year.column("compressor_w") + year.column("fan_w"))[-1])
            opens = year.column("damper")[-1] > 0.0
            assert not opens if limits.differential_k else opens or difference_k < 1.0
            assert year.column("indoor_c")[-1] == pytest.approx(SET_POINT_C, abs=1e-6)
        return float(used[0] - used[1])

    return bisect(cheaper_open, 0.3, 12.0), break_even_of(case, p)


@pytest.mark.parametrize(
    ("mode", "told", "ventilation"),
    [
        ("auto", {}, "0 cfm/ft2"),
        ("auto", {"outdoor_share": 0.7}, "0 cfm/ft2"),
        ("auto", {"outdoor_share": 0.8, "relief_fan": "0.2 W/cfm"}, "0 cfm/ft2"),
        ("auto", {"outdoor_share": 0.85, "minimum_share": 0.03}, "0 cfm/ft2"),
        ("auto", {"outdoor_share": 0.9, "minimum_share": 0.04, "relief_fan": "0.3 W/cfm"}, "0 cfm/ft2"),
        ("auto", {"outdoor_share": 0.8, "leakage": 0.05, "relief_fan": "0.1 W/cfm"}, "0 cfm/ft2"),
        ("continuous", {"outdoor_share": 0.8, "relief_fan": "0.2 W/cfm"}, "0 cfm/ft2"),
        ("continuous", {"outdoor_share": 0.8, "minimum_share": 0.02, "relief_fan": "0.3 W/cfm"}, "0 cfm/ft2"),
        ("continuous", {"outdoor_share": 0.8, "leakage": 0.03, "relief_fan": "0.3 W/cfm"}, "0 cfm/ft2"),
        ("continuous", {"outdoor_share": 0.8, "relief_fan": "0.3 W/cfm"}, "0.4 cfm/ft2"),
    ],
)
def test_it_is_where_a_settled_hour_uses_as_much_open_as_shut(mode: Any, told: Any, ventilation: Any) -> None:
    simulated, closed = balance_k(mode, told, ventilation)
    # The closed form takes the fan's air at the room's temperature, which is lighter than the mixture.
    room_k = SET_POINT_C + KELVIN
    lighter = 1.0 - told.get("outdoor_share", 1.0) * simulated / room_k
    assert closed * lighter == pytest.approx(simulated, rel=HOUR_SHARE)


@pytest.mark.parametrize(
    ("outdoor_share", "continuous", "shut_share", "relief_w"),
    [(1.0, True, 0.0, 0.0), (0.8, True, 0.2, 0.0), (0.8, True, 0.8, 90.0)],
)
def test_nothing_gained_or_nothing_spent_is_zero(
    outdoor_share: Any, continuous: Any, shut_share: Any, relief_w: Any
) -> None:
    fan, unit = Fan(0.5, 400.0, False, 1.0), rated_unit(10_000.0, 3.5, 0.75, 0.0)
    more = None, shut_share, relief_w
    assert break_even_differential(unit, fan, 24.0, outdoor_share, continuous, 101_325.0, *more) == 0.0
