"""Moist air against CoolProp, the handbook's tables and published round figures."""

from __future__ import annotations

import itertools
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import psychrolib
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from freecool.core import air
from freecool.core.errors import WeatherError
from freecool.core.units import convert, parse

if TYPE_CHECKING:
    from conftest import Outside


SEA_LEVEL_PA = 101_325.0
HANDBOOK = "ASHRAE Fundamentals ch. 1"
COOLPROP = "CoolProp HumidAirProp (ASHRAE RP-1485)"
GRAINS_PER_POUND = 7000.0

# Every combination of dry bulb [degC], relative humidity [0-1] and pressure [Pa].
DRY_BULBS = np.arange(-20.0, 45.1, 5.0)
RELATIVE_HUMIDITIES = [0.05, *np.arange(0.1, 0.95, 0.1), 1.0]
GRID = np.array(list(itertools.product(DRY_BULBS, RELATIVE_HUMIDITIES, [101_325.0, 80_000.0]))).T

dry_bulbs = st.floats(-30.0, 50.0)
relative_humidities = st.floats(0.02, 1.0)
pressures = st.floats(60_000.0, 108_000.0)


def coolprop(output: str, *inputs: tuple[str, np.ndarray]) -> np.ndarray:
    """One property of humid air at many states, given named inputs."""
    # It takes a second to load, which every process would wait for.
    from CoolProp.CoolProp import HAPropsSI

    names = [name for name, _ in inputs]
    states = zip(*(values for _, values in inputs), strict=True)
    pairs = (itertools.chain.from_iterable(zip(names, state, strict=True)) for state in states)
    return np.array([HAPropsSI(output, *pair) for pair in pairs])


def fahrenheit(degrees: float) -> float:
    return parse(f"{degrees} F", "temperature")


def btu_lb(dry_bulb_f: float, humidity_ratio: float) -> float:
    return convert(float(air.enthalpy(fahrenheit(dry_bulb_f), humidity_ratio)), "specific_enthalpy", "Btu/lb")


class TestAgainstCoolProp:
    """CoolProp counts the enhancement factor (up to 1.005 here), which the ideal-gas equations leave out."""

    t, rh, p = GRID

    @cached_property
    def w(self) -> np.ndarray:
        return air.humidity_ratio_from_relative_humidity(self.t, self.rh, self.p)

    def test_humidity_ratio(self, outside: Outside) -> None:
        second = coolprop("W", ("T", self.t + 273.15), ("R", self.rh), ("P", self.p))
        outside("humidity ratio, -20..45 °C, 5..100 % RH, largest difference [%]", COOLPROP, 0.0,
                100.0 * np.abs(self.w / second - 1.0).max(), 0.6)  # fmt: skip

    def test_enthalpy(self, outside: Outside) -> None:
        second = coolprop("H", ("T", self.t + 273.15), ("W", self.w), ("P", self.p))
        outside("enthalpy at equal humidity ratio, largest difference [kJ/kg]", COOLPROP, 0.0,
                np.abs(air.enthalpy(self.t, self.w) - second).max() / 1e3, 0.2)  # fmt: skip

    def test_dew_point(self, outside: Outside) -> None:
        second = coolprop("D", ("T", self.t + 273.15), ("R", self.rh), ("P", self.p)) - 273.15
        got = air.dew_point_from_relative_humidity(self.t, self.rh)
        outside("dew point from relative humidity, largest difference [K]", COOLPROP, 0.0,
                np.abs(got - second).max(), 0.02)  # fmt: skip
        real_w = coolprop("W", ("T", self.t + 273.15), ("R", self.rh), ("P", self.p))
        # The factor acts on vapour pressure: compared as such, the pass mark is that of the humidity ratio.
        vapour = air.saturation_pressure(air.dew_point_from_humidity_ratio(real_w, self.p))
        ratio = vapour / air.saturation_pressure(second)
        outside("dew point from humidity ratio, largest difference of its vapour pressure [%]", COOLPROP, 0.0,
                100.0 * np.abs(ratio - 1.0).max(), 0.6)  # fmt: skip

    def test_wet_bulb(self, outside: Outside) -> None:
        second = coolprop("B", ("T", self.t + 273.15), ("R", self.rh), ("P", self.p)) - 273.15
        outside("wet bulb, largest difference [K]", COOLPROP, 0.0,
                np.abs(air.wet_bulb(self.t, self.w, self.p) - second).max(), 0.03)  # fmt: skip

    def test_density(self, outside: Outside) -> None:
        volume = coolprop("V", ("T", self.t + 273.15), ("W", self.w), ("P", self.p))
        ratio = air.dry_air_density(self.t, self.w, self.p) * volume
        outside("dry-air density, largest difference [%]", COOLPROP, 0.0,
                100.0 * np.abs(ratio - 1.0).max(), 0.1)  # fmt: skip

    def test_saturation_pressure(self, outside: Outside) -> None:
        from CoolProp.CoolProp import PropsSI

        t = np.arange(1.0, 61.0)
        second = PropsSI("P", "T", t + 273.15, "Q", 0, "Water")
        outside("saturation pressure, 1..60 °C, largest difference [%]", "CoolProp (IAPWS-95)", 0.0,
                100.0 * np.abs(air.saturation_pressure(t) / second - 1.0).max(), 0.03)  # fmt: skip


