"""The risk scale of DESIGN 5.4, edge by edge."""

from __future__ import annotations

from typing import Any

import pytest

from freecool.answers.humidity import HumidityYear, humidity_risk

BEFORE = HumidityYear(over_60_rh_hours=400.0, over_60_dew_point_hours=30.0, worst_30_day_rh=0.60)


@pytest.mark.parametrize(
    ("added_rh", "added_dew", "worst", "risk"),
    [
        (-20.0, 0.0, 0.60, "low"),
        (0.0, 0.0, 0.60, "low"),
        (49.9, 0.0, 0.60, "low"),
        (50.0, 0.0, 0.60, "watch"),
        (250.0, 0.0, 0.60, "watch"),
        (250.1, 0.0, 0.60, "high"),
        (0.0, 50.0, 0.60, "low"),
        (0.0, 50.1, 0.60, "high"),
        (0.0, 0.0, 0.80, "low"),
        (0.0, 0.0, 0.8001, "high"),
    ],
)
def test_scale(added_rh: float, added_dew: float, worst: float, risk: str) -> None:
    after = HumidityYear(400.0 + added_rh, 30.0 + added_dew, worst)
    assert humidity_risk(BEFORE, after)[0] == risk


def test_a_building_damp_already_is_not_blamed_on_the_damper() -> None:
    assert humidity_risk(BEFORE._replace(worst_30_day_rh=0.83), BEFORE._replace(worst_30_day_rh=0.85))[0] == "low"


@pytest.mark.parametrize(
    ("after", "said"),
    [
        (BEFORE._replace(over_60_rh_hours=520.0), "120 hours"),
        (BEFORE._replace(over_60_rh_hours=380.0), "takes 20 hours"),
        (BEFORE._replace(worst_30_day_rh=0.82), "82%"),
        (BEFORE._replace(over_60_dew_point_hours=130.0), "100 hours"),
    ],
)
def test_the_reason_gives_the_figure(after: Any, said: str) -> None:
    assert said in humidity_risk(BEFORE, after)[1]
