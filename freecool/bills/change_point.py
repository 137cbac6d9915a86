"""Change-point models of electricity by outdoor temperature: a base load, and lines that begin at a temperature.

kWh a day = base + heating * max(0, heating point - t) + cooling * max(0, t - cooling point), t being the mean outdoor
temperature of each day, and a period the mean over its days. Of 2 to 5 parameters, as ASHRAE Guideline 14 counts them.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Form = Literal["1P", "2P heating", "2P cooling", "3P heating", "3P cooling", "4P", "5P"]

FORMS: tuple[Form, ...] = ("1P", "2P heating", "2P cooling", "3P heating", "3P cooling", "4P", "5P")
# A change point has so many periods' means on either side at least, and this share of all; our own.
LEAST_BEYOND, SHARE_BEYOND = 3, 0.05
STEPS = 24
MONTHLY_DAYS = 20.0
CONFIDENCE = 0.9
EXACT = 1e-9
"""Residuals under this share of the mean are none."""


class Periods(NamedTuple):
    """Bills beside the weather of their days."""

    kwh_day: FloatArray
    """A period each [kWh/day]."""
    days: FloatArray
    """By which they are weighted [days]."""
    outdoor_c: FloatArray
    """Daily means of all periods, one after the other [°C]."""
    starts: NDArray[np.int64]
    """Where each period's begin."""

    @property
    def means_c(self) -> FloatArray:
        """Outdoor temperature of each period [°C]."""
        return self.mean(self.outdoor_c)

    @property
    def monthly(self) -> bool:
        """Whether they are bills rather than daily readings."""
        return float(self.days.mean()) >= MONTHLY_DAYS

    def mean(self, daily: FloatArray) -> FloatArray:
        """Means over the days of each period.

        Parameters
        ----------
        daily : ndarray
            A value a day.

        Returns
        -------
        ndarray
            A value a period.
        """
        lengths = np.diff(np.append(self.starts, self.outdoor_c.size))
        sums: FloatArray = np.add.reduceat(daily, self.starts)
        return sums / lengths


class Model(NamedTuple):
    """A change-point model, fitted."""

    form: Form
    base: float
    """[kWh/day]."""
    heating: float
    """Slope below `heating_c` [kWh/day K]."""
    cooling: float
    """Slope above `cooling_c` [kWh/day K]."""
    heating_c: float
    """Change point [°C]; NaN without heating."""
    cooling_c: float
    """Change point [°C]; NaN without cooling."""
    squares: float
    """Weighted sum of squared residuals, the weights' mean being one [(kWh/day)²]."""
    cooling_spread: float
    """Standard error of `cooling` for a residual of one [1/K]."""

    @property
    def parameters(self) -> int:
        """As the form counts them."""
        return int(self.form[0])

    def predict(self, periods: Periods) -> FloatArray:
        """What the model gives to each period [kWh/day].

        Parameters
        ----------
        periods : Periods
            Whose temperatures.

        Returns
        -------
        ndarray
            A value a period [kWh/day].
        """
        found = np.full(periods.kwh_day.size, self.base)
        if not math.isnan(self.heating_c):
            found += self.heating * periods.mean(np.maximum(self.heating_c - periods.outdoor_c, 0.0))
        if not math.isnan(self.cooling_c):
            found += self.cooling * periods.mean(np.maximum(periods.outdoor_c - self.cooling_c, 0.0))
        return found


class Fitted(NamedTuple):
    """The best model of one form, and all of that form that were tried."""

    model: Model
    tried: tuple[Model, ...]
    """At every change point."""
    periods: Periods
    information: float
    """Bayesian information criterion: the smaller, the better."""


def periods_of(kwh: Sequence[float], days: Sequence[float], outdoor_c: Sequence[FloatArray]) -> Periods:
    """Periods, given what each used, its days and its daily means, or its one mean, of outdoor temperature.

    Parameters
    ----------
    kwh : sequence of float
        [kWh].
    days : sequence of float
        [days].
    outdoor_c : sequence of ndarray
        [°C].

    Returns
    -------
    Periods
        For `fit`.
    """
    lengths = np.array([len(one) for one in outdoor_c])
    weights = np.asarray(days, dtype=float)
    return Periods(
        np.asarray(kwh, dtype=float) / weights, weights, np.concatenate(outdoor_c), np.cumsum(lengths) - lengths
    )


