"""Whose clock people and tariff follow: standard time all year, or a place's own with daylight saving."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from freecool.answers.prepare import clock_of, prepare
from freecool.cases.model import make_case
from freecool.core.errors import CaseError
from freecool.weather import open_weather

# demo:high-desert stands at 7 h west, on the calendar of 2018.
DESERT = open_weather("demo:high-desert")
OFFICE = {"schedule": {"time_zone": "America/Denver"}}


@pytest.mark.parametrize(
    ("standard", "hour"),
    [  # 15 USC 260a: from the second Sunday of March to the first of November, at 2 o'clock.
        ("2018-01-15 08:00", 8),
        ("2018-03-11 01:00", 1),
        ("2018-03-11 02:00", 3),
        ("2018-07-15 08:00", 9),
        ("2018-07-15 23:00", 0),
        ("2018-11-04 00:00", 1),
        ("2018-11-04 01:00", 1),
        ("2018-12-15 08:00", 8),
    ],
)
def test_clocks_go_forward_in_summer(standard: str, hour: int) -> None:
    at = DESERT.frame.index.get_loc(f"{standard}-07:00")
    assert clock_of(make_case(OFFICE), DESERT)[at].hour == hour
    assert clock_of(make_case(), DESERT)[at].hour == int(standard[11:13])


def test_people_and_tariff_come_an_hour_earlier_by_the_sun() -> None:
    peak = {"price": 0.1, "tariff": [{"hours": "16-21", "price": 0.3}]}
    told: list[Any] = [
        prepare(make_case({"money": peak, **more}, preset="small-office"), DESERT).zone.hours for more in ({}, OFFICE)
    ]
    july = slice(181 * 24, 212 * 24)
    for column in ("price", "ventilation_m3_s", "cool_c"):
        standard, summer = (getattr(hours, column) for hours in told)
        np.testing.assert_array_equal(summer[july], np.roll(standard, -1)[july])
        np.testing.assert_array_equal(summer[:1000], standard[:1000])


def test_a_house_that_is_always_the_same_is_moved_by_nothing() -> None:
    told: list[Any] = [prepare(make_case(more), DESERT).zone.hours for more in ({}, OFFICE)]
    for standard, summer in zip(*told, strict=True):
        np.testing.assert_array_equal(standard, summer)


@pytest.mark.parametrize("name", ["Mars/Olympus", "../etc/passwd", "America", "UTC+1", "\x00"])
def test_no_such_zone(name: str) -> None:
    with pytest.raises(CaseError, match="expected a name of the IANA time zone database"):
        make_case({"schedule": {"time_zone": name}})


@pytest.mark.parametrize(("name", "offset"), [("Europe/Berlin", r"\+1 h"), ("Australia/Sydney", r"\+10 h")])
def test_another_place_s_clock_is_refused(name: str, offset: str) -> None:
    with pytest.raises(CaseError, match=rf"'{name}', {offset} from UTC .* the weather is at -7 h"):
        prepare(make_case({"schedule": {"time_zone": name}}), DESERT)
