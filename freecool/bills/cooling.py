"""How much of the bills is cooling, how sure that is, and when bills cannot tell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from freecool.bills.change_point import (
    CONFIDENCE,
    MONTHLY_DAYS,
    FloatArray,
    Form,
    cooling_band,
    cv_rmse_percent,
    fits,
    nmbe_percent,
    periods_of,
)
from freecool.bills.model import LONGEST_PERIOD_DAYS, Bill, Bills
from freecool.core.errors import BillsError, Notice
from freecool.core.record import Record, meaning
from freecool.core.units import format_both

if TYPE_CHECKING:
    import pandas as pd

    from freecool.bills.change_point import Fitted, Model, Periods
    from freecool.weather import Weather

# When bills are asked at all, our own: a cooling season and what is not one, nearly whole.
LEAST_PERIODS, LEAST_DAYS, MOST_MISSING = 9, 270, 0.1
# So few of the bills' days may lie outside the weather's and take the mean of their calendar day; our own.
MOST_FOREIGN = 0.1
# Difference of the criterion from which evidence is strong, and up to which it is none: Kass and Raftery, Journal of
# the American Statistical Association 90, 1995 (from memory).
STRONG, NONE = 6.0, 2.0
# Below 55 °F few buildings cool; so many periods as cold as that show the base load. Our own.
PLAIN_C, LEAST_PLAIN, PLAIN_SHARE = 12.8, 2, 0.05
# ASHRAE Guideline 14-2014, 4.2 (from memory): monthly, and hourly, which is taken for daily too.
CV_RMSE_PERCENT, NMBE_PERCENT = (15.0, 30.0), (5.0, 10.0)
DAYS_A_YEAR = 365.0
INSTEAD = "A meter at the unit, or its run time, for four weeks with warm and mild days tells it."


@dataclass(frozen=True, kw_only=True, slots=True, repr=False)
class CoolingInBills(Record):
    """The cooling part of bills by a change-point model, a year in a weather; null where bills cannot tell it."""

    periods: int = field(metadata=meaning("bills that count"))
    days: int = field(metadata=meaning("that they bill", "days"))
    start: str = field(metadata=meaning("first day"))
    end: str = field(metadata=meaning("last day"))
    kwh: float = field(metadata=meaning("on all bills", "kWh"))
    own_weather: bool = field(metadata=meaning("whether outdoor temperatures are those of the bills' own dates"))
    cooling_kwh: float | None = field(metadata=meaning("electricity of cooling in this weather", "kWh/year"))
    cooling_kwh_low: float | None = field(metadata=meaning("low end of its 90 % interval", "kWh/year"))
    cooling_kwh_high: float | None = field(metadata=meaning("high end of its 90 % interval", "kWh/year"))
    model: Form | None = field(metadata=meaning("form of the change-point model that was chosen"))
    base_kwh_day: float | None = field(metadata=meaning("what no temperature moves", "kWh/day"))
    cooling_above_c: float | None = field(metadata=meaning("daily mean outdoors from which cooling begins", "°C"))
    cooling_kwh_day_k: float | None = field(metadata=meaning("for each degree above it", "kWh/day K"))
    cv_rmse_percent: float | None = field(metadata=meaning("coefficient of variation of the error, Guideline 14", "%"))
    cv_rmse_limit_percent: float = field(metadata=meaning("its limit", "%"))
    nmbe_percent: float | None = field(metadata=meaning("normalized mean bias error, Guideline 14", "%"))
    nmbe_limit_percent: float = field(metadata=meaning("its limit, either way", "%"))
    refusals: tuple[Notice, ...] = field(metadata=meaning("why the bills cannot tell, and what would"))
    notices: tuple[Notice, ...] = field(metadata=meaning("what a reader must know"))

    @property
    def sentence(self) -> str:
        """What was found in words, or why nothing was."""
        if self.cooling_kwh is None or self.cooling_above_c is None:
            reasons = " ".join(notice.text for notice in self.refusals)
            return f"These bills do not tell what cooling takes. {reasons}"
        weather = "the weather of their dates" if self.own_weather else "the weather given"
        return (
            f"Cooling takes {self.cooling_kwh:,.0f} kWh a year by these bills ({100 * CONFIDENCE:.0f} % interval "
            f"{self.cooling_kwh_low:,.0f} to {self.cooling_kwh_high:,.0f}) in {weather}: it begins on days above "
            f"{format_both(self.cooling_above_c, 'temperature')} outdoors, beside a base load of "
            f"{self.base_kwh_day:,.1f} kWh a day."
        )

    def __repr__(self) -> str:
        return "\n".join([self.sentence, *(notice.text for notice in self.notices)])


def cooling_in_bills(bills: Bills, weather: Weather) -> CoolingInBills:
    """What cooling takes of bills, a year in a weather, given both.

    Parameters
    ----------
    bills : Bills
        Of a year at best.
    weather : Weather
        Of the bills' own dates; a date that it lacks takes the mean of its calendar day, and so do all where it lacks
        more than a tenth.

    Returns
    -------
    CoolingInBills
        With refusals in place of figures where bills cannot tell.

    Raises
    ------
    BillsError
        The weather lacks calendar days that the bills hold.
    """
    counted = tuple(_with_real_readings(bills.periods))
    daily = _daily_means(weather)
    own, temperatures = _temperatures(counted, daily, weather.typical or weather.invented)
    days = sum(bill.days for bill in counted)
    monthly = bool(counted) and days >= MONTHLY_DAYS * len(counted)
    limits = CV_RMSE_PERCENT[not monthly], NMBE_PERCENT[not monthly]
    refusals = list(_refused_unseen(bills, counted))
    year: FloatArray = np.array(daily, dtype=np.float64)
    scale = DAYS_A_YEAR / year.size
    fitted: Fitted | None = None
    band = (0.0, 0.0)
    if not refusals:
        periods = periods_of([bill.kwh for bill in counted], [bill.days for bill in counted], temperatures)
        found = fits(periods)
        band = _band(found, year, scale)
        fitted = found[0]
        refusals += _refused_by_fit(found, periods, _cooling(fitted.model, year, scale), band)
    model = fitted.model if fitted and not refusals else None
    cv_rmse = cv_rmse_percent(fitted) if fitted else None
    return CoolingInBills(
        periods=len(counted),
        days=days,
        start=bills.periods[0].start.isoformat(),
        end=(bills.periods[-1].end - timedelta(days=1)).isoformat(),
        kwh=bills.kwh,
        own_weather=own,
        cooling_kwh=None if model is None else _cooling(model, year, scale),
        cooling_kwh_low=None if model is None else band[0],
        cooling_kwh_high=None if model is None else band[1],
        model=fitted.model.form if fitted else None,
        base_kwh_day=None if model is None else model.base,
        cooling_above_c=None if model is None else model.cooling_c,
        cooling_kwh_day_k=None if model is None else model.cooling,
        cv_rmse_percent=cv_rmse,
        cv_rmse_limit_percent=limits[0],
        nmbe_percent=nmbe_percent(fitted) if fitted else None,
        nmbe_limit_percent=limits[1],
        refusals=tuple(refusals),
        notices=(*bills.notices, *_notices(bills, counted, own, weather, cv_rmse, limits[0])),
    )


def _with_real_readings(periods: Sequence[Bill]) -> Iterator[Bill]:
    """Bills that end in a reading of the meter: an estimated one goes together with the next, which sets it right."""
    waiting: Bill | None = None
    for bill in periods:
        whole = bill
        if waiting is not None and waiting.end == bill.start:
            whole = replace(bill, start=waiting.start, kwh=waiting.kwh + bill.kwh)
        waiting = whole if bill.estimated else None
        if not bill.estimated and whole.days <= LONGEST_PERIOD_DAYS:
            yield whole


def _daily_means(weather: Weather) -> pd.Series[float]:
    """Outdoor dry bulb by date [°C]."""
    hourly = weather.frame["dry_bulb_c"]
    return hourly.groupby(hourly.index.date).mean()  # type: ignore[attr-defined]


def _temperatures(periods: Sequence[Bill], daily: pd.Series[float], typical: bool) -> tuple[bool, list[FloatArray]]:
    """Whether the weather is that of the bills' own dates, and daily means of each bill [°C]."""
    by_date = dict(zip(daily.index, map(float, daily), strict=True))
    by_day: dict[tuple[int, int], list[float]] = {}
    for date, value in by_date.items():
        by_day.setdefault((date.month, date.day), []).append(value)
    by_day.setdefault((2, 29), by_day.get((2, 28), []))
    dates = [[bill.start + timedelta(days=day) for day in range(bill.days)] for bill in periods]
    every = {date for one in dates for date in one}
    own = not typical and len(every & by_date.keys()) >= (1.0 - MOST_FOREIGN) * len(every)
    known = by_date if own else {}
    lacking = sorted(date for date in every - known.keys() if not by_day.get((date.month, date.day)))
    if lacking:
        more = f", nor {len(lacking) - 1} more of their days" if len(lacking) > 1 else ""
        raise BillsError(
            f"The weather has no {lacking[0]:%d %B}, which the bills hold{more}: give weather of whole years."
        )
    means = {date: known[date] if date in known else float(np.mean(by_day[date.month, date.day])) for date in every}
    return own, [np.array([means[date] for date in one]) for one in dates]


