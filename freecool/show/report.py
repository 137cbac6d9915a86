"""The page to hand over: one HTML file that fetches nothing, from the same result objects as the JSON."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from freecool.show.cautions import CAUTIONS
from freecool.show.tables import compare_cells, pick_cells
from freecool.show.terminal import rule_text, value_rows
from freecool.units import System, show

if TYPE_CHECKING:
    from jinja2 import Environment
    from matplotlib.axes import Axes

    from freecool.differential import DifferentialSweep
    from freecool.estimate import Estimate
    from freecool.rules_compared import RulesCompared
    from freecool.weather import Weather


class Figure(NamedTuple):
    """One number in large type."""

    label: str
    number: str
    note: str


class Picture(NamedTuple):
    """One picture and what it says in words."""

    source: str
    words: str


class Row(NamedTuple):
    """A row of the page's table."""

    cells: Sequence[str]
    picked: bool = False


class Page(NamedTuple):
    """Everything a report says, before it is HTML."""

    title: str
    what: str
    verdict: str
    figures: list[Figure]
    reasons: Sequence[str]
    pictures: list[Picture]
    table_title: str
    heads: Sequence[str]
    rows: list[Row]
    warnings: list[str]
    told: list[tuple[str, str]]
    footer: list[str]
    cautions: Sequence[str] = CAUTIONS


def report_html(result: Estimate | DifferentialSweep | RulesCompared, units: System = "ip") -> str:
    """A result as one self-contained HTML page, given a unit system."""
    return page_environment().get_template("report.html").render(page=_page(result, units))


