"""The limits that a case's rule means at a site, and whether they are a changeover that the energy code lists."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from freecool.cases.model import Case
from freecool.cases.rules import RULES
from freecool.cases.sections import RuleCase
from freecool.core import air
from freecool.core.units import System, format_quantity
from freecool.physics.rule import Limits, permits


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
        In SI, infinite where unused.
    """
    named = dict(RULES[rule.name].limits(rule.differential, pressure_pa, climate_zone))
    given = {
        "dry_bulb_max_c": rule.high_limit,
        "dry_bulb_min_c": rule.low_limit,
        "enthalpy_max_j_kg": rule.enthalpy_limit,
        "enthalpy_below_return_j_kg": rule.enthalpy_margin,
        "dew_point_max_c": rule.dew_point_limit,
    }
    named |= {key: value for key, value in given.items() if value is not None}
    return Limits(**named, reset_k=rule.reset)  # type: ignore[arg-type]


def is_code_changeover(limits: Limits, climate_zone: str) -> bool:
    """Whether limits are within a changeover that ASHRAE 90.1-2016 lists for a climate zone.

    Parameters
    ----------
    limits : Limits
        That a case's rule means.
    climate_zone : str
        ASHRAE 169.

    Returns
    -------
    bool
        By table 6.5.1.1.3.
    """
    by_name = limits._asdict()
    return any(rule.listed(by_name, climate_zone) for rule in RULES.values())


def listed_by_code(case: Case, limits: Limits) -> bool | None:
    """Whether the energy code lists limits as a changeover, given a case.

    Parameters
    ----------
    case : Case
        Its use and climate zone count.
    limits : Limits
        That a rule means.

    Returns
    -------
    bool or None
        By ASHRAE 90.1-2016; None without a zone, or where the code asks for none.
    """
    return None if case.code_zone is None else is_code_changeover(limits, case.code_zone)


def published_rule(name: str) -> RuleCase:
    """A rule as it is published, given its name.

    Parameters
    ----------
    name : str
        One of `RULES`.

    Returns
    -------
    RuleCase
        At its published settings.
    """
    return RuleCase(name=name, **RULES[name].published)


def rule_at(name: str, value: float, units: System) -> str:
    """A rule and the setting that it is tuned by, in words.

    Parameters
    ----------
    name : str
        One of `RULES`.
    value : float
        Of the setting [SI].
    units : {"ip", "si"}
        Whose unit to use.

    Returns
    -------
    str
        Such as "dew-point at 55 °F".
    """
    return f"{name} at {format_quantity(value, RULES[name].tuned.dimension, units)}"


# Return air of a rule that is drawn or asked about in words, at set point.
RETURN_RH = 0.5


def rule_opens(
    case: Case, dry_bulb_c: NDArray[np.float64], humidity_ratio: NDArray[np.float64], pressure_pa: float
) -> NDArray[np.bool_]:
    """Whether a case's rule opens in outdoor air, return air being at set point and 50 % RH.

    Parameters
    ----------
    case : Case
        Its rule, set point and climate zone count.
    dry_bulb_c : ndarray
        [degC], shape (m,).
    humidity_ratio : ndarray
        [kg/kg], shape (n,).
    pressure_pa : float
        Site pressure [Pa].

    Returns
    -------
    ndarray of bool
        Shape (n, m).
    """
    set_point = case.schedule.cooling
    limits = limits_of(case.rule, pressure_pa, case.site.climate_zone)
    inside = float(air.humidity_ratio_from_relative_humidity(set_point, RETURN_RH, pressure_pa))
    table = air.saturation_table()
    return np.array(
        [
            [permits(limits, table, True, t, w, set_point, set_point, inside, pressure_pa) for t in dry_bulb_c]
            for w in humidity_ratio
        ],
        bool,
    )
