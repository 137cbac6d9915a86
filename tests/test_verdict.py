"""The verdict: by money and moisture, never "don't" alone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from freecool.answers.estimate import Estimate, estimate
from freecool.answers.results import Alternative, Alternatives, Blocks, LikelyBand, Mover, Reach
from freecool.answers.verdict import is_worth_it, verdict_of
from freecool.cases.model import Case, make_case
from freecool.weather import open_weather


@pytest.fixture(scope="module")
def answer() -> Estimate:
    return estimate(make_case(), open_weather("demo:high-desert"))


def found(
    answer: Estimate,
    net: float,
    saved: float,
    *,
    risk: Any = "low",
    payback: float | None = None,
    cooling: float = 2000.0,
) -> Blocks:
    return Blocks(
        hours=replace(answer.hours, cooling=cooling),
        energy=replace(answer.energy, net_kwh_saved=net, cooling_percent=16.0),
        humidity=replace(answer.humidity, risk=risk, reason="the reason"),
        money=replace(answer.money, saved_per_year=saved, payback_years=payback, worth_up_to=10.0 * saved),
    )


def other(net: float, words: str = "a differential of 9 °F") -> Alternative:
    return Alternative(
        kind="differential", words=words, options="", net_kwh_saved=net, saved_per_year=0.15 * net, risk="low"
    )


def band(low: float, high: float) -> LikelyBand:
    return LikelyBand(
        net_kwh_saved=Reach(low=low, middle=(low + high) / 2.0, high=high),
        saved_per_year=Reach(low=0.15 * low, middle=0.15 * (low + high) / 2.0, high=0.15 * high),
        draws=64,
        inputs=(),
    )


WIDE = band(200.0, 700.0)
FAN = Mover(input="fan.power", words="power of the fan", net_kwh_low=300.0, net_kwh_high=100.0)


def others(best: Alternative | None = None, *helps: Alternative) -> Alternatives:
    return Alternatives(best=best, by_kind=(), would_help=helps, tried=55)


@pytest.mark.parametrize(
    ("net", "saved", "more", "told", "verdict", "words"),
    [
        (
            394.0,
            394.0,
            {},
            others(),
            "yes",
            ("Worth it if it can be fitted for less than $3,940", "16 %", "; buildings like it save 200 to 7"),
        ),
        (600.0, 90.0, {"payback": 5.0}, others(), "yes", ("Worth it, paid back in 5.0 years",)),
        (
            8.0,
            1.0,
            {},
            others(),
            "hardly",
            ("Hardly worth it, less than the $25 a year", "saves 8 kWh and $1"),
        ),
        (0.2, 0.0, {}, others(), "no", ("Don't", "No setting that was tried")),
        (-40.0, -6.0, {}, others(), "no", ("Don't: free cooling here spends 40 kWh",)),
        (60.0, -3.0, {}, others(), "no", ("upkeep and added heating cost more than the money", "save 200 to 700")),
        (
            600.0,
            90.0,
            {"payback": 22.0},
            others(),
            "no",
            ("Don't, it never pays back within its life: it saves 600"),
        ),
        (0.0, 0.0, {"cooling": 0.0}, others(), "no", ("never calls for cooling",)),
        # Never "don't" alone: the setting that is worth it, else the best there is, else what would help.
        (-4.0, -1.0, {}, others(other(210.0)), "no", ("Not with a differential of 5 °F: ", "9 °F saves 210 kWh")),
        (8.0, 1.0, {}, others(other(90.0)), "hardly", ("The best setting here, a differential of 9 °F, saves 90",)),
        (8.0, 1.0, {}, others(other(8.1)), "hardly", ("Hardly",)),
        (-4.0, -1.0, {}, others(None, other(300.0, "a fan of 0.2 W/cfm")), "no", ("With a fan of 0.2 W/cfm, it",)),
        (394.0, 60.0, {}, others(other(800.0)), "yes", ("A differential of 9 °F would save 800 kWh.",)),
        # Moisture is told beside the verdict, and decides alone only where nothing dry saves.
        (394.0, 60.0, {"risk": "watch"}, others(other(380.0)), "yes", ("gets damper: the reason", "keeps it dry")),
        (394.0, 60.0, {"risk": "high"}, others(other(380.0)), "yes", ("gets damp: the reason", "keeps it dry")),
        # What is no better than what was asked is not told instead of it.
        (
            394.0,
            60.0,
            {"band": band(20.0, 500.0)},
            others(other(400.0)),
            "hardly",
            ("Perhaps worth it, find out first",),
        ),
        # Worth it only where it is at the low end of buildings like it, else what to find out.
        (
            394.0,
            60.0,
            {"band": band(20.0, 500.0)},
            others(),
            "hardly",
            ("Perhaps worth it, find out first about power of",),
        ),
        (394.0, 60.0, {"band": band(170.0, 500.0)}, others(), "yes", ("Worth it if", "save 170 to 500 kWh")),
        (
            8.0,
            1.0,
            {"band": band(9.0, 9.2)},
            others(),
            "hardly",
            ("like it save 9 kWh, which rests most on power",),
        ),
        (8.0, 1.0, {"risk": "high"}, others(other(90.0)), "hardly", ("And it gets damp: the reason", "saves 90")),
        (
            394.0,
            60.0,
            {"risk": "high"},
            others(),
            "no",
            ("Don't, it gets damp: the reason", "No setting that was tried"),
        ),
    ],
)
def test_the_sentence(
    answer: Estimate,
    net: float,
    saved: float,
    more: dict[str, Any],
    told: Alternatives,
    verdict: str,
    words: tuple[str, ...],
) -> None:
    likely = more.get("band", WIDE)
    rest = {name: value for name, value in more.items() if name != "band"}
    got, *sentences = verdict_of(make_case(), found(answer, net, saved, **rest), told, likely, [FAN])
    text = " ".join(sentences)
    assert got == verdict, text
    for word in words:
        assert word in text


def test_what_is_as_good_is_not_told(answer: Estimate) -> None:
    _, _, advice = verdict_of(make_case(), found(answer, 394.0, 60.0), others(other(400.0)), WIDE)
    assert advice == ""


@pytest.mark.parametrize(
    ("money", "saved", "worth"),
    [
        ({}, 25.0, True),
        ({}, 24.9, False),
        ({"least_saving": 5}, 6.0, True),
        ({"least_saving": 0}, 0.0, False),
        ({"installed_cost": 1000, "life_years": 15}, 66.0, False),
        ({"installed_cost": 1000, "life_years": 15}, 67.0, True),
    ],
)
def test_the_least_saving_is_the_cases_own(money: dict[str, Any], saved: float, worth: bool) -> None:
    case: Case = make_case({"money": money})
    assert is_worth_it(case, 100.0, saved) == worth


def test_a_real_answer_names_a_better_setting() -> None:
    """The office of the invented mixed climate: perhaps worth it as asked, and more at its best."""
    office = estimate(make_case(preset="small-office"), open_weather("demo:mixed-inland"))
    best = office.alternatives.best
    assert office.verdict == "hardly"
    assert best is not None
    assert best.net_kwh_saved > 1.1 * office.energy.net_kwh_saved
    assert f"{best.words} saves {best.net_kwh_saved:,.0f} kWh" in office.sentence
    assert "As asked: perhaps worth it, find out first about" in office.sentence


@pytest.mark.parametrize(
    ("preset", "zone", "capacity", "place", "asks"),
    [
        # ASHRAE 90.1-2016 6.5.1 (from memory), IECC C403.5: 54,000 Btu/h or more, not in 0A, 0B, 1A, 1B.
        ("small-office", "4A", "12.5 ton", "demo:mixed-inland", True),
        ("small-office", "4A", "4.5 ton", "demo:mixed-inland", True),
        ("small-office", "4A", "4.4 ton", "demo:mixed-inland", False),
        ("small-office", "1A", "12.5 ton", "demo:mixed-inland", False),
        ("small-office", None, "12.5 ton", "demo:mixed-inland", True),
        ("detached-house-medium", "4A", "5 ton", "demo:mixed-inland", False),
    ],
)
def test_where_the_code_asks_for_one_it_is_said(
    preset: str, zone: str | None, capacity: str, place: str, asks: bool
) -> None:
    flow = f"{400 * float(capacity.split()[0])}cfm"
    told = {"site": {"climate_zone": zone}, "unit": {"capacity": capacity}, "fan": {"flow": flow}}
    codes = {notice.code for notice in estimate(make_case(told, preset=preset), open_weather(place)).warnings}
    assert ("code_asks_for_one" in codes) == asks