def page_environment() -> Environment:
    """Our pages: every value is escaped, and one that is missing is an error."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("freecool.show", "pages"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )


def notebook_html(result: Estimate | DifferentialSweep | RulesCompared) -> str:
    """A result as a notebook shows it: verdict and first picture."""
    from markupsafe import escape

    page = _page(result, "ip", most_pictures=1)
    picture = page.pictures[0]
    return (
        f"<p><strong>{escape(page.verdict)}</strong></p>"
        f'<img style="max-width:100%" src="{picture.source}" alt="{escape(picture.words)}">'
    )


def _page(result: Any, units: System, most_pictures: int = 9) -> Page:
    from freecool.differential import DifferentialSweep
    from freecool.rules_compared import RulesCompared

    make: Callable[..., Page] = _value_page
    if isinstance(result, DifferentialSweep):
        make = _pick_page
    elif isinstance(result, RulesCompared):
        make = _compare_page
    return make(result, units, most_pictures)


def _value_page(answer: Estimate, units: System, most: int) -> Page:
    plot = answer.plot
    damp = answer.humidity
    drawn: list[tuple[Callable[[], Axes], str]] = [
        (plot.clock, f"Month by hour of day: outdoor air carries cooling for {answer.hours.free_cooling:,.0f} hours a "
         "year at full flow; darker is more."),
        (plot.months, f"Month by month: {answer.energy.compressor_kwh_avoided:,.0f} kWh of compressor avoided a year, "
         f"{answer.energy.fan_kwh_added:,.0f} kWh of fan added."),
        (plot.humidity, f"Daily mean humidity indoors: above 60 % in {damp.rh_over_60_hours_without:,.0f} hours a year "
         f"without the damper and {damp.rh_over_60_hours_with:,.0f} with it."),
        (lambda: plot.chart(units=units), f"Psychrometric chart: the rule permits {answer.hours.permitted:,.0f} hours; "
         f"the damper is open in {answer.hours.damp:,.0f} damp ones, marked with crosses."),
    ]  # fmt: skip
    if len(answer.by_year) > 1:
        drawn.append((plot.years, "Net kWh saved in each year; the dashed line is their mean."))
    figures = [Figure(*row) for row in value_rows(answer, units) if row]
    return Page(
        f"Freecool: {answer.case.name or answer.case.preset}",
        _what("What outdoor-air cooling is worth", answer.case.name or answer.case.preset, answer.weather),
        answer.sentence, figures, (), _pictures(drawn[:most]), "", (), [],
        [notice.text for notice in answer.warnings], _told(answer.case, units), _footer(answer.weather),
    )  # fmt: skip


def _pick_page(sweep: DifferentialSweep, units: System, most: int) -> Page:
    heads, cells = pick_cells(sweep, units)
    chosen = sweep.best or sweep.keenest
    figures = [
        Figure(
            "Set", "off" if sweep.best is None else show(sweep.best.differential_k, "difference", units), "differential"
        ),
        Figure("Net saved", f"{chosen.outcome.energy.net_kwh_saved:,.0f} kWh", "a year with exact sensors"),
        Figure("Nine of ten reach", f"{chosen.outcome.net_kwh_p10:,.0f} kWh", "under sensor error"),
        Figure("Break-even", show(sweep.break_even_differential_k, "difference", units), "by the closed form"),
    ]
    words = (
        f"Net, compressor and fan kWh against the differential: net peaks at "
        f"{show(sweep.peak_differential_k, 'difference', units)}; crosses get damp."
    )
    rows = [
        Row(row, candidate is sweep.best) for row, candidate in zip(cells, sweep.candidates, strict=True)
    ]  # fmt: skip
    name = sweep.case.name or sweep.case.preset
    return Page(
        f"Freecool: differential for {name}", _what("Which differential to set", name, sweep.weather), sweep.sentence,
        figures, sweep.reasons, _pictures([(lambda: sweep.plot.curve(units=units), words)][:most]),
        "Every differential tried", heads, rows, [notice.text for notice in sweep.warnings],
        _told(sweep.case, units), _footer(sweep.weather),
    )  # fmt: skip


def _compare_page(compared: RulesCompared, units: System, most: int) -> Page:
    heads, cells = compare_cells(compared, units)
    figures = [
        Figure(
            rule.name,
            f"{rule.published.energy.net_kwh_saved:,.0f} kWh",
            f"humidity risk {rule.published.humidity.risk}",
        )
        for rule in compared.rules
    ]
    words = (
        "Net kWh saved by each rule, as published and tuned; lines span eight of ten installations under sensor error."
    )
    name = compared.case.name or compared.case.preset
    return Page(
        f"Freecool: rules for {name}", _what("Dry bulb or enthalpy", name, compared.weather), compared.answers[0],
        figures, compared.answers[1:], _pictures([(compared.plot.bars, words)][:most]),
        "Rules side by side", heads, [Row(row) for row in cells], [notice.text for notice in compared.warnings],
        _told(compared.case, units), _footer(compared.weather),
    )  # fmt: skip


def _what(job: str, name: str, weather: Weather) -> str:
    invented = ", an INVENTED climate" if weather.invented else ""
    return f"{job}: {name}, weather of {weather.site.name}{invented}"


def _pictures(drawn: Sequence[tuple[Callable[[], Axes], str]]) -> list[Picture]:
    from freecool.show.style import page_style

    pictures = []
    for draw, words in drawn:
        with page_style():
            file = io.BytesIO()
            figure: Any = draw().figure
            figure.savefig(file, format="svg", metadata={"Date": None})
        pictures.append(Picture("data:image/svg+xml;base64," + base64.b64encode(file.getvalue()).decode(), words))
    return pictures


def _told(case: Any, units: System) -> list[tuple[str, str]]:
    """Every value of the case, in its unit."""
    return [("rule, in words", rule_text(case, units)), *case.shown(units)]


def _footer(weather: Weather) -> list[str]:
    from freecool import __version__

    site, quality = weather.site, weather.quality
    lines = [
        f"Weather: {site.name}, {weather.kind}, {weather.hours:,} hours, {quality.filled_hours:,} of them filled.",
        f"Made with Freecool {__version__}. An estimate, not a design.",
    ]
    return [weather.attribution, *lines] if weather.attribution else lines
