"""What a damper is worth: two complete runs, and the answer drawn from their difference."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from freecool.advice import EnergyBlock, HoursBlock, HumidityBlock, Verdict, verdict_of, warnings
from freecool.case import Case
from freecool.differential import break_even_differential
from freecool.errors import Notice
from freecool.humidity import HumidityYear, humidity_risk
from freecool.money import Worth, worth
from freecool.physics.year import Year, Zone, simulate
from freecool.prepare import Prepared, prepare

if TYPE_CHECKING:
    import pandas as pd

    from freecool.weather import Weather

JOULES_PER_KWH = 3.6e6


class Pair(NamedTuple):
    """One building without and with the damper."""

    without: Year
    fitted: Year


@dataclass(frozen=True)
class Estimate:
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
        return pd.concat([frame, pd.DataFrame(columns, index=frame.index)], axis=1)

    @cached_property
    def monthly(self) -> pd.DataFrame:
        """Month by month: hours and kWh, as means over the years."""
        import pandas as pd

        hourly, years = self.hourly, _years(self.weather)
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

    def to_dict(self) -> dict[str, Any]:
        """The answer as one JSON-ready object; the contract of ``freecool value --json``."""
        from freecool import __version__

        site, case = self.weather.site, self.case
        answer: dict[str, Any] = {
            "freecool": __version__,
            "verdict": {"answer": self.verdict, "text": self.sentence},
            "weather": {
                "source": self.weather.source,
                "kind": self.weather.kind,
                "name": site.name,
                "latitude": site.latitude,
                "longitude": site.longitude,
                "elevation_m": site.elevation_m,
                "hours": self.weather.hours,
                "years": list(self.weather.years),
                "filled_hours": self.weather.quality.filled_hours,
                "clipped_hours": self.weather.quality.clipped_hours,
                "repairs": list(self.weather.quality.notes),
                "invented": self.weather.invented,
                "attribution": self.weather.attribution,
            },
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
        if len(self.by_year) > 1:
            answer["spread"] = spread(self.by_year)
        return answer

    def __repr__(self) -> str:
        from freecool.show.terminal import answer_text

        return answer_text(self)


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
    years = _years(weather)
    hours, energy, humidity = blocks(pair, weather.hours, years)
    other = blocks(second, weather.hours, years)[1]
    break_even = break_even_differential(
        prepared.unit,
        prepared.fan,
        case.schedule.cooling,
        case.damper.outdoor_share,
        case.fan.mode == "continuous",
        float(prepared.zone.hours.pressure_pa.mean()),
    )
    money = worth(case.money, energy.net_kwh_saved, energy.heating_kwh_added)
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
    return Estimate(
        case, weather, hours, energy, humidity, money, break_even, band, notices, verdict, sentence,
        _by_year(case, pair, weather), pair,
    )  # fmt: skip


def run_pair(prepared: Prepared, zone: Zone, hourly: bool = False) -> Pair:
    """One zone without and with the damper, given what `prepare` made."""
    without = simulate(zone, prepared.unit, prepared.fan, hourly=hourly)
    fitted = simulate(
        zone, prepared.unit, prepared.fan, prepared.damper, prepared.limits, base=without, hourly=hourly
    )  # fmt: skip
    return Pair(without, fitted)


def blocks(pair: Pair, period: int, years: float) -> tuple[HoursBlock, EnergyBlock, HumidityBlock]:
    """The hours, energy and humidity of a pair of runs, as yearly means.

    Parameters
    ----------
    pair : Pair
    period : int
        Hours in the runs [h].
    years : float
        How many years they make.
    """

    def mean(year: Year, name: str) -> float:
        return float(year.total(name).sum()) / years

    def kwh(year: Year, name: str) -> float:
        return mean(year, name) / JOULES_PER_KWH

    without, fitted = pair
    hours = HoursBlock(
        period / years,
        *(
            mean(fitted, name)
            for name in ("permitted", "cooling", "coincident", "free_cooling", "carried", "damp", "unmet")
        ),
    )
    compressor, compressor_with = kwh(without, "compressor_j"), kwh(fitted, "compressor_j")
    fan, fan_with = kwh(without, "fan_j"), kwh(fitted, "fan_j")
    net = compressor - compressor_with - (fan_with - fan)
    energy = EnergyBlock(
        compressor,
        compressor_with,
        compressor - compressor_with,
        fan,
        fan_with - fan,
        net,
        100.0 * net / (compressor + fan) if compressor + fan > 0.0 else 0.0,
        kwh(fitted, "heating_j") - kwh(without, "heating_j"),
    )
    states = [
        HumidityYear(mean(year, "humid"), mean(year, "humid_dew_point"), float(year.total("worst_mean_rh").max()))
        for year in pair
    ]
    risk, reason = humidity_risk(*states)
    humidity = HumidityBlock(
        risk,
        reason,
        states[0].over_60_rh_hours,
        states[1].over_60_rh_hours,
        states[0].over_60_dew_point_hours,
        states[1].over_60_dew_point_hours,
        states[0].worst_30_day_rh,
        states[1].worst_30_day_rh,
        mean(fitted, "moisture_in_kg") - (mean(fitted, "moisture_coil_kg") - mean(without, "moisture_coil_kg")),
        mean(fitted, "condensate_kg") - mean(without, "condensate_kg"),
    )
    return hours, energy, humidity


def spread(by_year: list[dict[str, float]]) -> dict[str, Any]:
    """Good and bad years: 10th, 50th and 90th percentile of net kWh saved, and every year."""
    low, middle, high = (float(v) for v in np.percentile([year["net_kwh_saved"] for year in by_year], (10, 50, 90)))
    return {"p10": low, "p50": middle, "p90": high, "years": by_year}


def _years(weather: Weather) -> float:
    if weather.typical or len(weather.years) * 8760 == weather.hours:
        return float(max(len(weather.years), 1))
    return weather.hours / 8760.0


def _by_year(case: Case, pair: Pair, weather: Weather) -> list[dict[str, float]]:
    if weather.typical:
        return []
    without, fitted = pair
    avoided = (without.total("compressor_j") - fitted.total("compressor_j")) / JOULES_PER_KWH
    fan = (fitted.total("fan_j") - without.total("fan_j")) / JOULES_PER_KWH
    heat = (fitted.total("heating_j") - without.total("heating_j")) / JOULES_PER_KWH
    return [
        {
            "year": year,
            "compressor_kwh_avoided": float(avoided[i]),
            "fan_kwh_added": float(fan[i]),
            "net_kwh_saved": float(avoided[i] - fan[i]),
            "saved": worth(case.money, float(avoided[i] - fan[i]), float(heat[i])).saved_per_year,
        }
        for i, year in enumerate(weather.years)
    ]
