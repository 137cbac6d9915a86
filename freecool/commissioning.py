"""Commissioning: what a damper must do on the day, and what the readings of that day say."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

from freecool import air
from freecool.changeover import limits_of
from freecool.errors import CaseError
from freecool.physics.rule import permits
from freecool.units import parse, show

if TYPE_CHECKING:
    from freecool.case import Case

Position = Literal["closed", "half", "full"]
POSITIONS: tuple[Position, ...] = ("closed", "half", "full")
# Closer than this outdoor and return air tell a damper's position badly; common practice, no source.
LEAST_SPREAD_K = parse("10F", "difference")
# A damper within this share of what was asked is as good as these readings can tell; common practice, no source.
SHARE_TOLERANCE = 0.10
# Outdoor conditions of the functional test, either side of changeover.
CHANGEOVER_STEPS_K = tuple(parse(degrees, "difference") for degrees in (-10, -3, 3, 10))
TEST_RH = 0.5


class Expected(NamedTuple):
    """Temperatures at one damper position [degC], and how far sensors alone may put them off [K]."""

    position: Position
    outdoor_share: float
    mixed_c: float
    supply_c: float
    tolerance_k: float


class ChangeoverStep(NamedTuple):
    """What the damper must do at one outdoor temperature."""

    outdoor_c: float
    opens: bool


@dataclass(frozen=True)
class Commissioning:
    """What to expect on the day of the test.

    Attributes
    ----------
    outdoor_c, return_c : float
        The day's air [degC].
    expected : tuple of Expected
        Closed, half and fully open.
    changeover : tuple of ChangeoverStep
        Outdoor dry bulbs either side of changeover, at 50 % relative humidity.
    changeover_c : float or None
        Outdoor dry bulb at which the rule changes over at that humidity; None: nowhere within 40 K of set point.
    """

    outdoor_c: float
    return_c: float
    expected: tuple[Expected, ...]
    changeover: tuple[ChangeoverStep, ...]
    changeover_c: float | None


class Finding(NamedTuple):
    """What one reading says."""

    position: Position
    outdoor_share: float
    share_error: float
    """How far the sensors alone may put the share off."""
    code: Literal["as_expected", "leaking", "stuck", "short", "impossible", "too_close"]
    text: str


def mix(first: tuple[float, float, float], second: tuple[float, float, float]) -> tuple[float, float]:
    """Dry bulb and humidity ratio of two mixed air streams.

    Parameters
    ----------
    first, second : tuple of float
        (dry-air mass flow [kg/s], dry bulb [degC], humidity ratio [kg/kg]).

    Returns
    -------
    tuple of float
        Adiabatic mixing: both weighted by dry-air mass, the usual straight line of the psychrometric chart; the
        exact dry bulb, by enthalpy, differs by hundredths of a kelvin.
    """
    total = first[0] + second[0]
    return (
        (first[0] * first[1] + second[0] * second[1]) / total,
        (first[0] * first[2] + second[0] * second[2]) / total,
    )


def share_of(outdoor_c: float, return_c: float, mixed_c: float) -> float:
    """Outdoor share of supply air [0-1], given outdoor, return and mixed dry bulb [degC], by the mixing equation."""
    return (return_c - mixed_c) / (return_c - outdoor_c)


def share_error(outdoor_c: float, return_c: float, share: float, sensor_k: float) -> float:
    """How far three independent dry-bulb sensors, each within sensor_k [K], may put the outdoor share off.

    First-order propagation: sqrt((1 - share)^2 + share^2 + 1) * sensor / |return - outdoor|.
    """
    return sensor_k * math.sqrt((1.0 - share) ** 2 + share**2 + 1.0) / abs(return_c - outdoor_c)


def commissioning(case: Case, outdoor_c: float, return_c: float, pressure_pa: float) -> Commissioning:
    """What to expect on the day of the test.

    Parameters
    ----------
    case : Case
    outdoor_c, return_c : float
        The day's outdoor and return air [degC].
    pressure_pa : float
        Site pressure [Pa].

    Returns
    -------
    Commissioning

    Raises
    ------
    CaseError
        Outdoor and return air are too close to tell a damper's position.
    """
    if abs(return_c - outdoor_c) < LEAST_SPREAD_K:
        raise CaseError(
            f"Outdoor air is {show(outdoor_c, 'temperature')} and return air {show(return_c, 'temperature')}: expected "
            f"at least {show(LEAST_SPREAD_K, 'difference')} between them, or the test tells nothing."
        )
    sensor = case.sensors.dry_bulb_error
    w = float(air.humidity_ratio_from_relative_humidity(return_c, TEST_RH, pressure_pa))
    volumetric_heat = float(air.dry_air_density(return_c, w, pressure_pa) * air.heat_capacity(w))
    fan_rise = case.fan.power / volumetric_heat
    shares = (case.damper.leakage, 0.5 * (case.damper.leakage + case.damper.outdoor_share), case.damper.outdoor_share)
    expected = tuple(
        Expected(
            position, share, mixed := return_c + share * (outdoor_c - return_c), mixed + fan_rise,
            sensor * math.sqrt((1.0 - share) ** 2 + share**2 + 1.0),
        )
        for position, share in zip(POSITIONS, shares, strict=True)
    )  # fmt: skip
    limits = limits_of(case.rule, pressure_pa, case.site.climate_zone)
    room_w = float(air.humidity_ratio_from_relative_humidity(case.schedule.cooling, TEST_RH, pressure_pa))

    def opens(t: float) -> bool:
        outdoor_w = float(air.humidity_ratio_from_relative_humidity(t, TEST_RH, pressure_pa))
        set_point = case.schedule.cooling
        return bool(
            permits(limits, air.saturation_table(), True, t, outdoor_w, set_point, return_c, room_w, pressure_pa)
        )

    changeover = _changeover(opens, case.schedule.cooling)
    around = case.schedule.cooling if changeover is None else changeover
    steps = tuple(ChangeoverStep(around + step, opens(around + step)) for step in CHANGEOVER_STEPS_K)
    return Commissioning(outdoor_c, return_c, expected, steps, changeover)


def _changeover(opens: Callable[[float], bool], set_point_c: float) -> float | None:
    """The warmest dry bulb at which the rule opens, by bisection; None where it opens nowhere near."""
    low, high = set_point_c - 40.0, set_point_c + 20.0
    if not opens(low) or opens(high):
        return None
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if opens(middle) else (low, middle)
    return low


def check_readings(
    case: Case, outdoor_c: float, return_c: float, mixed_c: Sequence[tuple[Position, float]]
) -> tuple[Finding, ...]:
    """What readings of mixed air say about the damper.

    Parameters
    ----------
    case : Case
    outdoor_c, return_c : float
        Read at the same time [degC].
    mixed_c : sequence of (position, mixed dry bulb [degC])

    Returns
    -------
    tuple of Finding
        One for each reading, and judged by the sensors' own tolerance.
    """
    sensor = case.sensors.dry_bulb_error
    wanted = dict(
        zip(
            POSITIONS,
            (case.damper.leakage, 0.5 * (case.damper.leakage + case.damper.outdoor_share), case.damper.outdoor_share),
            strict=True,
        )
    )
    if abs(return_c - outdoor_c) < LEAST_SPREAD_K:
        return tuple(
            Finding(position, math.nan, math.inf, "too_close", (
                f"{position}: outdoor and return air are within {show(abs(return_c - outdoor_c), 'difference')}; test "
                f"with at least {show(LEAST_SPREAD_K, 'difference')} between them."
            ))
            for position, _ in mixed_c
        )  # fmt: skip
    shares = {position: share_of(outdoor_c, return_c, mixed) for position, mixed in mixed_c}
    stuck = len(shares) > 1 and max(shares.values()) - min(shares.values()) <= SHARE_TOLERANCE
    return tuple(
        _finding(position, share, wanted[position], share_error(outdoor_c, return_c, share, sensor), sensor, stuck)
        for position, share in shares.items()
    )


def _finding(position: Position, share: float, wanted: float, error: float, sensor_k: float, stuck: bool) -> Finding:
    band = max(error, SHARE_TOLERANCE)
    said = (
        f"{position}: outdoor share {100 * share:.0f} % by the mixing equation, {100 * wanted:.0f} % asked, "
        f"give or take {100 * error:.0f} %"
    )
    if not -band <= share <= 1.0 + band:
        return Finding(
            position, share, error, "impossible",
            f"{said}; mixed air cannot lie outside outdoor and return air: a sensor is off by more than "
            f"{show(sensor_k, 'difference')}, or sits where air does not mix.",
        )  # fmt: skip
    if abs(share - wanted) <= band:
        return Finding(position, share, error, "as_expected", f"{said}: as expected.")
    if stuck:
        return Finding(
            position, share, error, "stuck", f"{said}; the share does not follow the command: the damper is stuck."
        )
    if share > wanted:
        return Finding(position, share, error, "leaking", f"{said}; the damper leaks or does not close that far.")
    return Finding(
        position, share, error, "short", f"{said}; the damper does not open that far, or its duct is blocked."
    )
