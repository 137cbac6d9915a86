"""Candidates of a sweep: one building under many rules, with and without sensor error."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from freecool.answers.blocks import answer_blocks
from freecool.answers.humidity import RISKS
from freecool.answers.prepare import Prepared, prepare
from freecool.answers.real_years import count_years
from freecool.answers.results import Outcome
from freecool.answers.runs import simulate
from freecool.answers.scenarios import Progress, Scenario, run_scenarios
from freecool.answers.sensors import NO_ERROR, SensorError, draw_errors
from freecool.cases.model import Case
from freecool.physics.rule import Limits
from freecool.physics.year import YearRun

if TYPE_CHECKING:
    from threading import Event

    from freecool.weather import Weather

FloatArray = NDArray[np.float64]


class Baseline(NamedTuple):
    """A building made ready for many rules: prepared, run once without the damper, errors drawn."""

    case: Case
    weather: Weather
    prepared: Prepared
    base: YearRun
    errors: list[SensorError]

    @property
    def years(self) -> float:
        """How many years the weather makes."""
        return count_years(self.weather)

    @property
    def hours_outside_map(self) -> float:
        """With the compressor outside the unit's performance map, without the damper [h/year]."""
        return float(self.base.total("outside_table").sum()) / self.years


def make_baseline(case: Case, weather: Weather, draws: int, seed: int) -> Baseline:
    """A `Baseline`, given case, weather, how many sensor errors to draw, and their seed.

    Parameters
    ----------
    case : Case
        Building, unit, fan, damper, rule and money.
    weather : Weather
        Of a typical year or real years.
    draws : int
        Sensor errors to draw.
    seed : int
        The same seed draws the same errors.

    Returns
    -------
    Baseline
        Of whole years only.
    """
    from freecool.weather.years import whole_years

    weather = whole_years(weather)
    prepared = prepare(case, weather)
    base = simulate(prepared.zone, prepared.unit, prepared.fan, prepared.no_damper)
    return Baseline(case, weather, prepared, base, draw_errors(case.sensors, draws, seed))


def outcomes(
    baseline: Baseline,
    rules: Sequence[Limits],
    *,
    exact: SensorError = NO_ERROR,
    workers: int | None = None,
    progress: Progress | None = None,
    cancel: Event | None = None,
) -> list[Outcome]:
    """What each rule brings, exactly and under the baseline's sensor errors.

    Parameters
    ----------
    baseline : Baseline
        The building in its weather, and sensor errors.
    rules : sequence of Limits
        To try.
    exact : SensorError
        What the first run of each rule is seen through; a what-if gives its fault here.
    workers : int, optional
        Threads; one a core unless given. The result does not depend on it.
    progress : callable, optional
        Called with (done, all) as the work goes on.
    cancel : threading.Event, optional
        Stops the work when set.

    Returns
    -------
    list of Outcome
        In the order of `rules`.
    """
    fan, damper = baseline.prepared.fan, baseline.prepared.damper
    errors = [exact, *baseline.errors]
    scenarios = [Scenario(fan, damper, error.on(rule)) for rule in rules for error in errors]
    totals = run_scenarios(
        baseline.prepared.zone,
        baseline.prepared.unit,
        baseline.base,
        scenarios,
        workers=workers,
        progress=progress,
        cancel=cancel,
    )
    by_rule = totals.reshape(len(rules), len(errors), *totals.shape[1:])
    return [_outcome(baseline, runs) for runs in by_rule]


def _outcome(baseline: Baseline, runs: FloatArray) -> Outcome:
    """What one rule brings, given the totals of its runs (exact and drawn, years, TOTALS)."""
    exact, *drawn = (answer_blocks(baseline.case, baseline.weather, baseline.base.totals, run) for run in runs)
    seen = drawn or [exact]
    net = np.percentile([found.energy.net_kwh_saved for found in seen], (10, 50, 90))
    saved = np.percentile([found.money.saved_per_year for found in seen], (10, 50, 90))
    risks = sorted((found.humidity.risk for found in seen), key=RISKS.index)
    return Outcome(
        **exact.parts(),
        net_kwh_p10=float(net[0]),
        net_kwh_p50=float(net[1]),
        net_kwh_p90=float(net[2]),
        saved_p10=float(saved[0]),
        saved_p50=float(saved[1]),
        saved_p90=float(saved[2]),
        risk_p90=risks[math.ceil(0.9 * len(risks)) - 1],
        worst_risk=max(risks[-1], exact.humidity.risk, key=RISKS.index),
    )
