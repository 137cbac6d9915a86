"""The application: pages, the JSON interface, and how refusals are told."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from fastapi import FastAPI
from starlette.staticfiles import StaticFiles

from freecool.core.version import __version__
from freecool.web.api import api_router
from freecool.web.page_routes import page_router
from freecool.web.refusals import add_refusals
from freecool.web.security import LOOPBACK, SecurityMiddleware
from freecool.web.services import AnswerService
from freecool.web.sheet_routes import sheet_router

STATIC = Path(__file__).parent / "static"


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
    add_refusals(app)
    app.include_router(api_router(service))
    app.include_router(sheet_router(service))
    app.include_router(page_router(service, demo))
    app.mount("/static", StaticFiles(directory=STATIC))
    return SecurityMiddleware(app, hosts)