def _cooling(model: Model, outdoor_c: FloatArray, scale: float) -> float:
    return scale * model.cooling * float(np.maximum(outdoor_c - model.cooling_c, 0.0).sum())


def _band(found: Sequence[Fitted], outdoor_c: FloatArray, scale: float) -> tuple[float, float]:
    """The interval over the chosen form and those with cooling that are as likely."""
    likely = [one for one in found if one.model.form[0] in "345" and one.information - found[0].information <= NONE]
    ends = [cooling_band(one, outdoor_c) for one in likely if one.model.cooling > 0.0]
    if not ends:
        return 0.0, 0.0
    return scale * min(low for low, _ in ends), scale * max(high for _, high in ends)


def _refused_unseen(bills: Bills, counted: Sequence[Bill]) -> Iterator[Notice]:
    """What forbids to ask the bills at all."""
    span = (bills.periods[-1].end - bills.periods[0].start).days
    estimated = bills.days - sum(bill.days for bill in counted)
    if bills.exports:
        yield Notice(
            "solar_export",
            "Some electricity goes back to the grid, so that the meter hides what the building used: the yield of the "
            f"panels by the same dates, added to the bills, tells it. {INSTEAD}",
        )
    if estimated > MOST_MISSING * bills.days:
        yield Notice(
            "estimated_readings",
            f"{estimated} of {bills.days} days are estimated and no later reading sets them right: ask the utility for "
            "the meter's own readings.",
        )
    elif len(counted) < LEAST_PERIODS or bills.days < LEAST_DAYS:
        yield Notice(
            "few_periods",
            f"{len(counted)} readings over {bills.days} days do not show a cooling season and the mild days beside it: "
            f"at least {LEAST_PERIODS} over {LEAST_DAYS} days do, twelve months are better.",
        )
    if span - bills.days > MOST_MISSING * span:
        yield Notice(
            "gaps",
            f"{span - bills.days} of {span} days have no bill: at most a tenth may be missing, so add the bills "
            "between or leave off those before the gap.",
        )


