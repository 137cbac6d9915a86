"""Dry bulb or enthalpy: the named rules side by side on one building, with honest sensors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, ClassVar

from freecool.answers.contract import CompareAnswer, CompareInputs, Sentence, WeatherBlock, rule_answer
from freecool.answers.mapped import map_notices, resolved_map
from freecool.answers.notices import CLIMATE_ZONE_UNKNOWN
from freecool.answers.results import RuleResult
from freecool.answers.rules import limits_of, listed_by_code, published_rule, rule_at
from freecool.answers.scenarios import Progress
from freecool.answers.sensors import DRIFTED_HUMIDITY, IN_THE_SUN
from freecool.answers.settings import SearchSettings
from freecool.answers.sweep import Baseline, make_baseline, outcomes
from freecool.answers.tuning import best_tuned, tune
from freecool.cases.model import Case
from freecool.cases.rules import RULES
from freecool.cases.sections import RuleCase
from freecool.core.errors import Notice
from freecool.core.presentation import Presented
from freecool.core.units import System, format_money
from freecool.weather.climate_zone import thermal_zone

if TYPE_CHECKING:
    from threading import Event

    import pandas as pd

    from freecool.weather import Weather

# Below this share of the best dry-bulb saving an advantage is no reason to buy; our own threshold.
ADVANTAGE_SHARE = 0.02
# Fewer kWh a year are no difference; our own threshold.
NO_DIFFERENCE_KWH = 5.0


@dataclass(frozen=True, kw_only=True, repr=False)
class RulesCompared(Presented):
    """The answer to "dry bulb or enthalpy?".

    Attributes
    ----------
    case : Case
    weather : Weather
    rules : tuple of RuleResult
        In the order of `freecool.cases.rules.RULES`.
    climate_zone : str or None
        As given; None: not claimed.
    thermal_zone : str
        The zone's number, from the weather's degree days.
    answers : tuple of str
    warnings : tuple of Notice
    """

    job: ClassVar[str] = "compare"

    case: Case
    weather: Weather
    rules: tuple[RuleResult, ...]
    climate_zone: str | None
    thermal_zone: str
    answers: tuple[str, ...]
    warnings: tuple[Notice, ...]
    settings: dict[str, Any]

    @property
    def best(self) -> RuleResult | None:
        """The rule to fit, at its best setting; None where none saves and keeps the place dry."""
        return _to_fit(self.case, *_best_of_each(self.rules))

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row a rule: exact, under error, tuned."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "rule": rule.name,
                    "value_si": rule.published_value,
                    "permitted_hours": rule.published.hours.permitted,
                    "net_kwh_saved": rule.published.energy.net_kwh_saved,
                    "net_kwh_p10": rule.published.net_kwh_p10,
                    "net_kwh_p90": rule.published.net_kwh_p90,
                    "saved_per_year": rule.published.money.saved_per_year,
                    "rh_over_60_hours_added": rule.published.humidity.rh_over_60_hours_added,
                    "clause_hours_added": rule.published.humidity.clause_hours_added,
                    "risk": rule.published.humidity.risk,
                    "tuned_value_si": rule.tuned_value,
                    "tuned_net_kwh_saved": rule.tuned.energy.net_kwh_saved,
                    "tuned_net_kwh_p10": rule.tuned.net_kwh_p10,
                    "tuned_risk": rule.tuned.humidity.risk,
                    "in_the_sun_net_kwh": rule.in_the_sun.energy.net_kwh_saved,
                    "drifted_net_kwh": rule.drifted.energy.net_kwh_saved,
                    "code_changeover": rule.code_changeover,
                    "tuned_code_changeover": rule.tuned_code_changeover,
                }
                for rule in self.rules
            ]
        ).set_index("rule")

    def to_dict(self) -> dict[str, Any]:
        """The contract of ``freecool compare --json``.

        Returns
        -------
        dict
            JSON-ready, as `freecool.answers.contract.CompareAnswer` tells.
        """
        from freecool.core.version import __version__

        return CompareAnswer(
            freecool=__version__,
            verdict=Sentence(text=self.answers[0]),
            weather=WeatherBlock(**self.weather.to_dict()),
            inputs=CompareInputs(
                building=self.case.preset, **self.settings, case=self.case.to_dict(), unit_map=resolved_map(self.case)
            ),
            climate_zone=self.climate_zone,
            thermal_zone=self.thermal_zone,
            rules=tuple(map(rule_answer, self.rules)),
            answers=self.answers,
            warnings=self.warnings,
        ).to_dict()


def compare_rules(
    case: Case,
    weather: Weather,
    *,
    draws: int = SearchSettings.draws,
    seed: int = 0,
    workers: int | None = None,
    progress: Progress | None = None,
    cancel: Event | None = None,
) -> RulesCompared:
    """The named rules side by side on a building in a climate.

    Parameters
    ----------
    case : Case
        Its own rule's settings count for the rule of that name; the others stand at their published limits.
    weather : Weather
        Of a typical year or real years.
    draws : int
        Sensor errors drawn for every rule and setting.
    seed : int
        The same seed gives the same answer.
    workers : int, optional
        Threads; one a core unless given. The result does not depend on it.
    progress : callable, optional
        Called with (done, all) as the work goes on.
    cancel : threading.Event, optional
        Stops the work when set.

    Returns
    -------
    RulesCompared
        The rules in the order of `freecool.cases.rules.RULES`.
    """
    baseline = make_baseline(case, weather, draws, seed)
    pressure, zone = baseline.prepared.mean_pressure_pa, case.site.climate_zone
    published = {name: limits_of(_rule(case, name), pressure, zone) for name in RULES}
    tuned = tune(baseline, published, workers=workers, progress=progress, cancel=cancel)
    # A what-if is one fault, seen exactly: no drawn errors on top of it.
    alone, limits = baseline._replace(errors=[]), list(published.values())
    in_the_sun = outcomes(alone, limits, exact=IN_THE_SUN, workers=workers, cancel=cancel)
    drifted = outcomes(alone, limits, exact=DRIFTED_HUMIDITY, workers=workers, cancel=cancel)
    rules = tuple(
        RuleResult(
            name=name,
            published=tuned[name].published,
            published_value=tuned[name].published_value,
            tuned_setting=RULES[name].tuned.words,
            tuned_value=tuned[name].value,
            tuned_dimension=RULES[name].tuned.dimension,
            tuned=tuned[name].outcome,
            in_the_sun=in_the_sun[index],
            drifted=drifted[index],
            code_changeover=listed_by_code(case, published[name]),
            tuned_code_changeover=listed_by_code(
                case,
                published[name]._replace(**{RULES[name].tuned.limit: tuned[name].value}),  # type: ignore[arg-type]
            ),
        )
        for index, name in enumerate(RULES)
    )
    return RulesCompared(
        case=case,
        weather=baseline.weather,
        rules=rules,
        climate_zone=zone,
        thermal_zone=thermal_zone(baseline.weather),
        answers=_answers(baseline, rules),
        warnings=(*baseline.weather.notices, *_warnings(case, rules), *map_notices(case, baseline.hours_outside_map)),
        settings={"draws": draws, "seed": seed},
    )


def _rule(case: Case, name: str) -> RuleCase:
    """The rule of a name: the case's own where it is that one, else as published."""
    return case.rule if case.rule.name == name else published_rule(name)


