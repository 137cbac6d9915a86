"""The page to hand over: one HTML file that fetches nothing, from the same result objects as the JSON."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from freecool.core.presentation import Presented, presentation_of
from freecool.core.units import System, format_quantity
from freecool.show.cautions import CAUTIONS
from freecool.show.style import MONTHS
from freecool.show.tables import (
    COMPARE_KEY,
    PICK_KEY,
    choice_lines,
    chosen_of,
    compare_cells,
    effects,
    faults,
    pick_cells,
    zone_text,
)
from freecool.show.text import ELSE, case_facts, else_lines, indoor_humidity, rule_text, value_rows, whole

if TYPE_CHECKING:
    from jinja2 import Environment
    from matplotlib.axes import Axes

    from freecool.answers.comparison import RulesCompared
    from freecool.answers.estimate import Estimate
    from freecool.answers.pick import DifferentialSweep
    from freecool.cases.model import Case
    from freecool.weather import Weather

# How every answer is made; docs/how-it-works.md tells it in full.
METHOD = (
    "The building runs through the weather twice, hour by hour, without and with the damper; what is avoided is the "
    "difference of the two.",
    "One well-mixed zone by ISO 52016-1:2017; where a second building model is told of, by ISO 13790:2008. Left out: "
    "rooms and stairs, duct losses, wind-driven leakage, faults.",
    "Humidity goes by the published clause that is named. Our own: the least saving that is worth it, and how large a "
    "share of the occupied hours may be damp by the damper.",
)
# Units of the assumptions as they are read, not as they are typed.
READABLE = {"Btu/hft2F": "Btu/h·ft²·°F", "W/m2K": "W/m²·K", "ft2": "ft²", "m2": "m²", "(m3/s)": "(m³/s)"}


class Figure(NamedTuple):
    """One number in large type."""

    label: str
    number: str
    note: str


class Drawing(NamedTuple):
    """A picture to draw, its caption, and what only those hear who cannot see it."""

    draw: Callable[[], Axes]
    caption: str
    details: str = ""


class Picture(NamedTuple):
    """One picture, its caption and what it says in words."""

    source: str
    caption: str
    words: str


class Row(NamedTuple):
    """A row of the page's table."""

    cells: Sequence[str]
    picked: bool = False


class Table(NamedTuple):
    """The page's table; groups are heads over several columns, as (text, columns)."""

    title: str
    groups: Sequence[tuple[str, int]]
    heads: Sequence[str]
    rows: Sequence[Row]
    key: str


class Page(NamedTuple):
    """Everything a report says, before it is HTML."""

    title: str
    what: str
    verdict: str
    facts: Sequence[tuple[str, str]]
    figures: Sequence[Sequence[Figure]]
    """In groups, the first in the largest type."""
    reasons: Sequence[str]
    pictures: Sequence[Picture]
    table: Table | None
    more: tuple[str, Sequence[str]] | None
    """A title and sentences under the table."""
    warnings: Sequence[str]
    assumptions: Sequence[tuple[str, str]]
    footer: Sequence[str]
    cautions: Sequence[str] = CAUTIONS
    method: Sequence[str] = METHOD
    advice: str = ""
    """What to set or do instead, under the verdict."""


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
    return page_environment().get_template("report.html").render(page=report_page(result, units))


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
    page: Page = presentation_of(result.job).page(result, units, most_pictures)
    return page


def value_page(answer: Estimate, units: System, most: int) -> Page:
    """The report's contents of an estimate, given a unit system and how many pictures at most.

    Parameters
    ----------
    answer : Estimate
        What to show.
    units : {"ip", "si"}
        Unit system of what is shown.
    most : int
        How many pictures at most.

    Returns
    -------
    Page
        What the template is filled with.
    """
    groups: list[list[Figure]] = [[]]
    for row in value_rows(answer, units):
        if row is None:
            groups.append([])
        else:
            groups[-1].append(Figure(*row))
    others = else_lines(answer, options=False)
    return Page(
        title=f"Freecool: {_name(answer.case)}",
        what=_what("What outdoor-air cooling is worth", answer.case, answer.weather),
        verdict=answer.headline,
        advice=answer.advice,
        facts=case_facts(answer.case, units, rule=True),
        figures=groups,
        reasons=(),
        pictures=_pictures(_value_drawings(answer, units)[:most]),
        table=None,
        more=(ELSE, others) if others else None,
        warnings=[notice.text for notice in answer.warnings],
        assumptions=_resting_on(answer.case, units),
        footer=_footer(answer.weather),
    )


