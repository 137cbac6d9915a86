"""A building fitted to bills: what the case leaves to its preset moves, as little as it must, until cooling agrees."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from freecool.answers.blocks import answer_blocks, cooling_kwh
from freecool.answers.fitted import BillsBlock, FittedBuilding, MovedInput
from freecool.answers.prepare import prepare
from freecool.answers.results import Blocks, Reach
from freecool.answers.runs import run_pair
from freecool.answers.scenarios import run_jobs
from freecool.answers.uncertainty import PERCENTILES, Drawn, Unknown, draw_like, not_told, varied
from freecool.bills.cooling import cooling_in_bills

if TYPE_CHECKING:
    from freecool.answers.estimate import Estimate
    from freecool.bills.model import Bills
    from freecool.cases.model import Case
    from freecool.weather import Weather

FloatArray = NDArray[np.float64]

# What moves a building's cooling without the damper and is hardly ever known; all are shares of the case's.
MOVABLE = ("gains.occupied", "building.shading", "building.infiltration_ach", "building.wall", "unit.eer")
# Buildings drawn, and of how many alike ones, by weight, the rest must be worth to tell a spread; our own.
DRAWS, LEAST_ALIKE = 128, 8.0
# A normal distribution's 90 % interval in standard deviations.
INTERVAL = 3.29
# Moved less than this it is not named; our own.
NAMED = 0.005


def fit_to_bills(answer: Estimate, bills: Bills, *, workers: int | None = None) -> Estimate:
    """An answer with what bills say of it, given both.

    Parameters
    ----------
    answer : Estimate
        Of the building as told.
    bills : Bills
        Of the same building.
    workers : int, optional
        Threads; one a core unless given. The result does not depend on it.

    Returns
    -------
    Estimate
        The same, with `bills`: cooling of the bills and of the building in the weather of the answer, the building
        fitted within what buildings like it differ in, and what the damper saves there.
    """
    case, weather = answer.case, answer.weather
    cooling = cooling_in_bills(bills, weather)
    fitted, reachable, likely = None, None, None
    if cooling.cooling_kwh is not None and cooling.cooling_kwh_low is not None and cooling.cooling_kwh_high is not None:
        movable = [one for one in not_told(case) if one.key in MOVABLE]
        fitted, reachable = _fit(case, weather, movable, cooling.cooling_kwh, workers)
        spread = (cooling.cooling_kwh_high - cooling.cooling_kwh_low) / INTERVAL
        likely = _likely(draw_like(case, weather, DRAWS, workers)[1], cooling.cooling_kwh, spread)
    block = BillsBlock(
        cooling=cooling,
        told_cooling_kwh=cooling_kwh(answer.energy, case.fan.mode == "continuous"),
        told_net_kwh_saved=answer.energy.net_kwh_saved,
        fitted=fitted,
        reachable_kwh=reachable,
        likely_net_kwh=likely,
        currency=case.money.currency,
    )
    return replace(answer, bills=block)


def _fit(
    case: Case, weather: Weather, movable: Sequence[Unknown], target: float, workers: int | None
) -> tuple[FittedBuilding | None, tuple[float, float] | None]:
    """The building whose cooling is the target, and the least and most that can be reached [kWh]."""
    # Slow to import.
    from scipy.optimize import brentq

    fan_runs_anyway = case.fan.mode == "continuous"

    def like(moves: FloatArray) -> Case:
        return varied(case, movable, [_place(one, move) for one, move in zip(movable, moves, strict=True)])

    def blocks(moves: FloatArray) -> Blocks:
        building = like(moves)
        prepared = prepare(building, weather)
        pair = run_pair(prepared, prepared.zone)
        return answer_blocks(building, weather, pair.without.totals, pair.fitted.totals)

    def cooling(moves: FloatArray) -> float:
        return cooling_kwh(blocks(moves).energy, fan_runs_anyway)

    direction = _direction(cooling, len(movable), workers)
    if not direction.any():
        return None, None
    # So far that everything that moves has come to its end.
    farthest = 1.0 / float(np.abs(direction[direction != 0.0]).min())

    def at(step: float) -> FloatArray:
        return np.clip(step * direction, -1.0, 1.0)

    least, most = cooling(at(-farthest)), cooling(at(farthest))
    if not least <= target <= most:
        return None, (least, most)
    step = brentq(lambda step: cooling(at(step)) / target - 1.0, -farthest, farthest, xtol=1e-3, rtol=1e-4)
    moves, found = at(step), blocks(at(step))
    moved = [
        MovedInput(input=one.key, words=one.words, factor=_level(one, move))
        for one, move in zip(movable, moves, strict=True)
        if abs(_level(one, move) - 1.0) >= NAMED
    ]
    building = FittedBuilding(
        moved=tuple(sorted(moved, key=lambda one: -abs(np.log(one.factor)))),
        cooling_kwh=cooling_kwh(found.energy, fan_runs_anyway),
        net_kwh_saved=found.energy.net_kwh_saved,
        saved_per_year=found.money.saved_per_year,
    )
    return building, (least, most)


def _likely(drawn: Sequence[Drawn], target: float, spread: float) -> Reach | None:
    """What buildings save that are like the case's, each counting by how well its cooling agrees with the bills."""
    nets, found = np.array([one.net_kwh for one in drawn]), np.array([one.cooling_kwh for one in drawn])
    weights = np.exp(-0.5 * ((found - target) / spread) ** 2)
    if weights.sum() ** 2 < LEAST_ALIKE * (weights**2).sum():
        return None
    order = np.argsort(nets)
    places = (np.cumsum(weights[order]) - 0.5 * weights[order]) / weights.sum()
    low, middle, high = map(float, np.interp(np.array(PERCENTILES) / 100.0, places, nets[order]))
    return Reach(low=low, middle=middle, high=high)


def _direction(cooling: Callable[[FloatArray], float], count: int, workers: int | None) -> FloatArray:
    """In which the least has to move, every range counting alike: that of the cooling that each range brings."""
    ends = [sign * row for row in np.eye(count) for sign in (-1.0, 1.0)]
    found = np.array(run_jobs([partial(cooling, moves) for moves in ends], workers=workers)).reshape(count, 2)
    gain = found[:, 1] - found[:, 0]
    size = float(np.sqrt((gain**2).sum()))
    direction: FloatArray = gain / size if size > 0.0 else np.zeros(count)
    # What brings nothing stays.
    return np.where(np.abs(direction) < 0.01, 0.0, direction)


def _level(one: Unknown, move: float) -> float:
    """Share of the case's value, from `low` at -1 over 1 at 0 to `high` at 1."""
    return 1.0 + move * ((one.high - 1.0) if move > 0.0 else (1.0 - one.low))


def _place(one: Unknown, move: float) -> float:
    return (_level(one, move) - one.low) / (one.high - one.low)
