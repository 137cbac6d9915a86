"""The commissioning sheet's arithmetic: mixing and expected temperatures."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from freecool.answers.commissioning import commissioning
from freecool.answers.mixing import mix, share_error, share_of
from freecool.cases.model import make_case
from freecool.core.errors import CaseError
from freecool.core.units import parse

if TYPE_CHECKING:
    from conftest import Outside


SEA_LEVEL_PA = 101_325.0
HOUSE = make_case({"damper": {"outdoor_share": 1.0}}, preset="detached-house-medium")


def f(degrees: float) -> float:
    return parse(f"{degrees} F", "temperature")


def test_mixing_worked_example(outside: Outside) -> None:
    t, w = mix((3.0, 24.0, 0.010), (1.0, 35.0, 0.018))
    source = "adiabatic mixing, worked by hand: (3*24 + 35)/4, (3*0.010 + 0.018)/4"
    outside("mixed dry bulb, 3 kg/s at 24 and 1 kg/s at 35 degC", source, 26.75, t, 1e-9)
    outside("mixed humidity ratio", source, 0.012, w, 1e-12)


@given(st.floats(-20.0, 15.0), st.floats(20.0, 30.0), st.floats(0.0, 1.0))
def test_share_comes_back_from_the_mixture(outdoor: Any, inside: Any, share: Any) -> None:
    mixed, _ = mix((share, outdoor, 0.005), (1.0 - share, inside, 0.009))
    assert share_of(outdoor, inside, mixed) == pytest.approx(share, abs=1e-9)


def test_expected_temperatures_of_a_cool_day() -> None:
    """55 degF outside, 75 degF return: 75, 65 and 55 degF mixed; fan 0.365 W/cfm adds 0.365*3.412/1.08 = 1.15 degF."""
    day = commissioning(HOUSE, f(55), f(75), SEA_LEVEL_PA)
    assert [row.mixed_c for row in day.expected] == pytest.approx([f(75), f(65), f(55)])
    for row in day.expected:
        assert (row.supply_c - row.mixed_c) * 1.8 == pytest.approx(0.365 * 3.412 / 1.08, rel=0.03)
    assert day.changeover_c == pytest.approx(f(70), abs=1e-6)
    assert [step.opens for step in day.changeover] == [True, True, False, False]


def test_leakage_and_share_move_the_expectation() -> None:
    case = make_case({"damper": {"leakage": 0.1, "outdoor_share": 0.8}})
    day = commissioning(case, f(55), f(75), SEA_LEVEL_PA)
    assert [row.outdoor_share for row in day.expected] == pytest.approx([0.1, 0.45, 0.8])


def test_low_limit_holds_the_damper_back() -> None:
    """40 degF outside, 75 degF return, 50 degF low limit: (75 - 50) / (75 - 40) of outdoor air."""
    held = commissioning(HOUSE, f(55), f(75), SEA_LEVEL_PA).held_back
    assert held.outdoor_c == pytest.approx(f(40))  # type: ignore[union-attr]
    assert held.outdoor_share == pytest.approx(25 / 35)  # type: ignore[union-attr]
    assert held.mixed_c == pytest.approx(f(50))  # type: ignore[union-attr]
    cold = make_case({"rule": {"low_limit": "45F"}})
    assert commissioning(cold, f(55), f(75), SEA_LEVEL_PA).held_back is None
    assert commissioning(cold, f(55), f(75), SEA_LEVEL_PA).changeover_c == pytest.approx(f(70), abs=1e-6)


def test_a_rule_that_reads_humidity_is_tested_in_damp_air_too(outside: Outside) -> None:
    """At 90 % RH a 55 degF dew-point limit shuts where psychrolib puts that dew point."""
    import psychrolib

    case = make_case({"rule": {"dew_point_limit": "55F"}})
    day = commissioning(case, f(55), f(75), SEA_LEVEL_PA)
    assert {step.relative_humidity for step in day.changeover} == {0.5, 0.9}
    dew_point = psychrolib.GetTDewPointFromRelHum(day.damp_changeover_c, 0.9)
    outside("dew point at damp changeover [degC]", "psychrolib GetTDewPointFromRelHum", f(55), dew_point, 0.01)
    assert commissioning(HOUSE, f(55), f(75), SEA_LEVEL_PA).damp_changeover_c is None


def test_too_close_to_tell() -> None:
    with pytest.raises(CaseError, match="expected at least 10 °F"):
        commissioning(HOUSE, f(70), f(75), SEA_LEVEL_PA)


def test_share_error_is_the_propagated_sensor_error() -> None:
    """By central differences of the mixing equation in each sensor, added in quadrature."""
    outdoor, inside, share, sensor, h = 12.0, 24.0, 0.4, 1.1, 1e-6
    mixed = inside + share * (outdoor - inside)
    slopes = [
        (share_of(outdoor + h, inside, mixed) - share_of(outdoor - h, inside, mixed)) / (2 * h),
        (share_of(outdoor, inside + h, mixed) - share_of(outdoor, inside - h, mixed)) / (2 * h),
        (share_of(outdoor, inside, mixed + h) - share_of(outdoor, inside, mixed - h)) / (2 * h),
    ]
    assert share_error(outdoor, inside, share, sensor) == pytest.approx(sensor * math.hypot(*slopes), rel=1e-6)
