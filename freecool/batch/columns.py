"""The columns of the results: which figures of an answer a row holds, named by their path in the JSON answer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, NamedTuple

from freecool.answers.results import EnergyBlock, HoursBlock, HumidityBlock, Reach, Worth
from freecool.cases.rules import RULES
from freecool.core.record import names_of
from freecool.core.units import convert

JobName = Literal["value", "pick", "compare"]
Value = str | float | bool | None


class ResultColumn(NamedTuple):
    """One column: its name, which is the figure's path in the answer, and what it holds."""

    name: str
    kind: Literal["text", "number", "flag"]


TEXTS = {"risk", "reason", "clause", "currency"}
SITE = [ResultColumn(name, "text") for name in ("name", "weather", "error")]
SPREAD = ("net_kwh_p10", "net_kwh_p50", "net_kwh_p90", "saved_p10", "saved_p50", "saved_p90")


def _columns(path: str, *names: str) -> list[ResultColumn]:
    return [ResultColumn(f"{path}{name}", "text" if name in TEXTS else "number") for name in names]


def _blocks(path: str) -> list[ResultColumn]:
    return [
        *_columns(f"{path}energy.", *names_of(EnergyBlock)),
        *_columns(f"{path}money.", *names_of(Worth)),
        *_columns(f"{path}humidity.", *names_of(HumidityBlock)),
        *_columns(f"{path}hours.", *names_of(HoursBlock)),
    ]


def _differential(path: str) -> list[ResultColumn]:
    return _columns(path, "differential_f", "differential_k")


SOURCE = [
    ResultColumn("inputs.building", "text"),
    ResultColumn("weather.name", "text"),
    ResultColumn("weather.kind", "text"),
    *_columns("weather.", "hours", "filled_hours"),
    ResultColumn("weather.invented", "flag"),
    ResultColumn("weather.attribution", "text"),
    ResultColumn("warnings", "text"),
]
BAND = _columns("model_band.net_kwh_saved.", "low", "high")
VALUE = [
    *SITE,
    ResultColumn("verdict.answer", "text"),
    ResultColumn("verdict.text", "text"),
    *_blocks(""),
    *_differential("break_even_"),
    *BAND,
    *_columns("model_band.compressor_kwh_avoided.", "low", "high"),
    *_columns("likely_band.net_kwh_saved.", *names_of(Reach)),
    *_columns("likely_band.saved_per_year.", *names_of(Reach)),
    *_columns("spread.", "p10", "p50", "p90"),
    *_columns("spread.most_years.", "net_kwh_saved", "years", "saving", "of"),
    ResultColumn("inputs.rule", "text"),
    *_columns("inputs.", "setpoint_c", "differential_k", "flow_m3_s", "fan_w_per_m3_s", "price_per_kwh"),
    *SOURCE,
]
PICK = [
    *SITE,
    ResultColumn("verdict.text", "text"),
    *_differential("best."),
    *_blocks("best."),
    *_columns("best.", *SPREAD),
    ResultColumn("best.risk_p90", "text"),
    ResultColumn("best.worst_risk", "text"),
    *_differential("keenest_"),
    *_differential("peak_"),
    *_differential("break_even_"),
    *_differential("proposal."),
    *_columns("proposal.", "dew_point_limit_c", "energy.net_kwh_saved"),
    ResultColumn("proposal.humidity.risk", "text"),
    *BAND,
    ResultColumn("reasons", "text"),
    *SOURCE,
]


def _rule(path: str) -> list[ResultColumn]:
    return [
        *_columns(path, "value_si", "hours.permitted", "energy.net_kwh_saved", "net_kwh_p10", "net_kwh_p90"),
        *_columns(f"{path}money.", "saved_per_year"),
        *_columns(f"{path}humidity.", "rh_over_60_hours_with", "clause", "clause_hours_with", "risk"),
        ResultColumn(f"{path}tuned.setting", "text"),
        *_columns(f"{path}tuned.", "value_si", "energy.net_kwh_saved", "net_kwh_p10"),
        *_columns(f"{path}tuned.money.", "saved_per_year"),
        *_columns(f"{path}tuned.humidity.", "risk"),
        ResultColumn(f"{path}code_changeover", "flag"),
        ResultColumn(f"{path}tuned.code_changeover", "flag"),
    ]


COMPARE = [
    *SITE,
    ResultColumn("verdict.text", "text"),
    ResultColumn("answers", "text"),
    ResultColumn("climate_zone", "text"),
    ResultColumn("thermal_zone", "text"),
    *(column for name in RULES for column in _rule(f"rules.{name}.")),
    *SOURCE,
]
COLUMNS: dict[JobName, list[ResultColumn]] = {"value": VALUE, "pick": PICK, "compare": COMPARE}


def values_of(
    job: JobName, name: str | None, weather: str | None, answer: Mapping[str, Any] | None, error: str | None = None
) -> list[Value]:
    """The values of a job's columns, given the row's name and weather, and its answer as a JSON object or its error."""
    figures = _spread_out(dict(answer or {}))
    return [name, weather, error, *(_at(figures, column.name) for column in COLUMNS[job][len(SITE) :])]


def _spread_out(answer: dict[str, Any]) -> dict[str, Any]:
    """An answer whose lists have become texts or tables, and whose differentials are both in °F too."""
    if "warnings" in answer:
        answer["warnings"] = "; ".join(notice["code"] for notice in answer["warnings"])
    for name in ("reasons", "answers"):
        if name in answer:
            answer[name] = " ".join(answer[name])
    bands = answer.get("model_band", {}).items()
    answer["model_band"] = {name: dict(zip(("low", "high"), band, strict=True)) for name, band in bands}
    answer["rules"] = {rule["name"]: rule for rule in answer.get("rules", ())}
    return _with_fahrenheit(answer)


def _with_fahrenheit(table: dict[str, Any]) -> dict[str, Any]:
    both = {name: _with_fahrenheit(part) if isinstance(part, dict) else part for name, part in table.items()}
    for name, kelvin in table.items():
        if name.endswith("differential_k") and kelvin is not None:
            # Twelve digits hide what the way through kelvin leaves behind 6.
            both[f"{name[:-2]}_f"] = float(f"{convert(kelvin, 'difference', 'F'):.12g}")
    return both


def _at(answer: Any, path: str) -> Value:
    for name in path.split("."):
        if not isinstance(answer, dict) or name not in answer:
            return None
        answer = answer[name]
    return None if answer == "" else answer
