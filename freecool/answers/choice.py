"""Which differential of a sweep is to be set: by saving, what is spared, moisture and the energy code."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass

from freecool.answers.results import Candidate

# Within this share of the best a larger differential wins where it spares something worth it: so much of the compressor
# energy avoided in fan energy, or so many hours with the damper open in damp air; our own.
FLAT_SHARE = 0.95
SPARED_FAN_SHARE, SPARED_DAMP_HOURS = 0.05, 10.0


@dataclass(frozen=True, kw_only=True)
class Choice:
    """Which of the candidates is to be set.

    Attributes
    ----------
    best : Candidate or None
        None: leave it off.
    best_ignoring_humidity : Candidate
    flat_k : tuple of float
        Differentials within 5 % of the best that keep the place dry [K]; empty when it is to be left off.
    """

    best: Candidate | None
    best_ignoring_humidity: Candidate
    flat_k: tuple[float, ...]

    @property
    def varied_at(self) -> Candidate:
        """What is varied: the pick, or what would be picked if moisture did not matter."""
        return self.best or self.best_ignoring_humidity


def choose(candidates: Sequence[Candidate], humidity_ceiling_hours: float, listed_k: Container[float] = ()) -> Choice:
    """The candidate to set, given all in rising order, and added hours above 60 % RH that are borne [h/year].

    Parameters
    ----------
    candidates : sequence of Candidate
        In rising order of differential.
    humidity_ceiling_hours : float
        [h/year].
    listed_k : container of float
        Differentials at which the energy code lists the rule [K].

    Returns
    -------
    Choice
        Of those that keep the place dry the best under sensor error; within 5 % of it one that the code lists, and a
        larger one that spares fan energy or damp hours; none where it saves nothing.
    """
    dry = [candidate for candidate in candidates if not candidate.outcome.damp(humidity_ceiling_hours)]
    best = _thriftiest(dry, listed_k) if dry else None
    if best is not None and (best.outcome.score <= 0.0 or best.outcome.energy.net_kwh_saved <= 0.0):
        best = None
    return Choice(
        best=best,
        best_ignoring_humidity=_thriftiest(candidates, listed_k),
        flat_k=() if best is None else tuple(candidate.differential_k for candidate in _near_best(dry)),
    )


def peak_of(candidates: Sequence[Candidate]) -> Candidate:
    """The candidate at which the exact net saving peaks.

    Parameters
    ----------
    candidates : sequence of Candidate
        At least one.

    Returns
    -------
    Candidate
        The first of equal ones.
    """
    return max(candidates, key=lambda candidate: candidate.outcome.energy.net_kwh_saved)


def best_of(candidates: Sequence[Candidate]) -> Candidate:
    """The candidate whose 10th percentile of money saved over sensor errors is highest.

    Parameters
    ----------
    candidates : sequence of Candidate
        At least one.

    Returns
    -------
    Candidate
        The first of equal ones.
    """
    return max(candidates, key=lambda candidate: candidate.outcome.score)


def _near_best(candidates: Sequence[Candidate]) -> list[Candidate]:
    """Those that save about as much as the best, if it saves."""
    least = FLAT_SHARE * best_of(candidates).outcome.score
    return [candidate for candidate in candidates if candidate.outcome.score >= least > 0.0]


def _thriftiest(candidates: Sequence[Candidate], listed_k: Container[float]) -> Candidate:
    """The best; near it rather one that the code lists, and a larger one that spares something worth it."""
    near = _near_best(candidates)
    listed = [candidate for candidate in near if candidate.differential_k in listed_k]
    best = best_of(listed or near or candidates)
    sparing = [candidate for candidate in listed or near if spares(candidate, best)]
    return max(sparing, key=lambda candidate: candidate.differential_k) if sparing else best


def spares(candidate: Candidate, best: Candidate) -> bool:
    """Whether a candidate has fewer fan kWh or damp hours than the best, by so much that it counts.

    Parameters
    ----------
    candidate, best : Candidate
        Of one sweep.

    Returns
    -------
    bool
        By the shares and hours of this file.
    """
    outcome, other = candidate.outcome, best.outcome
    fan = other.energy.fan_kwh_added - outcome.energy.fan_kwh_added
    damp = other.hours.damp - outcome.hours.damp
    return fan >= SPARED_FAN_SHARE * other.energy.compressor_kwh_avoided > 0.0 or damp >= SPARED_DAMP_HOURS
