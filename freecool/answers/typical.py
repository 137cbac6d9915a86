"""What a typical year answers, beside the real years it was made from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from freecool.answers.estimate import estimate
from freecool.answers.real_years import spread
from freecool.cases.model import make_case

if TYPE_CHECKING:
    from freecool.weather import Weather

COMPARED_PRESETS = ("detached-house-medium", "small-office", "equipment-room")
"""A house, a building occupied by day, and a load that never rests."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TypicalCompared:
    """Net kWh a year of one preset, by the typical year and by the real ones.

    Attributes
    ----------
    preset : str
    typical_year, mean_of_years : float
        [kWh/year].
    p10, p90 : float
        Percentiles of the real years [kWh/year].
    """

    preset: str
    typical_year: float
    mean_of_years: float
    p10: float
    p90: float


def compare_typical(preset: str, typical: Weather, years: Weather) -> TypicalCompared:
    """Net kWh a year of a preset, given a typical year and the real years it was made from.

    Parameters
    ----------
    preset : str
        Of a building.
    typical, years : Weather
        The second is what the first was made from.

    Returns
    -------
    TypicalCompared
        Both answers, and the spread of the years.
    """
    case = make_case(preset=preset)
    real = estimate(case, years)
    good = spread(real.by_year)
    return TypicalCompared(
        preset=preset,
        typical_year=estimate(case, typical).energy.net_kwh_saved,
        mean_of_years=real.energy.net_kwh_saved,
        p10=good.p10,
        p90=good.p90,
    )