def _answers(baseline: Baseline, rules: Sequence[RuleResult]) -> tuple[str, ...]:
    dry, humid = _best_of_each(rules)
    return (
        _whether_humidity_pays(baseline.case, dry, humid),
        *_what_error_leaves(dry, humid),
        _published_against_published(rules, baseline.case.units),
        _best_with_moisture_aside(rules, baseline.case.units),
        *_which_are_damp(baseline.case, rules),
        *_at_an_edge(baseline.case, rules),
    )


def _whether_humidity_pays(case: Case, dry: RuleResult, humid: RuleResult) -> str:
    currency, sensors, units = case.money.currency, case.sensors, case.units
    under_error = humid.tuned.net_kwh_p10 - dry.tuned.net_kwh_p10
    names = (
        f"{_setting(humid, units)} against {_setting(dry, units)}, each tuned with the place kept dry where it can be"
    )
    if dry.tuned.damp():
        if humid.tuned.damp():
            return "No rule here saves and keeps the place dry: leave free cooling off."
        return (
            f"Reading humidity is the only way to keep this place dry: {_setting(humid, case.units)} saves "
            f"{humid.tuned.net_kwh_p10:,.0f} kWh a year under sensor error; no dry-bulb rule does without damp."
        )
    if under_error <= ADVANTAGE_SHARE * abs(dry.tuned.net_kwh_p10):
        if abs(under_error) <= NO_DIFFERENCE_KWH:
            return f"Reading humidity makes no difference here ({names})."
        change = f"{abs(under_error):,.0f} kWh a year {'more' if under_error > 0.0 else 'less'}"
        return f"Reading humidity does not pay here: under sensor error it saves {change} ({names})."
    worth = humid.tuned.saved_p10 - dry.tuned.saved_p10
    more = format_money(worth, currency)
    if sensors.humidity_sensor_cost is None:
        return (
            f"Reading humidity saves {under_error:,.0f} kWh and {more} a year more under sensor error "
            f"({names}): worth it if its sensors cost less than that a year."
        )
    cost = sensors.humidity_sensor_cost / sensors.humidity_sensor_years
    verdict, spent = "pays" if worth > cost else "does not pay", format_money(cost, currency)
    return f"Reading humidity {verdict}: {more} a year more, for {spent} a year of sensors ({names})."


