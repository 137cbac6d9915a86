"""The rule: when the damper may open. One rule is the AND of limits, each infinite when unused."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from freecool.core.air import MOLAR_RATIO, enthalpy_of, read_saturation
from freecool.core.compiled import kernel

# Readings at a limit count as inside it: weather files round to 0.1 K and unit conversion leaves 1e-14.
SLACK_K = 1e-9
SLACK_J_KG = 1e-3


class Limits(NamedTuple):
    """When the damper may open; every reading must be inside every limit."""

    differential_k: float = -math.inf
    """Dry bulb at least this far below the reference."""
    from_return_air: bool = False
    """The reference is return air, else the cooling set point."""
    dry_bulb_max_c: float = math.inf
    dry_bulb_min_c: float = -math.inf
    enthalpy_max_j_kg: float = math.inf
    enthalpy_below_return_j_kg: float = -math.inf
    """Enthalpy at least this far below return air's."""
    dew_point_max_c: float = math.inf
    reset_k: float = 0.0
    """Once shut, dry-bulb limits are this much lower until it opens again."""
    outdoor_error_k: float = 0.0
    outdoor_error_rh: float = 0.0
    return_error_k: float = 0.0
    return_error_rh: float = 0.0
    """Errors of the outdoor and the return-air sensors: reading less true value, [K] and [0-1]."""


@kernel()
def read_humidity(table, t, w, p, error_k, error_rh):
    """Humidity ratio that a controller makes of its readings, given the true air and its sensors' errors.

    Parameters
    ----------
    table : SaturationTable
        From `freecool.core.air.saturation_table`.
    t : float
        True dry bulb [degC].
    w : float
        True humidity ratio [kg/kg].
    p : float
        Air pressure [Pa].
    error_k : float
        Dry-bulb reading less true value [K].
    error_rh : float
        Relative-humidity reading less true value [0-1].

    Returns
    -------
    float
        Humidity ratio [kg/kg].

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 20 and 22.
    """
    if error_k == 0.0 and error_rh == 0.0:
        return w
    true_pressure, _ = read_saturation(table, t)
    rh = min(max(p * w / ((MOLAR_RATIO + w) * true_pressure) + error_rh, 0.0), 1.0)
    read_pressure, _ = read_saturation(table, t + error_k)
    return MOLAR_RATIO * rh * read_pressure / (p - rh * read_pressure)


@kernel()
def permits(limits, table, was_open, outdoor_c, outdoor_w, set_point_c, return_c, return_w, p):
    """Whether the damper may open, given the true outdoor and return air: the rule sees what the sensors say.

    Parameters
    ----------
    limits : Limits
        The rule.
    table : SaturationTable
        From `freecool.core.air.saturation_table`.
    was_open : bool
        Whether it might in the last hour.
    outdoor_c : float
        Outdoor dry bulb [degC].
    outdoor_w : float
        Outdoor humidity ratio [kg/kg].
    set_point_c : float
        Cooling set point [degC].
    return_c : float
        Return-air dry bulb [degC].
    return_w : float
        Return-air humidity ratio [kg/kg].
    p : float
        Air pressure [Pa].

    Returns
    -------
    bool
        Whether every reading is inside every limit.
    """
    reset = 0.0 if was_open else limits.reset_k
    t = outdoor_c + limits.outdoor_error_k
    reference = return_c + limits.return_error_k if limits.from_return_air else set_point_c
    if t > reference - limits.differential_k - reset + SLACK_K:
        return False
    if t > limits.dry_bulb_max_c - reset + SLACK_K or t < limits.dry_bulb_min_c - SLACK_K:
        return False
    against_return = limits.enthalpy_below_return_j_kg > -math.inf
    if not against_return and limits.enthalpy_max_j_kg == math.inf and limits.dew_point_max_c == math.inf:
        return True
    w = read_humidity(table, outdoor_c, outdoor_w, p, limits.outdoor_error_k, limits.outdoor_error_rh)
    if limits.dew_point_max_c < math.inf:
        most, _ = read_saturation(table, limits.dew_point_max_c + SLACK_K)
        if p * w / (MOLAR_RATIO + w) > most:
            return False
    h = enthalpy_of(t, w)
    if h > limits.enthalpy_max_j_kg + SLACK_J_KG:
        return False
    if against_return:
        inside_w = read_humidity(table, return_c, return_w, p, limits.return_error_k, limits.return_error_rh)
        inside = enthalpy_of(return_c + limits.return_error_k, inside_w)
        return h <= inside - limits.enthalpy_below_return_j_kg + SLACK_J_KG
    return True


def dry_bulb_hours(
    limits: Limits, outdoor_c: NDArray[np.float64], set_point_c: NDArray[np.float64]
) -> NDArray[np.bool_] | None:
    """The hours that a rule of outdoor dry bulb permits, given both by hour.

    Parameters
    ----------
    limits : Limits
        The rule.
    outdoor_c, set_point_c : ndarray
        Outdoor dry bulb and cooling set point (hours,) [degC].

    Returns
    -------
    ndarray or None
        What `permits` would say (hours,); None where the rule reads more than outdoor dry bulb, or remembers whether it
        was open.
    """
    humidity = (limits.enthalpy_max_j_kg, -limits.enthalpy_below_return_j_kg, limits.dew_point_max_c)
    if limits.from_return_air or limits.reset_k != 0.0 or any(limit < math.inf for limit in humidity):
        return None
    t = outdoor_c + limits.outdoor_error_k
    return (
        (t <= set_point_c - limits.differential_k + SLACK_K)
        & (t <= limits.dry_bulb_max_c + SLACK_K)
        & (t >= limits.dry_bulb_min_c - SLACK_K)
    )
