"""Commissioning: what a damper must do on the day, and what the readings of that day say."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

from freecool.answers.rules import limits_of
from freecool.core import air
from freecool.core.errors import CaseError
from freecool.core.units import format_both, format_quantity, parse
from freecool.physics.rule import permits

if TYPE_CHECKING:
    from freecool.cases.model import Case

Position = Literal["closed", "half", "full"]
POSITIONS: tuple[Position, ...] = ("closed", "half", "full")
# Closer than this outdoor and return air tell a damper's position badly; common practice, no source.
LEAST_SPREAD_K = parse("10F", "difference")
# What a thermometer in an air stream can show; our own choice.
READABLE_C = (-40.0, 60.0)
# A damper within this share of what was asked is as good as these readings can tell; common practice, no source.
SHARE_TOLERANCE = 0.10
# Outdoor conditions of the functional test, either side of changeover.
CHANGEOVER_STEPS_K = tuple(parse(degrees, "difference") for degrees in (-10, -3, 3, 10))
TEST_RH = 0.5
# Damp outdoor air, in which a rule that reads humidity must shut sooner.
DAMP_RH = 0.9
# How far from the set point changeover is looked for, and in what steps.
REACH_K = (-40.0, 20.0)
LOOK_K = 0.5


class Expected(NamedTuple):
    """Temperatures at one damper position [degC], and how far sensors alone may put them off [K]."""

    position: Position
    outdoor_share: float
    mixed_c: float
    supply_c: float
    tolerance_k: float


class ChangeoverStep(NamedTuple):
    """What the damper must do in one outdoor air."""

    outdoor_c: float
    opens: bool
    relative_humidity: float = TEST_RH


class HeldBack(NamedTuple):
    """How far the damper may open in air colder than the mixed-air low limit."""

    outdoor_c: float
    outdoor_share: float
    mixed_c: float


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
        Outdoor dry bulbs either side of changeover, at 50 % relative humidity; for a rule that reads humidity at 90 %
        too.
    changeover_c : float or None
        Warmest outdoor dry bulb at which the rule opens at 50 % relative humidity; None: none from 40 K below to 20 K
        above set point, or all.
    damp_changeover_c : float or None
        The same at 90 %; None too for a rule that does not read humidity.
    held_back : HeldBack or None
        At 10 °F under the mixed-air low limit; None where the rule stays shut there.
    fan_rise_k : float
        Supply less mixed air, the compressor off [K].
    least_spread_k : float
        Closer than this, outdoor and return air tell a damper's position badly [K].
    """

    outdoor_c: float
    return_c: float
    expected: tuple[Expected, ...]
    changeover: tuple[ChangeoverStep, ...]
    changeover_c: float | None
    damp_changeover_c: float | None
    held_back: HeldBack | None
    fan_rise_k: float
    least_spread_k: float = LEAST_SPREAD_K


class Finding(NamedTuple):
    """What one reading says."""

    position: Position
    outdoor_share: float
    share_error: float
    """How far the sensors alone may put the share off."""
    code: Literal["as_expected", "leaking", "stuck", "short", "sensor_off", "impossible", "too_close"]
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
            f"Outdoor air is {format_quantity(outdoor_c, 'temperature')} and return air "
            f"{format_quantity(return_c, 'temperature')}: expected at least "
            f"{format_quantity(LEAST_SPREAD_K, 'difference')} between them, or the test tells nothing."
        )
    sensor = case.sensors.dry_bulb_error
    w = float(air.humidity_ratio_from_relative_humidity(return_c, TEST_RH, pressure_pa))
    volumetric_heat = float(air.dry_air_density(return_c, w, pressure_pa) * air.heat_capacity(w))
    fan_rise = case.fan.power / volumetric_heat
    expected = tuple(
        Expected(
            position, share, mixed := return_c + share * (outdoor_c - return_c), mixed + fan_rise,
            sensor * math.sqrt((1.0 - share) ** 2 + share**2 + 1.0),
        )
        for position, share in _asked(case).items()
    )  # fmt: skip
    limits = limits_of(case.rule, pressure_pa, case.site.climate_zone)
    set_point = case.schedule.cooling
    room_w = float(air.humidity_ratio_from_relative_humidity(set_point, TEST_RH, pressure_pa))

    def opens(t: float, rh: float) -> bool:
        outdoor_w = float(air.humidity_ratio_from_relative_humidity(t, rh, pressure_pa))
        return bool(
            permits(limits, air.saturation_table(), True, t, outdoor_w, set_point, return_c, room_w, pressure_pa)
        )

    reads_humidity = (
        limits.enthalpy_max_j_kg < math.inf
        or limits.enthalpy_below_return_j_kg > -math.inf
        or limits.dew_point_max_c < math.inf
    )
    steps: list[ChangeoverStep] = []
    found: dict[float, float | None] = {DAMP_RH: None}
    for rh in (TEST_RH, DAMP_RH) if reads_humidity else (TEST_RH,):
        found[rh] = _changeover(lambda t, rh=rh: opens(t, rh), set_point)  # type: ignore[misc]
        around = found[rh]
        for step in CHANGEOVER_STEPS_K:
            t = (set_point if around is None else around) + step
            steps.append(ChangeoverStep(t, opens(t, rh), rh))
    return Commissioning(
        outdoor_c, return_c, expected, tuple(steps), found[TEST_RH], found[DAMP_RH],
        _held_back(case, return_c, lambda t: opens(t, TEST_RH)), fan_rise,
    )  # fmt: skip


