"""Settings beside the plain differential: one with a dew-point limit, and the energy code's own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from freecool.answers.alternatives import DEW_POINT_LIMITS_C
from freecool.answers.results import LimitedCandidate, Outcome
from freecool.answers.rules import limits_of, listed_by_code, published_rule, rule_at
from freecool.answers.sweep import Baseline, outcomes
from freecool.cases.rules import RULES

if TYPE_CHECKING:
    from threading import Event

# With exact sensors so many differentials are tried at most with every limit, and so many of all are seen under every
# error; our own numbers.
MOST_DIFFERENTIALS = 11
CONTENDERS = 3


class CodeRule(NamedTuple):
    """A rule as the energy code lists it for a zone, and what it brings."""

    words: str
    options: str
    outcome: Outcome


def best_with_limit(
    baseline: Baseline,
    differentials_k: Sequence[float],
    ceiling_hours: float,
    workers: int | None,
    cancel: Event | None,
) -> LimitedCandidate | None:
    """The best differential with a dew-point limit, given differentials to try.

    Parameters
    ----------
    baseline : Baseline
        The building in its weather, and sensor errors.
    differentials_k : sequence of float
        Rising [K].
    ceiling_hours : float
        Added hours above 60 % RH that are borne [h/year].
    workers : int or None
        Threads; one a core unless given.
    cancel : threading.Event or None
        Stops the work when set.

    Returns
    -------
    LimitedCandidate or None
        Best under sensor error of those that keep the place dry; None where none saves.
    """
    own = baseline.prepared.limits
    step = -(-len(differentials_k) // MOST_DIFFERENTIALS)
    grid = [
        (differential, limit)
        for limit in DEW_POINT_LIMITS_C[baseline.case.units]
        if limit < own.dew_point_max_c
        for differential in differentials_k[::step]
    ]

    def seen(at: Baseline, settings: Sequence[tuple[float, float]]) -> list[LimitedCandidate]:
        rules = [own._replace(differential_k=k, dew_point_max_c=limit_c) for k, limit_c in settings]
        found = outcomes(at, rules, workers=workers, cancel=cancel)
        candidates = (
            LimitedCandidate(differential_k=k, dew_point_limit_c=limit_c, outcome=outcome)
            for (k, limit_c), outcome in zip(settings, found, strict=True)
        )
        dry = [one for one in candidates if not one.outcome.damp(ceiling_hours) and one.outcome.score > 0.0]
        return sorted(dry, key=lambda one: -one.outcome.score)

    exact = seen(baseline._replace(errors=[]), grid)[:CONTENDERS]
    best = seen(baseline, [(one.differential_k, one.dew_point_limit_c) for one in exact])
    return best[0] if best else None


def codes_own(baseline: Baseline, ceiling_hours: float, workers: int | None, cancel: Event | None) -> CodeRule | None:
    """The best rule as the energy code lists it for the case's zone, given a baseline.

    Parameters
    ----------
    baseline : Baseline
        The building in its weather, and sensor errors.
    ceiling_hours : float
        Added hours above 60 % RH that are borne [h/year].
    workers : int or None
        Threads; one a core unless given.
    cancel : threading.Event or None
        Stops the work when set.

    Returns
    -------
    CodeRule or None
        Of those that keep the place dry, if any does; None without a zone, or where the code asks for none.
    """
    case, pressure = baseline.case, baseline.prepared.mean_pressure_pa
    limits = {name: limits_of(published_rule(name), pressure, case.site.climate_zone) for name in RULES}
    listed = {name: one for name, one in limits.items() if listed_by_code(case, one)}
    if not listed:
        return None
    found = dict(zip(listed, outcomes(baseline, list(listed.values()), workers=workers, cancel=cancel), strict=True))
    dry = [name for name, outcome in found.items() if not outcome.damp(ceiling_hours)] or list(found)
    # The first of equal ones: rules stand in the order of their simplicity.
    name = max(dry, key=lambda one: round(found[one].score, 1))
    words = rule_at(name, float(getattr(listed[name], RULES[name].tuned.limit)), case.units)
    return CodeRule(words, f"--rule {name}", found[name])
