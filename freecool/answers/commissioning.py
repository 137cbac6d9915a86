"""Commissioning: what a damper must do on the day of its test."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from freecool.answers.mixing import (
    LEAST_SPREAD_K,
    Position,
    commanded_shares,
    fan_rise_k,
    mixed_air_error_k,
    share_of,
)
from freecool.answers.rules import limits_of
from freecool.core import air
from freecool.core.errors import CaseError
from freecool.core.units import DIMENSIONS, System, convert, format_least, format_quantity, parse
from freecool.physics.rule import Limits, permits

if TYPE_CHECKING:
    from freecool.cases.model import Case

# Outdoor conditions of the functional test, either side of changeover, in the unit of who reads the sheet.
CHANGEOVER_STEPS: dict[System, tuple[int, ...]] = {"ip": (-10, -3, 3, 10), "si": (-6, -2, 2, 6)}
TEST_DAY: dict[System, str] = {"ip": "55F", "si": "13C"}
"""Outdoor air on the day of the sheet's test, unless told."""
TEST_RH = 0.5
# Damp outdoor air, in which a rule that reads humidity must shut sooner.
DAMP_RH = 0.9
# How far from the set point changeover is looked for, and in what steps.
REACH_K = (-40.0, 20.0)
LOOK_K = 0.5


@dataclass(frozen=True, kw_only=True, slots=True)
class Expected:
    """What to read at one damper position.

    Attributes
    ----------
    position : {"closed", "half", "full"}
    outdoor_share : float
        Of supply air [-].
    mixed_c, supply_c : float
        Mixed air, and supply air with the compressor off [degC].
    tolerance_k : float
        How far sensors alone may put them off [K].
    """

    position: Position
    outdoor_share: float
    mixed_c: float
    supply_c: float
    tolerance_k: float


@dataclass(frozen=True, kw_only=True, slots=True)
class ChangeoverStep:
    """What the damper must do in one outdoor air.

    Attributes
    ----------
    outdoor_c : float
        Dry bulb [degC].
    opens : bool
    relative_humidity : float
        Outdoors [0-1].
    """

    outdoor_c: float
    opens: bool
    relative_humidity: float


@dataclass(frozen=True, kw_only=True, slots=True)
class HeldBack:
    """How far the damper may open in air colder than the mixed-air low limit.

    Attributes
    ----------
    outdoor_c : float
        Dry bulb [degC].
    outdoor_share : float
        Of supply air, at most [-].
    mixed_c : float
        [degC].
    """

    outdoor_c: float
    outdoor_share: float
    mixed_c: float


@dataclass(frozen=True, kw_only=True, slots=True)
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
    dry_bulb_max_c, enthalpy_max_j_kg, dew_point_max_c : float or None
        What the rule lets outdoor air have at most; None: no such limit [degC, J/kg].
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
    dry_bulb_max_c: float | None = None
    enthalpy_max_j_kg: float | None = None
    dew_point_max_c: float | None = None
    least_spread_k: float = LEAST_SPREAD_K


