"""The named rules: one entry of the table `RULES` each, which everything that knows rules reads."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from freecool.core.units import parse

if TYPE_CHECKING:
    Limits = Mapping[str, float | bool]
    """Limits by the names of `freecool.physics.rule.Limits`, in SI."""

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
# A limit that was converted from °F may lie this much above the table's [K].
SLACK_K = 1e-9


@dataclass(frozen=True, kw_only=True)
class TunedSetting:
    """The one setting that a rule is tuned by.

    Attributes
    ----------
    words : str
        What a person calls it.
    limit : str
        The field of `freecool.physics.rule.Limits` that it sets.
    dimension : str
        Of its values, as `freecool.core.units.DIMENSIONS` names it.
    values : tuple of float
        To try [SI].
    """

    words: str
    limit: str
    dimension: str
    values: tuple[float, ...]


def tuned_setting(words: str, limit: str, dimension: str, first: float, step: float, unit: str) -> TunedSetting:
    """A `TunedSetting` of 21 values, given what sets it, its first value and the step between two in a unit.

    Parameters
    ----------
    words, limit, dimension : str
        As of `TunedSetting`.
    first, step : float
        The first value and the step to the next [unit].
    unit : str
        A unit of the dimension.

    Returns
    -------
    TunedSetting
        Its values in SI.
    """
    values = tuple(parse(f"{first + step * index} {unit}", dimension) for index in range(21))
    return TunedSetting(words=words, limit=limit, dimension=dimension, values=values)


def _listed_nowhere(limits: Limits, climate_zone: str) -> bool:
    return False


@dataclass(frozen=True, kw_only=True)
class RuleSpec:
    """All that there is to know of a named rule.

    Attributes
    ----------
    name : str
        In case files, options and answers.
    words : str
        When it opens; ``{differential}`` stands for the case's differential.
    limits : callable
        Its limits by name, given the case's differential [K], mean site pressure [Pa] and ASHRAE 169 zone or None.
    tuned : TunedSetting
        What a comparison tunes.
    published : dict
        Settings of `RuleCase` at which it is published, where they are not the case's defaults [SI].
    reads_humidity : bool
        Whether it needs a humidity sensor.
    listed : callable
        Whether limits lie within this rule as ASHRAE 90.1-2016 table 6.5.1.1.3 lists it for a zone, given both.
    """

    name: str
    words: str
    limits: Callable[[float, float, str | None], Limits]
    tuned: TunedSetting
    published: Mapping[str, float] = field(default_factory=dict)
    reads_humidity: bool = False
    listed: Callable[[Limits, str], bool] = _listed_nowhere

    @property
    def takes_differential(self) -> bool:
        """Whether a differential is what it is set by."""
        return self.tuned.limit == "differential_k"


def enthalpy_limit(pressure_pa: float) -> float:
    """The fixed enthalpy limit of ASHRAE 90.1-2016 table 6.5.1.1.3, given site pressure.

    Parameters
    ----------
    pressure_pa : float
        Mean at the site [Pa].

    Returns
    -------
    float
        Enthalpy at 75 °F and 50 % relative humidity, by the table's note [J/kg].
    """
    from freecool.core import air

    t, rh = ENTHALPY_POINT
    return float(air.enthalpy(t, air.humidity_ratio_from_relative_humidity(t, rh, pressure_pa)))


def fixed_dry_bulb_limit_c(climate_zone: str | None) -> float:
    """The fixed dry-bulb limit of ASHRAE 90.1-2016 table 6.5.1.1.3, given an ASHRAE 169 zone.

    Parameters
    ----------
    climate_zone : str or None
        Such as "4A".

    Returns
    -------
    float
        The zone's limit, the highest of all for None [degC].
    """
    return parse(FIXED_DRY_BULB_F[climate_zone] if climate_zone else max(FIXED_DRY_BULB_F.values()), "temperature")


def _within_dry_bulb(limits: Limits, most_c: float) -> bool:
    return limits["dry_bulb_max_c"] <= most_c + SLACK_K


_DIFFERENTIAL = tuned_setting("differential", "differential_k", "difference", 0, 1, "F")

RULES: dict[str, RuleSpec] = {
    rule.name: rule
    for rule in (
        RuleSpec(
            name="differential",
            words="outdoor air at least {differential} below the set point",
            limits=lambda differential_k, pressure_pa, zone: {"differential_k": differential_k},
            tuned=_DIFFERENTIAL,
        ),
        RuleSpec(
            name="return-differential",
            words="outdoor air at least {differential} below return air",
            limits=lambda differential_k, pressure_pa, zone: {
                "differential_k": differential_k,
                "from_return_air": True,
            },
            tuned=_DIFFERENTIAL,
            # Published as "below return air": no differential.
            published={"differential": 0.0},
            listed=lambda limits, zone: limits["differential_k"] >= 0.0 and zone not in NO_DIFFERENTIAL_DRY_BULB,
        ),
        RuleSpec(
            name="fixed-dry-bulb",
            words="outdoor air below the fixed dry-bulb limit",
            limits=lambda differential_k, pressure_pa, zone: {"dry_bulb_max_c": fixed_dry_bulb_limit_c(zone)},
            tuned=tuned_setting("dry bulb at most", "dry_bulb_max_c", "temperature", 55, 1, "F"),
            listed=lambda limits, zone: _within_dry_bulb(limits, fixed_dry_bulb_limit_c(zone)),
        ),
        RuleSpec(
            name="fixed-enthalpy",
            words="outdoor air below the fixed enthalpy and dry-bulb limits",
            limits=lambda differential_k, pressure_pa, zone: {
                "enthalpy_max_j_kg": enthalpy_limit(pressure_pa),
                "dry_bulb_max_c": DRY_BULB_WITH_ENTHALPY_C,
            },
            tuned=tuned_setting("enthalpy at most", "enthalpy_max_j_kg", "specific_enthalpy", 20, 0.5, "Btu/lb"),
            reads_humidity=True,
            listed=lambda limits, zone: (
                _within_dry_bulb(limits, DRY_BULB_WITH_ENTHALPY_C) and limits["enthalpy_max_j_kg"] < math.inf
            ),
        ),
        RuleSpec(
            name="differential-enthalpy",
            words="outdoor enthalpy below return air's, and below the dry-bulb limit",
            limits=lambda differential_k, pressure_pa, zone: {
                "enthalpy_below_return_j_kg": 0.0,
                "dry_bulb_max_c": DRY_BULB_WITH_ENTHALPY_C,
            },
            tuned=tuned_setting(
                "enthalpy margin", "enthalpy_below_return_j_kg", "enthalpy_difference", 0, 0.5, "Btu/lb"
            ),
            reads_humidity=True,
            listed=lambda limits, zone: (
                _within_dry_bulb(limits, DRY_BULB_WITH_ENTHALPY_C) and limits["enthalpy_below_return_j_kg"] >= 0.0
            ),
        ),
        RuleSpec(
            name="dew-point",
            words="outdoor air below the dew-point and dry-bulb limits",
            limits=lambda differential_k, pressure_pa, zone: {
                "dew_point_max_c": DEW_POINT_C,
                "dry_bulb_max_c": DRY_BULB_WITH_ENTHALPY_C,
            },
            tuned=tuned_setting("dew point at most", "dew_point_max_c", "temperature", 45, 1, "F"),
            reads_humidity=True,
        ),
    )
}
"""Every rule by its name, in the order of tables; a rule is added here and nowhere else."""

CODE_RULE = "fixed-dry-bulb"
"""What a commercial building with a zone and no rule told starts from: at the zone's limit ASHRAE 90.1-2016 table
6.5.1.1.3 lists it in every zone, and it needs one sensor."""
