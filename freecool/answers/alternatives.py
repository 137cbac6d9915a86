"""What else would save here: differentials, dew-point limits, published rules, precooling; and what would help."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from freecool.answers.blocks import answer_blocks
from freecool.answers.results import Alternative, Alternatives, Blocks, Kind
from freecool.answers.rules import limits_of, listed_by_code, published_rule, rule_at
from freecool.answers.runs import simulate
from freecool.answers.scenarios import Scenario, run_scenarios
from freecool.cases.rules import RULES, fixed_dry_bulb_limit_c
from freecool.cases.sections import RuleCase
from freecool.core.units import System, format_quantity, option_text, parse

if TYPE_CHECKING:
    from freecool.answers.prepare import Prepared
    from freecool.cases.model import Case
    from freecool.physics.damper import Damper
    from freecool.physics.rule import Limits
    from freecool.physics.year import YearRun
    from freecool.weather import Weather

# What is tried; our own steps. A differential by itself is tried finely, with a dew-point limit coarsely; none below
# what the sensors can tell; as a person sets them, by whose units are read.
DIFFERENTIALS_K: dict[System, tuple[float, ...]] = {
    "ip": tuple(parse(degrees, "difference") for degrees in range(17)),
    "si": tuple(half / 2.0 for half in range(19)),
}
DEW_POINT_LIMITS_C: dict[System, tuple[float, ...]] = {
    "ip": tuple(parse(degrees, "temperature") for degrees in (45, 50, 55, 60, 65)),
    "si": (7.0, 10.0, 13.0, 15.5, 18.0),
}
PRECOOL_K = parse("2F", "difference")
# A thrifty blower, in the range of trade-off models of codes; common practice, no source [W per m3/s].
THRIFTY_FAN_W_M3_S = parse("0.2 W/cfm", "fan_power")
# Fixed dry-bulb limits below that of the zone; our own steps.
HIGH_LIMITS_C = tuple(parse(degrees, "temperature") for degrees in (60, 65, 70))
KINDS = ("differential", "dew-point limit", "rule", "precool")
# Within this share of the best, the simpler setting wins; our own.
AS_GOOD = 0.98
# A setting that the energy code lists wins while it saves this share of the best; our own.
LISTED_AS_GOOD = 0.9


class Trial(NamedTuple):
    """One setting that is tried."""

    kind: Kind
    simplicity: int
    """The lower, the simpler to set and to keep working."""
    rule: RuleCase
    limits: Limits
    """What the rule means at this site."""
    damper: Damper
    listed: bool
    """False: the energy code binds this building and does not list it."""


class Seen(NamedTuple):
    """A setting and what it brings."""

    trial: Trial
    found: Blocks

    @property
    def keeps_dry(self) -> bool:
        """Whether the place stays as dry as without the damper."""
        return self.found.humidity.risk == "low"

    @property
    def worth(self) -> float:
        """What settings are ranked by: money, or kWh where electricity is free."""
        money, energy = self.found.money, self.found.energy
        return money.saved_per_year if money.electricity_per_year != 0.0 else energy.net_kwh_saved


def look_round(
    case: Case, weather: Weather, prepared: Prepared, base: YearRun, workers: int | None = None
) -> Alternatives:
    """The best of what else could be set, given a case, its weather and its run without the damper.

    Parameters
    ----------
    case : Case
        Its own limits besides the rule stay.
    weather : Weather
        Whole years.
    prepared : Prepared
        Of both.
    base : YearRun
        Without the damper.
    workers : int, optional
        Threads; one a core unless given. The result does not depend on it.

    Returns
    -------
    Alternatives
        With exact sensors; the best keeps the place as dry as it is without the damper.
    """
    settings = list(_settings(case, prepared.damper, prepared.mean_pressure_pa))
    seen = _run(case, weather, prepared, base, settings, workers)
    best = _best(seen)
    if best is not None:
        damper = prepared.damper._replace(precool_k=max(PRECOOL_K, prepared.damper.precool_k))
        deeper = best.trial._replace(kind="precool", simplicity=5, damper=damper)
        # Cooler than asked is a matter of comfort: told, and not what the others are ranked against.
        seen += _run(case, weather, prepared, base, [deeper], workers)
    by_kind = (_best([one for one in seen if one.trial.kind == kind]) for kind in KINDS)
    return Alternatives(
        best=None if best is None else _told(case, best),
        by_kind=tuple(_told(case, one) for one in by_kind if one is not None),
        would_help=tuple(_would_help(case, weather, prepared, base, best or max(seen, key=lambda one: one.worth))),
        tried=len(seen),
    )


def _settings(case: Case, damper: Damper, pressure_pa: float) -> Iterator[Trial]:
    zone = case.site.climate_zone

    def trial(kind: Kind, simplicity: int, rule: RuleCase) -> Trial:
        limits = limits_of(rule, pressure_pa, zone)
        return Trial(kind, simplicity, rule, limits, damper, listed_by_code(case, limits) is not False)

    own = case.rule if RULES[case.rule.name].takes_differential else RuleCase(name="differential")
    least_k = case.sensors.dry_bulb_error
    differentials = [step for step in DIFFERENTIALS_K[case.units] if step >= least_k]
    for differential in differentials:
        yield trial("differential", 1, own.model_copy(update={"differential": differential}))
    for limit in DEW_POINT_LIMITS_C[case.units]:
        if own.dew_point_limit is None or limit < own.dew_point_limit:
            for differential in differentials[::2]:
                update = {"differential": differential, "dew_point_limit": limit}
                yield trial("dew-point limit", 4, own.model_copy(update=update))
    for rule in RULES.values():
        if not rule.takes_differential:
            yield trial("rule", 3 if rule.reads_humidity else 2, published_rule(rule.name))
    for limit in HIGH_LIMITS_C:
        if limit < fixed_dry_bulb_limit_c(zone):
            yield trial("rule", 2, published_rule("fixed-dry-bulb").model_copy(update={"high_limit": limit}))


def _run(
    case: Case, weather: Weather, prepared: Prepared, base: YearRun, trials: list[Trial], workers: int | None
) -> list[Seen]:
    scenarios = [Scenario(prepared.fan, one.damper, one.limits) for one in trials]
    totals = run_scenarios(prepared.zone, prepared.unit, base, scenarios, workers=workers)
    return [Seen(one, answer_blocks(case, weather, base.totals, run)) for one, run in zip(trials, totals, strict=True)]


def _best(seen: list[Seen]) -> Seen | None:
    """The simplest of those about as good as the best that saves and keeps dry."""
    good = [one for one in seen if one.keeps_dry and one.worth > 0.0 and one.found.energy.net_kwh_saved > 0.0]
    if not good:
        return None
    most = max(one.worth for one in good)
    listed = [one for one in good if one.trial.listed and one.worth >= LISTED_AS_GOOD * most]
    if listed:
        good, most = listed, max(one.worth for one in listed)
    near = [one for one in good if one.worth >= AS_GOOD * most]
    return min(near, key=lambda one: (one.trial.simplicity, -one.worth))


def _told(case: Case, seen: Seen) -> Alternative:
    return Alternative(
        kind=seen.trial.kind,
        words=_words(seen.trial, case.units),
        options=_options(case, seen.trial),
        net_kwh_saved=seen.found.energy.net_kwh_saved,
        saved_per_year=seen.found.money.saved_per_year,
        risk=seen.found.humidity.risk,
    )


def _words(trial: Trial, units: System) -> str:
    rule = trial.rule
    if RULES[rule.name].takes_differential:
        words = f"a differential of {format_quantity(rule.differential, 'difference', units)}"
        if rule.dew_point_limit is not None:
            words += f" with a {format_quantity(rule.dew_point_limit, 'temperature', units)} dew-point limit"
    else:
        limit = getattr(trial.limits, RULES[rule.name].tuned.limit)
        words = f"the rule {rule_at(rule.name, limit, units) if limit else f'{rule.name} as published'}"
    if trial.kind == "precool":
        words += f", precooling {format_quantity(trial.damper.precool_k, 'difference', units)}"
    return words


def _options(case: Case, trial: Trial) -> str:
    rule = trial.rule
    told = [] if rule.name == case.rule.name else [f"--rule {rule.name}"]
    if RULES[rule.name].takes_differential:
        told.append(f"--differential {option_text(rule.differential, 'difference', case.units)}")
    for name, limit in (("dew-point-limit", rule.dew_point_limit), ("high-limit", rule.high_limit)):
        if limit is not None:
            told.append(f"--{name} {option_text(limit, 'temperature', case.units)}")
    if trial.kind == "precool":
        told.append(f"--precool {option_text(trial.damper.precool_k, 'difference', case.units)}")
    return " ".join(told)


def _would_help(case: Case, weather: Weather, prepared: Prepared, base: YearRun, at: Seen) -> Iterator[Alternative]:
    """What no setting changes: a thriftier fan, a damper and duct that bring all; at a setting that was tried."""
    told = _told(case, at)
    fan, damper = prepared.fan, at.trial.damper
    if case.fan.mode == "auto" and case.fan.power > THRIFTY_FAN_W_M3_S:
        thrifty = fan._replace(watts=THRIFTY_FAN_W_M3_S * fan.flow_m3_s)
        without = simulate(prepared.zone, prepared.unit, thrifty, prepared.no_damper)
        fitted = simulate(prepared.zone, prepared.unit, thrifty, damper, at.trial.limits, base=without)
        words = f"a fan of {format_quantity(THRIFTY_FAN_W_M3_S, 'fan_power', case.units)}"
        yield _helped(
            case,
            weather,
            told,
            without,
            fitted,
            "fan",
            words,
            f"--fan {option_text(THRIFTY_FAN_W_M3_S, 'fan_power', case.units)}",
        )
    if damper.share < 1.0:
        fitted = simulate(prepared.zone, prepared.unit, fan, damper._replace(share=1.0), at.trial.limits, base=base)
        words = "a damper and duct that bring outdoor air alone"
        yield _helped(case, weather, told, base, fitted, "damper", words, "--set damper.outdoor_share=1")


def _helped(
    case: Case, weather: Weather, at: Alternative, without: YearRun, fitted: YearRun, kind: Kind, words: str, more: str
) -> Alternative:
    found = answer_blocks(case, weather, without.totals, fitted.totals)
    return replace(
        at,
        kind=kind,
        words=f"{words}, with {at.words}",
        options=f"{at.options} {more}",
        net_kwh_saved=found.energy.net_kwh_saved,
        saved_per_year=found.money.saved_per_year,
        risk=found.humidity.risk,
    )