def _value_drawings(answer: Estimate, units: System) -> list[Drawing]:
    plot, energy, damp = answer.plot, answer.energy, answer.humidity
    monthly = answer.monthly

    def by_month(column: str) -> str:
        pairs = zip(monthly.index.tolist(), monthly[column].tolist(), strict=True)
        return ", ".join(f"{MONTHS[month - 1]} {whole(value)}" for month, value in pairs)

    drawings = [
        Drawing(
            plot.clock,
            f"Outdoor air carries cooling for {answer.hours.free_cooling:,.0f} hours a year at full flow; darker is "
            "more.",
            f"Hours by month: {by_month('free_cooling_hours')}.",
        ),
        Drawing(
            plot.months,
            f"{whole(energy.compressor_kwh_avoided)} kWh of compressor avoided a year, {whole(energy.fan_kwh_added)} "
            "kWh of fan added.",
            f"Net kWh by month: {by_month('net_kwh_saved')}.",
        ),
        Drawing(
            plot.humidity,
            f"Indoors above 65 % in {damp.rh_over_65_occupied_hours_without:,.0f} occupied hours a year without the "
            f"damper and {damp.rh_over_65_occupied_hours_with:,.0f} with it.",
            f"{', '.join(indoor_humidity(answer))}.",
        ),
        Drawing(
            lambda: plot.chart(units=units),
            f"Psychrometric chart: the rule permits {answer.hours.permitted:,.0f} hours; the damper is open in "
            f"{answer.hours.damp:,.0f} damp ones, marked with crosses.",
        ),
    ]
    good = answer.spread
    if good is not None:
        each = ", ".join(f"{year.year} {whole(year.net_kwh_saved)}" for year in answer.by_year)
        caption = f"Net kWh saved in each year; eight of ten lie between {whole(good.p10)} and {whole(good.p90)}."
        drawings.append(Drawing(plot.years, caption, f"{each}."))
    return drawings


def pick_page(sweep: DifferentialSweep, units: System, most: int) -> Page:
    """The report's contents of a sweep of differentials, given a unit system and how many pictures at most.

    Parameters
    ----------
    sweep : DifferentialSweep
        What to show.
    units : {"ip", "si"}
        Unit system of what is shown.
    most : int
        How many pictures at most.

    Returns
    -------
    Page
        What the template is filled with.
    """
    heads, cells = pick_cells(sweep, units)
    chosen = chosen_of(sweep)
    at = format_quantity(chosen.differential_k, "difference", units)
    note = "differential" if sweep.best is not None else f"the numbers beside are for {at}"
    figures = [
        Figure("Set", "off" if sweep.best is None else at, note),
        Figure("Net saved", f"{whole(chosen.outcome.energy.net_kwh_saved)} kWh", "a year with exact sensors"),
        Figure("Nine of ten reach", f"{whole(chosen.outcome.net_kwh_p10)} kWh", "under sensor error"),
        Figure("Break-even", format_quantity(sweep.break_even_differential_k, "difference", units), "of sensible heat"),
    ]
    case = sweep.picked_case()
    key = f"Bold: the pick; {PICK_KEY}" if sweep.best is not None else f"{PICK_KEY[0].upper()}{PICK_KEY[1:]}"
    rows = [Row(row, candidate is sweep.best) for row, candidate in zip(cells, sweep.candidates, strict=True)]
    return Page(
        title=f"Freecool: differential for {_name(case)}",
        what=_what("Which differential to set", case, sweep.weather),
        verdict=sweep.sentence,
        facts=case_facts(case, units),
        figures=[figures],
        reasons=sweep.reasons,
        pictures=_pictures(_pick_drawings(sweep, units)[:most]),
        table=Table("Every differential tried", (), heads, rows, key),
        more=(f"At {at}, and what else can be set", [*effects(sweep, units), *choice_lines(sweep, options=False)]),
        warnings=[notice.text for notice in sweep.warnings],
        assumptions=_resting_on(case, units),
        footer=_footer(sweep.weather),
    )


def _pick_drawings(sweep: DifferentialSweep, units: System) -> list[Drawing]:
    chosen, first = chosen_of(sweep), sweep.candidates[0]

    def degrees(value: float) -> str:
        return format_quantity(value, "difference", units)

    return [
        Drawing(
            lambda: sweep.plot.curve(units=units),
            f"Net saving peaks at {degrees(sweep.peak_differential_k)}; at {degrees(chosen.differential_k)} it is "
            f"{whole(chosen.outcome.energy.net_kwh_saved)} kWh. At {degrees(first.differential_k)} the fan adds "
            f"{whole(first.outcome.energy.fan_kwh_added)} kWh; a line may leave the frame.",
        ),
        Drawing(
            lambda: sweep.plot.moisture(units=units),
            f"At {degrees(first.differential_k)} the damper adds "
            f"{whole(first.outcome.humidity.clause_hours_added)} damp hours a year indoors; "
            f"at {degrees(chosen.differential_k)} it adds {whole(chosen.outcome.humidity.clause_hours_added)}.",
        ),
    ]