def fits(periods: Periods) -> list[Fitted]:
    """The best model of every form, that of the smallest Bayesian information criterion first, given periods.

    Parameters
    ----------
    periods : Periods
        At least two.

    Returns
    -------
    list of Fitted
        With slopes and base that are not negative; a form needs more periods than parameters.
    """
    found = (fit(periods, form) for form in FORMS if periods.kwh_day.size > int(form[0]))
    return sorted((one for one in found if one is not None), key=lambda one: one.information)


def fit(periods: Periods, form: Form) -> Fitted | None:
    """A model of one form by least squares weighted by days, given periods.

    Parameters
    ----------
    periods : Periods
        More than the form has parameters.
    form : str
        Of `FORMS`.

    Returns
    -------
    Fitted or None
        None where no such model has slopes and a base that are not negative.
    """
    # Slow to import.
    from scipy.optimize import minimize

    tried = [model for points in _grid(periods, form) if (model := _at(periods, form, *points)) is not None]
    if not tried:
        return None
    best = min(tried, key=lambda model: model.squares)
    low, high = _reach(periods)
    if form[0] in "345" and high > low:

        def squares(points: FloatArray) -> float:
            pair = _pair(form, points)
            inside = low <= min(points) and max(points) <= high
            model = _at(periods, form, *pair) if inside else None
            return math.inf if model is None else model.squares

        start = np.array([point for point in (best.heating_c, best.cooling_c) if not math.isnan(point)])
        start = start[:1] if form == "4P" else start
        steps = start + np.vstack([np.zeros(start.size), 0.3 * (high - low) / STEPS * np.eye(start.size)])
        found = minimize(
            squares, start, method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 0.0, "initial_simplex": steps}
        )
        finest = _at(periods, form, *_pair(form, found.x))
        if finest is not None and finest.squares <= best.squares:
            best = finest
    return Fitted(best, (*tried, best), periods, _information(best, periods))


def _information(model: Model, periods: Periods) -> float:
    """n ln(S/n) + k ln n; n periods, k parameters, sum of squares S: Schwarz, Annals of Statistics 6(2), 1978."""
    count = periods.kwh_day.size
    least = count * (EXACT * float(np.abs(periods.kwh_day).mean())) ** 2
    spread = math.log(max(model.squares, least, 1e-30) / count)
    return count * spread + model.parameters * math.log(count)


def _pair(form: Form, points: FloatArray) -> tuple[float, float]:
    """Heating and cooling point, NaN where the form has none."""
    if form == "5P":
        return float(points[0]), float(points[1])
    point = float(points[0])
    return {"4P": (point, point), "3P heating": (point, math.nan)}.get(form, (math.nan, point))


def _reach(periods: Periods) -> tuple[float, float]:
    """Between what temperatures a change point may lie."""
    means = np.sort(periods.means_c)
    beyond = min(max(LEAST_BEYOND, math.ceil(SHARE_BEYOND * means.size)), means.size)
    return float(means[beyond - 1]), float(means[-beyond])


def _grid(periods: Periods, form: Form) -> Iterator[tuple[float, float]]:
    low, high = _reach(periods)
    grid = np.linspace(low, high, STEPS) if high > low else np.array([])
    if form == "1P":
        yield math.nan, math.nan
    elif form[0] == "2":
        # A line from end to end is one that begins at the coldest or the warmest day.
        coldest, warmest = float(periods.outdoor_c.min()), float(periods.outdoor_c.max())
        yield (warmest, math.nan) if form == "2P heating" else (math.nan, coldest)
    elif form == "5P":
        yield from itertools.combinations(map(float, grid), 2)
    else:
        yield from (_pair(form, np.array([point])) for point in grid)


