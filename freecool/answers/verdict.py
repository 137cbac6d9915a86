"""What the numbers mean: the blocks of an answer, its warnings, and the verdict in a sentence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

from freecool.answers.humidity import Risk
from freecool.answers.money import Worth
from freecool.answers.rules import is_code_changeover
from freecool.cases.model import Case
from freecool.core.errors import Notice
from freecool.core.thresholds import WORTHWHILE_PERCENT
from freecool.core.units import format_both
from freecool.physics.rule import Limits

Verdict = Literal["yes", "hardly", "no"]

# Our own thresholds for warnings, as shares of the compressor energy avoided.
FAN_EATS_SHARE = 0.5
HEATING_SHARE = 0.1
# Of fewer years than this nothing is said of most of them; the share that counts as most; our own choices.
FEWEST_YEARS = 5
MOST_YEARS_SHARE = 0.8
# Hours a year beyond set point that make a unit too small; ASHRAE 90.1 appendix G allows 300 (from memory).
UNMET_HOURS = 300.0


class HoursBlock(NamedTuple):
    """Hours a year, as docs/how-it-works.md defines them."""

    period: float
    permitted: float
    cooling: float
    coincident: float
    free_cooling: float
    carried: float
    damp: float
    unmet: float


class EnergyBlock(NamedTuple):
    """kWh a year."""

    compressor_kwh_without: float
    compressor_kwh_with: float
    compressor_kwh_avoided: float
    fan_kwh_without: float
    fan_kwh_added: float
    net_kwh_saved: float
    net_percent: float
    """Of compressor and fan without the damper [%]."""
    heating_kwh_added: float
    """Heat, not fuel."""


class HumidityBlock(NamedTuple):
    """Indoor moisture a year."""

    risk: Risk
    reason: str
    rh_over_60_hours_without: float
    rh_over_60_hours_with: float
    dew_point_over_60f_hours_without: float
    dew_point_over_60f_hours_with: float
    worst_30_day_rh_without: float
    worst_30_day_rh_with: float
    moisture_kg_added: float
    condensate_kg_added: float

    @property
    def rh_over_60_hours_added(self) -> float:
        """Hours a year above 60 % RH that the damper adds."""
        return self.rh_over_60_hours_with - self.rh_over_60_hours_without


class MostYears(NamedTuple):
    """What most of the real years reach."""

    years: int
    of: int
    net_kwh_saved: float
    """The least of the best `years` [kWh]."""
    saving: int
    """Years that save anything."""


def most_years(net_kwh: Sequence[float]) -> MostYears | None:
    """What 8 of 10 years reach, given net kWh of each real year; None for fewer than five."""
    of = len(net_kwh)
    if of < FEWEST_YEARS:
        return None
    years = int(MOST_YEARS_SHARE * of + 1e-9)
    return MostYears(years, of, sorted(net_kwh, reverse=True)[years - 1], sum(net > 0.0 for net in net_kwh))


def most_years_text(most: MostYears | None, what: str = "it") -> str:
    """A sentence on good and bad years, given what most of them reach and what saves; empty for None."""
    if most is None:
        return ""
    # Rounded down, so that "at least" stays true.
    if most.net_kwh_saved >= 1.0:
        return f"In {most.years} of {most.of} years {what} saves at least {math.floor(most.net_kwh_saved):,} kWh."
    return f"{what[0].upper()}{what[1:]} saves in {most.saving or 'none'} of {most.of} years."


def code_notice(case: Case, limits: Limits) -> list[Notice]:
    """Whether a commercial building's rule is a changeover that ASHRAE 90.1 lists, as a notice where it is not."""
    zone = case.site.climate_zone
    if case.building.use != "commercial":
        return []
    if zone is None:
        text = (
            "No climate zone was given, so this does not say whether the rule is a changeover that the energy "
            "code accepts here: give the ASHRAE 169 zone."
        )
        return [Notice("climate_zone_unknown", text)]
    if is_code_changeover(limits, zone):
        return []
    text = (
        f"In climate zone {zone} this rule is not among the economizer changeovers of ASHRAE 90.1-2016 table "
        "6.5.1.1.3; check the edition in force."
    )
    return [Notice("not_a_code_changeover", text)]