def compare_page(compared: RulesCompared, units: System, most: int) -> Page:
    """The report's contents of rules side by side, given a unit system and how many pictures at most.

    Parameters
    ----------
    compared : RulesCompared
        What to show.
    units : {"ip", "si"}
        Unit system of what is shown.
    most : int
        How many pictures at most.

    Returns
    -------
    Page
        What the template is filled with.
    """
    heads, cells = compare_cells(compared, units)
    figures = [
        Figure(
            rule.name,
            f"{whole(rule.published.energy.net_kwh_saved)} kWh",
            f"a year at the limit told; humidity risk {rule.published.humidity.risk}",
        )
        for rule in compared.rules
    ]
    saved = "; ".join(
        f"{rule.name} {whole(rule.published.energy.net_kwh_saved)}, tuned {whole(rule.tuned.energy.net_kwh_saved)}"
        for rule in compared.rules
    )
    added = "; ".join(
        f"{rule.name} {whole(rule.published.humidity.clause_hours_added)}, tuned "
        f"{whole(rule.tuned.humidity.clause_hours_added)}"
        for rule in compared.rules
    )
    drawings = [
        Drawing(
            compared.plot.bars,
            "Net kWh saved by each rule, at its usual limit and at its best setting; lines span eight of ten "
            "installations under sensor error.",
            f"{saved}.",
        ),
        Drawing(compared.plot.moisture, "Damp hours a year indoors that each rule adds.", f"{added}."),
    ]
    groups = (("", 1), ("at the limit told", 7), ("at its best setting", 4))
    return Page(
        title=f"Freecool: rules for {_name(compared.case)}",
        what=_what("Dry bulb or enthalpy", compared.case, compared.weather),
        verdict=compared.answers[0],
        facts=[*case_facts(compared.case, units), ("Climate zone", zone_text(compared))],
        figures=[figures],
        reasons=compared.answers[1:],
        pictures=_pictures(drawings[:most]),
        table=Table("Rules side by side", groups, heads, list(map(Row, cells)), f"E{COMPARE_KEY[1:]}"),
        more=("When a sensor is wrong", faults(compared)),
        warnings=[notice.text for notice in compared.warnings],
        assumptions=_assumptions(compared.case, units),
        footer=_footer(compared.weather),
    )


def _name(case: Case) -> str:
    return case.name or case.preset


def _what(job: str, case: Case, weather: Weather) -> str:
    invented = ", an INVENTED climate" if weather.invented else ""
    return f"{job}: {_name(case)}, weather of {weather.location.name}{invented}"


def _pictures(drawings: Sequence[Drawing]) -> list[Picture]:
    from freecool.show.style import page_style

    pictures = []
    for draw, caption, details in drawings:
        with page_style():
            file = io.BytesIO()
            figure: Any = draw().figure
            figure.savefig(file, format="svg", dpi=200, metadata={"Date": None})
        source = "data:image/svg+xml;base64," + base64.b64encode(file.getvalue()).decode()
        pictures.append(Picture(source, caption, f"{caption} {details}".rstrip()))
    return pictures


def _resting_on(case: Case, units: System) -> list[tuple[str, str]]:
    """The rule in words, and every value of the case in its unit."""
    return [("rule, in words", rule_text(case, units)), *_assumptions(case, units)]


def _assumptions(case: Case, units: System) -> list[tuple[str, str]]:
    shown = []
    for name, value in case.shown(units):
        for typed, read in READABLE.items():
            value = value.replace(f" {typed}", f" {read}").replace(f"/{typed}", f"/{read}")
        shown.append((name, re.sub(r"^(-?\d+)\.0$", r"\1", value)))
    return shown


def _footer(weather: Weather) -> list[str]:
    from freecool.core.version import __version__

    location, quality = weather.location, weather.quality
    lines = [
        f"Weather: {location.name}, {weather.kind}, {weather.hours:,} hours, {quality.filled_hours:,} of them filled.",
        f"Made with Freecool {__version__}. An estimate, not a design.",
    ]
    return [weather.attribution, *lines] if weather.attribution else lines
