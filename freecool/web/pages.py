"""From a link and its answer to HTML: the page, the form, the fragments that the script puts in their places."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any, NamedTuple
from urllib.parse import parse_qsl, urlencode

from markupsafe import Markup

from freecool.answers.commissioning import TEST_DAY
from freecool.answers.jobs import JOBS, Job
from freecool.cases.demos import DEMOS
from freecool.cases.glossary import GLOSSARY
from freecool.cases.model import Case
from freecool.core.units import format_quantity
from freecool.show.against import verdict_word
from freecool.show.cautions import CAUTIONS
from freecool.web.form import form_values
from freecool.web.link import Link, canonical, case_of, link_of_demo
from freecool.web.sheet import picked_query

if TYPE_CHECKING:
    from jinja2 import Environment

    from freecool.answers.jobs import Result
    from freecool.show.page import Page
    from freecool.web.weather_store import WeatherStore

# What a case that is kept to compare with takes from the other.
NOT_ALONE = ("weather", "years", "against")
# How long the page waits after a change before it asks again [ms].
PAUSE_MS, PAUSE_SEARCH_MS = 200, 600


@cache
def environment() -> Environment:
    """The report's own environment, with the pages of this room."""
    from jinja2 import PackageLoader

    from freecool.show.html import page_environment

    return page_environment().overlay(loader=PackageLoader("freecool.web", "pages"))


def _render(name: str, **values: Any) -> Markup:
    return Markup(environment().get_template(name).render(**values))


def page_html(
    job: Job, link: Link, case: Case, query: str, store: WeatherStore, *, lead: str = "", rest: str = "",
    brief: str = "", fault: str = "", typed: Mapping[str, str] = {}, pending: bool = False,
) -> str:  # fmt: skip
    """The whole page of a job.

    Parameters
    ----------
    job : Job
    link : Link
    case : Case
        Of the link, or of its preset where it describes none.
    query : str
        The canonical link.
    store : WeatherStore
        For the name of weather that is held.
    lead, rest : str
        The answer's fragments, empty while there is none.
    brief : str
        The answer in a few words, for the bar of a phone.
    fault : str
        The sentence that refuses.
    typed : mapping
        What was typed, to stand in the form again where it was refused.
    pending : bool
        Whether the script asks for the answer at once.
    """
    form = form_values(job, link, case, query, store, typed, fault)
    return _render(
        "page.html", job=job, jobs=JOBS.values(), pause_ms=PAUSE_SEARCH_MS if job.searches else PAUSE_MS,
        link=query, form=form,
        demos=_demos(), lead=Markup(lead), rest=Markup(rest), brief=brief,
        fault=fault, pending=pending, cautions=CAUTIONS,
    )  # fmt: skip


@cache
def _demos() -> list[tuple[str, str]]:
    """Words of each invented job and its address."""
    links = {name: link_of_demo(name) for name in DEMOS}
    return [(DEMOS[name].words, f"/value?{canonical(link, case_of(link))}") for name, link in links.items()]


def downloads(job: Job) -> dict[str, str]:
    """File names and words of what can be downloaded with an answer, given its job."""
    printed = {"report.pdf": "Report (PDF)"} if find_spec("weasyprint") else {}
    return {"report.html": "Report", **printed, f"{job.table}.csv": f"{job.table_words} (CSV)"}


def plain_html(title: str, *, fault: str = "", body: str = "", back: str = "/") -> str:
    """A page without a form, given a title and what it says."""
    return _render("plain.html", title=title, fault=fault, body=Markup(body), back=back)


def form_html(job: Job, link: Link, case: Case, query: str, store: WeatherStore) -> str:
    """The form of a job as a fragment."""
    return _render("form.html", form=form_values(job, link, case, query, store))


class Fragments(NamedTuple):
    """An answer as the page shows it."""

    lead: str
    """The sentence and its numbers."""
    rest: str
    """Everything else."""
    verdict: str
    """The sentence alone, for who listens."""
    brief: str
    """A few words, for the bar of a phone."""


def fragments_of(job: Job, link: Link, query: str, result: Result, base: str, pictures: str = "") -> Fragments:
    """An answer's fragments, given its link, the server's address and its pictures."""
    from freecool.show.html import report_page

    page = report_page(result, link.units, most_pictures=0)
    lead = _render("lead.html", page=page)
    rest = _render(
        "rest.html", page=page, against=link.against,
        alone=urlencode([pair for pair in parse_qsl(query) if pair[0] not in NOT_ALONE]),
        job=job, downloads=downloads(job), link=query,
        link_pairs=parse_qsl(query), address=f"{base}{job.name}?{query}", outdoor=TEST_DAY[link.units],
        back=format_quantity(result.case.schedule.cooling, "temperature", link.units).replace(" °", ""),
        uploaded=(link.weather or "").startswith("upload:"), pictures=Markup(pictures),
        sheet_link=picked_query(link, result) if job.sheet else "",
    )  # fmt: skip
    return Fragments(lead, rest, f"{page.verdict} {page.advice}".rstrip(), _brief(job, page))


def _brief(job: Job, page: Page) -> str:
    """The verdict's own words, and of one damper what it saves."""
    words = verdict_word(page.verdict)
    saved = next((figure.number for figure in page.figures[0] if figure.label == "Net saved"), "")
    return words if job.name == "compare" else f"{words}: {saved} a year"


def pictures_html(link: Link, result: Result) -> str:
    """The pictures of an answer as a fragment; drawn by one thread alone."""
    from freecool.show.html import report_page

    return _render("pictures.html", pictures=report_page(result, link.units).pictures)


def report_of(link: Link, result: Result) -> str:
    """The report to hand over; drawn, as pictures are, by one thread alone."""
    from freecool.show.html import report_html

    return report_html(result, link.units)


def report_pdf_of(link: Link, result: Result) -> bytes:
    """The report as a PDF; drawn by one thread alone."""
    from freecool.show.pdf import report_pdf

    return report_pdf(result, link.units)


def glossary_html() -> str:
    """Every term of the trade and of the answers with its one sentence."""
    return _render("glossary.html", glossary=GLOSSARY)


def stations_html(job: str, stations: list[dict[str, Any]]) -> str:
    """Stations to choose from, given their id, name, words and link."""
    return _render("stations.html", job=job, stations=stations)
