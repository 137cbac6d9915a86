"""How fast many scenarios run, as ratios within one run: no limit is asserted, machines differ.

Run with ``pytest tests/benchmarks/test_sweep_speed.py -s``.
"""

from __future__ import annotations

import os
from time import perf_counter

import numpy as np
import pytest

from freecool.case import RULES, RuleCase, make_case
from freecool.changeover import limits_of
from freecool.differential import DIFFERENTIALS_K
from freecool.physics.year import simulate
from freecool.scenarios import Scenario, run_scenarios
from freecool.sweep import Bench, make_bench
from freecool.weather import open_weather

# A hundred in earnest; the time of one scenario-year does not depend on it.
DRAWS = int(os.environ.get("FREECOOL_BENCHMARK_DRAWS", "3"))
EARNEST_DRAWS = 100


@pytest.fixture(scope="module")
def ready(pvlib_weather) -> Bench:
    return make_bench(make_case(), open_weather(str(pvlib_weather("723170TYA.CSV"))), DRAWS, seed=0)


def every_scenario(ready: Bench) -> list[Scenario]:
    """All rules at all differentials under all draws."""
    fan, damper = ready.prepared.fan, ready.prepared.damper
    pressure = float(ready.prepared.zone.hours.pressure_pa.mean())
    rules = [limits_of(RuleCase(name=name), pressure) for name in RULES]
    return [
        Scenario(fan, damper, error.on(rule._replace(differential_k=difference)))
        for rule in rules
        for difference in DIFFERENTIALS_K
        for error in ready.errors
    ]


def test_sweep_ratios(ready, capsys) -> None:
    """A scenario-year of a sweep over a plain run, and two threads over one."""
    p = ready.prepared
    scenarios = every_scenario(ready)
    assert len(scenarios) == len(DIFFERENTIALS_K) * len(RULES) * DRAWS

    def plain() -> None:
        simulate(p.zone, p.unit, p.fan, p.damper, p.limits, base=ready.base)

    plain()
    start = perf_counter()
    for _ in range(50):
        plain()
    year = (perf_counter() - start) / 50
    times, results = {}, {}
    for workers in (1, 2):
        start = perf_counter()
        results[workers] = run_scenarios(p.zone, p.unit, ready.base, scenarios, workers=workers)
        times[workers] = (perf_counter() - start) / len(scenarios)
    assert np.array_equal(results[1], results[2])
    with capsys.disabled():
        print(f"\n{len(scenarios):,} scenario-years, {os.cpu_count()} cores")
        print(f"one plain year                                 {1e3 * year:8.3f} ms      1.0 x")
        for workers, taken in times.items():
            print(
                f"one scenario-year of a sweep, {workers} thread(s)       {1e3 * taken:8.3f} ms "
                f"{taken / year:8.2f} x"
            )
        print(f"two threads over one                           {times[1] / times[2]:8.2f} x as fast")
        earnest = len(DIFFERENTIALS_K) * len(RULES) * EARNEST_DRAWS
        print(f"{earnest:,} scenario-years at that pace, two threads {earnest * times[2]:8.1f} s")
