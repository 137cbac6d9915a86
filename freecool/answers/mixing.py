"""Mixed air: what outdoor and return air make together, and which share of it is outdoor air."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

from freecool.core import air
from freecool.core.units import parse

if TYPE_CHECKING:
    from freecool.cases.model import Case

Position = Literal["closed", "half", "full"]
POSITIONS: tuple[Position, ...] = ("closed", "half", "full")
# Closer than this outdoor and return air tell a damper's position badly; common practice, no source.
LEAST_SPREAD_K = parse("10F", "difference")
# Return air while a sheet is tested, for the fan's heat alone.
RETURN_RH = 0.5


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
    """Outdoor share of supply air, given outdoor, return and mixed dry bulb, by the mixing equation.

    Parameters
    ----------
    outdoor_c, return_c, mixed_c : float
        [degC].

    Returns
    -------
    float
        0 to 1 where the readings are true [-].
    """
    return (return_c - mixed_c) / (return_c - outdoor_c)


def share_error(outdoor_c: float, return_c: float, share: float, sensor_k: float) -> float:
    """How far three independent dry-bulb sensors may put the outdoor share off.

    Parameters
    ----------
    outdoor_c, return_c : float
        [degC].
    share : float
        The outdoor share [-].
    sensor_k : float
        What each sensor may be off [K].

    Returns
    -------
    float
        By first-order propagation, sqrt((1 - share)^2 + share^2 + 1) * sensor / |return - outdoor| [-].
    """
    return mixed_air_error_k(share, sensor_k) / abs(return_c - outdoor_c)


def mixed_air_error_k(share: float, sensor_k: float) -> float:
    """How far three independent dry-bulb sensors may put mixed air off what is expected of it.

    Parameters
    ----------
    share : float
        The outdoor share [-].
    sensor_k : float
        What each sensor may be off [K].

    Returns
    -------
    float
        [K].
    """
    return sensor_k * math.sqrt((1.0 - share) ** 2 + share**2 + 1.0)


def commanded_shares(case: Case) -> dict[Position, float]:
    """Outdoor share of supply air at each damper position, given a case.

    Parameters
    ----------
    case : Case
        Its damper's leakage, minimum and outdoor share count.

    Returns
    -------
    dict of str to float
        By position [-].
    """
    damper = case.damper
    shut, full = max(damper.leakage, damper.minimum_share), damper.outdoor_share
    return dict(zip(POSITIONS, (shut, 0.5 * (shut + full), full), strict=True))


def fan_rise_k(case: Case, return_c: float, pressure_pa: float) -> float:
    """Supply less mixed air with the compressor off: the fan's heat.

    Parameters
    ----------
    case : Case
        Its fan counts.
    return_c : float
        Return air [degC].
    pressure_pa : float
        Site pressure [Pa].

    Returns
    -------
    float
        [K].
    """
    w = float(air.humidity_ratio_from_relative_humidity(return_c, RETURN_RH, pressure_pa))
    return case.fan.power / float(air.dry_air_density(return_c, w, pressure_pa) * air.heat_capacity(w))