def _what_error_leaves(dry: RuleResult, humid: RuleResult) -> list[str]:
    exact = humid.tuned.energy.net_kwh_saved - dry.tuned.energy.net_kwh_saved
    if dry.tuned.damp() or abs(exact) <= 0.5:
        return []
    if exact < 0.0:
        return [f"Even with exact sensors the best humidity rule saves {-exact:,.0f} kWh a year less."]
    under_error = humid.tuned.net_kwh_p10 - dry.tuned.net_kwh_p10
    left = min(max(under_error, 0.0) / exact, 1.0)
    return [
        f"Of its advantage with exact sensors, {exact:,.0f} kWh a year, 9 of 10 installations keep {100 * left:.0f} % "
        "under sensor error."
    ]


def _published_against_published(rules: Sequence[RuleResult], units: System) -> str:
    by_name = {rule.name: rule for rule in rules}
    dew, plain = by_name["dew-point"], by_name["fixed-dry-bulb"]
    hours = dew.published.humidity.clause_hours_added - plain.published.humidity.clause_hours_added
    kwh = dew.published.energy.net_kwh_saved - plain.published.energy.net_kwh_saved
    names = f"As published, {_as_set(dew, units)} against {_as_set(plain, units)}"
    if abs(hours) < 0.5 and abs(kwh) < 0.5:
        return f"{names}: no difference."
    count = round(abs(hours))
    more = f"{count:,} {'more' if hours > 0.0 else 'fewer'}" if count else "no more nor fewer"
    return (
        f"{names}: {more} damp hour{'' if count == 1 else 's'} added indoors, and "
        f"{abs(kwh):,.0f} kWh a year {'more' if kwh > 0.0 else 'less'} saved."
    )


def _best_with_moisture_aside(rules: Sequence[RuleResult], units: System) -> str:
    best = max(rules, key=lambda rule: rule.published.score)
    return (
        f"Moisture left aside, {_as_set(best, units)} saves most under sensor error: "
        f"{best.published.net_kwh_p10:,.0f} kWh a year in 9 of 10 installations."
    )


