"""Good and bad years: each real year by itself, and what most of them reach."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from freecool.answers.money import worth
from freecool.answers.results import MostYears, RealYear, Spread
from freecool.cases.model import Case
from freecool.physics.year import JOULES_PER_KWH, YearRun

if TYPE_CHECKING:
    from freecool.weather import Weather

# Of fewer years than this nothing is said of most of them; the share that counts as most; our own choices.
FEWEST_YEARS = 5
MOST_YEARS_SHARE = 0.8


def count_years(weather: Weather) -> float:
    """How many years a weather makes.

    Parameters
    ----------
    weather : Weather
        Of a typical year or real years.

    Returns
    -------
    float
        A whole number unless the record is of part years.
    """
    if weather.typical or len(weather.years) * 8760 == weather.hours:
        return float(max(len(weather.years), 1))
    return weather.hours / 8760.0


def year_by_year(case: Case, without: YearRun, fitted: YearRun, weather: Weather) -> tuple[RealYear, ...]:
    """Net, avoided and fan kWh and money of each real year, given case, both runs and weather; else empty.

    Parameters
    ----------
    case : Case
        Its money counts.
    without, fitted : YearRun
        Without and with the damper.
    weather : Weather
        That the runs had.

    Returns
    -------
    tuple of RealYear
        Empty for a typical year.
    """
    if weather.typical:
        return ()
    avoided = (without.total("compressor_j") - fitted.total("compressor_j")) / JOULES_PER_KWH
    fan = (fitted.total("fan_j") - without.total("fan_j")) / JOULES_PER_KWH
    heat = (fitted.total("heating_j") - without.total("heating_j")) / JOULES_PER_KWH
    electricity = without.total("electricity_cost") - fitted.total("electricity_cost")
    return tuple(
        RealYear(
            year=year,
            compressor_kwh_avoided=float(avoided[i]),
            fan_kwh_added=float(fan[i]),
            net_kwh_saved=float(avoided[i] - fan[i]),
            saved=worth(case.money, float(avoided[i] - fan[i]), float(heat[i]), float(electricity[i])).saved_per_year,
        )
        for i, year in enumerate(weather.years)
    )


def spread(by_year: Sequence[RealYear]) -> Spread:
    """Good and bad years: percentiles of net kWh saved, what most years reach, and every year, given each of them.

    Parameters
    ----------
    by_year : sequence of RealYear
        At least one.

    Returns
    -------
    Spread
        Percentiles by linear interpolation.
    """
    net = [year.net_kwh_saved for year in by_year]
    low, middle, high = (float(value) for value in np.percentile(net, (10, 50, 90)))
    return Spread(p10=low, p50=middle, p90=high, most_years=most_years(net), years=tuple(by_year))


def years_sentence(by_year: Sequence[RealYear], what: str = "it") -> str:
    """What most of the real years reach, given every year and what saves.

    Parameters
    ----------
    by_year : sequence of RealYear
        Every year.
    what : str
        What saves, as the sentence calls it.

    Returns
    -------
    str
        Empty for fewer than five years.
    """
    return most_years_text(most_years([year.net_kwh_saved for year in by_year]), what)


def most_years(net_kwh: Sequence[float]) -> MostYears | None:
    """What 8 of 10 years reach, given net kWh of each real year.

    Parameters
    ----------
    net_kwh : sequence of float
        Of each year [kWh].

    Returns
    -------
    MostYears or None
        None for fewer than five.
    """
    of = len(net_kwh)
    if of < FEWEST_YEARS:
        return None
    years = int(MOST_YEARS_SHARE * of + 1e-9)
    return MostYears(
        years=years,
        of=of,
        net_kwh_saved=sorted(net_kwh, reverse=True)[years - 1],
        saving=sum(net > 0.0 for net in net_kwh),
    )


def most_years_text(most: MostYears | None, what: str = "it") -> str:
    """A sentence on good and bad years, given what most of them reach and what saves.

    Parameters
    ----------
    most : MostYears or None
        As `most_years`.
    what : str
        What saves, as the sentence calls it.

    Returns
    -------
    str
        Empty for None.
    """
    if most is None:
        return ""
    # Rounded down, so that "at least" stays true.
    if most.net_kwh_saved >= 1.0:
        return f"In {most.years} of {most.of} years {what} saves at least {math.floor(most.net_kwh_saved):,} kWh."
    return f"{what[0].upper()}{what[1:]} saves in {most.saving or 'none'} of {most.of} years."
