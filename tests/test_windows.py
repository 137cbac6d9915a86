"""Open windows beside a damper: what they would do in a home, and what is left for the damper."""

from __future__ import annotations

from typing import Any

import pytest

from freecool.answers.estimate import estimate
from freecool.answers.results import OpenWindows
from freecool.answers.windows import OPEN_ACH, windows_do_the_same, windows_notices, windows_sentence
from freecool.cases.model import make_case
from freecool.cases.options import case_overrides
from freecool.core.errors import CaseError
from freecool.weather import open_weather

HOUSE = "detached-house-light"


def kwh(answer: Any) -> float:
    energy = answer.energy
    return float(energy.compressor_kwh_without + energy.fan_kwh_without)


@pytest.mark.parametrize("climate", ["high-desert", "humid-coast"])
def test_it_is_the_difference_of_answers_that_are_asked_for_by_hand(climate: str) -> None:
    weather = open_weather(f"demo:{climate}")
    shut = estimate(make_case(preset=HOUSE), weather)
    opened = estimate(make_case({"building": {"windows_open_ach": OPEN_ACH}}, preset=HOUSE), weather)
    assert shut.windows is not None
    assert shut.windows.net_kwh_saved == pytest.approx(kwh(shut) - kwh(opened), abs=1e-6)
    assert shut.windows.damper_net_kwh_saved == pytest.approx(opened.energy.net_kwh_saved, abs=1e-6)
    assert shut.windows.net_kwh_saved > 0.0
    assert shut.to_dict()["open_windows"]["air_changes_h"] == 3.0


@pytest.mark.parametrize(
    ("preset", "told"), [("small-office", {}), ("equipment-room", {}), (HOUSE, {"windows_open_ach": 0.5})]
)
def test_where_nobody_asks_nothing_is_said(preset: str, told: dict[str, Any]) -> None:
    answer = estimate(make_case({"building": told}, preset=preset), open_weather("demo:high-desert"))
    assert answer.windows is None
    assert "open_windows" not in answer.to_dict()
    assert "windows_shut" not in {notice.code for notice in answer.warnings}
    assert ("windows_open" in {notice.code for notice in answer.warnings}) == bool(told)


def found(alone: float, beside: float) -> OpenWindows:
    return OpenWindows(air_changes_h=OPEN_ACH, net_kwh_saved=alone, damper_net_kwh_saved=beside)


@pytest.mark.parametrize(
    ("alone", "beside", "damper", "words"),
    [
        (310.0, 28.0, 120.0, ("Open the windows instead", "they save 310 kWh", "beside them saves 28 kWh")),
        (310.0, 0.2, -5.0, ("Open the windows instead", "beside them saves nothing")),
        (310.0, -7.0, 310.0, ("Open the windows instead", "beside them saves nothing")),
        (310.0, 30.0, 120.0, ()),
        (90.0, 0.0, 120.0, ()),
        (0.2, 0.0, -5.0, ()),
        (-3.0, 40.0, -40.0, ()),
    ],
)
def test_the_verdict_sends_to_the_windows_where_they_do_the_same(
    alone: float, beside: float, damper: float, words: tuple[str, ...]
) -> None:
    sentence = windows_sentence(found(alone, beside), damper)
    assert bool(sentence) == bool(words) == windows_do_the_same(found(alone, beside), damper)
    for word in words:
        assert word in sentence


@pytest.mark.parametrize(
    ("alone", "beside", "words"),
    [
        (90.0, 60.0, ("taken as shut: open", "would save 90 kWh", "beside them 60 kWh")),
        (90.0, -4.0, ("would save 90 kWh", "beside them nothing")),
        (0.0, 40.0, ("would save nothing here",)),
        (-3.0, 40.0, ("would save nothing here",)),
    ],
)
def test_the_notice_tells_both(alone: float, beside: float, words: tuple[str, ...]) -> None:
    (notice,) = windows_notices(make_case(preset=HOUSE), found(alone, beside))
    assert notice.code == "windows_shut"
    for word in words:
        assert word in notice.text


@pytest.mark.parametrize(("habit", "changes"), [("never", 0.0), ("some", 1.0), ("always", 3.0)])
def test_a_habit_is_air_changes(habit: str, changes: float) -> None:
    """Common practice, no source."""
    assert make_case({"building": {"windows": habit}}).building.windows_open_ach == changes


@pytest.mark.parametrize(
    ("tables", "overrides", "changes"),
    [
        ({"windows": "always", "windows_open_ach": 2.0}, {}, 2.0),
        ({"windows_open_ach": 2.0}, {}, 2.0),
        ({"windows_open_ach": 2.0}, case_overrides({"windows": "some"}), 1.0),
        ({"windows": "some"}, case_overrides({"windows": "never"}), 0.0),
        ({}, case_overrides({"windows": "some", "building.windows_open_ach": 5.0}), 5.0),
    ],
)
def test_the_finer_word_counts_and_an_option_is_stronger(
    tables: dict[str, Any], overrides: dict[str, Any], changes: float
) -> None:
    assert make_case({"building": tables}, overrides).building.windows_open_ach == changes


def test_a_habit_that_is_none_is_refused_with_the_choices() -> None:
    with pytest.raises(CaseError, match=r"windows is 'often'.*never.*some.*always"):
        make_case({"building": {"windows": "often"}})


def test_where_people_open_windows_the_answer_says_so() -> None:
    answer = estimate(make_case({"building": {"windows": "always"}}, preset=HOUSE), open_weather("demo:high-desert"))
    assert "windows_open" in {notice.code for notice in answer.warnings}
    assert "Open the windows" not in answer.sentence
    assert answer.windows is None
