"""Published changeover limits, and the limits that a named rule means."""

from __future__ import annotations

import math

from freecool.cases.model import RuleCase
from freecool.core import air
from freecool.core.units import parse
from freecool.physics.rule import Limits

# ASHRAE 90.1-2016 table 6.5.1.1.3: fixed dry bulb, economizer off above, by climate zone [degF]; 0A and 0B from memory.
FIXED_DRY_BULB_F: dict[str, float] = (
    dict.fromkeys(("0B", "1B", "2B", "3B", "3C", "4B", "4C", "5B", "5C", "6B", "7", "8"), 75.0)
    | dict.fromkeys(("5A", "6A"), 70.0)
    | dict.fromkeys(("0A", "1A", "2A", "3A", "4A"), 65.0)
)
# The same table: differential dry bulb is not allowed in these.
NO_DIFFERENTIAL_DRY_BULB = frozenset({"0A", "1A", "2A", "3A", "4A"})
# The same table: dry-bulb limit that goes with every enthalpy rule.
DRY_BULB_WITH_ENTHALPY_C = parse("75F", "temperature")
# The same table, note: fixed enthalpy is that of 75 degF and 50 % RH at the site's pressure (28 Btu/lb at sea level).
ENTHALPY_POINT = (parse("75F", "temperature"), 0.5)
# ASHRAE 90.1-2010 table 6.5.1.1.3B: dew point and dry bulb.
DEW_POINT_C = parse("55F", "temperature")


def enthalpy_limit(pressure_pa: float) -> float:
    """The fixed enthalpy limit of ASHRAE 90.1 [J/kg], given site pressure [Pa]."""
    t, rh = ENTHALPY_POINT
    return float(air.enthalpy(t, air.humidity_ratio_from_relative_humidity(t, rh, pressure_pa)))


def limits_of(rule: RuleCase, pressure_pa: float, climate_zone: str | None = None) -> Limits:
    """The limits that a named rule means at a site, given its own settings.

    Parameters
    ----------
    rule : RuleCase
        Its explicit limits replace the named rule's.
    pressure_pa : float
        Mean site pressure [Pa].
    climate_zone : str, optional
        ASHRAE 169 zone; sets the fixed dry-bulb limit.

    Returns
    -------
    Limits
    """
    named: dict[str, float | bool] = {}
    match rule.name:
        case "differential":
            named = {"differential_k": rule.differential}
        case "return-differential":
            named = {"differential_k": rule.differential, "from_return_air": True}
        case "fixed-dry-bulb":
            named = {"dry_bulb_max_c": parse(FIXED_DRY_BULB_F.get(climate_zone or "", 75.0), "temperature")}
        case "fixed-enthalpy":
            named = {"enthalpy_max_j_kg": enthalpy_limit(pressure_pa), "dry_bulb_max_c": DRY_BULB_WITH_ENTHALPY_C}
        case "differential-enthalpy":
            named = {"enthalpy_below_return_j_kg": 0.0, "dry_bulb_max_c": DRY_BULB_WITH_ENTHALPY_C}
        case "dew-point":
            named = {"dew_point_max_c": DEW_POINT_C, "dry_bulb_max_c": DRY_BULB_WITH_ENTHALPY_C}
    told = {
        "dry_bulb_max_c": rule.high_limit,
        "dry_bulb_min_c": rule.low_limit,
        "enthalpy_max_j_kg": rule.enthalpy_limit,
        "enthalpy_below_return_j_kg": rule.enthalpy_margin,
        "dew_point_max_c": rule.dew_point_limit,
    }
    named |= {key: value for key, value in told.items() if value is not None}
    return Limits(**named, reset_k=rule.reset)  # type: ignore[arg-type]


def is_code_changeover(limits: Limits, climate_zone: str) -> bool:
    """Whether limits are within a changeover that ASHRAE 90.1-2016 lists for a climate zone."""
    dry_bulb = limits.dry_bulb_max_c <= parse(FIXED_DRY_BULB_F[climate_zone], "temperature") + 1e-9
    enthalpy = limits.dry_bulb_max_c <= DRY_BULB_WITH_ENTHALPY_C + 1e-9 and (
        limits.enthalpy_max_j_kg < math.inf or limits.enthalpy_below_return_j_kg >= 0.0
    )
    differential = limits.differential_k >= 0.0 and climate_zone not in NO_DIFFERENTIAL_DRY_BULB
    return dry_bulb or enthalpy or differential
