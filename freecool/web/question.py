"""The question that a link or a request puts: a case, a weather, and how a sweep goes about it."""

from __future__ import annotations

import math
from typing import NamedTuple

from freecool.cases.model import Case
from freecool.core.errors import CaseError
from freecool.core.units import System, parse
from freecool.web.link import SWEEP, Link, case_of

MOST_DRAWS = 500
MOST_STEPS = 100


class SweepSettings(NamedTuple):
    """Which differentials are tried [K], and under how many drawn sensor errors."""

    differentials_k: tuple[float, ...]
    draws: int
    seed: int
    humidity_ceiling_hours: float


class Question(NamedTuple):
    """A case, a weather by its name, and how a sweep goes about it."""

    case: Case
    weather: str | None
    years: str | None
    units: System
    sweep: SweepSettings


def question_of(link: Link) -> Question:
    """The question of a link.

    Raises
    ------
    CaseError
        Whatever describes no building, or no sweep.
    """
    chosen = {**SWEEP, **{key: text for key, text in link.sweep.items() if text}}
    draws, seed, ceiling = (_number(chosen[key], key) for key in ("draws", "seed", "humidity_ceiling"))
    sweep = make_sweep(link.units, chosen["from"], chosen["to"], chosen["step"], draws, seed, ceiling)
    return Question(case_of(link), link.weather, link.years, link.units, sweep)


def make_sweep(
    units: System, first: str | float, last: str | float, step: str | float, draws: float, seed: float, ceiling: float
) -> SweepSettings:
    """A sweep's settings, given units, its differentials' first, last and step, draws, seed and humidity ceiling [h].

    Raises
    ------
    CaseError
        Bounds that do not rise, or more work than one request may ask for.
    """
    low, high, by = (
        parse(text, "difference", units, name) for text, name in ((first, "from"), (last, "to"), (step, "step"))
    )
    if not 0.0 <= low <= high or by <= 0.0 or (high - low) / by > MOST_STEPS:
        raise CaseError(
            f"from {first} to {last} by {step}: expected 0 or more, rising, in at most {MOST_STEPS} steps, such as "
            "from 0F to 20F by 1F."
        )
    for name, value, most in (("draws", draws, MOST_DRAWS), ("seed", seed, 2**31 - 1)):
        if not (0 <= value <= most and value == int(value)):
            raise CaseError(f"{name} is {value:g}: expected a whole number from 0 to {most:,}.")
    if not 0.0 <= ceiling <= 8784.0:
        raise CaseError(f"humidity_ceiling is {ceiling:g}: expected hours a year, 0 to 8,784.")
    tried = tuple(low + by * index for index in range(int((high - low) / by + 1e-6) + 1))
    return SweepSettings(tried, int(draws), int(seed), ceiling)


def _number(text: str, name: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise CaseError(f"{name} is {text[:40]!r}: expected a number.")
    return value