def warnings(
    case: Case,
    limits: Limits,
    hours: HoursBlock,
    energy: EnergyBlock,
    humidity: HumidityBlock,
    frost: float,
    break_even: float,
) -> list[Notice]:
    found: list[Notice] = []

    def warn(code: str, text: str) -> None:
        found.append(Notice(code, text))

    avoided = energy.compressor_kwh_avoided
    if humidity.risk != "low":
        warn(f"humidity_{humidity.risk}", f"Humidity risk {humidity.risk}: {humidity.reason}.")
    if hours.coincident == 0.0:
        warn(
            "never_coincident",
            f"The rule permits free cooling in {hours.permitted:,.0f} hours a year, and in none of them does the "
            "building call for cooling.",
        )
    if energy.fan_kwh_added > FAN_EATS_SHARE * avoided and energy.fan_kwh_added > 0.0:
        warn(
            "fan_eats_saving",
            f"The fan uses {energy.fan_kwh_added:,.0f} kWh more to avoid {avoided:,.0f} kWh of compressor: a larger "
            f"differential (break-even is near {format_both(break_even, 'difference')}) or a thriftier fan helps.",
        )
    found += code_notice(case, limits)
    if hours.unmet > UNMET_HOURS:
        warn(
            "unmet_hours",
            f"With the damper the room is above set point in {hours.unmet:,.0f} hours a year: the unit is too small "
            "for this building, or a setback ends too late.",
        )
    if energy.heating_kwh_added > HEATING_SHARE * max(avoided, 0.0) and energy.heating_kwh_added > 1.0:
        warn(
            "more_heating",
            f"Cooling ahead costs {energy.heating_kwh_added:,.0f} kWh more heat a year: some evenings and mornings "
            "are cooled too far.",
        )
    if case.money.fuel_price is None and energy.heating_kwh_added > 1.0:
        warn(
            "heating_not_in_money",
            f"The {energy.heating_kwh_added:,.0f} kWh of added heat are not in the money: no fuel price was given.",
        )
    if frost > 0.0:
        warn(
            "coil_frost",
            f"Hours a year in which the compressor runs on cool outdoor air and its coil leaves under 40 °F (4 °C): "
            f"{frost:,.0f} more with the damper: see to freeze protection or a low-ambient lock-out.",
        )
    if case.building.windows_open_ach == 0.0 and case.building.use == "dwelling":
        warn(
            "windows_shut",
            "Windows are taken as shut: where people open them on cool evenings the damper is worth less.",
        )
    return found


def share_text(percent: float) -> str:
    """A saving in words, given its share of the cooling electricity [%]; never "0 %" of what is saved."""
    return "under 1 %" if 0.0 < percent < 0.5 else f"{percent:.0f} %"


def verdict_of(
    case: Case, hours: HoursBlock, energy: EnergyBlock, humidity: HumidityBlock, money: Worth
) -> tuple[Verdict, str]:
    net, percent = energy.net_kwh_saved, energy.net_percent
    amount = f"{net:,.0f} kWh and {money.saved_per_year:,.0f} {case.money.currency} a year"
    if hours.cooling == 0.0:
        return "no", "Don't: this building never calls for cooling here."
    if net <= 0.0:
        return "no", (
            f"Don't: free cooling here spends {-net:,.0f} kWh a year more than it saves."
            if net < -0.5
            else "Don't: free cooling saves nothing here."
        )
    if humidity.risk == "high":
        return "no", f"Don't, not with this rule: it would save {amount}, but the place gets damp."
    if money.saved_per_year <= 0.0:
        return "no", f"Don't: it saves {net:,.0f} kWh a year, but upkeep and added heating cost more than that."
    if money.payback_years is not None and money.payback_years > case.money.life_years:
        return (
            "no",
            f"Don't: it saves {amount}, and would pay back in {money.payback_years:,.0f} years, beyond its life.",
        )
    share = share_text(percent)
    if percent < WORTHWHILE_PERCENT:
        return "hardly", f"Hardly worth it: it saves {amount}, {share} of the cooling electricity."
    caution = " Watch the humidity." if humidity.risk == "watch" else ""
    condition = (
        f" if it can be fitted for less than {money.worth_up_to:,.0f} {case.money.currency}"
        if money.payback_years is None
        else f", paid back in {money.payback_years:,.1f} years"
    )
    return "yes", f"Worth it{condition}: it saves {amount}, {share} of the cooling electricity.{caution}"