def _refused_by_fit(
    found: Sequence[Fitted], periods: Periods, least: float, band: tuple[float, float]
) -> Iterator[Notice]:
    """What the models say against an answer."""
    chosen, model = found[0], found[0].model
    without = min(one.information for one in found if one.model.cooling == 0.0)
    cold = int((periods.means_c < PLAIN_C).sum())
    needed = max(LEAST_PLAIN, PLAIN_SHARE * periods.means_c.size)
    if model.cooling == 0.0 or without - chosen.information < STRONG:
        yield Notice(
            "no_cooling_signal",
            "They do not rise with outdoor warmth by more than they scatter, so that cooling may be none or too small "
            f"to be seen: daily readings show more than monthly ones. {INSTEAD}",
        )
    elif model.form == "2P cooling" or cold < needed:
        yield Notice(
            "cooling_all_year",
            f"Fewer than {needed:.0f} of them are of weather that surely needs no cooling, under "
            f"{format_both(PLAIN_C, 'temperature')}, so that the base load is not seen. {INSTEAD}",
        )
    elif model.heating > 0.0:
        yield Notice(
            "heating_overlaps",
            "Electric heating is in the same bills, and what both take on mild days passes for base load: cooling is "
            f"at least about {least:,.0f} kWh a year, probably more. {INSTEAD}",
        )
    elif band[0] <= 0.0:
        yield Notice(
            "too_wide",
            f"They scatter so much that cooling may be anything up to {band[1]:,.0f} kWh a year: daily readings show "
            f"more than monthly ones. {INSTEAD}",
        )


def _notices(
    bills: Bills, counted: Sequence[Bill], own: bool, weather: Weather, cv_rmse: float | None, limit: float
) -> Iterator[Notice]:
    if not own:
        kind = "an invented year" if weather.invented else "a typical year" if weather.typical else "other years"
        yield Notice(
            "other_weather",
            f"Outdoor temperatures are those of {kind}, not of the bills' dates, which adds to the scatter: the "
            "weather of a station by these dates does better.",
        )
    estimated = sum(bill.estimated for bill in bills.periods)
    if estimated:
        yield Notice(
            "estimated_merged",
            f"{estimated} estimated readings count together with the next reading of the meter, {len(counted)} in all.",
        )
    if cv_rmse is not None and cv_rmse > limit:
        yield Notice(
            "loose_fit",
            f"The model misses the bills by {cv_rmse:.0f} % (CV(RMSE)), over the {limit:.0f} % of ASHRAE Guideline 14: "
            "something else than the weather moves them, such as absence or a change of use.",
        )