def commissioning(case: Case, outdoor_c: float, return_c: float, pressure_pa: float) -> Commissioning:
    """What to expect on the day of the test, given a case and the day's air.

    Parameters
    ----------
    case : Case
        Its rule, damper, fan and sensors count.
    outdoor_c, return_c : float
        The day's outdoor and return air [degC].
    pressure_pa : float
        Site pressure [Pa].

    Returns
    -------
    Commissioning
        At its three positions, and either side of changeover.

    Raises
    ------
    CaseError
        Outdoor and return air are too close to tell a damper's position.
    """
    if abs(return_c - outdoor_c) < LEAST_SPREAD_K:
        raise CaseError(
            f"Outdoor air is {format_quantity(outdoor_c, 'temperature', case.units)} and return air "
            f"{format_quantity(return_c, 'temperature', case.units)}: expected at least "
            f"{format_least(LEAST_SPREAD_K, 'difference', case.units)} between them, or the test tells nothing."
        )
    limits = limits_of(case.rule, pressure_pa, case.site.climate_zone)
    opens = partial(_opens, limits, case.schedule.cooling, return_c, pressure_pa)
    fan_rise = fan_rise_k(case, return_c, pressure_pa)
    changeover_c, steps = _changeover_steps(partial(opens, TEST_RH), case, TEST_RH)
    damp_changeover_c, damp_steps = (
        _changeover_steps(partial(opens, DAMP_RH), case, DAMP_RH) if _reads_humidity(limits) else (None, ())
    )
    return Commissioning(
        outdoor_c=outdoor_c,
        return_c=return_c,
        expected=tuple(
            _expected(position, share, outdoor_c, return_c, fan_rise, case.sensors.dry_bulb_error)
            for position, share in commanded_shares(case).items()
        ),
        changeover=(*steps, *damp_steps),
        changeover_c=changeover_c,
        damp_changeover_c=damp_changeover_c,
        held_back=_held_back(case, return_c, partial(opens, TEST_RH)),
        fan_rise_k=fan_rise,
        dry_bulb_max_c=_limit(limits.dry_bulb_max_c),
        enthalpy_max_j_kg=_limit(limits.enthalpy_max_j_kg),
        dew_point_max_c=_limit(limits.dew_point_max_c),
    )


def _limit(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _expected(
    position: Position, share: float, outdoor_c: float, return_c: float, fan_rise_k: float, sensor_k: float
) -> Expected:
    mixed = return_c + share * (outdoor_c - return_c)
    return Expected(
        position=position,
        outdoor_share=share,
        mixed_c=mixed,
        supply_c=mixed + fan_rise_k,
        tolerance_k=mixed_air_error_k(share, sensor_k),
    )


def _reads_humidity(limits: Limits) -> bool:
    return (
        limits.enthalpy_max_j_kg < math.inf
        or limits.enthalpy_below_return_j_kg > -math.inf
        or limits.dew_point_max_c < math.inf
    )


def _opens(
    limits: Limits, set_point_c: float, return_c: float, pressure_pa: float, outdoor_rh: float, outdoor_c: float
) -> bool:
    """Whether the rule opens, the room being at set point and 50 % RH."""
    room_w = float(air.humidity_ratio_from_relative_humidity(set_point_c, TEST_RH, pressure_pa))
    outdoor_w = float(air.humidity_ratio_from_relative_humidity(outdoor_c, outdoor_rh, pressure_pa))
    table = air.saturation_table()
    return bool(permits(limits, table, True, outdoor_c, outdoor_w, set_point_c, return_c, room_w, pressure_pa))


def _changeover_steps(
    opens: Callable[[float], bool], case: Case, rh: float
) -> tuple[float | None, tuple[ChangeoverStep, ...]]:
    """(changeover [degC] or None, what the damper must do around it, or around set point, in whole degrees)."""
    found = _changeover(opens, case.schedule.cooling)
    around = case.schedule.cooling if found is None else found
    unit = DIMENSIONS["temperature"].unit(case.units)
    told = round(convert(around, "temperature", unit))
    air = [parse(told + step, "temperature", case.units) for step in CHANGEOVER_STEPS[case.units]]
    return found, tuple(
        ChangeoverStep(outdoor_c=outdoor_c, opens=opens(outdoor_c), relative_humidity=rh) for outdoor_c in air
    )


def _held_back(case: Case, return_c: float, opens: Callable[[float], bool]) -> HeldBack | None:
    mixed = case.damper.mixed_air_minimum
    outdoor = mixed - LEAST_SPREAD_K
    if not opens(outdoor) or return_c <= mixed:
        return None
    share = min(max(share_of(outdoor, return_c, mixed), case.damper.minimum_share), case.damper.outdoor_share)
    return HeldBack(outdoor_c=outdoor, outdoor_share=share, mixed_c=return_c + share * (outdoor - return_c))


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
