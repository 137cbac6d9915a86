"""What goes in and out of the JSON interface, as classes for its description; the answers are those of ``--json``."""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_type_hints

from pydantic import BaseModel, ConfigDict, Field, StrictFloat, StrictInt, StrictStr, TypeAdapter, WithJsonSchema

from freecool.answers.money import Worth
from freecool.answers.pick import Variation
from freecool.answers.verdict import EnergyBlock, HoursBlock, HumidityBlock
from freecool.cases.presets import PRESETS
from freecool.web.case_schema import case_changes_schema
from freecool.web.link import SEARCH_DEFAULTS
from freecool.web.question import MOST_DRAWS


class Model(BaseModel):
    """A base that takes no unknown key."""

    model_config = ConfigDict(extra="forbid")


WeatherName = Annotated[
    str | None,
    Field(
        max_length=100,
        description="demo:NAME, station:ID, near:LAT,LON or upload:HASH as /api/weather answered; left out: an "
        "invented climate. A path is never opened.",
    ),
]
Degrees = Annotated[
    StrictStr | StrictFloat | StrictInt,
    Field(description='a difference such as "5F"; a bare number takes the unit of `units`'),
]


class JobRequest(Model):
    """A building, a weather and units, as the command line's options give them."""

    weather: WeatherName = None
    preset: Annotated[
        str | None, WithJsonSchema({"anyOf": [{"type": "string", "enum": list(PRESETS)}, {"type": "null"}]})
    ] = None
    case: Annotated[dict[str, Any], WithJsonSchema(case_changes_schema())] = Field(default_factory=dict)
    units: Literal["ip", "si"] = "ip"
    years: Annotated[str | None, Field(max_length=20, description="such as 2015-2024")] = None


class Drawn(JobRequest):
    """Also how many sensor errors are drawn, and from which seed."""

    draws: Annotated[int, Field(strict=True, ge=0, le=MOST_DRAWS)] = int(SEARCH_DEFAULTS["draws"])
    seed: Annotated[int, Field(strict=True, ge=0, lt=2**31)] = int(SEARCH_DEFAULTS["seed"])


class PickRequest(Drawn):
    """Also which differentials are tried."""

    first: Annotated[Degrees, Field(alias="from")] = SEARCH_DEFAULTS["from"]
    last: Annotated[Degrees, Field(alias="to")] = SEARCH_DEFAULTS["to"]
    step: Degrees = SEARCH_DEFAULTS["step"]
    humidity_ceiling: Annotated[float, Field(strict=True, ge=0, le=8784)] = float(SEARCH_DEFAULTS["humidity_ceiling"])


class Refusal(Model):
    """Why there is no answer: what was given, what was expected, where, and what to do."""

    error: str


class NoticeModel(Model):
    """A warning as data."""

    code: str
    text: str


class Held(Model):
    """Weather that the server holds now, and its name for later requests."""

    weather: str
    name: str
    kind: str
    hours: int
    filled_hours: int
    years: list[int]
    notices: list[NoticeModel]


class Station(Model):
    """A weather station, and what the list says of its data."""

    id: str
    name: str
    latitude: float
    longitude: float
    elevation_m: float
    time_zone: str
    distance_m: float
    first_year: int | None
    last_year: int | None
    temperature_completeness: float | None
    humidity_completeness: float | None


class Stations(Model):
    """Stations near a place, nearest first."""

    stations: list[Station]


def block(kind: Any, **more: Any) -> WithJsonSchema:
    """How an answer's block looks, given its class and the fields that stand beside it."""
    hints = {**get_type_hints(kind), **more}
    properties = {name: TypeAdapter(hint).json_schema() for name, hint in hints.items()}
    return WithJsonSchema(
        {"type": "object", "additionalProperties": False, "required": list(hints), "properties": properties}
    )


Hours = Annotated[dict[str, Any], block(HoursBlock)]
Energy = Annotated[dict[str, Any], block(EnergyBlock)]
Humidity = Annotated[dict[str, Any], block(HumidityBlock)]
MoneyModel = Annotated[dict[str, Any], block(Worth, currency=str)]
VariationModel = Annotated[dict[str, Any], block(Variation)]


