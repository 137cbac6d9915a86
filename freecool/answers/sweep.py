"""Candidates of a sweep: one building under many rules, with and without sensor error."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from freecool.answers.estimate import answer_blocks, count_years
from freecool.answers.humidity import Risk
from freecool.answers.money import Worth
from freecool.answers.prepare import Prepared, prepare
from freecool.answers.scenarios import Progress, Scenario, run_scenarios
from freecool.answers.sensors import NO_ERROR, SensorError, draw_errors
from freecool.answers.verdict import EnergyBlock, HoursBlock, HumidityBlock
from freecool.cases.model import Case
from freecool.physics.rule import Limits
from freecool.physics.year import YearRun, simulate

if TYPE_CHECKING:
    from threading import Event

    from freecool.weather import Weather

FloatArray = NDArray[np.float64]


class Outcome(NamedTuple):
    """One rule on one building: exact, and under sensor error."""

    hours: HoursBlock
    energy: EnergyBlock
    humidity: HumidityBlock
    money: Worth
    net_kwh_p10: float
    """Of net kWh saved over the drawn sensor errors; equal to the exact one without draws."""
    net_kwh_p50: float
    net_kwh_p90: float
    saved_p10: float
    """Of money saved a year."""
    saved_p50: float
    saved_p90: float
    worst_risk: Risk
    """The highest humidity risk among the exact run and the drawn errors."""

    def damp(self, ceiling_hours: float) -> bool:
        """Whether this makes the place damp: high risk, or more added hours above 60 % RH than the ceiling."""
        return self.humidity.risk == "high" or self.humidity.rh_over_60_hours_added > ceiling_hours

    @property
    def score(self) -> float:
        """What rules are ranked by: money that 9 of 10 installations save, or kWh where electricity is free."""
        return self.saved_p10 if self.money.electricity_per_year != 0.0 else self.net_kwh_p10

    def to_dict(self, currency: str) -> dict[str, Any]:
        """As JSON-ready blocks, the money in a currency."""
        told: dict[str, Any] = {
            name: getattr(self, name)._asdict() for name in ("hours", "energy", "humidity", "money")
        }
        told["money"] = {"currency": currency, **told["money"]}
        spread = self._asdict()
        return told | {name: spread[name] for name in Outcome._fields[4:]}


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


def make_baseline(case: Case, weather: Weather, draws: int, seed: int) -> Baseline:
    """A `Baseline`, given case, weather, how many sensor errors to draw, and their seed."""
    from freecool.weather.years import whole_years

    weather = whole_years(weather)
    prepared = prepare(case, weather)
    base = simulate(prepared.zone, prepared.unit, prepared.fan)
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
    rules : sequence of Limits
    exact : SensorError
        What the first run of each rule is seen through; a what-if gives its fault here.
    workers, progress, cancel
        As `run_scenarios`.

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
    """runs: (exact and drawn, years, TOTALS)."""
    every = [answer_blocks(baseline.case, baseline.weather, baseline.base.totals, run) for run in runs]
    drawn = every[1:] or every
    net = [energy.net_kwh_saved for _, energy, _, _ in drawn]
    saved = [money.saved_per_year for _, _, _, money in drawn]
    risks = {humidity.risk for _, _, humidity, _ in every}
    worst: Risk = "high" if "high" in risks else "watch" if "watch" in risks else "low"
    hours, energy, humidity, money = every[0]
    net_low, net_middle, net_high = (float(value) for value in np.percentile(net, (10, 50, 90)))
    low, middle, high = (float(value) for value in np.percentile(saved, (10, 50, 90)))
    return Outcome(hours, energy, humidity, money, net_low, net_middle, net_high, low, middle, high, worst)
