"""What a typical year answers, beside the real years it was made from."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from freecool.answers.estimate import estimate, spread
from freecool.cases.model import make_case

if TYPE_CHECKING:
    from freecool.weather import Weather

COMPARED_PRESETS = ("detached-house-medium", "small-office", "equipment-room")
"""A house, a building occupied by day, and a load that never rests."""


class TypicalCompared(NamedTuple):
    """Net kWh a year of one preset, by the typical year and by the real ones."""

    preset: str
    typical_year: float
    mean_of_years: float
    p10: float
    p90: float


def compare_typical(preset: str, typical: Weather, years: Weather) -> TypicalCompared:
    """Net kWh a year of a preset, given a typical year and the real years it was made from."""
    case = make_case(preset=preset)
    real = estimate(case, years)
    good = spread(real.by_year)
    typical_kwh = estimate(case, typical).energy.net_kwh_saved
    return TypicalCompared(preset, typical_kwh, real.energy.net_kwh_saved, good["p10"], good["p90"])
