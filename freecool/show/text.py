"""The pieces of an answer in words: facts, rule, numbers, what else could be set, warnings and cautions."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from freecool.cases.rules import RULES
from freecool.cases.unit_map import unit_map_of
from freecool.core.units import System, convert, format_money, format_quantity, with_currency
from freecool.show.cautions import CAUTIONS

if TYPE_CHECKING:
    from freecool.answers.estimate import Estimate
    from freecool.answers.results import Alternative
    from freecool.cases.model import Case
    from freecool.core.errors import Notice
    from freecool.weather import Weather

WIDTH = 96
ELSE = "What else could be set, and what would help"
BY_BILLS = "By the bills"


def else_lines(answer: Estimate, options: bool) -> list[str]:
    """What else could be set, and what would help, a line each, given an estimate.

    Parameters
    ----------
    answer : Estimate
        What to show.
    options : bool
        Whether to tell the command line's options that ask for each.

    Returns
    -------
    list of str
        Words and what it saves.
    """

    def told(one: Alternative) -> str:
        saved = f"{whole(one.net_kwh_saved)} kWh, {format_money(one.saved_per_year, answer.case.money.currency)} a year"
        risk = "" if one.risk == "low" else f", humidity risk {one.risk}"
        how = f" ({one.options or 'as asked'})" if options else ""
        return f"{one.words[0].upper()}{one.words[1:]}: {saved}{risk}{how}"

    return [told(one) for one in (*answer.alternatives.by_kind, *answer.alternatives.would_help)]


def value_rows(answer: Estimate, units: System) -> list[tuple[str, str, str] | None]:
    """The numbers of an estimate, those that matter first: (name, number, note), None between groups.

    Parameters
    ----------
    answer : Estimate
        What to show.
    units : {"ip", "si"}
        Unit system of what is shown.

    Returns
    -------
    list[tuple[str, str, str] or None]
        A row a number, None between groups.
    """
    energy, hours, humidity, money = answer.energy, answer.hours, answer.humidity, answer.money
    low, high = answer.model_band["net_kwh_saved"]
    currency, likely = answer.case.money.currency, answer.likely_band.net_kwh_saved
    rows: list[tuple[str, str, str] | None] = [
        ("Net saved", f"{whole(energy.net_kwh_saved)} kWh",
         f"{energy.cooling_percent:.1f} % of the cooling electricity; buildings like it {whole(likely.low)} to "
         f"{whole(likely.high)}"),
        ("Money saved", format_money(money.saved_per_year, currency), _payback(answer)),
        ("Humidity risk", humidity.risk,
         f"{humidity.clause_hours_added:+,.0f} damp hours of {humidity.occupied_hours:,.0f} occupied, "
         f"{humidity.clause}"),
        None,
        ("Compressor avoided", f"{whole(energy.compressor_kwh_avoided)} kWh",
         f"of {energy.compressor_kwh_without:,.0f}; net on two building models {whole(low)} to {whole(high)}"),
        ("Fan added", f"{whole(energy.fan_kwh_added)} kWh", f"on top of {energy.fan_kwh_without:,.0f}"),
        ("Buildings like it", f"{whole(likely.low)} to {whole(likely.high)} kWh",
         f"net, 8 of 10, half above {whole(likely.middle)}: by all that was not told"),
        ("Added heating", f"{whole(energy.heating_kwh_added)} kWh", "of heat, from evenings cooled too far"),
        None,
        ("Permitted", f"{hours.permitted:,.0f} h", f"of {hours.period:,.0f}: the rule lets the damper open"),
        ("Cooling wanted", f"{hours.cooling:,.0f} h", "without the damper"),
        ("Both at once", f"{hours.coincident:,.0f} h", f"compressor stays off in {hours.carried:,.0f} h of cooling"),
        ("Damper at full flow", f"{hours.free_cooling:,.0f} h", "half-used hours count half"),
        ("Open in damp air", f"{hours.damp:,.0f} h",
         "damper open, outdoor dew point above "
         f"{format_quantity(answer.case.humidity.caution_dew_point, 'temperature', units)}"),
        ("Break-even", format_quantity(answer.break_even_differential_k, "difference", units),
         "below it a fan watt cools less than the compressor's; drying apart"),
    ]  # fmt: skip
    good = answer.spread
    if good is not None:
        rows.insert(rows.index(None) + 1, ("Good and bad years", f"{good.p10:,.0f} to {good.p90:,.0f} kWh",
                        f"net, 10th to 90th percentile of {len(answer.by_year)} years, half of them above "
                        f"{good.p50:,.0f}"))  # fmt: skip
    return rows


def indoor_humidity(answer: Estimate) -> tuple[str, str]:
    """How humid it is indoors, not only in hours past a limit, given an estimate.

    Parameters
    ----------
    answer : Estimate
        What to show.

    Returns
    -------
    tuple of str
        The mean with the damper, and the rest in words.
    """
    indoor = answer.indoor_humidity
    return (
        f"{indoor.mean_rh_with:.0%} RH",
        f"mean while occupied, {indoor.mean_rh_without:.0%} without the damper; one hour of ten above "
        f"{indoor.p90_rh_with:.0%}, {indoor.p90_rh_without:.0%} without",
    )


def whole(value: float) -> str:
    """A number without its fraction, which is never "-0".

    Parameters
    ----------
    value : float
        Any number.

    Returns
    -------
    str
        Rounded, with commas, such as "1,234".
    """
    return f"{round(value, 0) + 0.0:,.0f}"


def closing(warnings: Sequence[Notice]) -> list[str]:
    """Warnings, where there are any, and the cautions that stand under every answer.

    Parameters
    ----------
    warnings : Sequence[Notice]
        Of the result.

    Returns
    -------
    list of str
        Paragraphs, to be joined by empty lines.
    """
    parts = ["Warnings\n" + bullets([notice.text for notice in warnings], "!")] if warnings else []
    return [*parts, "Cautions\n" + bullets(CAUTIONS, "-")]


def bullets(texts: Sequence[str], mark: str) -> str:
    """Texts one under the other, wrapped behind a mark.

    Parameters
    ----------
    texts : sequence of str
        One item each.
    mark : str
        What stands before each.

    Returns
    -------
    str
        Lines of text, wrapped.
    """
    return "\n".join(wrap(text, f"  {mark} ") for text in texts)


def rule_text(case: Case, units: System = "ip") -> str:
    """When the damper may open, in words.

    Parameters
    ----------
    case : Case
        Whose rule to tell.
    units : {"ip", "si"}, optional
        Unit system of what is shown.

    Returns
    -------
    str
        A phrase without a full stop.
    """
    rule = case.rule
    differential = format_quantity(rule.differential, "difference", units)
    text = RULES[rule.name].words.format(differential=differential)
    for value, dimension, words in (
        (rule.high_limit, "temperature", "dry bulb at most"),
        (rule.low_limit, "temperature", "dry bulb at least"),
        (rule.dew_point_limit, "temperature", "dew point at most"),
        (rule.enthalpy_limit, "specific_enthalpy", "enthalpy at most"),
    ):
        if value is not None:
            text += f", {words} {format_quantity(value, dimension, units)}"
    return text


def facts(case: Case, weather: Weather, units: System, rule: bool = False) -> str:
    """Weather, building, unit, price, and the rule where asked, a line each.

    Parameters
    ----------
    case : Case
        Whose facts to tell.
    weather : Weather
        What it was answered for.
    units : {"ip", "si"}
        Unit system of what is shown.
    rule : bool, optional
        Whether to tell the rule too.

    Returns
    -------
    str
        Lines of text.
    """
    told = [
        ("Weather", weather_text(weather)),
        *case_facts(case, units, rule),
    ]
    if weather.attribution:
        told.append(("Data", weather.attribution))
    return "\n".join(wrap(value, f"  {name:<9} ", " " * 12) for name, value in told)


def weather_text(weather: Weather) -> str:
    """Place, kind, years and hours of a weather, given it.

    Parameters
    ----------
    weather : Weather
        What was answered for.

    Returns
    -------
    str
        One line.
    """
    kind = "INVENTED climate" if weather.invented else weather.kind
    count = len(weather.years)
    years = "typical year" if weather.typical else "1 year" if count == 1 else f"{count} years"
    return f"{weather.location.name}, {kind}, {years}, {weather.hours:,} h"


def case_facts(case: Case, units: System, rule: bool = False) -> list[tuple[str, str]]:
    """Building, unit, price, and the rule where asked, as (name, text).

    Parameters
    ----------
    case : Case
        Whose facts to tell.
    units : {"ip", "si"}
        Unit system of what is shown.
    rule : bool, optional
        Whether to tell the rule too.

    Returns
    -------
    list[tuple[str, str]]
        A pair a line: name and text.
    """
    area, cool = (
        format_quantity(case.building.floor_area, "area", units, 0),
        format_quantity(case.schedule.cooling, "temperature", units),
    )
    capacity, eer = format_quantity(case.unit.capacity, "power", units), convert(case.unit.eer, "efficiency", "EER")
    kind = "" if case.unit.compressor == "single-speed" else f", {case.unit.compressor}"
    flow = format_quantity(case.fan.flow, "flow", units, 2)
    power = format_quantity(case.fan.power, "fan_power", units, 3 if units == "ip" else 0)
    told = [
        ("Building", f"{case.name or case.preset}, {area}, cools to {cool}"),
        ("Unit", f"{capacity}, EER {eer:.3g}{kind}; fan {flow} at {power}, {case.fan.mode}"),
        ("Price", f"{with_currency(f'{case.money.price:g}', case.money.currency)} a kWh"),
    ]
    if case.unit.map:
        told.insert(2, ("Map", unit_map_of(case.unit.map).shown(units)))
    return [*told, ("Rule", rule_text(case, units))] if rule else told


def _payback(answer: Estimate) -> str:
    money, cost = answer.money, answer.case.money.installed_cost
    if cost is None:
        worth = format_money(money.worth_up_to, money.currency)
        return f"repays an installed cost of up to {worth} in {answer.case.money.life_years} years"
    value = f"net present value {format_money(money.net_present_value or 0.0, money.currency)}"
    return (
        f"never pays back within its life; {value}"
        if money.payback_years is None or money.payback_years > answer.case.money.life_years
        else f"pays back in {money.payback_years:,.1f} years; {value}"
    )


def wrap(text: str, first: str = "", rest: str | None = None) -> str:
    """Text filled to the page, given how its first line and the others begin.

    Parameters
    ----------
    text : str
        To be filled.
    first : str, optional
        What the first line begins with.
    rest : str, optional
        What the others begin with; spaces as wide as `first` unless given.

    Returns
    -------
    str
        Lines of text.
    """
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=first,
        subsequent_indent=" " * len(first) if rest is None else rest,
        # An option that is broken cannot be copied.
        break_on_hyphens=False,
    )
