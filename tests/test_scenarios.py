"""Many runs through a pool of threads: the same as one by one, told how far, and stopped when asked."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from threading import Event
from time import perf_counter
from typing import Any

import numpy as np
import pytest

from freecool.answers.prepare import prepare
from freecool.answers.scenarios import CHUNK, Scenario, run_scenarios
from freecool.answers.sensors import SensorError, draw_errors
from freecool.cases.model import make_case
from freecool.core.cancel import Cancelled
from freecool.core.errors import FreecoolError
from freecool.physics.rule import Limits
from freecool.physics.year import simulate
from freecool.weather import open_weather

# Two full chunks and a part of one.
COUNT = 2 * CHUNK + 5


class Work:
    """A prepared building, its run without a damper, and scenarios that all differ."""

    def __init__(self, path: str) -> None:
        p = self.prepared = prepare(make_case(), open_weather(path))
        self.base = simulate(p.zone, p.unit, p.fan)
        self.scenarios = [
            Scenario(
                p.fan._replace(watts=p.fan.watts * (1.0 + 0.01 * index)),
                p.damper._replace(precool_k=0.05 * index),
                SensorError(outdoor_k=0.02 * index).on(p.limits._replace(differential_k=0.2 * index)),
            )
            for index in range(COUNT)
        ]

    def run(self, count: int = COUNT, **options: Any) -> np.ndarray:
        p = self.prepared
        return run_scenarios(p.zone, p.unit, self.base, self.scenarios[:count], **options)


@pytest.fixture(scope="module")
def work(pvlib_weather: Callable[[str], Path]) -> Work:
    return Work(str(pvlib_weather("723170TYA.CSV")))


@pytest.fixture(scope="module")
def one_by_one(work: Any) -> np.ndarray:
    p = work.prepared
    return np.stack(
        [simulate(p.zone, p.unit, fan, damper, limits, base=work.base).totals for fan, damper, limits in work.scenarios]
    )


@pytest.mark.parametrize("workers", [1, 2, 3, None])
def test_the_result_does_not_depend_on_the_thread_count(work: Any, one_by_one: Any, workers: int | None) -> None:
    assert np.array_equal(work.run(workers=workers), one_by_one)


def test_scenarios_differ_from_each_other(one_by_one: Any) -> None:
    assert len({run.tobytes() for run in one_by_one}) == COUNT


def test_no_scenario_is_no_work(work: Any) -> None:
    told: list[tuple[int, int]] = []
    assert work.run(0, progress=lambda *done: told.append(done)).shape == (0, *work.base.totals.shape)
    assert told == []


@pytest.mark.parametrize("workers", [1, 3])
def test_progress_rises_to_the_total(work: Any, workers: int) -> None:
    told: list[tuple[int, int]] = []
    work.run(workers=workers, progress=lambda *done: told.append(done))
    done = [first for first, _ in told]
    assert done == sorted(set(done))
    assert told[-1] == (COUNT, COUNT)
    assert {total for _, total in told} == {COUNT}


def test_cancelled_before_it_begins_runs_nothing(work: Any) -> None:
    cancel, told = Event(), []
    cancel.set()
    with pytest.raises(Cancelled, match="Cancelled"):
        work.run(cancel=cancel, progress=lambda *done: told.append(done))
    assert {done for done, _ in told} <= {0}


def test_cancel_stops_work_that_has_begun(work: Any) -> None:
    cancel, told = Event(), []
    p = work.prepared
    many = [
        scenario._replace(fan=scenario.fan._replace(watts=scenario.fan.watts + 0.01 * place))
        for place in range(40)
        for scenario in work.scenarios
    ]

    def stop(*done: int) -> None:
        told.append((perf_counter(), *done))
        cancel.set()

    start = perf_counter()
    with pytest.raises(Cancelled) as caught:
        run_scenarios(p.zone, p.unit, work.base, many, workers=2, progress=stop, cancel=cancel)
    end = perf_counter()
    assert isinstance(caught.value, FreecoolError)
    (first, done, total), *_ = told
    assert done < total == len(many)
    # A run in hand may end, nothing more: far less than the rest would take at the pace so far.
    rest = (first - start) * (total - done) / done
    assert end - first < 0.5 * rest


def test_what_fails_in_a_thread_fails_aloud(work: Any) -> None:
    p = work.prepared
    broken = [*work.scenarios, (p.fan, p.damper)]
    with pytest.raises(ValueError, match="unpack"):
        run_scenarios(p.zone, p.unit, work.base, broken, workers=2)


RULES_UNDER_ERROR = {
    "differential": Limits(differential_k=3.0),
    "fixed dry bulb with a low limit": Limits(dry_bulb_max_c=20.0, dry_bulb_min_c=8.0),
    "below return air": Limits(differential_k=1.0, from_return_air=True),
    "dew point": Limits(dry_bulb_max_c=23.0, dew_point_max_c=13.0),
    "with a reset": Limits(differential_k=3.0, reset_k=1.0),
}


@pytest.mark.parametrize("name", RULES_UNDER_ERROR)
def test_scenarios_alike_run_once_and_answer_as_if_each_had_run(
    work: Any, name: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    p = work.prepared
    drawn = draw_errors(make_case().sensors, 60, seed=5)
    scenarios = [Scenario(p.fan, p.damper, error.on(RULES_UNDER_ERROR[name])) for error in drawn]
    each = [simulate(p.zone, p.unit, *scenario, base=work.base).totals for scenario in scenarios]
    ran: list[Limits] = []

    def counted(zone: Any, unit: Any, fan: Any, damper: Any, limits: Any, base: Any) -> Any:
        ran.append(limits)
        return simulate(zone, unit, fan, damper, limits, base=base)

    monkeypatch.setattr("freecool.answers.scenarios.simulate", counted)
    assert np.array_equal(run_scenarios(p.zone, p.unit, work.base, scenarios), np.stack(each))
    # Dry bulb in tenths of a kelvin, a limit within 2 degF either way: 23 different rules at most, 46 with two limits.
    if name in ("differential", "fixed dry bulb with a low limit"):
        assert len(ran) <= 46
    else:
        assert len(ran) == len(scenarios)