@pytest.mark.parametrize(
    ("dry_bulb_c", "pascal"),
    [(-20.0, 103.24), (0.0, 611.2), (5.0, 872.6), (20.0, 2339.3), (25.0, 3169.7), (50.0, 12351.3)],
)
def test_saturation_pressure_table(outside: Outside, dry_bulb_c: float, pascal: float) -> None:
    outside(f"saturation pressure at {dry_bulb_c:g} °C [Pa]", f"{HANDBOOK} table 3, from memory",
            pascal, float(air.saturation_pressure(dry_bulb_c)), 3e-4 * pascal)  # fmt: skip


@pytest.mark.parametrize(
    ("dry_bulb_c", "grams", "kilojoules"),
    [
        (0.0, 3.7895, 9.473),
        (10.0, 7.661, 29.352),
        (20.0, 14.758, 57.555),
        (25.0, 20.170, 76.500),
        (30.0, 27.329, 99.983),
    ],
)
def test_saturated_air_table(outside: Outside, dry_bulb_c: float, grams: float, kilojoules: float) -> None:
    source = f"{HANDBOOK} table 2 (real gas), from memory"
    w = float(air.humidity_ratio_from_dew_point(dry_bulb_c, SEA_LEVEL_PA))
    outside(f"saturated air at {dry_bulb_c:g} °C [g/kg]", source, grams, 1e3 * w, 0.006 * grams)
    # 0.6 % of the vapour's part, which is all that the enhancement factor changes.
    latent = 2.55 * grams
    got = float(air.enthalpy(dry_bulb_c, w)) / 1e3
    outside(f"saturated air at {dry_bulb_c:g} °C [kJ/kg]", source, kilojoules, got, 0.006 * latent)


# The handbook's SI and inch-pound enthalpies differ by 0.013 Btu/lb, rounding of their constants.
ENTHALPY_ROUNDING = 0.02


@pytest.mark.parametrize(("feet", "expected"), [(0, 28.11), (6000, 30.66)])
def test_enthalpy_of_the_altitude_limit(outside: Outside, feet: int, expected: float) -> None:
    p = float(air.pressure_at_elevation(parse(f"{feet} ft", "length")))
    w = float(air.humidity_ratio_from_relative_humidity(fahrenheit(75), 0.5, p))
    outside(f"75 °F, 50 % RH at {feet:,} ft [Btu/lb]", "ASHRAE 90.1-2010 table 6.5.1.1.3, note", expected,
            btu_lb(75, w), ENTHALPY_ROUNDING)  # fmt: skip