def _which_are_damp(case: Case, rules: Sequence[RuleResult]) -> list[str]:
    """Every rule whose humidity risk is high by itself, with clause, hours and limit; and which are dry."""
    zone = case.site.climate_zone

    def listed(rule: RuleResult) -> str:
        told = {True: "listed", False: "not listed", None: ""}[rule.code_changeover]
        return f", {told} by ASHRAE 90.1-2016 for zone {zone}" if told else ""

    damp = [
        f"Humidity risk is high with {_as_set(rule, case.units)}{listed(rule)}: {rule.published.humidity.reason}."
        for rule in rules
        if rule.published.humidity.risk == "high"
    ]
    if all(rule.published.humidity.risk == "low" for rule in rules):
        return ["Every rule keeps the humidity risk low."]
    low = [_as_set(rule, case.units) for rule in rules if rule.published.humidity.risk == "low"]
    watch = [
        f"{_as_set(rule, case.units)} ({rule.published.humidity.clause})"
        for rule in rules
        if rule.published.humidity.risk == "watch"
    ]
    others = [f"{risk} with {', '.join(found)}" for risk, found in (("low", low), ("watch", watch)) if found]
    return [*damp, f"Humidity risk is {'; '.join(others)}."] if others else damp


def _at_an_edge(case: Case, rules: Sequence[RuleResult]) -> list[str]:
    """Best settings that are the last of what was tried, where beyond them lies anything to try."""

    def is_edge(rule: RuleResult) -> bool:
        tried = RULES[rule.name].tuned.values
        if rule.tuned_dimension == "temperature" and rule.tuned_value >= case.schedule.cooling:
            return False
        return rule.tuned_value in (min(tried), max(tried)) and rule.tuned_value != 0.0

    edges = [_setting(rule, case.units) for rule in rules if is_edge(rule)]
    return [f"The last that was tried, and beyond it may be better: {', '.join(edges)}."] if edges else []


def _best_of_each(rules: Sequence[RuleResult]) -> tuple[RuleResult, RuleResult]:
    """The best rule that reads dry bulb alone, and the best that reads humidity too."""
    return (
        _best_rule([rule for rule in rules if not RULES[rule.name].reads_humidity]),
        _best_rule([rule for rule in rules if RULES[rule.name].reads_humidity]),
    )


def _to_fit(case: Case, dry: RuleResult, humid: RuleResult) -> RuleResult | None:
    """Which of the two the sentence of `_whether_humidity_pays` speaks for."""
    if dry.tuned.damp():
        return None if humid.tuned.damp() else humid
    if humid.tuned.net_kwh_p10 - dry.tuned.net_kwh_p10 <= ADVANTAGE_SHARE * abs(dry.tuned.net_kwh_p10):
        return dry
    sensors = case.sensors
    cost = (sensors.humidity_sensor_cost or 0.0) / sensors.humidity_sensor_years
    return humid if humid.tuned.saved_p10 - dry.tuned.saved_p10 > cost else dry


def _best_rule(rules: Sequence[RuleResult]) -> RuleResult:
    return rules[best_tuned([rule.tuned for rule in rules])]


def _setting(rule: RuleResult, units: System) -> str:
    return rule_at(rule.name, rule.tuned_value, units)


def _as_set(rule: RuleResult, units: System) -> str:
    return rule_at(rule.name, rule.published_value, units)


def _warnings(case: Case, rules: Sequence[RuleResult]) -> list[Notice]:
    if case.building.use != "commercial":
        return []
    if case.site.climate_zone is None:
        return [CLIMATE_ZONE_UNKNOWN]
    outside = [_as_set(rule, case.units) for rule in rules if rule.code_changeover is False]
    outside += [
        _setting(rule, case.units) for rule in rules if rule.code_changeover and rule.tuned_code_changeover is False
    ]
    if not outside:
        return []
    return [
        Notice(
            "not_a_code_changeover",
            f"In climate zone {case.site.climate_zone} ASHRAE 90.1-2016 table 6.5.1.1.3 does not list as an economizer "
            f"changeover: {', '.join(outside)}. Check the edition in force.",
        )
    ]
