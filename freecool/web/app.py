"""The application: pages, fragments, downloads, the JSON interface, and how refusals are told."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import parse_qsl

from fastapi import FastAPI, Form, Request, UploadFile
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response, StreamingResponse
from starlette.exceptions import HTTPException
from starlette.staticfiles import StaticFiles

from freecool.answers.jobs import JOBS, Job
from freecool.answers.scenarios import Cancelled
from freecool.cases.presets import DEFAULT_PRESET, PRESETS
from freecool.core.errors import CaseError, FreecoolError
from freecool.core.units import parse
from freecool.core.version import __version__
from freecool.show.files import write_table
from freecool.web import pages
from freecool.web.api import STREAM, api_router, near, upload
from freecool.web.link import Link, canonical, case_of, case_toml, read_link
from freecool.web.question import question_of
from freecool.web.security import LOOPBACK, SecurityMiddleware
from freecool.web.services import AnswerService
from freecool.web.weather_store import NotHeld
from freecool.web.work import Busy, Tell, TooLong, as_lines_of_json, outcome

STATIC = Path(__file__).parent / "static"
DEMO = "demo:mixed-inland"
# Nobody hears this answer; the code is the one that servers log for it.
CLIENT_GONE = 499


def create_app(
    service: AnswerService | None = None, *, hosts: Iterable[str] | None = LOOPBACK, demo: bool = False
) -> SecurityMiddleware:
    """The web application.

    Parameters
    ----------
    service : AnswerService, optional
        Where questions are answered; a new one unless given.
    hosts : iterable of str, optional
        The names it may be called by; None: any.
    demo : bool
        Whether the page starts with an invented climate.
    """
    service = service or AnswerService()
    app = FastAPI(
        title="Freecool", version=__version__, docs_url=None, redoc_url=None, openapi_url="/api/openapi.json",
        summary="What outdoor air as the first stage of cooling is worth.",
    )  # fmt: skip
    app.add_exception_handler(FreecoolError, _refused)
    app.add_exception_handler(RequestValidationError, _misread)
    app.add_exception_handler(HTTPException, _http)
    app.include_router(api_router(service))
    _add_pages(app, service, demo)
    app.mount("/static", StaticFiles(directory=STATIC))
    return SecurityMiddleware(app, hosts)


def _add_pages(app: FastAPI, service: AnswerService, demo: bool) -> None:
    @app.get("/answer/{job}", include_in_schema=False)
    async def answer(request: Request, job: str) -> Response:
        found = _job(job)
        link = read_link(dict(request.query_params))
        if link.weather is None:
            raise CaseError("No weather was chosen: choose an invented climate, send a file or find a station.")
        asked = question_of(link)
        query = canonical(link, asked.case)

        def show(result: Any, tell: Tell) -> dict[str, str]:
            html, verdict, brief = pages.answer_html(found, link, query, result, str(request.base_url))
            form = pages.form_html(found, link, asked.case, query, service.weather)
            tell({"answer": {"html": html, "form": form, "link": query, "verdict": verdict, "brief": brief}})
            return {"pictures": pages.pictures_html(link, result)}

        lines = service.lines(found.name, asked, show)
        first = await anext(lines)
        return StreamingResponse(as_lines_of_json(first, lines), media_type=STREAM)

    @app.get("/download/{job}/{file}", include_in_schema=False)
    async def download(request: Request, job: str, file: str, outdoor: str = pages.TEST_DAY_OUTDOOR) -> Response:
        found = _job(job)
        params = dict(request.query_params)
        back = params.pop("return", None)
        params.pop("outdoor", None)
        link = read_link(params)
        asked = question_of(link)
        kinds = {*pages.downloads(found), "case.toml", *(["sheet.html"] if found.sheet else [])}
        if file not in kinds:
            raise HTTPException(404, f"There is no download {file[:40]!r} here, only {', '.join(sorted(kinds))}.")
        if file == "case.toml":
            return _attached(case_toml(link, asked.case), file)
        outdoor_c = parse(outdoor, "temperature", link.units, "outdoor")
        back_c = asked.case.schedule.cooling if not back else parse(back, "temperature", link.units, "return")

        def show(result: Any, tell: Tell) -> str:
            if file == "report.html":
                return pages.report_of(link, result)
            if file == "sheet.html":
                return _sheet(result, outdoor_c, back_c, link)
            return _csv(found.table_of(result))

        return _attached(await outcome(service.lines(job, asked, show), request.is_disconnected), file)

    @app.post("/weather", include_in_schema=False)
    async def send(
        file: UploadFile,
        job: Annotated[str, Form()] = "value",
        link: Annotated[str, Form()] = "",
        latitude: Annotated[str, Form()] = "",
        longitude: Annotated[str, Form()] = "",
        elevation: Annotated[str, Form()] = "",
        utc_offset: Annotated[str, Form()] = "",
        allow_gaps: Annotated[bool, Form()] = False,
    ) -> Response:
        found = _job(job)
        place = {
            name: _degrees(text, name) if text.strip() else None
            for name, text in (("latitude", latitude), ("longitude", longitude), ("utc_offset_h", utc_offset))
        }
        before = _read_query(link)
        held = await upload(service, file, elevation, allow_gaps, place)
        after = _with_weather(before, held["weather"])
        return RedirectResponse(f"/{found.name}?{canonical(after, case_of(after))}", 303)

    @app.get("/stations", include_in_schema=False)
    async def stations(request: Request, latitude: str, longitude: str, job: str = "value", link: str = "") -> Response:
        found, before = _job(job), _read_query(link)
        listed = await near(service, _degrees(latitude, "latitude"), _degrees(longitude, "longitude"))
        rows = []
        for station in listed:
            after = _with_weather(before, f"station:{station['id']}")
            first, last = station["first_year"], station["last_year"]
            span = "years unknown" if first is None else f"{first}–{last}"
            away = station["distance_m"] / (1609.344 if before.units == "ip" else 1000.0)
            words = f"{away:.0f} {'mi' if before.units == 'ip' else 'km'} away, {span}"
            rows.append({**station, "words": words, "link": canonical(after, case_of(after))})
        html = pages.stations_html(found.name, rows)
        if "application/json" in request.headers.get("accept", ""):
            return JSONResponse({"html": html})
        return HTMLResponse(pages.plain_html("Weather stations", body=html, back=f"/{found.name}?{link}"))

    # Last, since its path takes any one word.
    @app.get("/", include_in_schema=False)
    @app.get("/{job}", include_in_schema=False)
    async def page(request: Request, job: str = "value") -> Response:
        found = _job(job)
        link, fault = Link(), ""
        typed: dict[str, str] = {}
        try:
            link = read_link(dict(request.query_params))
            case = case_of(link)
        except FreecoolError as error:
            fault, typed = str(error), link.settings
            link = Link(link.weather, link.years, link.preset if link.preset in PRESETS else DEFAULT_PRESET, link.units)
            case = case_of(link)
        if fault:
            html = pages.page_html(found, link, case, canonical(link, case), service.weather, fault=fault, typed=typed)
            return HTMLResponse(html, 422)
        if demo and link.weather is None:
            link = _with_weather(link, DEMO)
        query = canonical(link, case)
        now = "answer" in request.query_params
        if now and "base" in request.query_params:
            # A form of a browser without script: its long query becomes the short link.
            return RedirectResponse(f"/{found.name}?{query}&answer=now", 303)
        if link.weather is None or not (now or found.name == "value"):
            html = pages.page_html(found, link, case, query, service.weather, pending=link.weather is not None)
            return HTMLResponse(html)

        def show(result: Any, tell: Tell) -> dict[str, str]:
            pictures = pages.pictures_html(link, result)
            html, _, brief = pages.answer_html(found, link, query, result, str(request.base_url), pictures)
            return {"result": html, "brief": brief}

        try:
            told = await outcome(service.lines(found.name, question_of(link), show), request.is_disconnected)
        except FreecoolError as error:
            html = pages.page_html(found, link, case, query, service.weather, fault=str(error))
            return HTMLResponse(html, _code(error))
        return HTMLResponse(pages.page_html(found, link, case, query, service.weather, **told))


def _job(name: str) -> Job:
    if name not in JOBS:
        raise HTTPException(404, f"There is no page {name[:40]!r} here, only {', '.join(JOBS)}.")
    return JOBS[name]


def _with_weather(link: Link, weather: str) -> Link:
    return Link(weather, None, link.preset, link.units, link.settings, link.sweep)


def _read_query(query: str) -> Link:
    return read_link(dict(parse_qsl(query, keep_blank_values=True)))


def _degrees(text: str, name: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise CaseError(f"{name} is {text[:40]!r}: expected a number, such as 39.7, west and south negative.") from None


def _sheet(sweep: Any, outdoor_c: float, back_c: float, link: Link) -> str:
    from freecool.answers.commissioning import commissioning
    from freecool.show.sheet import sheet_html

    pressure = float(sweep.weather.frame["pressure_pa"].mean())
    return sheet_html(sweep, commissioning(sweep.picked_case(), outdoor_c, back_c, pressure), link.units)


def _csv(table: Any) -> str:
    """A table as the command line writes it."""
    with tempfile.TemporaryDirectory(prefix="freecool-table-") as folder:
        path = Path(folder) / "table.csv"
        write_table(table, path)
        return path.read_text("utf-8")


def _attached(text: str, file: str) -> Response:
    kinds = {"html": "text/html", "csv": "text/csv", "toml": "application/toml"}
    kind = f"{kinds[file.rpartition('.')[2]]}; charset=utf-8"
    return Response(text, media_type=kind, headers={"content-disposition": f'attachment; filename="freecool-{file}"'})


def _code(error: FreecoolError) -> int:
    for kind, code in ((Busy, 429), (TooLong, 503), (NotHeld, 404), (Cancelled, CLIENT_GONE)):
        if isinstance(error, kind):
            return code
    return 422


def _said(request: Request, code: int, sentence: str, headers: Any = None) -> Response:
    """A refusal as the client reads: a page for a person, an object for a program."""
    if "text/html" in request.headers.get("accept", ""):
        return HTMLResponse(pages.plain_html("No answer", fault=sentence), code, headers)
    return JSONResponse({"error": sentence}, code, headers)


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, FreecoolError)
    headers = {"retry-after": "30"} if isinstance(error, Busy) else None
    return _said(request, _code(error), str(error), headers)


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    words = {404: f"There is nothing at {request.url.path[:100]!r} here.",
             405: f"{request.method} is not answered at {request.url.path[:100]!r}.",
             400: "The request cannot be read: expected JSON, or a form with a file."}  # fmt: skip
    own = len(str(error.detail)) > 40
    sentence = str(error.detail) if own else words.get(error.status_code, str(error.detail))
    return _said(request, error.status_code, sentence, error.headers)


async def _misread(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    faults = [
        f"{'.'.join(str(piece) for piece in fault['loc'][1:]) or 'the body'} is {str(fault.get('input'))[:80]!r}: "
        f"{fault['msg'][0].lower()}{fault['msg'][1:]}"
        for fault in error.errors()
    ]
    return _said(request, 422, f"The request cannot be read: {'; '.join(faults)}.")
