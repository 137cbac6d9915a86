"""What goes into the JSON interface, as classes for its description; its answers are those of ``--json``."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StrictFloat, StrictInt, StrictStr, WithJsonSchema

from freecool.answers.mixing import Position
from freecool.answers.settings import SearchSettings
from freecool.cases.presets import PRESETS
from freecool.core.errors import Notice
from freecool.web.case_schema import case_changes_schema
from freecool.web.question import MOST_DRAWS


class Model(BaseModel):
    """A base that takes no unknown key."""

    model_config = ConfigDict(extra="forbid")


WeatherName = Annotated[
    str | None,
    Field(
        max_length=100,
        description="demo:NAME, station:ID, near:PLACE or upload:HASH as /api/weather answered; left out: an "
        "invented climate. A path is never opened.",
    ),
]
Degrees = Annotated[
    StrictStr | StrictFloat | StrictInt,
    Field(description='a difference such as "5F"; a bare number takes the unit of `units`'),
]


Temperature = Annotated[
    StrictStr | StrictFloat | StrictInt | None,
    Field(description='such as "75F"; a bare number takes the unit of `units`; null: not read'),
]


class CaseRequest(Model):
    """A building and units, as the command line's options give them."""

    preset: Annotated[
        str | None, WithJsonSchema({"anyOf": [{"type": "string", "enum": list(PRESETS)}, {"type": "null"}]})
    ] = None
    case: Annotated[dict[str, Any], WithJsonSchema(case_changes_schema())] = Field(default_factory=dict)
    units: Literal["ip", "si"] = "ip"


class JobRequest(CaseRequest):
    """Also a weather."""

    weather: WeatherName = None
    years: Annotated[str | None, Field(max_length=20, description="such as 2015-2024")] = None


class Drawn(JobRequest):
    """Also how many sensor errors are drawn, and from which seed."""

    draws: Annotated[int, Field(strict=True, ge=0, le=MOST_DRAWS)] = SearchSettings.draws
    seed: Annotated[int, Field(strict=True, ge=0, lt=2**31)] = SearchSettings.seed


class PickRequest(Drawn):
    """Also which differentials are tried."""

    first: Annotated[Degrees | None, Field(alias="from")] = None
    last: Annotated[Degrees | None, Field(alias="to")] = None
    step: Degrees | None = None
    humidity_ceiling: Annotated[float, Field(strict=True, ge=0, le=8784)] = SearchSettings.humidity_ceiling_hours


class PositionRead(Model):
    """What was read at one damper position."""

    position: Position
    outdoor: Temperature = None
    return_: Annotated[Temperature, Field(alias="return")] = None
    mixed: Temperature = None
    supply: Temperature = None


class SheetRequest(CaseRequest):
    """Also what was read on a commissioning sheet."""

    readings: Annotated[list[PositionRead], Field(max_length=3)]


class Refusal(Model):
    """Why there is no answer: what was given, what was expected, where, and what to do."""

    error: str


class Held(Model):
    """Weather that the server holds now, and its name for later requests."""

    weather: str
    name: str
    kind: str
    hours: int
    filled_hours: int
    years: list[int]
    notices: list[Notice]


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


class PlaceFound(Model):
    """A place as it was understood; without a name where coordinates were given."""

    name: str
    county: str
    latitude: float
    longitude: float
    time_zone: str


class Stations(Model):
    """Stations near a place, nearest first."""

    place: PlaceFound
    stations: list[Station]


class Places(Model):
    """Towns whose name begins as asked, the largest first."""

    places: list[str]