def _asked(case: Case) -> dict[Position, float]:
    """Outdoor share of each damper position."""
    shut, full = case.damper.leakage, case.damper.outdoor_share
    return dict(zip(POSITIONS, (shut, 0.5 * (shut + full), full), strict=True))


def _held_back(case: Case, return_c: float, opens: Callable[[float], bool]) -> HeldBack | None:
    mixed = case.damper.mixed_air_minimum
    outdoor = mixed - LEAST_SPREAD_K
    if not opens(outdoor) or return_c <= mixed:
        return None
    share = min(share_of(outdoor, return_c, mixed), case.damper.outdoor_share)
    return HeldBack(outdoor, share, return_c + share * (outdoor - return_c))


def _changeover(opens: Callable[[float], bool], set_point_c: float) -> float | None:
    """The warmest dry bulb at which the rule opens; None where it opens nowhere near, or everywhere."""
    from scipy.optimize import bisect

    low, high = set_point_c + REACH_K[1], set_point_c + REACH_K[1]
    while not opens(low):
        low, high = low - LOOK_K, low
        if low < set_point_c + REACH_K[0]:
            return None
    if low == high:
        return None
    return float(bisect(lambda t: 1.0 if opens(t) else -1.0, low, high))


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

    Raises
    ------
    CaseError
        A reading that no air here has.
    """
    for place, reading in (("outdoor", outdoor_c), ("return", return_c), *mixed_c):
        if not READABLE_C[0] <= reading <= READABLE_C[1]:
            low, high = (format_both(bound, "temperature") for bound in READABLE_C)
            raise CaseError(
                f"{place} air was read as {format_both(reading, 'temperature')}, expected {low} to {high}: read it "
                "again, or give its unit."
            )
    sensor = case.sensors.dry_bulb_error
    wanted = _asked(case)
    if abs(return_c - outdoor_c) < LEAST_SPREAD_K:
        return tuple(
            Finding(position, math.nan, math.inf, "too_close", (
                f"{position}: outdoor and return air are within "
                f"{format_quantity(abs(return_c - outdoor_c), 'difference')}; test with at least "
                f"{format_quantity(LEAST_SPREAD_K, 'difference')} between them."
            ))
            for position, _ in mixed_c
        )  # fmt: skip
    shares = {position: share_of(outdoor_c, return_c, mixed) for position, mixed in mixed_c}
    shared_error = _shared_error(shares, wanted, share_error(outdoor_c, return_c, 0.5, sensor))
    if shared_error is not None:
        off = shared_error * (outdoor_c - return_c)
        way = "high" if off > 0.0 else "low"
        return tuple(
            Finding(position, share, share_error(outdoor_c, return_c, share, sensor), "sensor_off", (
                f"{position}: mixed air reads {format_quantity(abs(off), 'difference')} too {way} at every position: "
                "the mixed-air sensor is off by so much, or sits where air does not mix."
            ))
            for position, share in shares.items()
        )  # fmt: skip
    stuck = len(shares) > 1 and max(shares.values()) - min(shares.values()) <= SHARE_TOLERANCE
    return tuple(
        _finding(position, share, wanted[position], share_error(outdoor_c, return_c, share, sensor), stuck,
                 abs(return_c - outdoor_c))
        for position, share in shares.items()
    )  # fmt: skip


def _shared_error(shares: dict[Position, float], wanted: dict[Position, float], error: float) -> float | None:
    """By how much all shares miss what was asked alike; None where they do not, or by no more than sensors allow.

    A damper cannot miss alike fully open and closed: one end stops it. A mixed-air sensor does.
    """
    if not {"closed", "full"} <= set(shares):
        return None
    misses = [share - wanted[position] for position, share in shares.items()]
    mean = sum(misses) / len(misses)
    alike = max(misses) - min(misses) <= SHARE_TOLERANCE
    return mean if alike and abs(mean) > max(error, SHARE_TOLERANCE) else None


def _finding(position: Position, share: float, wanted: float, error: float, stuck: bool, spread_k: float) -> Finding:
    band = max(error, SHARE_TOLERANCE)
    said = (
        f"{position}: outdoor share {100 * share:.0f} % by the mixing equation, {100 * wanted:.0f} % asked, "
        f"give or take {100 * error:.0f} %"
    )
    if not -band <= share <= 1.0 + band:
        beyond = spread_k * max(-share, share - 1.0)
        return Finding(
            position, share, error, "impossible",
            f"{said}; mixed air reads {format_quantity(beyond, 'difference')} outside outdoor and return air, where it "
            "cannot lie: a sensor is off by so much, or sits where air does not mix.",
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