@pytest.mark.parametrize(("dry_bulb_f", "dew_point_f", "expected"), [(76.8, 36.3, 23.35), (73.4, 69.6, 34.63)])
def test_enthalpy_of_test_weather(outside: Outside, dry_bulb_f: float, dew_point_f: float, expected: float) -> None:
    w = float(air.humidity_ratio_from_dew_point(fahrenheit(dew_point_f), SEA_LEVEL_PA))
    outside(f"{dry_bulb_f} °F, dew point {dew_point_f} °F [Btu/lb]", "ASHRAE 140 section 11 weather points",
            expected, btu_lb(dry_bulb_f, w), ENTHALPY_ROUNDING)  # fmt: skip


@pytest.mark.parametrize(("dry_bulb_f", "grains", "expected"), [(76, 68, 28.87), (78, 60, 28.11)])
def test_enthalpy_by_the_ip_equation(outside: Outside, dry_bulb_f: float, grains: float, expected: float) -> None:
    outside(f"{dry_bulb_f} °F, {grains} gr/lb [Btu/lb]", f"{HANDBOOK} eq. 30 IP", expected,
            btu_lb(dry_bulb_f, grains / GRAINS_PER_POUND), ENTHALPY_ROUNDING)  # fmt: skip


def test_enthalpy_limit_in_si(outside: Outside) -> None:
    outside("28 Btu/lb above 0 °F as enthalpy above 0 °C [kJ/kg]", f"{HANDBOOK} eq. 30 IP and SI", 47.25,
            parse("28 Btu/lb", "specific_enthalpy") / 1e3, ENTHALPY_ROUNDING * 2.326)  # fmt: skip


def test_grains_and_dew_point(outside: Outside) -> None:
    source = "common psychrometric chart pair, rounded; no source"
    grains = GRAINS_PER_POUND * float(air.humidity_ratio_from_dew_point(fahrenheit(55), SEA_LEVEL_PA))
    outside("humidity ratio at dew point 55 °F [gr/lb]", source, 65.0, grains, 1.0)
    dew_point = float(air.dew_point_from_humidity_ratio(65.0 / GRAINS_PER_POUND, SEA_LEVEL_PA))
    outside("dew point at 65 gr/lb [°F]", source, 55.0, convert(dew_point, "temperature", "F"), 0.5)


def test_trade_air_constants(outside: Outside) -> None:
    source = "0.075 lb/ft3 x 60 x 0.24: common practice, no source"
    density = float(air.dry_air_density(fahrenheit(70), 0.0, SEA_LEVEL_PA))
    outside("density of standard air [lb/ft3]", source, 0.075, density / 0.45359237 * 0.3048**3, 5e-4)
    flow = parse("1 cfm", "flow")
    pounds_per_hour = convert(flow * density, "moisture_rate", "lb/h")
    outside("air mass per cfm [lb/h]", source, 0.075 * 60, pounds_per_hour, 0.05)
    per_degree = flow * density * float(air.heat_capacity(0.0)) * parse("1 F", "difference")
    factor = convert(per_degree, "power", "Btu/h")
    # 1.08 is rounded to 0.005.
    outside("heat per cfm and °F [Btu/h]", source, 1.08, factor, 0.005)
    outside("1,200 cfm at 20 °F [Btu/h]", source, 25_920.0, 1200 * 20 * factor, 1200 * 20 * 0.005)


def test_density_at_altitude(outside: Outside) -> None:
    ratio = float(air.pressure_at_elevation(parse("5000 ft", "length"))) / SEA_LEVEL_PA
    outside("density ratio at 5,000 ft", f"{HANDBOOK} eq. 3 (standard atmosphere)", 0.832, ratio, 5e-4)


def test_mixing_two_airstreams(outside: Outside) -> None:
    """3 kg/s at 24 °C and 0.010 with 1 kg/s at 35 °C and 0.018, by balances of water and of enthalpy."""
    w = (3 * 0.010 + 1 * 0.018) / 4
    h = (3 * float(air.enthalpy(24.0, 0.010)) + float(air.enthalpy(35.0, 0.018))) / 4
    # [3 (1.006 + 1.86 x 0.010) 24 + (1.006 + 1.86 x 0.018) 35] / [4 (1.006 + 1.86 x 0.012)] = 110.153 / 4.1133;
    # the balance of heat leaves the heat of evaporation out, which is the same on both sides.
    span = float(air.enthalpy(27.0, w) - air.enthalpy(26.0, w))
    outside("3 kg/s at 24 °C with 1 kg/s at 35 °C [°C]", "heat and water balance, worked by hand", 26.780,
            26.0 + (h - float(air.enthalpy(26.0, w))) / span, 0.001)  # fmt: skip


