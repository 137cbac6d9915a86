"""The named rules side by side: published limits, tuning, sensor error, and what is published about them."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from functools import cache
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, Any

import pytest

from freecool.answers.comparison import RulesCompared, compare_rules
from freecool.answers.estimate import estimate
from freecool.answers.pick import sweep_differential
from freecool.answers.results import RuleResult
from freecool.answers.rules import is_code_changeover, limits_of
from freecool.cases.model import make_case
from freecool.cases.rules import RULES
from freecool.cases.sections import CLIMATE_ZONES, RuleCase
from freecool.core.cancel import Cancelled
from freecool.core.units import convert
from freecool.physics.rule import Limits
from freecool.weather import Weather, open_weather

if TYPE_CHECKING:
    from conftest import Outside


SEA_LEVEL_PA = 101_325.0
DRAWS = 4
GREENSBORO = "723170TYA.CSV"
CHICAGO = "USA_IL_Chicago.OHare.Intl.AP.725300_TMY3.epw"
# Zones of ASHRAE 169 (from memory).
ZONES = {
    "723650TYA_Albuquerque_TMY3.csv": "4B",
    "724839TYA_Sacramento_TMY3.csv": "3B",
    "USA_CO_Denver.Intl.AP.725650_TMY3.epw": "5B",
    CHICAGO: "5A",
    "USA_GA_Atlanta-Hartsfield-Jackson.Intl.AP.722190_TMY3.epw": "3A",
    "722040TYA_MelbourneFL_TMY3.csv": "2A",
    GREENSBORO: "4A",
    "12839.tm2": "1A",
}
EVERYWHERE = pytest.mark.parametrize("name", ZONES)


@pytest.fixture(scope="module")
def weather_of(shared_weather: Callable[[str], Path], pvlib_weather: Callable[[str], Path]) -> Callable[[str], Weather]:
    @cache
    def find(name: str) -> Weather:
        carried = name in (GREENSBORO, "12839.tm2")
        return open_weather(str(pvlib_weather(name) if carried else shared_weather(name)))

    return find


@pytest.fixture(scope="module")
def office(weather_of: Any) -> Callable[[str], RulesCompared]:
    """The small office in a place, compared once."""

    @cache
    def compare(name: str) -> RulesCompared:
        case = make_case(preset="small-office", overrides={"site": {"climate_zone": ZONES[name]}})
        return compare_rules(case, weather_of(name), draws=DRAWS)

    return compare


def by_name(compared: RulesCompared) -> dict[str, RuleResult]:
    return {rule.name: rule for rule in compared.rules}


def damp(rule: RuleResult) -> tuple[bool, bool]:
    return rule.published.damp(), rule.tuned.damp()


def published(name: str, zone: str | None) -> Limits:
    rule = RuleCase(name=name, differential=0.0) if name == "return-differential" else RuleCase(name=name)
    return limits_of(rule, SEA_LEVEL_PA, zone)


# ASHRAE 90.1-2016 table 6.5.1.1.3, typed again from the shared table of limits [degF].
FIXED_DRY_BULB = {75.0: "1B 2B 3B 3C 4B 4C 5B 5C 6B 7 8", 70.0: "5A 6A", 65.0: "1A 2A 3A 4A"}
BY_ZONE = [(zone, limit) for limit, zones in FIXED_DRY_BULB.items() for zone in zones.split()]


@pytest.mark.parametrize(("zone", "limit_f"), BY_ZONE)
def test_every_rule_stands_at_its_published_limit(zone: Any, limit_f: Any, outside: Outside) -> None:
    source = "ASHRAE 90.1-2016 table 6.5.1.1.3"

    def fahrenheit(celsius: float) -> float:
        return convert(celsius, "temperature", "F")

    fixed = published("fixed-dry-bulb", zone)
    got_f = fahrenheit(fixed.dry_bulb_max_c)
    outside(f"fixed dry bulb off above, zone {zone} [degF]", source, limit_f, got_f, 1e-9)
    against_return = published("return-differential", zone)
    assert (against_return.differential_k, against_return.from_return_air) == (0.0, True)
    enthalpy = published("fixed-enthalpy", zone)
    # 28 Btu/lb at sea level: 28.11 by the formula behind the rounded table.
    assert convert(enthalpy.enthalpy_max_j_kg, "specific_enthalpy", "Btu/lb") == pytest.approx(28.0, abs=0.15)
    difference = published("differential-enthalpy", zone)
    assert difference.enthalpy_below_return_j_kg == 0.0
    dew = published("dew-point", zone)
    # 90.1-2010 table 6.5.1.1.3B.
    assert fahrenheit(dew.dew_point_max_c) == pytest.approx(55.0)
    for limits in (enthalpy, difference, dew):
        assert fahrenheit(limits.dry_bulb_max_c) == pytest.approx(75.0)


@pytest.mark.parametrize(("zone", "limit_f"), BY_ZONE)
def test_what_is_a_code_changeover(zone: Any, limit_f: Any) -> None:
    """Differential dry bulb is listed for all but 1A 2A 3A 4A; both enthalpy rules everywhere."""
    listed = {name: is_code_changeover(published(name, zone), zone) for name in RULES}
    assert listed["fixed-dry-bulb"]
    assert listed["fixed-enthalpy"]
    assert listed["differential-enthalpy"]
    assert listed["return-differential"] is (zone not in ("1A", "2A", "3A", "4A"))
    # The dew-point rule left the table in 2013; where 75 degF is the limit its own dry bulb meets it.
    assert listed["dew-point"] is (limit_f == 75.0)


@pytest.mark.parametrize(("zone", "limit_f"), [("0A", 65.0), ("0B", 75.0)])
def test_the_hottest_zones_stand_with_their_neighbours(zone: str, limit_f: float, outside: Outside) -> None:
    """90.1-2016 came with zone 0: the table lists 0A with 1A to 4A and 0B with 1B (from memory)."""
    got_f = convert(published("fixed-dry-bulb", zone).dry_bulb_max_c, "temperature", "F")
    source = "ASHRAE 90.1-2016 table 6.5.1.1.3 (from memory)"
    outside(f"fixed dry bulb off above, zone {zone} [degF]", source, limit_f, got_f, 1e-9)
    assert is_code_changeover(published("fixed-dry-bulb", zone), zone)
    assert is_code_changeover(published("return-differential", zone), zone) is (zone == "0B")


def test_every_zone_has_a_limit() -> None:
    assert {zone for zone, _ in BY_ZONE} == set(CLIMATE_ZONES) - {"0A", "0B"}


@EVERYWHERE
def test_each_published_row_is_what_value_says(name: Any, office: Any, weather_of: Any) -> None:
    """The compared numbers are those of a plain estimate with that rule."""
    compared = office(name)
    for rule in (compared.rules[1], compared.rules[2]):
        told = {"name": rule.name} | ({"differential": "0F"} if rule.name == "return-differential" else {})
        case = make_case(preset="small-office", overrides={"site": {"climate_zone": ZONES[name]}, "rule": told})
        alone = estimate(case, weather_of(name))
        assert rule.published.energy.net_kwh_saved == pytest.approx(alone.energy.net_kwh_saved, rel=1e-9)
        assert rule.published.hours.permitted == alone.hours.permitted


def test_the_json_contract(office: Any) -> None:
    compared = office(CHICAGO)
    told = json.loads(json.dumps(compared.to_dict(), allow_nan=False))
    assert [rule["name"] for rule in told["rules"]] == list(RULES)
    blocks = {"hours", "energy", "humidity", "money", "tuned", "code_changeover", "sensor_in_the_sun"}
    for rule in told["rules"]:
        assert blocks <= set(rule)
        assert rule["net_kwh_p10"] <= rule["net_kwh_p50"] <= rule["net_kwh_p90"]
    assert told["climate_zone"] == "5A"
    assert told["thermal_zone"] == "5"
    assert told["answers"][0] == told["verdict"]["text"]
    assert set(told["rules"][0]["money"]) >= {"currency", "saved_per_year", "payback_years"}


def test_the_table_is_the_rules(office: Any) -> None:
    compared = office(CHICAGO)
    assert list(compared.table.index) == list(RULES)
    for rule in compared.rules:
        row = compared.table.loc[rule.name]
        assert row["net_kwh_saved"] == rule.published.energy.net_kwh_saved
        assert row["tuned_net_kwh_p10"] == rule.tuned.net_kwh_p10
    assert all(name in repr(compared) for name in RULES)


@EVERYWHERE
def test_tuned_is_at_least_as_good_as_published(name: Any, office: Any) -> None:
    """By the figure that rules are ranked by; a rule too damp as published may give up saving to be dry."""
    worse = [
        (rule.name, rule.published.score, rule.tuned.score)
        for rule in office(name).rules
        if damp(rule)[0] == damp(rule)[1] and rule.tuned.score < rule.published.score - 1e-9
    ]
    assert worse == []


@EVERYWHERE
def test_tuning_never_makes_a_dry_rule_damp(name: Any, office: Any) -> None:
    for rule in office(name).rules:
        assert damp(rule) != (False, True), rule.name


@EVERYWHERE
def test_a_sensor_in_the_sun_opens_less(name: Any, office: Any) -> None:
    for rule in office(name).rules:
        assert rule.in_the_sun.hours.permitted <= rule.published.hours.permitted, rule.name
        assert rule.in_the_sun.hours.free_cooling <= rule.published.hours.free_cooling, rule.name
    if ZONES[name].endswith("B"):
        # Dry climates: with a fan that runs anyway every cool hour pays, so an hour lost is saving lost.
        for rule in office(name).rules:
            assert rule.in_the_sun.energy.net_kwh_saved < rule.published.energy.net_kwh_saved, rule.name


@EVERYWHERE
def test_drifted_humidity_concerns_only_rules_that_read_it(name: Any, office: Any) -> None:
    for rule in office(name).rules:
        exact, drifted = rule.published.hours, rule.drifted.hours
        if RULES[rule.name].reads_humidity:
            assert drifted.permitted < exact.permitted, rule.name
        else:
            assert drifted == exact, rule.name


@EVERYWHERE
def test_a_dew_point_limit_leaves_no_damp_hour(name: Any, office: Any) -> None:
    """A 55 degF limit cannot open above the 60 degF caution; plain dry bulb can."""
    rules = by_name(office(name))
    dew, plain = rules["dew-point"].published, rules["fixed-dry-bulb"].published
    assert dew.hours.damp == 0.0 <= plain.hours.damp
    assert dew.humidity.rh_over_60_hours_added <= plain.humidity.rh_over_60_hours_added
    assert dew.hours.permitted < published_hours(rules, "fixed-enthalpy")


def published_hours(rules: dict[str, RuleResult], name: str) -> float:
    return rules[name].published.hours.permitted


@EVERYWHERE
def test_a_pair_of_humidity_sensors_loses_more_to_error_than_one(name: Any, office: Any, outside: Outside) -> None:
    """Taylor & Cheng, ASHRAE Journal, November 2010: a pair of sensors doubles the error of one."""
    rules = by_name(office(name))

    def lost(rule: str) -> float:
        told = rules[rule].published
        return told.energy.net_kwh_saved - told.net_kwh_p10

    assert lost("differential-enthalpy") > lost("fixed-enthalpy") > 0.0
    check = f"differential over fixed enthalpy, kWh lost to error, {ZONES[name]} {name[:24]}"
    source = "Taylor & Cheng 2010"
    outside.print_only(check, source, "about 2", lost("differential-enthalpy") / lost("fixed-enthalpy"))


@pytest.mark.xfail(
    strict=True,
    raises=AssertionError,
    reason="at the limits of 90.1, whose 65 °F in humid zones gives saving away to keep moisture out",
)
def test_fixed_dry_bulb_does_best_under_error_in_most_climates(office: Any, outside: Outside) -> None:
    """Taylor & Cheng, ASHRAE Journal, November 2010.

    Published limits, moisture left aside, among the rules that the code lists for the zone; our own
    set-point differential is not one of its rules. Errors are +-2 degF and +-5 % RH.
    """
    source = "Taylor & Cheng 2010"
    best_in = 0
    for name, zone in ZONES.items():
        listed = [rule for rule in office(name).rules if rule.code_changeover and rule.name != "differential"]
        best = max(listed, key=lambda rule: rule.published.net_kwh_p10)
        fixed = by_name(office(name))["fixed-dry-bulb"].published.net_kwh_p10
        best_in += best.name == "fixed-dry-bulb"
        check = f"fixed dry bulb over the best listed rule, net under error, {zone} {name[:24]} [%]"
        outside.print_only(check, source, "100", 100.0 * fixed / best.published.net_kwh_p10)
    check = f"climates of {len(ZONES)} where fixed dry bulb is best under error: most"
    outside.within(check, source, len(ZONES) // 2 + 1, len(ZONES), best_in)


@pytest.mark.parametrize(
    ("name", "source", "guidance"),
    [
        ("724839TYA_Sacramento_TMY3.csv", "California Title 24-2016, zone 12", "0"),
        ("722040TYA_MelbourneFL_TMY3.csv", "PNNL-SA-86706, humid", "5 to 10, or no dry bulb"),
        ("12839.tm2", "PNNL-SA-86706, humid", "5 to 10, or no dry bulb"),
        ("USA_GA_Atlanta-Hartsfield-Jackson.Intl.AP.722190_TMY3.epw", "PNNL-SA-86706", "5 to 10"),
        (GREENSBORO, "PNNL-SA-86706", "5 to 10"),
        (CHICAGO, "PNNL-SA-86706", "5 to 10"),
    ],
)
@pytest.mark.parametrize("preset", ["small-office", "detached-house-medium"])
def test_picks_beside_published_differentials(
    name: Any, source: str, guidance: str, preset: str, weather_of: Any, outside: Outside
) -> None:
    """A differential below return air, as the guidance means it; NaN: leave it off."""
    rule = {"rule": {"name": "return-differential"}, "site": {"climate_zone": ZONES[name]}}
    swept = sweep_differential(make_case(preset=preset, overrides=rule), weather_of(name), draws=DRAWS)
    for what, candidate in (("pick", swept.best), ("moisture aside", swept.best_ignoring_humidity)):
        got = math.nan if candidate is None else convert(candidate.differential_k, "difference", "F")
        outside.print_only(f"{what} below return, {preset}, {name[:24]} [degF]", source, guidance, got)
    # Moisture can only ask for more.
    assert swept.best is None or swept.best.differential_k >= swept.best_ignoring_humidity.differential_k


@pytest.mark.parametrize(("zone", "listed"), [("4A", False), ("5A", True), (None, None)])
def test_the_flag_follows_the_zone(zone: str | None, listed: bool | None, weather_of: Any) -> None:
    case = make_case(preset="small-office", overrides={"site": {"climate_zone": zone}})
    compared = compare_rules(case, weather_of(GREENSBORO), draws=0)
    rules = by_name(compared)
    assert rules["return-differential"].code_changeover is listed
    assert rules["fixed-dry-bulb"].code_changeover is (None if zone is None else True)
    codes = {notice.code: notice.text for notice in compared.warnings}
    if zone is None:
        assert "climate_zone_unknown" in codes
        assert compared.climate_zone is None
    else:
        assert "climate_zone_unknown" not in codes
        assert ("return-differential" in codes.get("not_a_code_changeover", "")) is not listed


def test_a_dwelling_is_not_bound_by_the_table(weather_of: Any) -> None:
    case = make_case(overrides={"site": {"climate_zone": "4A"}})
    compared = compare_rules(case, weather_of(GREENSBORO), draws=0)
    assert {rule.code_changeover for rule in compared.rules} == {None}
    assert "not_a_code_changeover" not in {notice.code for notice in compared.warnings}


def test_the_cases_own_rule_keeps_its_settings(weather_of: Any) -> None:
    told = {"rule": {"name": "differential", "differential": "9F"}}
    case, weather = make_case(preset="small-office", overrides=told), weather_of(GREENSBORO)
    compared, alone = compare_rules(case, weather, draws=0), estimate(case, weather)
    got = by_name(compared)["differential"].published.energy
    assert got.net_kwh_saved == pytest.approx(alone.energy.net_kwh_saved, rel=1e-9)


@pytest.mark.parametrize(("cost", "pays"), [(1.0, True), (90_000.0, False)])
def test_sensor_cost_decides_whether_humidity_pays(cost: float, pays: bool, weather_of: Any) -> None:
    """Where it saves more, a sensor that costs next to nothing pays, and one of a fortune does not."""
    told: dict[str, Any] = {"sensors": {"humidity_sensor_cost": cost}, "site": {"climate_zone": "4A"}}
    # A coil that keeps its water dries the office, which damp outdoor air then wets: here humidity is worth reading.
    told["unit"] = {"re_evaporation": False}
    case = make_case(preset="small-office", overrides=told)
    answer = compare_rules(case, weather_of(GREENSBORO), draws=0)
    assert answer.answers[0].startswith("Reading humidity pays" if pays else "Reading humidity does not pay")


def test_a_loss_is_not_told_as_minus_a_saving(office: Any) -> None:
    """A sentence has no negative hours taken away."""
    for name in ZONES:
        for text in office(name).answers:
            assert "takes -" not in text
            assert "and -" not in text, text


def test_same_seed_same_answer_whatever_the_threads(weather_of: Any) -> None:
    case, weather = make_case(preset="small-office"), weather_of(GREENSBORO)
    one, two, other = (
        compare_rules(case, weather, draws=1, seed=seed, workers=workers).to_dict()
        for seed, workers in ((3, 1), (3, 3), (4, 2))
    )
    assert one == two
    assert one["rules"] != other["rules"]


def test_progress_and_cancel_reach_the_comparison(weather_of: Any) -> None:
    told: list[tuple[int, int]] = []
    case, weather = make_case(), weather_of(GREENSBORO)
    compare_rules(case, weather, draws=0, progress=lambda *done: told.append(done))
    assert told == sorted(told)
    assert told[-1][0] == told[-1][1]
    cancel = Event()
    cancel.set()
    with pytest.raises(Cancelled):
        compare_rules(case, weather, draws=0, cancel=cancel)
