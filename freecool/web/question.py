"""The question that a link or a request puts: a case, a weather, and how a search goes about it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

from freecool.answers.settings import STEPS, SearchSettings, differentials
from freecool.cases.model import Case
from freecool.core.errors import CaseError
from freecool.core.units import System
from freecool.web.link import Link, case_of, read_query, search_defaults

# What one request may ask of a server that others use too; the command line takes more.
MOST_DRAWS = 500
MOST_STEPS = 100


class Question(NamedTuple):
    """A case, a weather by its name, and how a search goes about it."""

    case: Case
    weather: str | None
    years: str | None
    units: System
    search: SearchSettings
    against: Case | None = None
    """Another case to set beside it, on the same weather."""


def question_of(link: Link) -> Question:
    """The question of a link.

    Raises
    ------
    CaseError
        Whatever describes no building, or no search.
    """
    chosen = {**search_defaults(link.units), **{key: text for key, text in link.search.items() if text}}
    draws, seed, ceiling = (_number(chosen[key], key) for key in ("draws", "seed", "humidity_ceiling"))
    search = make_search(link.units, chosen["from"], chosen["to"], chosen["step"], draws, seed, ceiling)
    other = replace(read_query(link.against), units=link.units) if link.against else None
    against = case_of(other) if other else None
    return Question(case_of(link), link.weather, link.years, link.units, search, against)


def make_search(
    units: System, first: str | float | None, last: str | float | None, step: str | float | None,
    draws: float, seed: float, ceiling: float,
) -> SearchSettings:  # fmt: skip
    """How a search goes about it, given units, the differentials' first, last and step, and the other settings.

    A first, last or step of None is the usual one of these units.

    Raises
    ------
    CaseError
        Bounds that do not rise, or more work than one request may ask for.
    """
    for name, value, most in (("draws", draws, MOST_DRAWS), ("seed", seed, 2**31 - 1)):
        if not (0 <= value <= most and value == int(value)):
            raise CaseError(f"{name} is {value:g}: expected a whole number from 0 to {most:,}.")
    told = [usual if asked is None else asked for asked, usual in zip((first, last, step), STEPS[units], strict=True)]
    tried = differentials(told[0], told[1], told[2], units, most_steps=MOST_STEPS)
    return SearchSettings(differentials_k=tried, draws=int(draws), seed=int(seed), humidity_ceiling_hours=ceiling)


def _number(text: str, name: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise CaseError(f"{name} is {text[:40]!r}: expected a number.")
    return value
