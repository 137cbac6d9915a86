"""How work grows with scenarios, years, sites and cores, as ratios within one run: no limit is asserted."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from time import perf_counter
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from timing import best_of

from freecool.answers.pick import sweep_differential
from freecool.answers.rules import limits_of
from freecool.answers.scenarios import Scenario, run_scenarios
from freecool.answers.settings import DIFFERENTIALS_K
from freecool.answers.sweep import Baseline, make_baseline
from freecool.batch import BatchSettings, run_batch
from freecool.cases.model import make_case
from freecool.cases.rules import RULES
from freecool.cases.sections import RuleCase
from freecool.physics.year import Hours, simulate
from freecool.weather import open_weather

# A hundred in earnest; the time of one scenario-year does not depend on it.
DRAWS = int(os.environ.get("FREECOOL_BENCHMARK_DRAWS", "3"))
EARNEST_DRAWS = 100
# A thousand in earnest, on twenty weather files.
ROWS = int(os.environ.get("FREECOOL_BENCHMARK_ROWS", "40"))
FILES = min(20, ROWS // 2)
PVLIB_YEARS = ("723170TYA.CSV", "703165TY.csv", "12839.tm2")


@pytest.fixture(scope="module")
def ready(pvlib_weather: Callable[[str], Path]) -> Baseline:
    return make_baseline(make_case(), open_weather(str(pvlib_weather("723170TYA.CSV"))), DRAWS, seed=0)


def every_scenario(ready: Baseline) -> list[Scenario]:
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


def test_scenarios_and_threads(ready: Any, ratios: Any) -> None:
    p = ready.prepared
    scenarios = every_scenario(ready)
    count = len(scenarios)
    assert count == len(DIFFERENTIALS_K) * len(RULES) * DRAWS
    results = {}

    def plain() -> None:
        simulate(p.zone, p.unit, p.fan, p.damper, p.limits, base=ready.base)

    def sweep(workers: int) -> None:
        results[workers] = run_scenarios(p.zone, p.unit, ready.base, scenarios, workers=workers)

    (year,) = best_of(50, plain)
    one, two = best_of(3, lambda: sweep(1), lambda: sweep(2))
    assert np.array_equal(results[1], results[2])
    ratios.add(f"a scenario-year of {count:,}, 1 thread, all rules and errors", one / count, "one plain year", year)
    ratios.add(f"a scenario-year of {count:,}, 2 threads", two / count, "one plain year", year)
    ratios.add(f"{count:,} scenario-years, 1 thread", one, "2 threads", two)


@pytest.mark.parametrize("years", [10])
def test_years(ready: Any, years: int, ratios: Any) -> None:
    """Ten years in a row, the same one repeated, over one."""
    p = ready.prepared
    hours = p.zone.hours
    many = Hours(*(np.concatenate([column] * years) for column in hours))
    many = many._replace(year=np.repeat(np.arange(years), hours.outdoor_c.size))
    zone = p.zone._replace(hours=many)
    base = ready.base._replace(called=np.tile(ready.base.called, years))

    def one() -> Any:
        return simulate(p.zone, p.unit, p.fan, p.damper, p.limits, base=ready.base)

    def ten() -> Any:
        return simulate(zone, p.unit, p.fan, p.damper, p.limits, base=base)

    np.testing.assert_allclose(ten().total("fan_j"), one().total("fan_j")[0], rtol=1e-3)
    single, several = best_of(20, one, ten)
    ratios.add(f"{years} years", several, "1 year", single)


def test_pick(ready: Any, ratios: Any) -> None:
    """A whole pick without drawn errors, 21 differentials, on a weather used before: a row of a batch."""
    p = ready.prepared

    def year() -> None:
        simulate(p.zone, p.unit, p.fan, p.damper, p.limits, base=ready.base)

    def pick() -> Any:
        return sweep_differential(ready.case, ready.weather, draws=0, workers=1)

    assert len(pick().candidates) == 21
    once, whole = best_of(5, year, pick)
    ratios.add("pick without drawn errors, 21 differentials, 1 thread", whole, "one plain year", once)


def test_batch_rows_and_processes(pvlib_weather: Callable[[str], Path], tmp_path: Path, ratios: Any) -> None:
    """Rows of `freecool batch`, each a pick of 21 differentials; weather files are copies of three real years."""
    names = [f"{place}-{PVLIB_YEARS[place % 3]}" for place in range(FILES)]
    for place, name in enumerate(names):
        shutil.copy(pvlib_weather(PVLIB_YEARS[place % 3]), tmp_path / name)
    taken, tables = {}, {}
    for rows, workers in ((FILES, 1), (ROWS, 1), (ROWS, 2)):
        lines = [f"site {row},{names[row % FILES]},{120 + row % 97} m2" for row in range(rows)]
        sites = tmp_path / f"sites-{rows}-{workers}.csv"
        sites.write_text("name,weather,building.floor_area\n" + "\n".join(lines) + "\n")
        out = tmp_path / f"answers-{rows}-{workers}.csv"
        start = perf_counter()
        summary = run_batch(sites, out, BatchSettings("pick", draws=0), workers=workers)
        taken[rows, workers] = perf_counter() - start
        tables[rows, workers] = out.read_text()
        assert summary.rows == rows  # type: ignore[union-attr]
        assert summary.errors == 0, summary.first_error  # type: ignore[union-attr]
    assert tables[ROWS, 1] == tables[ROWS, 2]
    ratios.add(f"a batch of {ROWS:,} picks on {FILES} files, 1 process", taken[ROWS, 1], "2 processes", taken[ROWS, 2])
    ratios.add(
        f"a batch of {ROWS:,} picks, 1 process", taken[ROWS, 1], f"a batch of {FILES}, 1 process", taken[FILES, 1]
    )
