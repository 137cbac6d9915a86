"""What answers are made of: frozen records, each field with its meaning and unit; their JSON keys are their fields."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from freecool.answers.humidity import WATCH_SHARE, Risk
from freecool.core.record import Record, meaning

Verdict = Literal["yes", "hardly", "no"]
SettingKind = Literal["simplest control", "best with a dew-point limit", "the code's own"]
Kind = Literal["differential", "dew-point limit", "rule", "precool", "fan", "damper"]
Band = tuple[float, float]
Grid = tuple[tuple[float, ...], ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class HoursBlock(Record):
    """Hours a year, as docs/how-it-works.md defines them."""

    period: float = field(metadata=meaning("all hours of the weather", "h/year"))
    permitted: float = field(metadata=meaning("the rule lets the damper open, cooling wanted or not", "h/year"))
    cooling: float = field(metadata=meaning("the building without the damper calls for cooling", "h/year"))
    coincident: float = field(metadata=meaning("permitted and a cooling hour at once", "h/year"))
    free_cooling: float = field(metadata=meaning("damper hours at full flow; a half-used hour counts half", "h/year"))
    carried: float = field(metadata=meaning("cooling hours in which the compressor stays off", "h/year"))
    damp: float = field(metadata=meaning("damper open, outdoor dew point above the caution limit", "h/year"))
    unmet: float = field(metadata=meaning("the room with the damper is above set point", "h/year"))


@dataclass(frozen=True, kw_only=True, slots=True)
class EnergyBlock(Record):
    """Energy a year: differences of two complete runs, without and with the damper."""

    compressor_kwh_without: float = field(metadata=meaning("compressor and condenser, no damper", "kWh/year"))
    compressor_kwh_with: float = field(metadata=meaning("the same with the damper", "kWh/year"))
    compressor_kwh_avoided: float = field(metadata=meaning("without less with", "kWh/year"))
    fan_kwh_without: float = field(metadata=meaning("indoor fan, no damper", "kWh/year"))
    fan_kwh_added: float = field(metadata=meaning("indoor and relief fan, with the damper less without", "kWh/year"))
    net_kwh_saved: float = field(metadata=meaning("compressor avoided less fan added", "kWh/year"))
    net_percent: float = field(metadata=meaning("net, of compressor and fan without the damper", "%"))
    cooling_percent: float = field(
        metadata=meaning("net, of cooling electricity: a fan that runs anyway is left out of what is without it", "%")
    )
    heating_kwh_added: float = field(metadata=meaning("heat, not fuel, that the damper adds", "kWh/year"))


@dataclass(frozen=True, kw_only=True, slots=True)
class HumidityBlock(Record):
    """Indoor moisture a year, without and with the damper."""

    risk: Risk = field(metadata=meaning("of damp by the damper: `low`, `watch` or `high`"))
    reason: str = field(metadata=meaning("what the risk rests on, in words"))
    clause: str = field(metadata=meaning("the published clause that the risk rests on"))
    clause_hours_without: float = field(metadata=meaning("damp by that clause; 0 of a clause of means", "h/year"))
    clause_hours_with: float = field(metadata=meaning("the same with the damper", "h/year"))
    occupied_hours: float = field(metadata=meaning("with people", "h/year"))
    damp_hours_without: float = field(
        metadata=meaning("indoor dew point above 60 °F while it is so outdoors, by ASHRAE 62.1-2022 5.12", "h/year")
    )
    damp_hours_with: float = field(metadata=meaning("the same with the damper", "h/year"))
    rh_over_65_occupied_hours_without: float = field(
        metadata=meaning("occupied, above 65 % relative humidity indoors", "h/year")
    )
    rh_over_65_occupied_hours_with: float = field(metadata=meaning("the same with the damper", "h/year"))
    dry_hours_without: float = field(metadata=meaning("occupied, under 30 % relative humidity indoors", "h/year"))
    dry_hours_with: float = field(metadata=meaning("the same with the damper", "h/year"))
    very_dry_hours_without: float = field(
        metadata=meaning("under 8 % relative humidity or a dew point of -12 °C indoors", "h/year")
    )
    very_dry_hours_with: float = field(metadata=meaning("the same with the damper", "h/year"))
    rh_over_60_hours_without: float = field(metadata=meaning("indoors above 60 % relative humidity", "h/year"))
    rh_over_60_hours_with: float = field(metadata=meaning("the same with the damper", "h/year"))
    dew_point_over_60f_hours_without: float = field(metadata=meaning("indoor dew point above 60 °F", "h/year"))
    dew_point_over_60f_hours_with: float = field(metadata=meaning("the same with the damper", "h/year"))
    worst_30_day_rh_without: float = field(metadata=meaning("mean relative humidity of the dampest 30 days", "0-1"))
    worst_30_day_rh_with: float = field(metadata=meaning("the same with the damper", "0-1"))
    moisture_kg_added: float = field(
        metadata=meaning("water that the damper brings in, less what the coil takes out more", "kg/year")
    )
    condensate_kg_added: float = field(metadata=meaning("water on surfaces, with the damper less without", "kg/year"))

    @property
    def rh_over_60_hours_added(self) -> float:
        """Hours a year above 60 % relative humidity that the damper adds [h/year]."""
        return self.rh_over_60_hours_with - self.rh_over_60_hours_without

    @property
    def clause_hours_added(self) -> float:
        """Damp hours a year that the damper adds by the clause that the risk rests on [h/year]."""
        return self.clause_hours_with - self.clause_hours_without

    @property
    def watched_hours(self) -> float:
        """So many added hours are to be watched [h/year]."""
        return WATCH_SHARE * self.occupied_hours


@dataclass(frozen=True, kw_only=True, slots=True)
class IndoorHumidity(Record):
    """How humid it is indoors in occupied hours, without and with the damper."""

    mean_rh_without: float = field(metadata=meaning("relative humidity", "0-1"))
    mean_rh_with: float = field(metadata=meaning("the same with the damper", "0-1"))
    p10_rh_without: float = field(metadata=meaning("nine of ten occupied hours are more humid", "0-1"))
    p10_rh_with: float = field(metadata=meaning("the same with the damper", "0-1"))
    p90_rh_without: float = field(metadata=meaning("one of ten occupied hours is more humid", "0-1"))
    p90_rh_with: float = field(metadata=meaning("the same with the damper", "0-1"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Worth(Record):
    """The money of a damper."""

    currency: str = field(metadata=meaning("name of the money"))
    saved_per_year: float = field(metadata=meaning("in the first year, after upkeep and added heating fuel", "money"))
    electricity_per_year: float = field(metadata=meaning("cost of the electricity saved in a year", "money"))
    heating_fuel_per_year: float | None = field(
        metadata=meaning("cost of the heat that the damper adds; null without a fuel price", "money")
    )
    payback_years: float | None = field(metadata=meaning("simple; null: never, or no cost given", "years"))
    worth_up_to: float = field(
        metadata=meaning("installed cost that the discounted savings of its life just repay", "money")
    )
    net_present_value: float | None = field(metadata=meaning("null without a cost", "money"))
    co2_kg_avoided: float | None = field(
        metadata=meaning("by the case's emission factor, of electricity only; null without one", "kg/year")
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class MapBlock(Record):
    """A performance map as it was read, gross of the indoor fan; grids by wet bulb, then outdoor temperature."""

    source: str = field(metadata=meaning("the file's name; empty: typed"))
    basis: str = field(metadata=meaning("what the table says of its figures"))
    entering_dry_bulb_c: float = field(metadata=meaning("at which it stands", "°C"))
    flow_m3_s: float = field(metadata=meaning("through the coil", "m³/s"))
    wet_bulb_range_c: Band = field(metadata=meaning("entering wet bulbs that it reaches", "°C"))
    outdoor_range_c: Band = field(metadata=meaning("outdoor dry bulbs that it reaches", "°C"))
    beyond_map: Literal["hold", "refuse"] = field(metadata=meaning("what is done beyond"))
    wet_bulb_c: tuple[float, ...] = field(metadata=meaning("entering wet bulb of its nodes", "°C"))
    outdoor_c: tuple[float, ...] = field(metadata=meaning("outdoor dry bulb of its nodes", "°C"))
    capacity_w: Grid = field(metadata=meaning("gross, a row a wet bulb", "W"))
    sensible_w: Grid = field(metadata=meaning("gross, as the map says", "W"))
    power_w: Grid = field(metadata=meaning("of compressor and condenser fan", "W"))
    coil_sensible_w: Grid = field(metadata=meaning("gross, as the coil of the runs makes it there", "W"))
    sensible_gap_percent: float = field(metadata=meaning("the largest between both, of the capacity there", "%"))


@dataclass(frozen=True, kw_only=True, slots=True)
class OpenWindows(Record):
    """What windows would do that people open on cool evenings, as far as they need."""

    air_changes_h: float = field(metadata=meaning("through them at most", "1/h"))
    net_kwh_saved: float = field(metadata=meaning("by windows alone, against windows shut", "kWh/year"))
    damper_net_kwh_saved: float = field(metadata=meaning("by the damper beside open windows", "kWh/year"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Reach(Record):
    """What buildings like this one reach."""

    low: float = field(metadata=meaning("9 of 10 reach it"))
    middle: float = field(metadata=meaning("half of them do"))
    high: float = field(metadata=meaning("1 of 10 does"))


@dataclass(frozen=True, kw_only=True, slots=True)
class LikelyBand(Record):
    """What buildings like this one save: on both building models, with sensor errors, as the case leaves it open."""

    net_kwh_saved: Reach = field(metadata=meaning("in a year [kWh/year]"))
    saved_per_year: Reach = field(metadata=meaning("in a year [money/year]"))
    draws: int = field(metadata=meaning("buildings drawn"))
    inputs: tuple[str, ...] = field(metadata=meaning("what differs between them, as the case does not tell it"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Mover(Record):
    """What the answer rests on, as the case does not tell it."""

    input: str = field(metadata=meaning("key of the case"))
    words: str = field(metadata=meaning("what it is"))
    net_kwh_low: float = field(metadata=meaning("mean of the draws in the lowest third of its range", "kWh/year"))
    net_kwh_high: float = field(metadata=meaning("mean of those in the highest third", "kWh/year"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Alternative(Record):
    """What else could be set, or fitted, and what it brings with exact sensors."""

    kind: Kind = field(metadata=meaning("what differs from what was asked"))
    words: str = field(metadata=meaning("in words"))
    options: str = field(metadata=meaning("the command line's options that ask for it"))
    net_kwh_saved: float = field(metadata=meaning("with it", "kWh/year"))
    saved_per_year: float = field(metadata=meaning("with it", "money/year"))
    risk: Risk = field(metadata=meaning("of damp"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Alternatives(Record):
    """What else would save here."""

    best: Alternative | None = field(
        metadata=meaning("the setting that saves most and keeps the place as dry; null: none that was tried does")
    )
    by_kind: tuple[Alternative, ...] = field(metadata=meaning("the best of each kind that keeps the place as dry"))
    would_help: tuple[Alternative, ...] = field(
        metadata=meaning("what no setting changes: fan and outdoor share, at `best` or at what saves most")
    )
    tried: int = field(metadata=meaning("settings that were tried"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Month(Record):
    """One month, as a mean over the years."""

    month: int = field(metadata=meaning("1 to 12"))
    permitted_hours: float = field(metadata=meaning("the rule lets the damper open", "h"))
    free_cooling_hours: float = field(metadata=meaning("damper hours at full flow", "h"))
    cooling_hours: float = field(metadata=meaning("the building without the damper calls for cooling", "h"))
    compressor_kwh_without: float = field(metadata=meaning("compressor and condenser, no damper", "kWh"))
    compressor_kwh_avoided: float = field(metadata=meaning("without less with", "kWh"))
    fan_kwh_added: float = field(metadata=meaning("with the damper less without", "kWh"))
    net_kwh_saved: float = field(metadata=meaning("compressor avoided less fan added", "kWh"))


@dataclass(frozen=True, kw_only=True, slots=True)
class RealYear(Record):
    """One real year."""

    year: int = field(metadata=meaning("calendar year"))
    compressor_kwh_avoided: float = field(metadata=meaning("in that year", "kWh"))
    fan_kwh_added: float = field(metadata=meaning("in that year", "kWh"))
    net_kwh_saved: float = field(metadata=meaning("in that year", "kWh"))
    saved: float = field(metadata=meaning("in that year, after upkeep and added heating fuel", "money"))


@dataclass(frozen=True, kw_only=True, slots=True)
class MostYears(Record):
    """What most of the real years reach."""

    years: int = field(metadata=meaning("so many years reach `net_kwh_saved`"))
    of: int = field(metadata=meaning("years in all"))
    net_kwh_saved: float = field(metadata=meaning("the least of the best `years`", "kWh"))
    saving: int = field(metadata=meaning("years that save anything"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Spread(Record):
    """Good and bad years."""

    p10: float = field(metadata=meaning("10th percentile of net kWh saved over the years", "kWh/year"))
    p50: float = field(metadata=meaning("half of the years save more", "kWh/year"))
    p90: float = field(metadata=meaning("90th percentile", "kWh/year"))
    most_years: MostYears | None = field(metadata=meaning("what 8 of 10 years reach; null for fewer than five"))
    years: tuple[RealYear, ...] = field(metadata=meaning("every year"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Blocks(Record):
    """What a damper with one rule brings, as a year's mean."""

    hours: HoursBlock = field(metadata=meaning("with exact sensors"))
    energy: EnergyBlock = field(metadata=meaning("with exact sensors"))
    humidity: HumidityBlock = field(metadata=meaning("with exact sensors"))
    money: Worth = field(metadata=meaning("with exact sensors"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome(Blocks):
    """One rule on one building: with exact sensors, and under drawn sensor errors."""

    net_kwh_p10: float = field(
        metadata=meaning("net kWh that 9 of 10 installations reach under sensor error", "kWh/year")
    )
    net_kwh_p50: float = field(metadata=meaning("that half of them reach", "kWh/year"))
    net_kwh_p90: float = field(metadata=meaning("that 1 of 10 reaches", "kWh/year"))
    saved_p10: float = field(metadata=meaning("money that 9 of 10 installations save", "money/year"))
    saved_p50: float = field(metadata=meaning("that half of them save", "money/year"))
    saved_p90: float = field(metadata=meaning("that 1 of 10 saves", "money/year"))
    risk_p90: Risk = field(metadata=meaning("the humidity risk that 9 of 10 installations keep to under sensor error"))
    worst_risk: Risk = field(metadata=meaning("the highest humidity risk, exact or under any error drawn"))

    def damp(self, ceiling_hours: float = math.inf) -> bool:
        """Whether this makes the place damp, given added hours a year above 60 % RH that are borne [h/year].

        Parameters
        ----------
        ceiling_hours : float
            [h/year].

        Returns
        -------
        bool
            High risk, exact or in more than 1 of 10 installations, or more added hours than that.
        """
        return "high" in (self.humidity.risk, self.risk_p90) or self.humidity.rh_over_60_hours_added > ceiling_hours

    @property
    def score(self) -> float:
        """What rules are ranked by: money that 9 of 10 installations save, or kWh where electricity is free."""
        return self.saved_p10 if self.money.electricity_per_year != 0.0 else self.net_kwh_p10


@dataclass(frozen=True, kw_only=True, slots=True)
class Candidate:
    """One differential and what it brings.

    Attributes
    ----------
    differential_k : float
        [K].
    outcome : Outcome
    """

    differential_k: float
    outcome: Outcome


@dataclass(frozen=True, kw_only=True, slots=True)
class LimitedCandidate(Candidate):
    """A differential with a dew-point limit, and what both bring.

    Attributes
    ----------
    dew_point_limit_c : float
        Outdoors at most [degC].
    """

    dew_point_limit_c: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Setting(Record):
    """One setting that a technician can make, and what it brings."""

    kind: SettingKind = field(metadata=meaning("what speaks for it"))
    words: str = field(metadata=meaning("what to set, in words"))
    options: str = field(metadata=meaning("the command line's options that ask for it"))
    net_kwh_saved: float = field(metadata=meaning("with exact sensors", "kWh/year"))
    net_kwh_p10: float = field(metadata=meaning("that 9 of 10 installations reach under sensor error", "kWh/year"))
    saved_per_year: float = field(metadata=meaning("with exact sensors", "money/year"))
    risk: Risk = field(metadata=meaning("of damp, with exact sensors"))
    code_changeover: bool | None = field(
        metadata=meaning("listed by ASHRAE 90.1-2016; null: no zone given, or no commercial building")
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Variation(Record):
    """The picked rule with one thing changed."""

    value: float = field(metadata=meaning("precool depth [K], or share of the fan's power", "K or 0-1"))
    net_kwh_saved: float = field(metadata=meaning("with it", "kWh/year"))
    saved_per_year: float = field(metadata=meaning("with it", "money/year"))
    rh_over_60_hours_added: float = field(metadata=meaning("hours above 60 % RH that the damper adds", "h/year"))
    risk: Risk = field(metadata=meaning("of damp"))


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleResult:
    """One named rule: at its published limit, tuned, and with two sensors gone wrong.

    Attributes
    ----------
    name : str
    published : Outcome
        At the published limit; the set-point differential, which no standard publishes, at the case's.
    published_value : float
        That limit [SI, see `tuned_dimension`].
    tuned_setting : str
        The setting that is tuned, in words.
    tuned_value : float
        Best setting that keeps the place dry, if any does, by the 10th percentile of money saved over sensor errors
        [SI, see `tuned_dimension`].
    tuned_dimension : str
        As `freecool.core.units.DIMENSIONS` names it.
    tuned : Outcome
        At that setting.
    in_the_sun : Outcome
        Published limit, outdoor sensor reading high.
    drifted : Outcome
        Published limit, outdoor humidity reading high.
    code_changeover : bool or None
        Within ASHRAE 90.1-2016 for the given climate zone; None without a zone, or where the code asks for none.
    tuned_code_changeover : bool or None
        The same of the best setting.
    """

    name: str
    published: Outcome
    published_value: float
    tuned_setting: str
    tuned_value: float
    tuned_dimension: str
    tuned: Outcome
    in_the_sun: Outcome
    drifted: Outcome
    code_changeover: bool | None
    tuned_code_changeover: bool | None