def _at(periods: Periods, form: Form, heating_c: float, cooling_c: float) -> Model | None:
    """Least squares at given change points; None where a slope or the base comes out negative."""
    columns = [np.ones(periods.kwh_day.size)]
    if not math.isnan(heating_c):
        columns.append(periods.mean(np.maximum(heating_c - periods.outdoor_c, 0.0)))
    if not math.isnan(cooling_c):
        columns.append(periods.mean(np.maximum(periods.outdoor_c - cooling_c, 0.0)))
    if form == "5P" and not heating_c < cooling_c:
        return None
    weights = periods.days / periods.days.mean()
    design = np.column_stack(columns)
    normal = design.T @ (weights[:, None] * design)
    if np.linalg.cond(normal) > 1e12:
        return None
    inverse = np.linalg.inv(normal)
    found = inverse @ (design.T @ (weights * periods.kwh_day))
    if (found < 0.0).any():
        return None
    squares = float((weights * (periods.kwh_day - design @ found) ** 2).sum())
    heats, cools = not math.isnan(heating_c), not math.isnan(cooling_c)
    return Model(
        form,
        float(found[0]),
        float(found[1]) if heats else 0.0,
        float(found[-1]) if cools else 0.0,
        heating_c,
        cooling_c,
        squares,
        math.sqrt(float(inverse[-1, -1])) if cools else 0.0,
    )


def cooling_band(fitted: Fitted, outdoor_c: FloatArray) -> tuple[float, float]:
    """The interval of the cooling part in a weather, given a fit and the weather's daily means.

    Parameters
    ----------
    fitted : Fitted
        With more periods than parameters.
    outdoor_c : ndarray
        [°C].

    Returns
    -------
    tuple of float
        Low and high [kWh]; low may be negative, where there may be no cooling.

    Notes
    -----
    All that fits nearly as well, by the F test of one quantity at `CONFIDENCE`, at every change point. Residuals that
    go with those of the day before count as fewer days, (1 - r) / (1 + r) of them, as ASHRAE Guideline 14 has it (from
    memory); a dozen bills cannot tell whether they do.
    """
    from scipy.stats import f

    model, periods = fitted.model, fitted.periods
    residuals = periods.kwh_day - model.predict(periods)
    alike = 0.0 if periods.monthly else max(_lag_one(residuals), 0.0)
    independent = max(periods.kwh_day.size * (1.0 - alike) / (1.0 + alike) - model.parameters, 1.0)
    allowed = model.squares * (1.0 + float(f.ppf(CONFIDENCE, 1, independent)) / independent)
    ends: list[float] = []
    for one in fitted.tried:
        if one.squares <= allowed:
            reach = math.sqrt(allowed - one.squares) * one.cooling_spread
            degree_days = float(np.maximum(outdoor_c - one.cooling_c, 0.0).sum())
            ends += [degree_days * (one.cooling - reach), degree_days * (one.cooling + reach)]
    return min(ends), max(ends)


def _lag_one(residuals: FloatArray) -> float:
    total = float((residuals**2).sum())
    return float((residuals[1:] * residuals[:-1]).sum()) / total if total > 0.0 else 0.0


def cv_rmse_percent(fitted: Fitted) -> float:
    """Coefficient of variation of the root mean square error, given a fit.

    Parameters
    ----------
    fitted : Fitted
        With more periods than parameters.

    Returns
    -------
    float
        By ASHRAE Guideline 14, weighted by days [%].
    """
    periods, free = fitted.periods, fitted.periods.kwh_day.size - fitted.model.parameters
    mean = float(np.average(periods.kwh_day, weights=periods.days))
    return 100.0 * math.sqrt(fitted.model.squares / free) / mean


def nmbe_percent(fitted: Fitted) -> float:
    """Normalized mean bias error, given a fit.

    Parameters
    ----------
    fitted : Fitted
        With more periods than parameters.

    Returns
    -------
    float
        By ASHRAE Guideline 14, weighted by days; positive where the model gives less than the bills [%].
    """
    periods, count = fitted.periods, fitted.periods.kwh_day.size
    gap = float(np.average(periods.kwh_day - fitted.model.predict(periods), weights=periods.days))
    mean = float(np.average(periods.kwh_day, weights=periods.days))
    return 100.0 * gap / mean * count / (count - fitted.model.parameters)
