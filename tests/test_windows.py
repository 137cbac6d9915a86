"""Open windows beside a damper: what they would do in a home, and what is left for the damper."""

from __future__ import annotations

from typing import Any

import pytest

from freecool.answers.estimate import estimate
from freecool.answers.results import OpenWindows
from freecool.answers.windows import OPEN_ACH, windows_notices
from freecool.cases.model import make_case
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


@pytest.mark.parametrize(
    ("alone", "beside", "damper", "words"),
    [
        (310.0, 28.0, 120.0, ("Open the windows instead", "they save 310 kWh", "beside them saves 28 kWh")),
        (310.0, 0.2, -5.0, ("Open the windows instead", "beside them saves nothing")),
        (310.0, -7.0, 310.0, ("Open the windows instead", "beside them saves nothing")),
        (90.0, 60.0, 120.0, ("taken as shut: open", "would save 90 kWh", "beside them 60 kWh")),
        (0.0, 40.0, 40.0, ("would save nothing here",)),
        (-3.0, 40.0, -40.0, ("would save nothing here",)),
    ],
)
def test_the_sentence_says_which_does_more(alone: float, beside: float, damper: float, words: tuple[str, ...]) -> None:
    windows = OpenWindows(air_changes_h=OPEN_ACH, net_kwh_saved=alone, damper_net_kwh_saved=beside)
    (notice,) = windows_notices(windows, damper)
    assert notice.code == "windows_shut"
    for word in words:
        assert word in notice.text
