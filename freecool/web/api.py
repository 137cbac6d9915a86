"""The JSON interface: the same question and the same object as the command line's ``--json``."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Query, Request, UploadFile
from fastapi.responses import JSONResponse, Response, StreamingResponse

from freecool.answers.contract import ANSWERS
from freecool.answers.jobs import JOBS, Job
from freecool.cases.model import make_case
from freecool.cases.quantity import ELEVATION
from freecool.cases.wording import key_wording
from freecool.core.errors import CaseError
from freecool.core.version import __version__
from freecool.web.models import (
    Drawn,
    Held,
    JobRequest,
    PickRequest,
    Places,
    Refusal,
    Stations,
)
from freecool.web.question import Question, make_search
from freecool.web.services import AnswerService
from freecool.web.weather_store import WeatherStore
from freecool.web.work import Line, Tell, as_lines_of_json, outcome

if TYPE_CHECKING:
    from freecool.weather.places import Place

STREAM = "application/x-ndjson"
STATIONS_SHOWN = 15
STATION = ("id", "name", "latitude", "longitude", "elevation_m", "time_zone", "distance_m")
_SAID = {
    400: "The host is not this server's, or the request is no request.",
    403: "The request comes from another site's page.",
    404: "The uploaded weather is not held any more.",
    413: "More bytes than are taken.",
    422: "What was given describes no building, weather or sweep.",
    429: "Too many computations are waiting.",
    503: "The computation passed its time limit and was cancelled.",
}


def refusals(*codes: int) -> dict[int | str, dict[str, Any]]:
    """How the description tells refusals, given their codes."""
    return {code: {"model": Refusal, "description": _SAID[code]} for code in codes}


COMPUTING = refusals(400, 403, 404, 413, 422, 429, 503)
STREAMED: dict[int | str, dict[str, Any]] = {
    200: {
        "content": {
            STREAM: {
                "schema": {"type": "string"},
                "example": f'{{"progress": [16, 2121]}}\n{{"result": {{"freecool": "{__version__}"}}}}\n',
            }
        },
        "description": "The answer; with Accept: application/x-ndjson, lines of progress and at last the result or "
        "the error. Ending the request cancels the computation.",
    }
}


def api_router(service: AnswerService) -> APIRouter:
    """The routes under /api, given where questions are answered."""
    router = APIRouter(prefix="/api")

    for job in JOBS.values():
        _add_job(router, service, job)

    @router.post("/weather", response_model=Held, responses=refusals(400, 403, 413, 422, 429, 503))
    async def weather(
        file: UploadFile,
        latitude: Annotated[float | None, Form(ge=-90, le=90)] = None,
        longitude: Annotated[float | None, Form(ge=-180, le=180)] = None,
        elevation: Annotated[str, Form(max_length=40, description="such as 900ft")] = "",
        utc_offset: Annotated[float | None, Form(ge=-14, le=14)] = None,
        allow_gaps: Annotated[bool, Form()] = False,
    ) -> Response:
        """Send a weather file; its name in the answer stands for it in later requests. No archive is unpacked."""
        place = {"latitude": latitude, "longitude": longitude, "utc_offset_h": utc_offset}
        return JSONResponse(await upload(service, file, elevation, allow_gaps, place))

    @router.get("/stations", response_model=Stations, responses=refusals(400, 403, 413, 422, 429, 503))
    async def stations(
        place: Annotated[str, Query(max_length=80, description="town and state, or ZIP code, in place of both")] = "",
        latitude: Annotated[float | None, Query(ge=-90, le=90)] = None,
        longitude: Annotated[float | None, Query(ge=-180, le=180)] = None,
    ) -> Response:
        """Weather stations within 150 km of a place, nearest first. Needs a network."""
        if not place and (latitude is None or longitude is None):
            raise CaseError("No place was given: give place, such as Greensboro, NC, or latitude and longitude.")
        where, listed = await near(service, place or f"{latitude:f},{longitude:f}")
        return JSONResponse({"place": asdict(where), "stations": listed})

    @router.get("/places", response_model=Places, responses=refusals(400, 403, 413, 422, 429))
    def places(text: Annotated[str, Query(max_length=80, description="the beginning of a name")]) -> Response:
        """Towns of the USA whose name begins so, the largest first. Needs no network."""
        from freecool.weather.places import suggest_places

        return JSONResponse({"places": suggest_places(text)})

    return router


def _add_job(router: APIRouter, service: AnswerService, job: Job) -> None:
    """The route of a job, given its place in the table."""

    async def answer(body: JobRequest, request: Request) -> Response:
        return await answered(service, job.name, question(body), request)

    answer.__name__, answer.__doc__ = job.name, job.summary
    answer.__annotations__ = {"body": request_model(job), "request": Request, "return": Response}
    router.post(f"/{job.name}", response_model=ANSWERS[job.name], responses=COMPUTING | STREAMED)(answer)


def request_model(job: Job) -> type[JobRequest]:
    """What a request for a job's answer may hold, given the job."""
    if "differentials_k" in job.takes:
        return PickRequest
    return Drawn if job.searches else JobRequest


