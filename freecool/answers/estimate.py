"""What a damper is worth: two complete runs, and the answer drawn from their difference."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple

import numpy as np

from freecool.answers.break_even import break_even_of
from freecool.answers.humidity import HumidityYear, humidity_risk
from freecool.answers.money import Worth, worth
from freecool.answers.prepare import Prepared, prepare
from freecool.answers.rules import rule_opens
from freecool.answers.verdict import (
    EnergyBlock,
    HoursBlock,
    HumidityBlock,
    Verdict,
    most_years,
    most_years_text,
    verdict_of,
    warnings,
)
from freecool.cases.model import Case
from freecool.core.errors import Notice
from freecool.core.presentation import Presented
from freecool.physics.year import JOULES_PER_KWH, TOTALS, YearRun, Zone, simulate

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from freecool.weather import Weather

    FloatArray = NDArray[np.float64]


WORST_RH = TOTALS.index("worst_mean_rh")


class Pair(NamedTuple):
    """One building without and with the damper."""

    without: YearRun
    fitted: YearRun


@dataclass(frozen=True, repr=False)
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
    warnings : tuple of Notice
    verdict : {"yes", "hardly", "no"}
    sentence : str
        The verdict in words.
    by_year : list of dict
        Net and avoided kWh and money of each real year; empty for a typical year.
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
    warnings: tuple[Notice, ...]
    verdict: Verdict
    sentence: str
    by_year: list[dict[str, float]]
    pair: Pair = field(repr=False)

    @cached_property
    def hourly(self) -> pd.DataFrame:
        """Hour by hour: weather, rule, damper, indoor state and power, without and with the damper."""
        import pandas as pd

        frame = self.weather.frame[["dry_bulb_c", "dew_point_c"]].rename(columns=lambda name: f"outdoor_{name}")
        columns: dict[str, Any] = {"permitted": self.pair.fitted.column("permitted").astype(bool)}
        columns["damper_share"] = self.pair.fitted.column("damper")
        for name, year in (("without", self.pair.without), ("with", self.pair.fitted)):
            columns[f"indoor_c_{name}"] = year.column("indoor_c")
            columns[f"relative_humidity_percent_{name}"] = 100.0 * year.column("relative_humidity")
            columns[f"humidity_ratio_kg_kg_{name}"] = year.column("humidity_ratio")
            columns[f"compressor_w_{name}"] = year.column("compressor_w")
            columns[f"fan_w_{name}"] = year.column("fan_w")
            columns[f"heating_w_{name}"] = year.column("heating_w")
        table = pd.concat([frame, pd.DataFrame(columns, index=frame.index)], axis=1)
        table.attrs["attribution"] = self.weather.attribution
        return table

    @cached_property
    def monthly(self) -> pd.DataFrame:
        """Month by month: hours and kWh, as means over the years."""
        import pandas as pd

        hourly, years = self.hourly, count_years(self.weather)
        avoided = hourly["compressor_w_without"] - hourly["compressor_w_with"]
        fan = hourly["fan_w_with"] - hourly["fan_w_without"]
        table = pd.DataFrame(
            {
                "permitted_hours": hourly["permitted"].astype(float),
                "free_cooling_hours": hourly["damper_share"],
                "cooling_hours": self.pair.without.called.astype(float),
                "compressor_kwh_without": hourly["compressor_w_without"] / 1000.0,
                "compressor_kwh_avoided": avoided / 1000.0,
                "fan_kwh_added": fan / 1000.0,
                "net_kwh_saved": (avoided - fan) / 1000.0,
            }
        )
        return table.groupby(table.index.month.rename("month")).sum() / years  # type: ignore[attr-defined]

    @cached_property
    def spread(self) -> dict[str, Any] | None:
        """Good and bad years: percentiles of net kWh saved, what most reach, and every year; None for one."""
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
        """The answer as one JSON-ready object; the contract of ``freecool value --json``."""
        from freecool.core.version import __version__

        case = self.case
        answer: dict[str, Any] = {
            "freecool": __version__,
            "verdict": {"answer": self.verdict, "text": self.sentence},
            "weather": weather_block(self.weather),
            "inputs": {
                "building": case.preset,
                "rule": case.rule.name,
                "setpoint_c": case.schedule.cooling,
                "differential_k": case.rule.differential,
                "flow_m3_s": case.fan.flow,
                "fan_w_per_m3_s": case.fan.power,
                "price_per_kwh": case.money.price,
                "case": case.to_dict(),
            },
            "hours": self.hours._asdict(),
            "energy": self.energy._asdict(),
            "humidity": self.humidity._asdict(),
            "money": {"currency": case.money.currency, **self.money._asdict()},
            "break_even_differential_k": self.break_even_differential_k,
            "model_band": {name: list(band) for name, band in self.model_band.items()},
            "warnings": [notice._asdict() for notice in self.warnings],
        }
        if self.spread is not None:
            answer["spread"] = self.spread
        return answer


def estimate(case: Case, weather: Weather) -> Estimate:
    """What a damper is worth on a building in a climate, given case and weather.

    Parameters
    ----------
    case : Case
    weather : Weather

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
    from freecool.weather.years import whole_years

    weather = whole_years(weather)
    prepared = prepare(case, weather)
    pair = run_pair(prepared, prepared.zone, hourly=True)
    second = run_pair(prepared, prepared.second)
    years = count_years(weather)
    hours, energy, humidity, money = answer_blocks(case, weather, *(year.totals for year in pair))
    other = answer_blocks(case, weather, *(year.totals for year in second))[1]
    break_even = break_even_of(case, prepared)
    band = {
        name: (min(one, two), max(one, two))
        for name, one, two in (
            ("net_kwh_saved", energy.net_kwh_saved, other.net_kwh_saved),
            ("compressor_kwh_avoided", energy.compressor_kwh_avoided, other.compressor_kwh_avoided),
        )
    }
    frost = float((pair.fitted.total("frost") - pair.without.total("frost")).sum()) / years
    notices = (*weather.notices, *warnings(case, prepared.limits, hours, energy, humidity, frost, break_even))
    verdict, sentence = verdict_of(case, hours, energy, humidity, money)
    by_year = year_by_year(case, pair, weather)
    if hours.cooling > 0.0:
        sentence = f"{sentence} {years_sentence(by_year)}".rstrip()
    return Estimate(
        case, weather, hours, energy, humidity, money, break_even, band, notices, verdict, sentence, by_year, pair
    )


