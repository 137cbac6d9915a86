"""Rules tuned: each at the setting that saves most under sensor error and keeps the place dry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from freecool.answers.results import Outcome
from freecool.answers.scenarios import Progress
from freecool.answers.sweep import Baseline, outcomes
from freecool.cases.rules import RULES
from freecool.physics.rule import Limits

if TYPE_CHECKING:
    from threading import Event

# Every setting is tried under the first few sensor errors, the best of them under all; our own numbers.
SCREENING_DRAWS = 10
CONTENDERS = 2

Settings = Mapping[str, Mapping[float, Limits]]
"""By rule, by the value of its tuned setting [SI]."""


class Tuned(NamedTuple):
    """A rule as published and at its best setting [SI], seen under every sensor error."""

    published: Outcome
    published_value: float
    value: float
    outcome: Outcome


def tune(
    baseline: Baseline,
    published: Mapping[str, Limits],
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    cancel: Event | None = None,
) -> dict[str, Tuned]:
    """Each rule as published and at its best setting, given a baseline and the published limits by name.

    Parameters
    ----------
    baseline : Baseline
        The building in its weather, and sensor errors.
    published : mapping of str to Limits
        By the rule's name.
    workers : int, optional
        Threads; one a core unless given. The result does not depend on it.
    progress : callable, optional
        Called with (done, all) as the work goes on.
    cancel : threading.Event, optional
        Stops the work when set.

    Returns
    -------
    dict of str to Tuned
        The best by the 10th percentile of money saved over sensor errors, among settings that keep the place dry, if
        any does.
    """
    as_published = {name: float(getattr(limits, RULES[name].tuned.limit)) for name, limits in published.items()}
    settings = {name: _settings(name, limits) for name, limits in published.items()}
    # What makes the place damp with exact sensors is out, however much it saves.
    exact = _seen(baseline._replace(errors=[]), settings, workers, None, cancel)
    dry = {name: {value: settings[name][value] for value in _dry(found)} for name, found in exact.items()}
    # Few draws tell which settings are near the best; all of them, which of those it is.
    first_look = baseline._replace(errors=baseline.errors[:SCREENING_DRAWS])
    screening = sum(map(len, dry.values())) * (1 + len(first_look.errors))
    deciding = len(published) * (1 + CONTENDERS) * (1 + len(baseline.errors))

    def _part(before: int, share: int) -> Progress | None:
        return progress and (lambda done, total: progress(before + share * done // total, screening + deciding))

    screened = _seen(first_look, dry, workers, _part(0, screening), cancel)
    # The published limit stands among them, seen under every error: tuning never does worse.
    contenders = {
        name: {value: settings[name][value] for value in (*_best(found)[:CONTENDERS], as_published[name])}
        for name, found in screened.items()
    }
    decided = _seen(baseline, contenders, workers, _part(screening, deciding), cancel)
    return {
        name: Tuned(found[value := as_published[name]], value, best := _best(found)[0], found[best])
        for name, found in decided.items()
    }


def _settings(name: str, limits: Limits) -> dict[float, Limits]:
    """What is tried of a rule, the published value among it."""
    tuned = RULES[name].tuned
    values = sorted({*tuned.values, float(getattr(limits, tuned.limit))})
    return {value: limits._replace(**{tuned.limit: value}) for value in values}  # type: ignore[arg-type]


def _seen(
    baseline: Baseline, settings: Settings, workers: int | None, progress: Progress | None, cancel: Event | None
) -> dict[str, dict[float, Outcome]]:
    """What each setting of each rule brings, in one pass."""
    every = [limits for by_value in settings.values() for limits in by_value.values()]
    found = iter(outcomes(baseline, every, workers=workers, progress=progress, cancel=cancel))
    return {name: {value: next(found) for value in by_value} for name, by_value in settings.items()}


def _dry(found: Mapping[float, Outcome]) -> list[float]:
    """Values that keep the place dry; all where none does."""
    return [value for value, outcome in found.items() if not outcome.damp()] or list(found)


def _best(found: Mapping[float, Outcome]) -> list[float]:
    """Values by what they save under sensor error, the best first: of those that keep the place dry, if any does."""
    return sorted(_dry(found), key=lambda value: -found[value].score)


def best_tuned(tuned: Sequence[Outcome]) -> int:
    """The place of the best among tuned rules, given what each brings: by the same measure as their settings.

    Parameters
    ----------
    tuned : sequence of Outcome
        Of each rule.

    Returns
    -------
    int
        Its place in `tuned`.
    """
    return int(_best(dict(enumerate(tuned)))[0])
