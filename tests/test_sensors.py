"""Sensor errors: how they are drawn, and what they do to a rule."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from freecool.answers.sensors import DRIFTED_HUMIDITY, IN_THE_SUN, NO_ERROR, SensorError, draw_errors
from freecool.cases.rules import DEW_POINT_C, enthalpy_limit
from freecool.cases.sections import Sensors
from freecool.core import air
from freecool.core.units import convert, parse
from freecool.physics.rule import Limits, permits

if TYPE_CHECKING:
    from conftest import Outside


SEA_LEVEL_PA = 101_325.0
ROOM_C = parse("75F", "temperature")
MANY = 4_000


def degrees(fahrenheit: float) -> float:
    return parse(f"{fahrenheit} F", "difference")


def humidity_ratio(dry_bulb_c: float, rh: float) -> float:
    return float(air.humidity_ratio_from_relative_humidity(dry_bulb_c, rh, SEA_LEVEL_PA))


def opens(limits: Limits, error: SensorError, below_room_f: float, rh: float = 0.5) -> bool:
    """Whether the damper opens to air so much cooler than the room, the room at 75 degF and 50 % RH."""
    outdoor_c = ROOM_C - degrees(below_room_f)
    return bool(
        permits(
            error.on(limits), air.saturation_table(), True, outdoor_c, humidity_ratio(outdoor_c, rh),
            ROOM_C, ROOM_C, humidity_ratio(ROOM_C, 0.5), SEA_LEVEL_PA,
        )
    )  # fmt: skip


@given(st.floats(0.0, 10.0), st.floats(0.0, 30.0), st.integers(0, 2**32), st.integers(0, 50))
def test_draws_stay_within_tolerance(dry_bulb_f: Any, rh_percent: Any, seed: Any, draws: Any) -> None:
    told = Sensors(dry_bulb_error=f"{dry_bulb_f} F", humidity_error_percent=rh_percent)
    errors = draw_errors(told, draws, seed)
    assert len(errors) == draws
    for error in errors:
        assert max(abs(error.outdoor_k), abs(error.return_k)) <= degrees(dry_bulb_f) + 1e-12
        assert max(abs(error.outdoor_rh), abs(error.return_rh)) <= rh_percent / 100.0


@given(st.integers(0, 2**32))
def test_a_seed_gives_its_errors_again_and_another_seed_others(seed: Any) -> None:
    first = draw_errors(Sensors(), 5, seed)
    assert draw_errors(Sensors(), 5, seed) == first
    assert draw_errors(Sensors(), 5, seed + 1) != first


def test_default_tolerances_are_those_of_the_codes(outside: Outside) -> None:
    source = "ASHRAE 90.1, Title 24 (from memory)"
    outside("dry-bulb sensor tolerance [degF]", source, 2.0, Sensors().dry_bulb_error * 1.8, 1e-9)
    outside("humidity sensor tolerance [% RH]", source, 5.0, Sensors().humidity_error_percent, 0.0)


@pytest.mark.parametrize("name", SensorError._fields)
def test_each_sensor_is_uniform_about_zero(name: Any) -> None:
    reach = 0.05 if name.endswith("rh") else degrees(2.0)
    drawn = np.array([getattr(error, name) for error in draw_errors(Sensors(), MANY, 1)])
    # Four standard errors of the mean of a uniform distribution.
    assert abs(drawn.mean()) < 4.0 * reach / math.sqrt(3.0 * MANY)
    assert stats.kstest(drawn, stats.uniform(-reach, 2.0 * reach).cdf).pvalue > 0.001


def test_the_four_sensors_err_independently() -> None:
    correlation = np.corrcoef(np.array(draw_errors(Sensors(), MANY, 2)).T)
    between = correlation[np.triu_indices(4, 1)]
    assert np.abs(between).max() < 4.0 / math.sqrt(MANY)


def test_errors_leave_the_limits_themselves_alone() -> None:
    limits = Limits(differential_k=3.0, dew_point_max_c=DEW_POINT_C, reset_k=1.0)
    error = SensorError(0.5, -0.02, -0.25, 0.04)
    seen = error.on(limits)
    given_errors = (seen.outdoor_error_k, seen.outdoor_error_rh, seen.return_error_k, seen.return_error_rh)
    assert given_errors == tuple(error)
    assert NO_ERROR.on(seen) == limits


@pytest.mark.parametrize(
    ("error_f", "below_f", "expected"),
    [
        (0.0, 5.5, True),
        (0.0, 4.5, False),
        (2.0, 6.5, False),
        (2.0, 7.5, True),
        (-2.0, 3.5, True),
        (-2.0, 2.5, False),
    ],
)
def test_an_outdoor_sensor_that_reads_high_asks_for_cooler_air(error_f: float, below_f: float, expected: bool) -> None:
    limits = Limits(differential_k=degrees(5.0))
    assert opens(limits, SensorError(outdoor_k=degrees(error_f)), below_f) is expected


@pytest.mark.parametrize(("error_f", "below_f", "expected"), [(2.0, 3.5, True), (2.0, 2.5, False), (-2.0, 6.5, False)])
def test_a_return_sensor_that_reads_high_opens_sooner(error_f: float, below_f: float, expected: bool) -> None:
    error = SensorError(return_k=degrees(error_f))
    assert opens(Limits(differential_k=degrees(5.0), from_return_air=True), error, below_f) is expected
    # A set point is no sensor.
    assert opens(Limits(differential_k=degrees(5.0)), error, below_f) is (below_f >= 5.0)


def test_outdoor_errors_of_a_pair_cancel_where_both_read_alike() -> None:
    limits = Limits(differential_k=degrees(5.0), from_return_air=True)
    both = SensorError(outdoor_k=degrees(2.0), return_k=degrees(2.0))
    assert [opens(limits, both, below) for below in (4.5, 5.5)] == [False, True]


def test_reading_error_at_the_enthalpy_limit(outside: Outside) -> None:
    """How far a joint error of +2 degF and +4 % RH shifts the enthalpy read at 75 degF and 50 % RH."""
    # It takes a second to load, which every process would wait for.
    from CoolProp.HumidAirProp import HAPropsSI

    def enthalpy(fahrenheit: float, rh: float) -> float:
        kelvin = (fahrenheit + 459.67) / 1.8
        return HAPropsSI("H", "T", kelvin, "R", rh, "P", SEA_LEVEL_PA) / 2326.0

    error = SensorError(outdoor_k=degrees(2.0), outdoor_rh=0.04)
    shut, opened = 0.0, 10.0
    for _ in range(40):
        margin = 0.5 * (shut + opened)
        raised = enthalpy_limit(SEA_LEVEL_PA) + parse(f"{margin} Btu/lb", "enthalpy_difference")
        if opens(Limits(enthalpy_max_j_kg=raised), error, 0.0):
            opened = margin
        else:
            shut = margin
    expected = enthalpy(77.0, 0.54) - enthalpy(75.0, 0.50)
    check = "enthalpy error, +2 degF and +4 % RH at 75 degF, 50 % [Btu/lb]"
    outside(check, "CoolProp", expected, opened, 0.01)


def test_what_ifs_are_common_practice() -> None:
    """Common practice, no source: a sensor in the sun reads 6 degF high, a drifted element 10 % RH."""
    assert convert(IN_THE_SUN.outdoor_k, "difference", "F") == pytest.approx(6.0)
    assert tuple(DRIFTED_HUMIDITY) == (0.0, 0.10, 0.0, 0.0)
    assert not opens(Limits(dew_point_max_c=DEW_POINT_C), DRIFTED_HUMIDITY, 0.0, rh=0.45)
    assert opens(Limits(dew_point_max_c=DEW_POINT_C), NO_ERROR, 0.0, rh=0.45)