def run_pair(prepared: Prepared, zone: Zone, hourly: bool = False) -> Pair:
    """One zone without and with the damper, given what `prepare` made."""
    without = simulate(zone, prepared.unit, prepared.fan, hourly=hourly)
    fitted = simulate(
        zone, prepared.unit, prepared.fan, prepared.damper, prepared.limits, base=without, hourly=hourly
    )  # fmt: skip
    return Pair(without, fitted)


def answer_blocks(
    case: Case, weather: Weather, without: FloatArray, fitted: FloatArray
) -> tuple[HoursBlock, EnergyBlock, HumidityBlock, Worth]:
    """The four blocks of an answer as yearly means.

    Parameters
    ----------
    case : Case
    weather : Weather
    without, fitted : ndarray
        Totals of the runs without and with the damper, (years, TOTALS).
    """
    years = count_years(weather)
    first, second = (dict(zip(TOTALS, run.sum(axis=0) / years, strict=True)) for run in (without, fitted))
    saved = {name: float(first[name] - second[name]) for name in TOTALS}
    hours = HoursBlock(
        weather.hours / years,
        *(float(second[name]) for name in HoursBlock._fields[1:]),
    )
    compressor, fan = (float(first[name]) / JOULES_PER_KWH for name in ("compressor_j", "fan_j"))
    avoided = saved["compressor_j"] / JOULES_PER_KWH
    fan_added, heat_added = (float(second[name] - first[name]) / JOULES_PER_KWH for name in ("fan_j", "heating_j"))
    net = avoided - fan_added
    energy = EnergyBlock(
        compressor,
        float(second["compressor_j"]) / JOULES_PER_KWH,
        avoided,
        fan,
        fan_added,
        net,
        100.0 * net / (compressor + fan) if compressor + fan > 0.0 else 0.0,
        heat_added,
    )
    humidity = _humidity_block(first, second, *(float(run[:, WORST_RH].max()) for run in (without, fitted)))
    return hours, energy, humidity, worth(case.money, net, energy.heating_kwh_added, saved["electricity_cost"])


