"""What many buildings share of one weather, and that sharing changes nothing."""

from __future__ import annotations

import gc
from weakref import ref

import numpy as np

from freecool.answers.prepare import outdoors_of, prepare
from freecool.cases.model import make_case
from freecool.physics.year import simulate
from freecool.weather import open_weather

DEMO = "demo:high-desert"


def test_a_weather_used_before_gives_the_same_run() -> None:
    """A second building in a weather runs as on a weather freshly opened, turned walls and all."""
    case = make_case({"building": {"long_side_azimuth": 215.0}}, preset="small-office")
    used = open_weather(DEMO)
    prepare(make_case(), used)
    again, fresh = prepare(case, used), prepare(case, open_weather(DEMO))
    for one, other in zip(again.zone.hours, fresh.zone.hours, strict=True):
        np.testing.assert_array_equal(one, other)
    runs = [simulate(p.zone, p.unit, p.fan).totals for p in (again, fresh)]
    np.testing.assert_array_equal(*runs)  # type: ignore[arg-type]


def test_the_air_of_a_weather_is_made_once_and_goes_with_it() -> None:
    weather = open_weather(DEMO)
    outdoors = outdoors_of(weather)
    assert outdoors_of(weather) is outdoors
    assert outdoors.sun_on(90.0, 180.0) is outdoors.sun_on(90.0, 180.0)
    kept = ref(outdoors.sun_on)
    del weather, outdoors
    gc.collect()
    assert kept() is None
