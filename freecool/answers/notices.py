"""Cautions that an answer carries: each a code and a sentence."""

from __future__ import annotations

from freecool.answers.results import Blocks, HumidityBlock
from freecool.answers.rules import is_code_changeover
from freecool.cases.model import Case
from freecool.core.errors import Notice
from freecool.core.units import format_both, parse
from freecool.physics.rule import Limits

# Added dry hours that are told: as a share of the occupied ones, and of those that equipment is not allowed; our own.
DRY_SHARE, VERY_DRY_HOURS = 0.08, 50.0
# Our own thresholds for warnings, as shares of the compressor energy avoided.
FAN_EATS_SHARE = 0.5
HEATING_SHARE = 0.1
# Hours a year beyond set point that make a unit too small; ASHRAE 90.1 appendix G allows 300 (from memory).
UNMET_HOURS = 300.0
# From which the energy code asks for an economizer: 54,000 Btu/h.
LEAST_REQUIRED_W = parse("4.5 ton", "power")
CLIMATE_ZONE_UNKNOWN = Notice(
    "climate_zone_unknown",
    "No climate zone was given: a fixed dry-bulb limit stands at 75 °F (23.9 °C), and which rules the energy code "
    "accepts here is not said. Give the ASHRAE 169 zone; its letter rests on rainfall, which weather files do not "
    "carry reliably.",
)


def code_notice(case: Case, limits: Limits) -> list[Notice]:
    """Whether a commercial building's rule is a changeover that ASHRAE 90.1 lists, given case and limits.

    Parameters
    ----------
    case : Case
        Its use and climate zone count.
    limits : Limits
        That its rule means.

    Returns
    -------
    list of Notice
        Empty where the rule is listed, or the code asks for none.
    """
    zone = case.site.climate_zone
    if case.building.use != "commercial":
        return []
    if zone is None:
        return [CLIMATE_ZONE_UNKNOWN]
    if is_code_changeover(limits, zone):
        return []
    text = (
        f"In climate zone {zone} this rule is not among the economizer changeovers of ASHRAE 90.1-2016 table "
        "6.5.1.1.3; check the edition in force."
    )
    return [Notice("not_a_code_changeover", text)]


def dry_notice(humidity: HumidityBlock) -> list[Notice]:
    """Whether a damper makes the air too dry, given the humidity of both runs.

    Parameters
    ----------
    humidity : HumidityBlock
        Of both runs.

    Returns
    -------
    list of Notice
        Empty where it adds few dry hours.
    """
    dry = humidity.dry_hours_with - humidity.dry_hours_without
    very_dry = humidity.very_dry_hours_with - humidity.very_dry_hours_without
    if dry <= DRY_SHARE * humidity.occupied_hours and very_dry < VERY_DRY_HOURS:
        return []
    told = (
        (dry, "occupied hours a year under 30 % relative humidity indoors"),
        (very_dry, "hours a year under 8 % or a dew point of 10 °F (-12 °C), drier than equipment is allowed"),
    )
    added = " and ".join(f"{hours:,.0f} {words}" for hours, words in told if hours >= 0.5)
    text = f"The damper adds {added}: a low limit on outdoor temperature or a humidifier helps."
    return [Notice("dry_air", text)]


def requirement_notice(case: Case, zone_number: str) -> list[Notice]:
    """Whether the energy code asks for an economizer here, given a case and its place.

    Parameters
    ----------
    case : Case
        Its use, capacity and climate zone count.
    zone_number : str
        Of the ASHRAE 169 zone, by the weather's degree days; counts where the case tells no zone.

    Returns
    -------
    list of Notice
        Empty for dwellings, small units, and zones 0A, 0B, 1A and 1B.

    Notes
    -----
    ASHRAE 90.1-2016 6.5.1 (from memory) and IECC C403.5.
    """
    zone = case.site.climate_zone
    if case.building.use != "commercial" or case.unit.capacity < LEAST_REQUIRED_W:
        return []
    if (zone or zone_number)[0] in "01":
        return []
    where = f"climate zone {zone}" if zone else f"a place like this (zone number {zone_number} by its degree days)"
    text = (
        f"A code like ASHRAE 90.1-2016 6.5.1 or IECC C403.5 asks for an air economizer in {where} on a unit of "
        f"{format_both(LEAST_REQUIRED_W, 'power')} or more, whatever it saves: check the edition in force and its "
        "exceptions."
    )
    return [Notice("code_asks_for_one", text)]


def notices_of(
    case: Case, limits: Limits, blocks: Blocks, frost_hours_added: float, break_even_differential_k: float
) -> list[Notice]:
    """What a reader of an estimate must be told, given the case, its limits and what the damper brings.

    Parameters
    ----------
    case : Case
        Building, unit, fan, damper, rule and money.
    limits : Limits
        That its rule means.
    blocks : Blocks
        What the damper brings.
    frost_hours_added : float
        In which the coil leaves under 40 degF, with the damper less without [h/year].
    break_even_differential_k : float
        [K].

    Returns
    -------
    list of Notice
        In the order of their weight.
    """
    hours, energy, humidity = blocks.hours, blocks.energy, blocks.humidity
    avoided = energy.compressor_kwh_avoided
    found: list[Notice] = []

    if humidity.risk != "low":
        found.append(Notice(f"humidity_{humidity.risk}", f"Humidity risk {humidity.risk}: {humidity.reason}."))
    found += dry_notice(humidity)
    if hours.coincident == 0.0:
        found.append(
            Notice(
                "never_coincident",
                f"The rule permits free cooling in {hours.permitted:,.0f} hours a year, and in none of them does the "
                "building call for cooling.",
            )
        )
    if energy.fan_kwh_added > FAN_EATS_SHARE * avoided and energy.fan_kwh_added > 0.0:
        found.append(
            Notice(
                "fan_eats_saving",
                f"The fan uses {energy.fan_kwh_added:,.0f} kWh more to avoid {avoided:,.0f} kWh of compressor: a "
                f"larger differential (break-even is near {format_both(break_even_differential_k, 'difference')}) or a "
                "thriftier fan helps.",
            )
        )
    found += code_notice(case, limits)
    if hours.unmet > UNMET_HOURS:
        found.append(
            Notice(
                "unmet_hours",
                f"With the damper the room is above set point in {hours.unmet:,.0f} hours a year: the unit is too "
                "small for this building, or a setback ends too late.",
            )
        )
    if energy.heating_kwh_added > HEATING_SHARE * max(avoided, 0.0) and energy.heating_kwh_added > 1.0:
        found.append(
            Notice(
                "more_heating",
                f"Cooling ahead costs {energy.heating_kwh_added:,.0f} kWh more heat a year: some evenings and mornings "
                "are cooled too far.",
            )
        )
    if case.money.fuel_price is None and energy.heating_kwh_added > 1.0:
        found.append(
            Notice(
                "heating_not_in_money",
                f"The {energy.heating_kwh_added:,.0f} kWh of added heat are not in the money: no fuel price was given.",
            )
        )
    if frost_hours_added > 0.0:
        found.append(
            Notice(
                "coil_frost",
                "Hours a year in which the compressor runs on cool outdoor air and its coil leaves under 40 °F "
                f"(4 °C): {frost_hours_added:,.0f} more with the damper: see to freeze protection or a low-ambient "
                "lock-out.",
            )
        )
    return found
