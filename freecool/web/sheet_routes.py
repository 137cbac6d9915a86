"""The routes of the sheet: the page to fill in, what its readings say, and the same for programs."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from urllib.parse import parse_qsl

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response
from markupsafe import Markup

from freecool.answers.jobs import JOBS
from freecool.answers.readings import SEA_LEVEL_PA, Reading, SheetCheck, check_readings
from freecool.cases.model import Case, make_case
from freecool.cases.wording import label_wording
from freecool.core.errors import FreecoolError, worded
from freecool.core.units import DIMENSIONS, System, parse
from freecool.web import sheet
from freecool.web.api import refusals
from freecool.web.link import Link, canonical, case_of, read_link, read_query
from freecool.web.models import PositionRead, SheetRequest
from freecool.web.pages import environment
from freecool.web.refusals import UNFIT
from freecool.web.services import AnswerService


def sheet_router(service: AnswerService) -> APIRouter:
    """The routes of the sheet, given where weather is held."""
    routes = SheetRoutes(service)
    router = APIRouter()
    router.add_api_route("/sheet", routes.page, include_in_schema=False)
    router.add_api_route("/sheet/said", routes.said, include_in_schema=False)

    @router.post("/api/sheet-check", response_model=SheetCheck, responses=refusals(400, 403, 413, 422, 429))
    def sheet_check(body: SheetRequest) -> Response:
        """What the readings of a commissioning sheet say: in order or not, and every cause that fits."""
        case = make_case(body.case, preset=body.preset, units=body.units, where="case")
        readings = [_reading(one, body.units) for one in body.readings]
        return JSONResponse(check_readings(case, readings).to_dict())

    return router


class SheetRoutes:
    """What the browser asks for, one method each; none waits for a network."""

    def __init__(self, service: AnswerService) -> None:
        self.service = service

    def page(self, request: Request) -> Response:
        """The sheet with what is filled in, and what its readings say."""
        try:
            texts, rest = sheet.split(request.query_params)
            link = read_link(rest)
            case = case_of(link)
        except FreecoolError as error:
            bare = Link()
            html = self._html(request, {}, bare, case_of(bare), worded(error, label_wording))
            return HTMLResponse(html, UNFIT)
        return HTMLResponse(self._html(request, texts, link, case))

    def said(self, request: Request) -> Response:
        """What the readings say, as fragments for the script."""
        texts, rest = sheet.split(request.query_params)
        link = read_link(rest)
        case = case_of(link)
        said = sheet.judged(texts, case, self._pressure_pa(link))
        return JSONResponse(
            {
                "word": said.word,
                "text": said.text,
                "html": environment().get_template("said.html").render(said=said),
                "positions": dict(said.positions),
                "faults": dict(said.faults),
                "link": sheet.query_of(texts, link, case),
                "other": _other(texts, link, case),
            }
        )

    def _html(self, request: Request, texts: dict[str, str], link: Link, case: Case, fault: str = "") -> str:
        from freecool.show.sheet import customer_of, sheet_parts

        pressure = self._pressure_pa(link)
        day = sheet.day_of(case, pressure)
        query = sheet.query_of(texts, link, case)
        known = dict(zip(("customer", "address"), customer_of(case), strict=True))
        values: dict[str, Any] = {
            "jobs": JOBS.values(),
            "parts": sheet_parts(case, day, case.units),
            "said": sheet.judged(texts, case, pressure),
            "texts": {key: texts.get(key, known.get(key, "")) for key in sheet.OWN},
            "about": sheet.ABOUT,
            "titles": sheet.TITLES,
            "airs": sheet.AIRS,
            "asked": {row.position: f"{100.0 * row.outdoor_share:.0f} %" for row in day.expected},
            "unit": f"°{DIMENSIONS['temperature'].unit(case.units)}",
            "units": case.units,
            "case_link": canonical(link, case),
            "case_pairs": parse_qsl(canonical(link, case)),
            "other": _other(texts, link, case),
            "address": f"{request.base_url}sheet?{query}",
            "fault": fault,
        }
        return Markup(environment().get_template("filled.html").render(**values))

    def _pressure_pa(self, link: Link) -> float:
        """Of the weather that is at hand, else at sea level."""
        if link.weather is None or self.service.weather.is_slow(link.weather, link.years):
            return SEA_LEVEL_PA
        try:
            weather = self.service.weather.open(link.weather, link.years)
        except FreecoolError:
            return SEA_LEVEL_PA
        return float(weather.frame["pressure_pa"].mean())


def _other(texts: dict[str, str], link: Link, case: Case) -> str:
    """The same sheet in the other system of units."""
    units: System = "ip" if link.units == "si" else "si"
    # As a link says them values carry their units.
    exact = read_query(canonical(link, case))
    changed = replace(exact, units=units, search={})
    return sheet.query_of(sheet.in_units(texts, link.units, units), changed, case)


def _reading(one: PositionRead, units: System) -> Reading:
    read = {"outdoor": one.outdoor, "return": one.return_, "mixed": one.mixed, "supply": one.supply}
    values = {
        f"{air}_c": None if told is None else parse(told, "temperature", units, f"{one.position}.{air}")
        for air, told in read.items()
    }
    return Reading(position=one.position, **values)
