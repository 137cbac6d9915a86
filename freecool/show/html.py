"""The page to hand over: one HTML file that fetches nothing, from the same result objects as the JSON."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from freecool.core.presentation import Presented, presentation_of
from freecool.core.units import System
from freecool.show.page import Page, with_minus

if TYPE_CHECKING:
    from jinja2 import Environment


def report_html(result: Presented, units: System = "ip") -> str:
    """A result as one self-contained HTML page, given a unit system.

    Parameters
    ----------
    result : Estimate, DifferentialSweep or RulesCompared
        What to show.
    units : {"ip", "si"}, optional
        Unit system of what is shown.

    Returns
    -------
    str
        A page that fetches nothing.
    """
    page = report_page(result, units)
    return page_environment().get_template("report.html").render(page=page, paper=paper_of(units), fonts={})


def paper_of(units: System) -> str:
    """The paper of those who use a unit system.

    Parameters
    ----------
    units : {"ip", "si"}
        Unit system of what is shown.

    Returns
    -------
    str
        As CSS names it.
    """
    return "letter" if units == "ip" else "A4"


def page_environment() -> Environment:
    """Our pages: every value is escaped, and one that is missing is an error.

    Returns
    -------
    jinja2.Environment
        That finds our page templates.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("freecool.show", "pages"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    environment.filters["bound"] = bound
    return environment


def bound(text: str) -> str:
    """Text in which no line breaks between a number and its unit.

    Parameters
    ----------
    text : str
        Text with numbers and units.

    Returns
    -------
    str
        The same with spaces that do not break.
    """
    return re.sub(r"(?<=[0-9]) (?=(?:%|°|kWh|hours?|h|cfm|K|W)(?![a-z]))", "\u00a0", text)


def notebook_html(result: Presented) -> str:
    """A result as a notebook shows it: what it is about, verdict and first picture.

    Parameters
    ----------
    result : Estimate, DifferentialSweep or RulesCompared
        What to show.

    Returns
    -------
    str
        HTML that fetches nothing.
    """
    from markupsafe import escape

    page = report_page(result, result.case.units, most_pictures=1)
    picture = page.pictures[0]
    return (
        f"<p>{escape(page.what)}</p><p><strong>{escape(page.verdict)}</strong> {escape(page.advice)}</p>"
        f'<img style="max-width:100%" src="{picture.source}" alt="{escape(picture.words)}">'
    )


def report_page(result: Presented, units: System, most_pictures: int = 9) -> Page:
    """Everything a report says of a result, given a unit system and how many pictures to draw.

    Parameters
    ----------
    result : Estimate, DifferentialSweep or RulesCompared
        What to show.
    units : {"ip", "si"}
        Unit system of what is shown.
    most_pictures : int, optional
        How many pictures at most.

    Returns
    -------
    Page
        What the template is filled with.
    """
    page: Page = with_minus(presentation_of(result.job).page(result, units, most_pictures))
    return page
