"""What a damper is worth: two complete runs, and the answer drawn from their difference."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from freecool.answers.alternatives import look_round
from freecool.answers.blocks import answer_blocks
from freecool.answers.break_even import break_even_of
from freecool.answers.fitted import BillsBlock
from freecool.answers.hourly import hourly_table
from freecool.answers.mapped import map_notices, resolved_map
from freecool.answers.notices import notices_of, requirement_notice
from freecool.answers.prepare import prepare
from freecool.answers.quotes import OtherQuote
from freecool.answers.real_years import count_years, spread, year_by_year, years_sentence
from freecool.answers.results import (
    Alternatives,
    EnergyBlock,
    HoursBlock,
    HumidityBlock,
    IndoorHumidity,
    LikelyBand,
    Mover,
    OpenWindows,
    RealYear,
    Spread,
    Verdict,
    Worth,
)
from freecool.answers.rules import rule_opens
from freecool.answers.runs import Pair, run_pair
from freecool.answers.tables import bin_table, indoor_humidity, monthly_table, months_of
from freecool.answers.uncertainty import doubt_of
from freecool.answers.verdict import verdict_of
from freecool.answers.windows import open_windows, windows_notices, windows_sentence
from freecool.cases.model import Case
from freecool.core.errors import Notice
from freecool.core.presentation import Presented

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from freecool.weather import Weather

    FloatArray = NDArray[np.float64]


# Beside a verdict that is not "worth it", where the energy code may leave no choice.
ANYWAY = "The energy code may ask for one here anyway."


@dataclass(frozen=True, kw_only=True, repr=False)
class Estimate(Presented):
    """The answer to "what is a damper worth here?", all totals per year.

    Attributes
    ----------
    case : Case
    weather : Weather
    hours : HoursBlock
        [h/year].
    energy : EnergyBlock
        [kWh/year].
    humidity : HumidityBlock
    money : Worth
    break_even_differential_k : float
        [K].
    model_band : dict
        The same net and avoided kWh on both zone networks: low and high [kWh/year].
    likely_band : LikelyBand
        What buildings like this one save: low, middle and high.
    moved_by : tuple of Mover
        What the answer rests on and the case does not tell, the most first.
    alternatives : Alternatives
        What else would save here.
    warnings : tuple of Notice
    verdict : {"yes", "hardly", "no"}
    headline : str
        The verdict in a sentence.
    advice : str
        What to set or do instead, and how many years bear it out; may be empty.
    windows : OpenWindows or None
        What open windows would do instead, in a home whose case does not say.
    by_year : tuple of RealYear
        Empty for a typical year.
    against : tuple of OtherQuote
        Other quotes on the same weather, where `freecool.answers.against.compare_quotes` set them beside it.
    bills : BillsBlock or None
        What bills say of the building; of `fit_to_bills` alone.
    """

    job: ClassVar[str] = "value"

    case: Case
    weather: Weather
    hours: HoursBlock
    energy: EnergyBlock
    humidity: HumidityBlock
    money: Worth
    break_even_differential_k: float
    model_band: dict[str, tuple[float, float]]
    likely_band: LikelyBand
    moved_by: tuple[Mover, ...]
    alternatives: Alternatives
    warnings: tuple[Notice, ...]
    verdict: Verdict
    headline: str
    advice: str
    windows: OpenWindows | None
    by_year: tuple[RealYear, ...]
    against: tuple[OtherQuote, ...] = ()
    pair: Pair = field(repr=False)
    occupied: NDArray[np.bool_] = field(repr=False)
    bills: BillsBlock | None = None

    @property
    def sentence(self) -> str:
        """The verdict in words, with what to set or do instead."""
        return f"{self.headline} {self.advice}".rstrip()

    @cached_property
    def hourly(self) -> pd.DataFrame:
        """Hour by hour: weather, rule, damper, indoor state, air and power; ``attrs["columns"]`` tells each column."""
        return hourly_table(self.weather, prepare(self.case, self.weather), self.pair)

    @cached_property
    def monthly(self) -> pd.DataFrame:
        """Month by month: hours and kWh, as means over the years."""
        return monthly_table(self.weather, self.pair)

    @cached_property
    def bins(self) -> pd.DataFrame:
        """By outdoor temperature in bins of 5 °F: hours, load, damper and kWh, as means over the years."""
        return bin_table(self.weather, self.pair)

    @cached_property
    def indoor_humidity(self) -> IndoorHumidity:
        """How humid it is indoors in occupied hours, without and with the damper."""
        return indoor_humidity(self.pair, self.occupied)

    @cached_property
    def spread(self) -> Spread | None:
        """Good and bad years; None for fewer than two."""
        return spread(self.by_year) if len(self.by_year) > 1 else None

    def rule_opens(self, dry_bulb_c: FloatArray, humidity_ratio: FloatArray) -> NDArray[np.bool_]:
        """Whether the rule opens in outdoor air, return air being at set point and 50 % RH.

        Parameters
        ----------
        dry_bulb_c : ndarray
            [degC], shape (m,).
        humidity_ratio : ndarray
            [kg/kg], shape (n,).

        Returns
        -------
        ndarray of bool
            Shape (n, m).
        """
        pressure = float(self.weather.frame["pressure_pa"].mean())
        return rule_opens(self.case, dry_bulb_c, humidity_ratio, pressure)

    def to_dict(self) -> dict[str, Any]:
        """The answer as one JSON-ready object; the contract of ``freecool value --json``.

        Returns
        -------
        dict
            As `freecool.answers.contract.ValueAnswer` tells.
        """
        from freecool.answers.contract import ModelBand, ValueAnswer, ValueInputs, ValueVerdict, WeatherBlock
        from freecool.core.version import __version__

        case = self.case
        return ValueAnswer(
            freecool=__version__,
            verdict=ValueVerdict(answer=self.verdict, text=self.sentence),
            weather=WeatherBlock(**self.weather.to_dict()),
            inputs=ValueInputs(
                building=case.preset,
                rule=case.rule.name,
                setpoint_c=case.schedule.cooling,
                differential_k=case.rule.differential,
                flow_m3_s=case.fan.flow,
                fan_w_per_m3_s=case.fan.power,
                price_per_kwh=case.money.price,
                case=case.to_dict(),
                unit_map=resolved_map(case),
            ),
            hours=self.hours,
            energy=self.energy,
            humidity=self.humidity,
            indoor_humidity=self.indoor_humidity,
            money=self.money,
            break_even_differential_k=self.break_even_differential_k,
            model_band=ModelBand(**self.model_band),
            likely_band=self.likely_band,
            moved_by=self.moved_by,
            alternatives=self.alternatives,
            monthly=months_of(self.monthly),
            warnings=self.warnings,
            open_windows=self.windows,
            spread=self.spread,
            against=self.against or None,
            bills=self.bills,
        ).to_dict()


def estimate(case: Case, weather: Weather, *, workers: int | None = None) -> Estimate:
    """What a damper is worth on a building in a climate, given case and weather.

    Parameters
    ----------
    case : Case
        Building, unit, fan, damper, rule and money.
    weather : Weather
        Of a typical year or real years.
    workers : int, optional
        Threads; one a core unless given. The result does not depend on it.

    Returns
    -------
    Estimate
        Every difference is that of two complete runs on the same weather.

    Examples
    --------
    >>> from freecool import make_case, open_weather
    >>> answer = estimate(make_case(), open_weather("demo:high-desert"))
    >>> answer.energy.net_kwh_saved > 0
    True
    """
    from freecool.weather.climate_zone import thermal_zone
    from freecool.weather.years import whole_years

    weather = whole_years(weather)
    prepared = prepare(case, weather)
    pair = run_pair(prepared, prepared.zone, hourly=True)
    second = run_pair(prepared, prepared.second)
    found = answer_blocks(case, weather, pair.without.totals, pair.fitted.totals)
    energy, other = found.energy, answer_blocks(case, weather, second.without.totals, second.fitted.totals).energy
    break_even = break_even_of(case, prepared)
    windows = open_windows(case, weather, pair)
    frost = float((pair.fitted.total("frost") - pair.without.total("frost")).sum()) / count_years(weather)
    outside = (float(run.total("outside_table").sum()) / count_years(weather) for run in pair)
    alternatives = look_round(case, weather, prepared, pair.without, workers)
    doubt = doubt_of(case, weather, workers)
    asked_for = requirement_notice(case, thermal_zone(weather))
    verdict, sentence, advice = verdict_of(case, found, alternatives, doubt.band, doubt.movers)
    by_year = year_by_year(case, pair.without, pair.fitted, weather)
    if found.hours.cooling > 0.0:
        anyway = ANYWAY if asked_for and verdict != "yes" else ""
        more = (advice, anyway, windows_sentence(windows, energy.net_kwh_saved), years_sentence(by_year))
        advice = " ".join(filter(None, more))
    return Estimate(
        case=case,
        weather=weather,
        **found.parts(),
        break_even_differential_k=break_even,
        model_band={
            "net_kwh_saved": _band(energy.net_kwh_saved, other.net_kwh_saved),
            "compressor_kwh_avoided": _band(energy.compressor_kwh_avoided, other.compressor_kwh_avoided),
        },
        likely_band=doubt.band,
        moved_by=doubt.movers,
        alternatives=alternatives,
        warnings=(
            *weather.notices,
            *notices_of(case, prepared.limits, found, frost, break_even),
            *asked_for,
            *map_notices(case, *outside),
            *windows_notices(case, windows),
        ),
        verdict=verdict,
        headline=sentence,
        advice=advice,
        windows=windows,
        by_year=by_year,
        pair=pair,
        occupied=prepared.zone.hours.occupied,
    )


def _band(one: float, other: float) -> tuple[float, float]:
    return min(one, other), max(one, other)
