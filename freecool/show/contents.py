"""What each report says: of an estimate, of a sweep, of rules side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from freecool.core.units import System, format_money, format_quantity
from freecool.show.against import AGAINST, AGAINST_KEY, against_cells
from freecool.show.page import Figure, Letterhead, Page, Row, Table
from freecool.show.pictures import Drawing, pictures_of
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
from freecool.show.text import (
    BY_BILLS,
    ELSE,
    case_facts,
    else_lines,
    indoor_humidity,
    rule_text,
    value_rows,
    weather_text,
    whole,
)

if TYPE_CHECKING:
    from freecool.answers.comparison import RulesCompared
    from freecool.answers.estimate import Estimate
    from freecool.answers.pick import DifferentialSweep
    from freecool.cases.model import Case
    from freecool.weather import Weather


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
        facts=_facts(answer.case, answer.weather, units, rule=True),
        figures=groups,
        reasons=answer.bills.sentences if answer.bills else (),
        reasons_title=BY_BILLS,
        pictures=pictures_of(_value_drawings(answer, units)[:most]),
        table=_quotes(answer),
        more=(ELSE, others) if others else None,
        warnings=[notice.text for notice in answer.warnings],
        resting=_resting_on(answer.case, units),
        letterhead=_letterhead(answer.case),
        footer=_footer(answer.weather),
    )


def _quotes(answer: Estimate) -> Table | None:
    if not answer.against:
        return None
    heads, rows = against_cells(answer)
    key = f"{AGAINST_KEY[0].upper()}{AGAINST_KEY[1:]}"
    return Table(AGAINST, (), heads, list(map(Row, rows)), key, handed_over=True)


def _value_drawings(answer: Estimate, units: System) -> list[Drawing]:
    plot, energy, damp = answer.plot, answer.energy, answer.humidity
    monthly, likely = answer.monthly, answer.likely_band.net_kwh_saved

    def by_month(column: str) -> str:
        pairs = zip(monthly.index.tolist(), monthly[column].tolist(), strict=True)
        return ", ".join(f"{MONTHS[month - 1]} {whole(value)}" for month, value in pairs)

    drawings = [
        Drawing(
            plot.months,
            f"{whole(energy.compressor_kwh_avoided)} kWh of compressor avoided a year, {whole(energy.fan_kwh_added)} "
            "kWh of fan added.",
            f"Net kWh by month: {by_month('net_kwh_saved')}.",
        ),
        Drawing(
            plot.band,
            f"Eight of ten buildings like it save {whole(likely.low)} to {whole(likely.high)} kWh a year, half of them "
            f"more than {whole(likely.middle)}; as asked {whole(energy.net_kwh_saved)}.",
            name="small",
        ),
        Drawing(
            plot.clock,
            f"Outdoor air carries cooling for {answer.hours.free_cooling:,.0f} hours a year at full flow.",
            f"Hours by month: {by_month('free_cooling_hours')}.",
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
    others = else_lines(answer, options=False)
    if others:
        caption = f"As asked {whole(energy.net_kwh_saved)} kWh net a year, and what else could be set or fitted."
        drawings.insert(2, Drawing(plot.others, caption, f"{'. '.join(others)}.", name="others"))
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
    outcome = chosen.outcome
    damp = f"{outcome.humidity.clause_hours_added:+,.0f} damp hours a year, {outcome.humidity.clause}"
    lead = [
        Figure("Set", "off" if sweep.best is None else at, note),
        Figure(
            "Net saved",
            f"{whole(outcome.energy.net_kwh_saved)} kWh",
            f"a year with exact sensors; under sensor error nine of ten reach {whole(outcome.net_kwh_p10)}",
        ),
        Figure("Humidity risk", outcome.humidity.risk, damp),
    ]
    even = format_quantity(sweep.break_even_differential_k, "difference", units)
    rest = [
        Figure("Money saved", format_money(outcome.money.saved_per_year, sweep.case.money.currency), "a year"),
        Figure("Break-even", even, "below it a fan watt cools less than the compressor's; drying apart"),
    ]
    case = sweep.picked_case()
    key = f"Bold: the pick; {PICK_KEY}" if sweep.best is not None else f"{PICK_KEY[0].upper()}{PICK_KEY[1:]}"
    rows = [Row(row, candidate is sweep.best) for row, candidate in zip(cells, sweep.candidates, strict=True)]
    return Page(
        title=f"Freecool: differential for {_name(case)}",
        what=_what("Which differential to set", case, sweep.weather),
        verdict=sweep.sentence,
        facts=_facts(case, sweep.weather, units),
        figures=[lead, rest],
        reasons=sweep.reasons,
        pictures=pictures_of(_pick_drawings(sweep, units)[:most]),
        table=Table("Every differential tried", (), heads, rows, key),
        more=(f"At {at}, and what else can be set", [*effects(sweep, units), *choice_lines(sweep, options=False)]),
        warnings=[notice.text for notice in sweep.warnings],
        resting=_resting_on(case, units),
        letterhead=_letterhead(case),
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
            name="small",
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
            "Net kWh saved by each rule, at the limit told and at its best setting; lines span eight of ten "
            "installations under sensor error.",
            f"{saved}.",
        ),
        Drawing(compared.plot.moisture, "Damp hours a year indoors that each rule adds.", f"{added}.", name="small"),
    ]
    best = compared.best
    rows = [Row(row, rule is best) for row, rule in zip(cells, compared.rules, strict=True)]
    key = f"{'Bold: the rule to fit; e' if best else 'E'}{COMPARE_KEY[1:]}"
    groups = (("", 1), ("at the limit told", 7), ("at its best setting", 4))
    return Page(
        title=f"Freecool: rules for {_name(compared.case)}",
        what=_what("Dry bulb or enthalpy", compared.case, compared.weather),
        verdict=compared.answers[0],
        facts=[*_facts(compared.case, compared.weather, units), ("Climate zone", zone_text(compared))],
        figures=[_compare_lead(compared, units)],
        reasons=compared.answers[1:],
        pictures=pictures_of(drawings[:most]),
        table=Table("Rules side by side", groups, heads, rows, key),
        more=("When a sensor is wrong", faults(compared)),
        warnings=[notice.text for notice in compared.warnings],
        resting=_resting_on(compared.case, units, rule=False),
        letterhead=_letterhead(compared.case),
        footer=_footer(compared.weather),
    )


def _compare_lead(compared: RulesCompared, units: System) -> list[Figure]:
    best = compared.best
    if best is None:
        return [Figure("Rule", "none", "no rule saves and keeps the place dry")]
    outcome, setting = best.tuned, format_quantity(best.tuned_value, best.tuned_dimension, units)
    return [
        Figure("Rule", best.name, f"at {setting}"),
        Figure(
            "Net saved",
            f"{whole(outcome.energy.net_kwh_saved)} kWh",
            f"a year with exact sensors; under sensor error nine of ten reach {whole(outcome.net_kwh_p10)}",
        ),
        Figure(
            "Humidity risk",
            outcome.humidity.risk,
            f"{outcome.humidity.clause_hours_added:+,.0f} damp hours a year, {outcome.humidity.clause}",
        ),
    ]


def _name(case: Case) -> str:
    return case.name or case.preset


def _what(job: str, case: Case, weather: Weather) -> str:
    invented = ", an INVENTED climate" if weather.invented else ""
    return f"{job}: {_name(case)}, weather of {weather.location.name}{invented}"


def _resting_on(case: Case, units: System, rule: bool = True) -> list[tuple[str, list[tuple[str, str]]]]:
    """Every value of the case in its unit, and the rule in words where it is the case's own."""
    told = case.shown(units)
    return [("Rule in words", [("The damper opens with", rule_text(case, units))]), *told] if rule else told


def _facts(case: Case, weather: Weather, units: System, rule: bool = False) -> list[tuple[str, str]]:
    return [("Weather", weather_text(weather)), *case_facts(case, units, rule)]


def _letterhead(case: Case) -> Letterhead | None:
    quote = case.quote
    offer = [(name, text) for name, text in (("Quote", quote.number), ("Date", quote.date)) if text]
    address, customer = (list(filter(None, text.splitlines())) for text in (quote.address, quote.customer))
    if not (quote.name or address or quote.logo or customer or offer):
        return None
    logo = f"data:image/png;base64,{quote.logo}" if quote.logo else ""
    return Letterhead(quote.name, address, logo, customer, offer)


def _footer(weather: Weather) -> list[str]:
    from freecool.core.version import __version__

    location, quality = weather.location, weather.quality
    lines = [
        f"Weather: {location.name}, {weather.kind}, {weather.hours:,} hours, {quality.filled_hours:,} of them filled.",
        f"Made with Freecool {__version__}. An estimate, not a design.",
    ]
    return [weather.attribution, *lines] if weather.attribution else lines