def question(body: JobRequest) -> Question:
    """A `Question`, given a request's body.

    Raises
    ------
    FreecoolError
        It describes no building or no sweep.
    """
    case = make_case(body.case, preset=body.preset, units=body.units, where="case")
    names = ("first", "last", "step", "draws", "seed", "humidity_ceiling")
    settings = [getattr(body, name, PickRequest.model_fields[name].default) for name in names]
    return Question(case, body.weather, body.years, body.units, make_search(body.units, *settings))


async def answered(service: AnswerService, job: str, question: Question, request: Request) -> Response:
    """The answer as one object, or as lines where the client takes them."""

    def as_dict(result: Any, tell: Tell) -> dict[str, Any]:
        keys: dict[str, Any] = result.to_dict()
        return keys

    lines = service.lines(job, question, as_dict)
    if STREAM in request.headers.get("accept", ""):
        # What is refused at once still gets its code.
        first: Line = await anext(lines)
        return StreamingResponse(as_lines_of_json(first, lines, key_wording), media_type=STREAM)
    return JSONResponse(await outcome(lines, request.is_disconnected))


async def upload(
    service: AnswerService, file: UploadFile, elevation: str, allow_gaps: bool, place: dict[str, Any]
) -> dict[str, Any]:
    """What is now held, given a file and the place of a plain CSV.

    Raises
    ------
    FreecoolError
        As `WeatherStore.add`.
    """
    content = await file.read()
    location = {**place, "elevation_m": ELEVATION.told(elevation, "ip", "elevation") if elevation.strip() else None}
    store: WeatherStore = service.weather

    def read(tell: Tell, cancel: Any) -> dict[str, Any]:
        name, held = store.add(content, file.filename or "", allow_gaps=allow_gaps, **location)
        return {
            "weather": name,
            "name": held.location.name,
            "kind": held.kind,
            "hours": held.hours,
            "filled_hours": held.quality.filled_hours,
            "years": list(held.years),
            "notices": [notice.to_dict() for notice in held.notices],
        }

    result: dict[str, Any] = await outcome(service.work.lines(read))
    return result


async def near(service: AnswerService, place: str) -> tuple[Place, list[dict[str, Any]]]:
    """A place by its name or coordinates, and stations near it with what the list says of their data."""
    from freecool.weather.readers.stations import place_of

    where = place_of(place)

    def search(tell: Tell, cancel: Any) -> list[dict[str, Any]]:
        from freecool.weather.station_list import inventories, stations_near

        found = stations_near(where.latitude, where.longitude)[:STATIONS_SHOWN]
        stock = inventories(found)
        return [
            {
                **{name: getattr(station, name) for name in STATION},
                "first_year": stock[station.id].first_year,
                "last_year": stock[station.id].last_year,
                "temperature_completeness": stock[station.id].temperature,
                "humidity_completeness": stock[station.id].humidity,
            }
            for station in found
        ]

    result: list[dict[str, Any]] = await outcome(service.fetches.lines(search))
    return where, result
