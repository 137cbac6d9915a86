"""How a refusal is told: a page for a person, an object for a program, with the code that fits."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, Response
from starlette.exceptions import HTTPException

from freecool.cases.faults import MOST_FAULTS
from freecool.cases.wording import key_wording, label_wording
from freecool.core.cancel import Cancelled
from freecool.core.errors import MOST_QUOTED, FreecoolError, short, worded
from freecool.web import pages
from freecool.web.weather_store import NotHeld
from freecool.web.work import Busy, Stopped, TooLong

# Nobody hears this answer; the code is the one that servers log for it.
CLIENT_GONE = 499
CODES: dict[type[FreecoolError], int] = {Busy: 429, TooLong: 503, Stopped: 503, NotHeld: 404, Cancelled: CLIENT_GONE}
UNFIT = 422


def add_refusals(app: FastAPI) -> None:
    """Have an application tell every refusal in one sentence."""
    app.add_exception_handler(FreecoolError, _refused)
    app.add_exception_handler(RequestValidationError, _misread)
    app.add_exception_handler(HTTPException, _http)


def status_of(error: FreecoolError) -> int:
    """The status code of a refusal, given why."""
    return next((code for kind, code in CODES.items() if isinstance(error, kind)), UNFIT)


def _said(request: Request, code: int, sentence: str, headers: Any = None) -> Response:
    """A refusal as the client reads: a page for a person, an object for a program."""
    if "text/html" in request.headers.get("accept", ""):
        return HTMLResponse(pages.plain_html("No answer", fault=sentence), code, headers)
    return JSONResponse({"error": sentence}, code, headers)


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, FreecoolError)
    headers = {"retry-after": "30"} if isinstance(error, Busy) else None
    wording = key_wording if request.url.path.startswith("/api/") else label_wording
    return _said(request, status_of(error), worded(error, wording), headers)


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
    faults = [_fault(fault) for fault in error.errors()[:MOST_FAULTS]]
    return _said(request, UNFIT, f"The request cannot be read: {'; '.join(faults)}.")


def _fault(fault: Any) -> str:
    place = ".".join(str(piece)[:MOST_QUOTED] for piece in fault["loc"][1:]) or "the body"
    return f"{place} is {short(fault.get('input'))}: {fault['msg'][0].lower()}{fault['msg'][1:]}"