class WeatherModel(Model):
    """Where the weather came from."""

    source: str
    kind: str
    name: str
    latitude: float
    longitude: float
    elevation_m: float
    hours: int
    years: list[int]
    filled_hours: int
    clipped_hours: int
    repairs: list[str]
    invented: bool
    attribution: str


class Sentence(Model):
    """The verdict in words."""

    text: str


class Verdict(Sentence):
    """The verdict."""

    answer: Literal["yes", "hardly", "no"]


class Inputs(Model):
    """What was understood: every resolved value, in SI."""

    building: str
    case: dict[str, Any]


class ValueInputs(Inputs):
    """Also the few that matter first."""

    rule: str
    setpoint_c: float
    differential_k: float
    flow_m3_s: float
    fan_w_per_m3_s: float
    price_per_kwh: float


class CompareInputs(Inputs):
    """Also how errors were drawn."""

    draws: int
    seed: int


class PickInputs(CompareInputs):
    """Also the humidity ceiling."""

    humidity_ceiling_hours: float


class Year(Model):
    """One real year."""

    year: int
    compressor_kwh_avoided: float
    fan_kwh_added: float
    net_kwh_saved: float
    saved: float


class Spread(Model):
    """Good and bad years."""

    p10: float
    p50: float
    p90: float
    years: list[Year]


class Answer(Model):
    """What every answer has."""

    freecool: str
    weather: WeatherModel
    warnings: list[NoticeModel]


class ValueAnswer(Answer):
    """What ``freecool value --json`` prints; docs/command-line.md tells every key."""

    verdict: Verdict
    inputs: ValueInputs
    hours: Hours
    energy: Energy
    humidity: Humidity
    money: MoneyModel
    break_even_differential_k: float
    model_band: dict[str, tuple[float, float]]
    spread: Spread | None = None


class OutcomeModel(Model):
    """One rule on one building, exact and under sensor error."""

    hours: Hours
    energy: Energy
    humidity: Humidity
    money: MoneyModel
    net_kwh_p10: float
    net_kwh_p50: float
    net_kwh_p90: float
    saved_p10: float
    saved_p50: float
    saved_p90: float
    worst_risk: Annotated[str, WithJsonSchema({"type": "string", "enum": ["low", "watch", "high"]})]


class CandidateModel(OutcomeModel):
    """A differential and what it brings."""

    differential_k: float


class ProposalModel(CandidateModel):
    """The best_ignoring_humidity differential with a dew-point limit."""

    dew_point_limit_c: float


class Off(Model):
    """Leave it off."""

    differential_k: None


class PickAnswer(Answer):
    """What ``freecool pick --json`` prints."""

    verdict: Sentence
    inputs: PickInputs
    candidates: list[CandidateModel]
    best: CandidateModel | Off
    keenest_differential_k: float
    flat_differentials_k: list[float]
    proposal: ProposalModel | None
    break_even_differential_k: float
    peak_differential_k: float
    model_band: dict[str, tuple[float, float]]
    precool_k: list[VariationModel]
    fan_power_share: list[VariationModel]
    reasons: list[str]


class TunedModel(OutcomeModel):
    """A rule at its own best setting."""

    setting: str
    value_si: float
    dimension: str


class Net(Model):
    """Net kWh alone."""

    net_kwh_saved: float


class RuleModel(OutcomeModel):
    """One named rule."""

    name: str
    tuned: TunedModel
    sensor_in_the_sun: Net
    humidity_drifted: Net
    code_changeover: bool | None


class CompareAnswer(Answer):
    """What ``freecool compare --json`` prints."""

    verdict: Sentence
    inputs: CompareInputs
    climate_zone: str | None
    thermal_zone: str
    rules: list[RuleModel]
    answers: list[str]


ANSWERS: dict[str, type[Model]] = {"value": ValueAnswer, "pick": PickAnswer, "compare": CompareAnswer}
"""The answer of each job, by its name."""
