"""Time-of-use prices and emissions, against hand counts of hours and the hourly table."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from made_weather import made_weather

from freecool.answers.estimate import estimate
from freecool.answers.prepare import prepare
from freecool.cases.model import Case, make_case
from freecool.core.errors import CaseError
from freecool.physics.year import JOULES_PER_KWH, simulate
from freecool.weather import open_weather

FLAT = 0.10
# Summer weekday evenings dear: June to September 2018 has 86 weekdays (21 + 22 + 23 + 20), five hours each.
EVENINGS = {"months": "jun-sep", "days": "mon-fri", "hours": "16-21", "price": 0.40}
EVENING_HOURS = 86 * 5


def priced(*periods: dict[str, Any], preset: str = "equipment-room", **money: Any) -> Case:
    return make_case(preset=preset, overrides={"money": {"price": FLAT, "tariff": list(periods), **money}})


def prices(*periods: dict[str, Any]) -> np.ndarray:
    """Price by hour of 2018."""
    return prepare(priced(*periods), made_weather(20.0, 5.0)).zone.hours.price


def test_a_constant_load_costs_what_a_hand_calculation_says() -> None:
    """Steady weather and gains: every hour takes the same kWh, 430 of them at 0.40 and 8,330 at 0.10."""
    ready = prepare(priced(EVENINGS), made_weather(20.0, 5.0))
    year = simulate(ready.zone, ready.unit, ready.fan)
    kwh = float(year.total("compressor_j")[0] + year.total("fan_j")[0]) / JOULES_PER_KWH
    assert kwh > 1_000.0
    expected = kwh / 8760.0 * (EVENING_HOURS * 0.40 + (8760 - EVENING_HOURS) * FLAT)
    assert year.total("electricity_cost")[0] == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("span", "count"),
    [
        # 2018 begins on a Monday, so it has 53 Mondays and 52 of every other day.
        ({"months": "jan-dec"}, 8760),
        ({"months": "feb"}, 28 * 24),
        ({"months": "nov-feb"}, (30 + 31 + 31 + 28) * 24),
        ({"months": "jan,jul"}, 62 * 24),
        ({"days": "mon"}, 53 * 24),
        ({"days": "sat-mon"}, (52 + 52 + 53) * 24),
        ({"days": "sat,sun"}, 104 * 24),
        ({"hours": "16-21"}, 365 * 5),
        ({"hours": "22-6"}, 365 * 8),
        ({"hours": "7"}, 365),
        ({"hours": "6-9,17-20"}, 365 * 6),
        ({"hours": "0-24"}, 8760),
        (EVENINGS, EVENING_HOURS),
    ],
    ids=str,
)
def test_spans_cover_the_hours_counted_by_hand(span: Any, count: Any) -> None:
    assert int((prices({**span, "price": 0.40}) == 0.40).sum()) == count


def test_a_night_through_new_year_by_the_calendar() -> None:
    """Winter weekday nights, hour by hour against the plain calendar."""
    got = prices({"months": "dec-jan", "days": "fri-sun", "hours": "22-6", "price": 0.05})
    times = [datetime(2018, 1, 1) + timedelta(hours=hour) for hour in range(8760)]
    expected = [
        0.05 if t.month in (12, 1) and t.isoweekday() in (5, 6, 7) and (t.hour >= 22 or t.hour < 6) else FLAT
        for t in times
    ]
    assert got.tolist() == expected


def test_the_first_period_that_fits_wins() -> None:
    summer = {"months": "jun-sep", "price": 0.20}
    narrow_first, wide_first = prices(EVENINGS, summer), prices(summer, EVENINGS)
    assert int((narrow_first == 0.40).sum()) == EVENING_HOURS
    assert int((narrow_first == 0.20).sum()) == 122 * 24 - EVENING_HOURS
    assert int((wide_first == 0.40).sum()) == 0
    assert int((wide_first == FLAT).sum()) == int((narrow_first == FLAT).sum()) == (365 - 122) * 24


@pytest.fixture(scope="module")
def greensboro(pvlib_weather: Callable[[str], Path]) -> Any:
    return open_weather(str(pvlib_weather("723170TYA.CSV")))


def test_a_flat_tariff_is_no_tariff(greensboro: Any) -> None:
    plain = estimate(priced(preset="small-office"), greensboro).money
    everywhere = estimate(priced({"price": FLAT}, preset="small-office", price=9.0), greensboro).money
    assert plain.electricity_per_year > 1.0
    assert everywhere.electricity_per_year == pytest.approx(plain.electricity_per_year, rel=1e-9)
    assert everywhere.saved_per_year == pytest.approx(plain.saved_per_year, rel=1e-9)


def test_money_saved_is_every_hour_at_its_price(greensboro: Any) -> None:
    nights = {"hours": "22-6", "price": 0.25}
    answer = estimate(priced(EVENINGS, nights), greensboro)
    table = answer.hourly
    saved_w = (table["compressor_w_without"] - table["compressor_w_with"]) - (
        table["fan_w_with"] - table["fan_w_without"]
    )
    when = table.index
    dear = when.month.isin(range(6, 10)) & (when.day_of_week < 5) & (when.hour >= 16) & (when.hour < 21)  # type: ignore[attr-defined]
    price = np.where(dear, 0.40, np.where((when.hour >= 22) | (when.hour < 6), 0.25, FLAT))  # type: ignore[attr-defined]
    expected = float((saved_w / 1000.0 * price).sum())
    assert answer.money.electricity_per_year == pytest.approx(expected, rel=1e-9)
    # Dear nights change the answer, or the check above could not fail.
    assert expected > 1.02 * FLAT * answer.energy.net_kwh_saved


def test_emissions_follow_the_users_own_factor(greensboro: Any) -> None:
    told = estimate(priced(emission_factor=0.4), greensboro)
    assert told.money.co2_kg_avoided == pytest.approx(0.4 * told.energy.net_kwh_saved)
    assert told.to_dict()["money"]["co2_kg_avoided"] == told.money.co2_kg_avoided
    assert estimate(priced(), greensboro).money.co2_kg_avoided is None


@pytest.mark.parametrize(
    ("period", "words"),
    [
        ({"months": "jun-foo"}, ("months", "jun-foo", "jan-may")),
        ({"months": "6-9"}, ("months", "6-9")),
        ({"days": "mon-fry"}, ("days", "mon-fry", "mon-fri")),
        ({"hours": "16-25"}, ("hours", "16-25", "7-18")),
        ({"hours": "16-18-21"}, ("hours", "16-18-21")),
        ({"hours": ""}, ("hours", "''")),
        ({"price": -0.1}, ("price", "-0.1")),
        ({"hour": "16-21"}, ("hour", "known there")),
    ],
    ids=str,
)
def test_a_wrong_period_is_refused_with_its_place(period: Any, words: Any) -> None:
    with pytest.raises(CaseError) as caught:
        priced(EVENINGS, {"price": 0.2, **period})
    text = str(caught.value)
    # Which of the periods: the second.
    assert [word for word in ("money.tariff.1", *words) if word not in text] == []


def test_a_period_without_a_price_is_refused() -> None:
    with pytest.raises(CaseError, match=r"money\.tariff\.0\.price is missing"):
        priced({"hours": "16-21"})


def test_a_period_that_covers_no_hour_is_refused() -> None:
    """From 16 to 16 is nothing, or all day: which was meant cannot be told."""
    with pytest.raises(CaseError, match="16-16"):
        priced({"hours": "16-16", "price": 0.2})