def _humidity_block(
    first: dict[str, float], second: dict[str, float], worst_without: float, worst_with: float
) -> HumidityBlock:
    states = [
        HumidityYear(float(run["humid"]), float(run["humid_dew_point"]), worst)
        for run, worst in ((first, worst_without), (second, worst_with))
    ]
    risk, reason = humidity_risk(*states)
    return HumidityBlock(
        risk,
        reason,
        states[0].over_60_rh_hours,
        states[1].over_60_rh_hours,
        states[0].over_60_dew_point_hours,
        states[1].over_60_dew_point_hours,
        worst_without,
        worst_with,
        float(second["moisture_in_kg"] - (second["moisture_coil_kg"] - first["moisture_coil_kg"])),
        float(second["condensate_kg"] - first["condensate_kg"]),
    )


def weather_block(weather: Weather) -> dict[str, Any]:
    """Where the weather of an answer came from, as one JSON-ready object."""
    return weather.to_dict()


def spread(by_year: list[dict[str, float]]) -> dict[str, Any]:
    """Good and bad years: 10th, 50th and 90th percentile of net kWh saved, what most reach, and every year."""
    low, middle, high = (float(v) for v in np.percentile(_net(by_year), (10, 50, 90)))
    most = most_years(_net(by_year))
    return {
        "p10": low,
        "p50": middle,
        "p90": high,
        "most_years": None if most is None else most._asdict(),
        "years": by_year,
    }


def years_sentence(by_year: list[dict[str, float]], what: str = "it") -> str:
    """What most of the real years reach, given every year and what saves; empty for fewer than five."""
    return most_years_text(most_years(_net(by_year)), what)


def _net(by_year: list[dict[str, float]]) -> list[float]:
    return [year["net_kwh_saved"] for year in by_year]


def count_years(weather: Weather) -> float:
    """How many years a weather makes."""
    if weather.typical or len(weather.years) * 8760 == weather.hours:
        return float(max(len(weather.years), 1))
    return weather.hours / 8760.0


def year_by_year(case: Case, pair: Pair, weather: Weather) -> list[dict[str, float]]:
    """Net, avoided and fan kWh and money of each real year, given case, both runs and weather; else empty."""
    if weather.typical:
        return []
    without, fitted = pair
    avoided = (without.total("compressor_j") - fitted.total("compressor_j")) / JOULES_PER_KWH
    fan = (fitted.total("fan_j") - without.total("fan_j")) / JOULES_PER_KWH
    heat = (fitted.total("heating_j") - without.total("heating_j")) / JOULES_PER_KWH
    electricity = without.total("electricity_cost") - fitted.total("electricity_cost")
    return [
        {
            "year": year,
            "compressor_kwh_avoided": float(avoided[i]),
            "fan_kwh_added": float(fan[i]),
            "net_kwh_saved": float(avoided[i] - fan[i]),
            "saved": worth(
                case.money, float(avoided[i] - fan[i]), float(heat[i]), float(electricity[i])
            ).saved_per_year,
        }
        for i, year in enumerate(weather.years)
    ]
