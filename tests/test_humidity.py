"""Damp by clause: the scale edge by edge, the hours counted again, and whole places."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from freecool.answers.comparison import RulesCompared, compare_rules
from freecool.answers.estimate import Estimate, estimate
from freecool.answers.humidity import DEW_POINT_CLAUSE, MOULD_CLAUSE, ROOM_RH_CLAUSE, HumidityYear, Use, humidity_risk
from freecool.answers.notices import dry_notice
from freecool.cases.model import make_case
from freecool.core.air import dew_point_from_humidity_ratio
from freecool.weather import open_weather

BEFORE = HumidityYear(occupied_hours=3000.0, damp_hours=30.0, over_65_rh_hours=400.0, worst_30_day_rh=0.60)


@pytest.mark.parametrize(
    ("use", "added_rh", "added_dew", "worst", "risk", "clause"),
    [
        ("dwelling", -20.0, 0.0, 0.60, "low", ROOM_RH_CLAUSE),
        ("dwelling", 0.0, 0.0, 0.60, "low", ROOM_RH_CLAUSE),
        # 2 % and 8 % of 3,000 occupied hours; our own scale.
        ("dwelling", 59.9, 0.0, 0.60, "low", ROOM_RH_CLAUSE),
        ("dwelling", 60.0, 0.0, 0.60, "watch", ROOM_RH_CLAUSE),
        ("dwelling", 240.0, 0.0, 0.60, "watch", ROOM_RH_CLAUSE),
        ("dwelling", 240.1, 0.0, 0.60, "high", ROOM_RH_CLAUSE),
        # ASHRAE 62.1 is no standard of dwellings: its dew point does not count there.
        ("dwelling", 0.0, 500.0, 0.60, "low", ROOM_RH_CLAUSE),
        ("commercial", 0.0, 0.0, 0.60, "low", DEW_POINT_CLAUSE),
        ("commercial", 0.0, 60.0, 0.60, "watch", DEW_POINT_CLAUSE),
        ("commercial", 0.0, 240.1, 0.60, "high", DEW_POINT_CLAUSE),
        ("commercial", 100.0, 50.0, 0.60, "watch", ROOM_RH_CLAUSE),
        ("equipment", 50.0, 100.0, 0.60, "watch", DEW_POINT_CLAUSE),
        ("dwelling", 0.0, 0.0, 0.80, "low", ROOM_RH_CLAUSE),
        ("dwelling", 0.0, 0.0, 0.8001, "high", MOULD_CLAUSE),
    ],
)
def test_scale(use: Use, added_rh: float, added_dew: float, worst: float, risk: str, clause: str) -> None:
    after = HumidityYear(3000.0, 30.0 + added_dew, 400.0 + added_rh, worst)
    damp = humidity_risk(use, BEFORE, after)
    assert (damp.risk, damp.clause) == (risk, clause)


def test_a_building_damp_already_is_not_blamed_on_the_damper() -> None:
    without, fitted = BEFORE._replace(worst_30_day_rh=0.83), BEFORE._replace(worst_30_day_rh=0.85)
    assert humidity_risk("dwelling", without, fitted).risk == "low"


def test_a_building_that_nobody_occupies_has_no_share() -> None:
    empty = BEFORE._replace(occupied_hours=0.0)
    assert humidity_risk("commercial", empty, empty).risk == "low"


@pytest.mark.parametrize(
    ("after", "said"),
    [
        (
            BEFORE._replace(over_65_rh_hours=520.0),
            ("adds 120 occupied", "4 % of the occupied", "limit 2 %", "5.9.1"),
        ),
        (BEFORE._replace(over_65_rh_hours=800.0), ("adds 400 occupied hours", "limit 8 %")),
        (BEFORE._replace(over_65_rh_hours=380.0), ("spares 20 occupied hours",)),
        (BEFORE._replace(over_65_rh_hours=430.0), ("adds 30 occupied hours", "under 2 %")),
        (BEFORE, ("adds no occupied hours",)),
        (BEFORE._replace(worst_30_day_rh=0.82), ("82 %", "ASHRAE 160-2009")),
    ],
)
def test_the_reason_gives_figure_limit_and_clause(after: HumidityYear, said: tuple[str, ...]) -> None:
    reason = humidity_risk("dwelling", BEFORE, after).reason
    assert all(words in reason for words in said), reason


@pytest.fixture(scope="module")
def answer_of() -> Callable[..., Estimate]:
    return cache(lambda preset, place: estimate(make_case(preset=preset), open_weather(f"demo:{place}")))


@pytest.mark.parametrize(
    ("preset", "place"), [("small-office", "humid-coast"), ("detached-house-light", "high-desert")]
)
def test_hours_counted_again_from_the_hourly_table(preset: Any, place: str, answer_of: Any) -> None:
    """62.1-2022 5.12 and 62.1-2016 5.9.1 beyond 1 degF and 2 % RH, 30 % RH, TC 9.9, read off the table."""
    answer = answer_of(preset, place)
    hourly, occupied = answer.hourly, answer.occupied
    humidity = answer.humidity.to_dict()
    pressure = answer.weather.frame["pressure_pa"].to_numpy()
    outside = hourly["outdoor_dew_point_c"].to_numpy() > 15.5555556
    assert humidity["occupied_hours"] == occupied.sum()
    for name in ("without", "with"):
        rh = hourly[f"relative_humidity_percent_{name}"].to_numpy()
        dew = dew_point_from_humidity_ratio(hourly[f"humidity_ratio_kg_kg_{name}"].to_numpy(), pressure)
        damp = outside & (dew > 15.5555556 + 0.5555556) & (occupied | (rh > 67.0))
        assert humidity[f"damp_hours_{name}"] == pytest.approx(damp.sum(), abs=1.0)
        assert humidity[f"rh_over_65_occupied_hours_{name}"] == (occupied & (rh > 67.0)).sum()
        assert humidity[f"dry_hours_{name}"] == (occupied & (rh < 28.0)).sum()
        assert humidity[f"very_dry_hours_{name}"] == pytest.approx(((rh < 8.0) | (dew < -12.0)).sum(), abs=1.0)


def test_the_distribution_is_that_of_occupied_hours(answer_of: Any) -> None:
    answer = answer_of("small-office", "humid-coast")
    rh = answer.hourly["relative_humidity_percent_with"].to_numpy()[answer.occupied] / 100.0
    told = answer.to_dict()["indoor_humidity"]
    assert told["mean_rh_with"] == pytest.approx(rh.mean())
    assert told["p90_rh_with"] == pytest.approx(np.quantile(rh, 0.9))
    assert told["p10_rh_without"] <= told["mean_rh_without"] <= told["p90_rh_without"]
    assert f"{told['p90_rh_with']:.0%}" in " ".join(repr(answer).split())


# Whole places: dry ones low with any rule; the damp coast not low with a plain dry-bulb rule.
DRY = {"albuquerque": "4B", "golden": "5B", "sacramento": "3B"}
FILES = {
    "albuquerque": "723650TYA_Albuquerque_TMY3.csv",
    "golden": "724666TYA_GoldenNREL_TMY3.csv",
    "sacramento": "724839TYA_Sacramento_TMY3.csv",
    "melbourne": "722040TYA_MelbourneFL_TMY3.csv",
    "atlanta": "USA_GA_Atlanta-Hartsfield-Jackson.Intl.AP.722190_TMY3.epw",
    "chicago": "USA_IL_Chicago.OHare.Intl.AP.725300_TMY3.epw",
}
ZONES = DRY | {"melbourne": "2A", "atlanta": "3A", "chicago": "5A"}


@pytest.fixture(scope="module")
def compared(shared_weather: Callable[[str], Path]) -> Callable[[str, Any], RulesCompared]:
    def run(place: str, preset: Any) -> RulesCompared:
        case = make_case(preset=preset, overrides={"site": {"climate_zone": ZONES[place]}})
        return compare_rules(case, open_weather(shared_weather(FILES[place])), draws=0)

    return cache(run)


@pytest.mark.parametrize("place", DRY)
@pytest.mark.parametrize("preset", ["small-office", "detached-house-medium"])
def test_dry_places_are_low_with_every_rule(place: str, preset: Any, compared: Any) -> None:
    assert {rule.published.humidity.risk for rule in compared(place, preset).rules} == {"low"}


def test_the_damp_coast_is_not_low_with_a_plain_dry_bulb_rule(compared: Any) -> None:
    house = {rule.name: rule.published.humidity for rule in compared("melbourne", "detached-house-medium").rules}
    office = {rule.name: rule.published.humidity for rule in compared("melbourne", "small-office").rules}
    assert house["differential"].risk == "watch"
    for found in (house, office):
        assert found["return-differential"].risk == "high"
        assert found["dew-point"].risk == "low"


@pytest.mark.parametrize("place", ["melbourne", "atlanta", "chicago"])
def test_a_listed_rule_that_is_high_says_so_with_clause_hours_and_limit(place: str, compared: Any) -> None:
    found = compared(place, "small-office")
    told = " ".join(found.answers)
    for rule in found.rules:
        if rule.published.humidity.risk == "high":
            humidity = rule.published.humidity
            assert rule.name in told
            assert humidity.clause in told
            assert f"{humidity.clause_hours_added:,.0f}" in told
            assert "limit 8 %" in humidity.reason
            listed = {True: "listed", False: "not listed"}[bool(rule.code_changeover)]
            assert listed in told


def test_dry_air_is_told_where_a_room_is_cooled_all_winter(shared_weather: Callable[[str], Path]) -> None:
    """An equipment room in Chicago takes in winter air of a few percent."""
    weather = open_weather(shared_weather(FILES["chicago"]))
    cold, mild = (
        estimate(make_case(preset="equipment-room"), weather),
        estimate(make_case(preset="detached-house-medium"), weather),
    )
    (notice,) = dry_notice(cold.humidity)
    assert notice in cold.warnings
    assert "under 30 % relative humidity" in notice.text
    assert not dry_notice(mild.humidity)