@pytest.mark.parametrize(("rh", "dew_point_f"), [(0.8, 60.1), (1.0, 62.3)])
def test_an_enthalpy_limit_is_no_dew_point_limit(outside: Outside, rh: float, dew_point_f: float) -> None:
    """The dry bulb at which air of this humidity reaches 28 Btu/lb, by bisection, and its dew point."""
    limit = parse("28 Btu/lb", "specific_enthalpy")
    low, high = 10.0, 30.0
    for _ in range(50):
        t = (low + high) / 2
        w = float(air.humidity_ratio_from_relative_humidity(t, rh, SEA_LEVEL_PA))
        low, high = (t, high) if float(air.enthalpy(t, w)) < limit else (low, t)
    got = convert(float(air.dew_point_from_humidity_ratio(w, SEA_LEVEL_PA)), "temperature", "F")
    outside(f"dew point of 28 Btu/lb at {rh:.0%} RH [°F]", "psychrometric chart, from memory",
            dew_point_f, got, 0.1)  # fmt: skip


@given(dry_bulbs, relative_humidities, pressures)
def test_relative_humidity_goes_round(t: float, rh: float, p: float) -> None:
    w = air.humidity_ratio_from_relative_humidity(t, rh, p)
    assert air.relative_humidity(t, w, p) == pytest.approx(rh, rel=1e-9)


@given(st.floats(-30.0, 40.0), pressures)
def test_dew_point_goes_round(dew_point: float, p: float) -> None:
    w = air.humidity_ratio_from_dew_point(dew_point, p)
    # psychrolib iterates to 0.001 K.
    assert air.dew_point_from_humidity_ratio(w, p) == pytest.approx(dew_point, abs=0.002)


@given(dry_bulbs, relative_humidities, pressures)
def test_wet_bulb_goes_round(t: float, rh: float, p: float) -> None:
    w = air.humidity_ratio_from_relative_humidity(t, rh, p)
    wet_bulb = air.wet_bulb(t, w, p)
    dew_point = air.dew_point_from_wet_bulb(t, wet_bulb, p)
    # psychrolib iterates wet bulb and dew point to 0.001 K each; by equation 33 a kelvin of wet bulb is worth the
    # slope of saturation and 1.006/2501 kg/kg besides.
    saturated = air.humidity_ratio_from_dew_point(np.array([wet_bulb, wet_bulb + 0.002]), p)
    worth = float(saturated[1] - saturated[0]) + 0.002 * 1.006 / 2501.0
    assert air.humidity_ratio_from_dew_point(dew_point, p) == pytest.approx(float(w), abs=worth)


@given(dry_bulbs, relative_humidities, pressures)
def test_dew_point_wet_bulb_and_dry_bulb_keep_their_order(t: float, rh: float, p: float) -> None:
    w = air.humidity_ratio_from_relative_humidity(t, rh, p)
    dew_point, wet_bulb = air.dew_point_from_humidity_ratio(w, p), air.wet_bulb(t, w, p)
    assert dew_point <= wet_bulb + 0.002
    assert wet_bulb <= t + 0.002


