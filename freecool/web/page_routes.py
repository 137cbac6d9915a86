"""The routes of the pages: the page of each job, its answer as fragments, its downloads, weather sent and found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response, StreamingResponse
from starlette.exceptions import HTTPException

from freecool.answers.commissioning import TEST_DAY
from freecool.answers.jobs import JOBS, Job
from freecool.cases.model import Case
from freecool.cases.presets import DEFAULT_PRESET, PRESETS
from freecool.cases.quantity import OUTDOOR_AIR, RETURN_AIR
from freecool.cases.wording import label_wording
from freecool.core.errors import CaseError, FreecoolError, worded
from freecool.core.units import System
from freecool.web import pages
from freecool.web.api import STREAM, near, upload
from freecool.web.downloads import attached, sheet_text, table_text
from freecool.web.link import Link, canonical, case_of, case_toml, link_of_file, read_link, read_query
from freecool.web.question import question_of
from freecool.web.refusals import UNFIT, status_of
from freecool.web.services import AnswerService
from freecool.web.work import Tell, as_lines_of_json, outcome

DEMO = "demo:mixed-inland"
MOST_CASE_BYTES = 200_000


def page_router(service: AnswerService, demo: bool) -> APIRouter:
    """The routes of the pages, given where questions are answered and whether to start with an invented climate."""
    routes = PageRoutes(service, demo)
    router = APIRouter(include_in_schema=False)
    router.add_api_route("/answer/{job}", routes.answer)
    router.add_api_route("/download/{job}/{file}", routes.download)
    router.add_api_route("/weather", routes.send_weather, methods=["POST"])
    router.add_api_route("/case", routes.open_case, methods=["POST"])
    router.add_api_route("/stations", routes.stations)
    router.add_api_route("/glossary", routes.glossary)
    # Last, since its path takes any one word.
    router.add_api_route("/", routes.page)
    router.add_api_route("/{job}", routes.page)
    return router


class PageRoutes:
    """What the browser asks for, one method each."""

    def __init__(self, service: AnswerService, demo: bool) -> None:
        self.service = service
        self.demo = demo

    async def answer(self, request: Request, job: str) -> Response:
        """The answer in lines, for the script: progress, then fragments, then the pictures."""
        found = job_named(job)
        link = read_link(dict(request.query_params))
        if link.weather is None:
            raise CaseError("No weather was chosen: choose an invented climate, send a file or find a station.")
        question = question_of(link)
        query = canonical(link, question.case)

        def show(result: Any, tell: Tell) -> None:
            shown = pages.fragments_of(found, link, query, result, str(request.base_url))
            form = pages.form_html(found, link, question.case, query, self.service.weather)
            tell({"answer": {**shown._asdict(), "form": form, "link": query}})

        def draw(result: Any) -> dict[str, str]:
            return {"pictures": pages.pictures_html(link, result)}

        lines = self.service.lines(found.name, question, show, draw)
        # What is refused at once still gets its code.
        first = await anext(lines)
        return StreamingResponse(as_lines_of_json(first, lines, label_wording), media_type=STREAM)

    async def download(self, request: Request, job: str, file: str, outdoor: str = "") -> Response:
        """A file of the answer, as the command line writes it."""
        found = job_named(job)
        params = dict(request.query_params)
        back = params.pop("return", None)
        params.pop("outdoor", None)
        link = read_link(params)
        question = question_of(link)
        kinds = {*pages.downloads(found), "case.toml", *(["sheet.html"] if found.sheet else [])}
        if file not in kinds:
            raise HTTPException(404, f"There is no download {file[:40]!r} here, only {', '.join(sorted(kinds))}.")
        if file == "case.toml":
            return attached(case_toml(link, question.case), file)
        outdoor_c = OUTDOOR_AIR.told(outdoor or TEST_DAY[link.units], link.units, "outdoor")
        back_c = question.case.schedule.cooling if not back else RETURN_AIR.told(back, link.units, "return")

        def show(result: Any, tell: Tell) -> str | None:
            if file in drawn:
                return None
            if file == "sheet.html":
                return sheet_text(result, outdoor_c, back_c, link.units)
            return table_text(found.table_of(result))

        drawn = {"report.html": pages.report_of, "report.pdf": pages.report_pdf_of}
        draw = (lambda result: drawn[file](link, result)) if file in drawn else None
        lines = self.service.lines(job, question, show, draw)
        return attached(await outcome(lines, request.is_disconnected), file)

    async def send_weather(
        self,
        file: UploadFile,
        job: Annotated[str, Form()] = "value",
        link: Annotated[str, Form()] = "",
        latitude: Annotated[str, Form()] = "",
        longitude: Annotated[str, Form()] = "",
        elevation: Annotated[str, Form()] = "",
        utc_offset: Annotated[str, Form()] = "",
        allow_gaps: Annotated[bool, Form()] = False,
    ) -> Response:
        """Keep a weather file, and lead back to the page with it chosen."""
        found = job_named(job)
        location = {
            name: _degrees(text, name) if text.strip() else None
            for name, text in (("latitude", latitude), ("longitude", longitude), ("utc_offset_h", utc_offset))
        }
        before = read_query(link)
        held = await upload(self.service, file, elevation, allow_gaps, location)
        return RedirectResponse(f"/{found.name}?{_query_with_weather(before, held['weather'])}", 303)

    async def open_case(
        self, file: UploadFile, job: Annotated[str, Form()] = "value", link: Annotated[str, Form()] = ""
    ) -> Response:
        """Lead back to the page with the case of a file, at the weather and in the units of before."""
        found, before = job_named(job), read_query(link)
        content = await file.read(MOST_CASE_BYTES + 1)
        if len(content) > MOST_CASE_BYTES:
            raise CaseError(f"The case file has more than {MOST_CASE_BYTES:,} bytes: choose a .toml file of a case.")
        told = link_of_file(content, before.weather, before.units)
        return RedirectResponse(f"/{found.name}?{canonical(told, case_of(told))}", 303)

    async def stations(
        self,
        request: Request,
        place: str = "",
        latitude: str = "",
        longitude: str = "",
        job: str = "value",
        link: str = "",
    ) -> Response:
        """Weather stations near a place, each a link: a fragment for the script, else a page."""
        found, before = job_named(job), read_query(link)
        if not place:
            place = f"{_degrees(latitude, 'latitude')},{_degrees(longitude, 'longitude')}"
        _, listed = await near(self.service, place)
        rows = [
            {
                **station,
                "words": _station_words(station, before.units),
                "link": _query_with_weather(before, f"station:{station['id']}"),
            }
            for station in listed
        ]
        html = pages.stations_html(found.name, rows)
        if "application/json" in request.headers.get("accept", ""):
            return JSONResponse({"html": html})
        return HTMLResponse(pages.plain_html("Weather stations", body=html, back=f"/{found.name}?{link}"))

    async def glossary(self, request: Request, job: str = "value") -> Response:
        """What the words mean, and the way back to the case."""
        back = [(key, text) for key, text in request.query_params.items() if key != "job"]
        body = pages.glossary_html()
        return HTMLResponse(pages.plain_html("Words", body=body, back=f"/{job_named(job).name}?{urlencode(back)}"))

    async def page(self, request: Request, job: str = "value") -> Response:
        """The page of a job: its form, and its answer where that is asked for at once."""
        found = job_named(job)
        link = Link()
        try:
            link = read_link(dict(request.query_params))
            case = case_of(link)
        except FreecoolError as error:
            return self._refused_form(found, link, error)
        if self.demo and link.weather is None:
            link = _with_weather(link, DEMO)
        query = canonical(link, case)
        now = "answer" in request.query_params
        if now and "base" in request.query_params:
            # A form of a browser without script: its long query becomes the short link.
            return RedirectResponse(f"/{found.name}?{query}&answer=now", 303)
        if link.weather is None or not (now or not found.searches):
            return self._page(found, link, case, pending=link.weather is not None)
        return await self._answered_page(request, found, link, case)

    async def _answered_page(self, request: Request, job: Job, link: Link, case: Case) -> Response:
        query = canonical(link, case)

        def draw(result: Any) -> dict[str, str]:
            pictures = pages.pictures_html(link, result)
            shown = pages.fragments_of(job, link, query, result, str(request.base_url), pictures)
            return {"lead": shown.lead, "rest": shown.rest, "brief": shown.brief}

        try:
            lines = self.service.lines(job.name, question_of(link), lambda result, tell: None, draw)
            shown = await outcome(lines, request.is_disconnected)
        except FreecoolError as error:
            return self._page(job, link, case, status_of(error), fault=worded(error, label_wording))
        return self._page(job, link, case, **shown)

    def _refused_form(self, job: Job, link: Link, error: FreecoolError) -> Response:
        """The form with what was typed, over the case of its preset."""
        preset = link.preset if link.preset in PRESETS else DEFAULT_PRESET
        bare = Link(link.weather, link.years, preset, link.units)
        return self._page(job, bare, case_of(bare), UNFIT, fault=worded(error, label_wording), typed=link.settings)

    def _page(
        self, job: Job, link: Link, case: Case, status: int = 200, *, lead: str = "", rest: str = "",
        brief: str = "", fault: str = "", typed: Mapping[str, str] = {}, pending: bool = False,
    ) -> Response:  # fmt: skip
        html = pages.page_html(
            job, link, case, canonical(link, case), self.service.weather,
            lead=lead, rest=rest, brief=brief, fault=fault, typed=typed, pending=pending,
        )  # fmt: skip
        return HTMLResponse(html, status)


def job_named(name: str) -> Job:
    """A job of the table, given its name in a path.

    Raises
    ------
    HTTPException
        404: there is none.
    """
    if name not in JOBS:
        raise HTTPException(404, f"There is no page {name[:40]!r} here, only {', '.join(JOBS)}.")
    return JOBS[name]


def _station_words(station: Mapping[str, Any], units: System) -> str:
    first, last = station["first_year"], station["last_year"]
    span = "years unknown" if first is None else f"{first}–{last}"
    away = station["distance_m"] / (1609.344 if units == "ip" else 1000.0)
    return f"{away:.0f} {'mi' if units == 'ip' else 'km'} away, {span}"


def _query_with_weather(link: Link, weather: str) -> str:
    chosen = _with_weather(link, weather)
    return canonical(chosen, case_of(chosen))


def _with_weather(link: Link, weather: str) -> Link:
    return replace(link, weather=weather, years=None)


def _degrees(text: str, name: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise CaseError(f"{name} is {text[:40]!r}: expected a number, such as 39.7, west and south negative.") from None
