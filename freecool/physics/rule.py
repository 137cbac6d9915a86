"""The rule: when the damper may open. One rule is the AND of limits, each infinite when unused."""

from __future__ import annotations

import math
from typing import NamedTuple

from freecool.air import MOLAR_RATIO, enthalpy_of, read_saturation
from freecool.compiled import kernel

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
    return_error_k: float = 0.0
    return_error_rh: float = 0.0
    """Errors of the return-air sensors: reading less true value, [K] and [0-1]."""


@kernel()
def permits(limits, table, was_open, outdoor_c, outdoor_j_kg, outdoor_dew_c, set_point_c, return_c, return_w, p):
    """Whether the damper may open, given the outdoor sensor's readings and the true return air."""
    reset = 0.0 if was_open else limits.reset_k
    reference = return_c + limits.return_error_k if limits.from_return_air else set_point_c
    if outdoor_c > reference - limits.differential_k - reset + SLACK_K:
        return False
    if outdoor_c > limits.dry_bulb_max_c - reset + SLACK_K or outdoor_c < limits.dry_bulb_min_c - SLACK_K:
        return False
    if outdoor_dew_c > limits.dew_point_max_c + SLACK_K:
        return False
    if outdoor_j_kg > limits.enthalpy_max_j_kg + SLACK_J_KG:
        return False
    if limits.enthalpy_below_return_j_kg > -math.inf:
        w = return_w
        t = return_c + limits.return_error_k
        if limits.return_error_k != 0.0 or limits.return_error_rh != 0.0:
            true_pressure, _ = read_saturation(table, return_c)
            rh = p * return_w / ((MOLAR_RATIO + return_w) * true_pressure) + limits.return_error_rh
            rh = min(max(rh, 0.0), 1.0)
            read_pressure, _ = read_saturation(table, t)
            w = MOLAR_RATIO * rh * read_pressure / (p - rh * read_pressure)
        if outdoor_j_kg > enthalpy_of(t, w) - limits.enthalpy_below_return_j_kg + SLACK_J_KG:
            return False
    return True