@given(st.floats(-30.0, 50.0), relative_humidities, pressures)
@example(t=0.01, rh=1.0, p=101_325.0)
@example(t=46.0, rh=1.0, p=60_000.0)
def test_kernels_agree_with_psychrolib(t: float, rh: float, p: float) -> None:
    table = air.saturation_table()
    w = psychrolib.GetHumRatioFromRelHum(t, rh, p)
    # One step of the table spans the triple point, where ice gives way to water with a kink.
    table_error = 8e-5 if 0.0 <= t <= 0.05 else 5e-6
    saturated = psychrolib.GetSatHumRatio(t, p)
    assert air.saturated_humidity_ratio(table, t, p) == pytest.approx(saturated, rel=1.3 * table_error)
    assert air.relative_humidity_of(w, p, air.read_saturation(table, t)[0]) == pytest.approx(rh, rel=table_error)
    assert air.enthalpy_of(t, w) == pytest.approx(psychrolib.GetMoistAirEnthalpy(t, w), abs=1e-6)
    enthalpy = psychrolib.GetSatAirEnthalpy(t, p)
    assert air.saturated_temperature(table, enthalpy, p, 15.0) == pytest.approx(t, abs=1e-3)
    wet_bulb = psychrolib.GetTWetBulbFromHumRatio(t, w, p)
    if wet_bulb > 0.0:
        assert air.wet_bulb_of(table, t, w, p, 15.0) == pytest.approx(wet_bulb, abs=2e-3)


@given(st.floats(-20.0, 50.0), relative_humidities, pressures, st.floats(-40.0, 60.0))
def test_searches_find_the_same_answer_from_anywhere(t: float, rh: float, p: float, start: float) -> None:
    """The year loop starts at the last hour's answer: no answer may remember where its search began."""
    table = air.saturation_table()
    w = float(psychrolib.GetHumRatioFromRelHum(t, rh, p))
    enthalpy = air.enthalpy_of(t, w)
    near = air.saturated_temperature(table, enthalpy, p, 15.0)
    assert air.saturated_temperature(table, enthalpy, p, start) == pytest.approx(near, abs=1e-7)
    assert air.wet_bulb_of(table, t, w, p, start) == pytest.approx(air.wet_bulb_of(table, t, w, p, 15.0), abs=1e-7)


def test_arrays_broadcast() -> None:
    column, row = np.array([[10.0], [20.0]]), np.array([0.3, 0.6, 0.9])
    w = air.humidity_ratio_from_relative_humidity(column, row, 95_000.0)
    assert w.shape == (2, 3)
    assert w[1, 2] == air.humidity_ratio_from_relative_humidity(20.0, 0.9, 95_000.0)


@pytest.mark.parametrize("pressure_pa", [1013.25, 29.92, 14.7, 0.0, -101_325.0, 1.2e5, float("nan"), float("inf")])
def test_pressure_in_another_unit_is_refused(pressure_pa: float) -> None:
    for refused in (
        lambda p: air.humidity_ratio_from_dew_point(10.0, p),
        lambda p: air.humidity_ratio_from_relative_humidity(20.0, 0.5, p),
        lambda p: air.relative_humidity(20.0, 0.007, p),
        lambda p: air.dew_point_from_humidity_ratio(0.007, p),
        lambda p: air.dew_point_from_wet_bulb(20.0, 15.0, p),
        lambda p: air.wet_bulb(20.0, 0.007, p),
        lambda p: air.dry_air_density(20.0, 0.007, p),
    ):
        with pytest.raises(WeatherError, match="pascal"):
            refused(np.array([101_325.0, pressure_pa]))  # type: ignore[no-untyped-call]


@pytest.mark.parametrize("missing", [float("nan"), float("inf")])
def test_missing_values_are_refused(missing: float) -> None:
    gap = np.array([20.0, missing])
    for refused in (
        lambda x: air.saturation_pressure(x),
        lambda x: air.humidity_ratio_from_dew_point(x, SEA_LEVEL_PA),
        lambda x: air.humidity_ratio_from_relative_humidity(x, 0.5, SEA_LEVEL_PA),
        lambda x: air.relative_humidity(x, 0.007, SEA_LEVEL_PA),
        lambda x: air.dew_point_from_relative_humidity(x, 0.5),
        lambda x: air.dew_point_from_humidity_ratio(x, SEA_LEVEL_PA),
        lambda x: air.dew_point_from_wet_bulb(x, 15.0, SEA_LEVEL_PA),
        lambda x: air.wet_bulb(x, 0.007, SEA_LEVEL_PA),
        lambda x: air.enthalpy(x, 0.007),
        lambda x: air.dry_air_density(x, 0.007, SEA_LEVEL_PA),
    ):
        with pytest.raises(WeatherError, match="missing"):
            refused(gap)  # type: ignore[no-untyped-call]
