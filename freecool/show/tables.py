"""A sweep and a comparison as text: the answer first, then its table, reasons, warnings, cautions."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from io import StringIO
from textwrap import indent
from typing import TYPE_CHECKING

from freecool.core.units import DIMENSIONS, System, convert, format_money, format_quantity
from freecool.show.text import bullets, closing, facts, whole, wrap

if TYPE_CHECKING:
    from freecool.answers.comparison import RulesCompared
    from freecool.answers.pick import DifferentialSweep
    from freecool.answers.results import Candidate

# A table is as wide as it is: a cut figure would be a wrong one.
UNBOUNDED = 10_000
CHOICES = "Settings to choose from"
# What the columns of the tables mean.
PICK_KEY = (
    "hours and kWh a year; compressor avoided, fan added; 9 of 10: net kWh that nine of ten installations reach under "
    "sensor error; damp: damp hours added indoors, by the clause that the risk names; damp air: hours with the "
    "damper open above the outdoor dew-point caution."
)
COMPARE_KEY = (
    "each rule at the limit told: as published, but for the set-point differential, which is common practice; then at "
    "its own best setting that keeps the place dry, if one does; 9 of 10: net kWh "
    "that nine of ten installations reach under sensor error; damp: damp hours added indoors, by the clause that the "
    "risk names."
)


def pick_text(sweep: DifferentialSweep, units: System = "ip") -> str:
    """The answer of ``freecool pick`` as text, given a sweep and a unit system.

    Parameters
    ----------
    sweep : DifferentialSweep
        What to show.
    units : {"ip", "si"}, optional
        Unit system of what is shown.

    Returns
    -------
    str
        What the command prints.
    """
    heads, rows = pick_cells(sweep, units)
    marked = [(f"{_mark(sweep, c)} {row[0]}", *row[1:]) for row, c in zip(rows, sweep.candidates, strict=True)]
    return "\n\n".join(
        [
            wrap(sweep.sentence),
            facts(sweep.case, sweep.weather, units),
            *([f"{CHOICES}\n" + bullets(choice_lines(sweep, options=True), "-")] if sweep.choices else []),
            "Why\n" + bullets(sweep.reasons, "-"),
            indent(text_table(heads, marked), "  ")
            + "\n"
            + wrap(f"> the pick, ~ within 5 % of the best; {PICK_KEY}", "  "),
            f"At {format_quantity(chosen_of(sweep).differential_k, 'difference', units)}\n"
            + bullets(effects(sweep, units), "-"),
            *closing(sweep.warnings),
        ]
    )


def compare_text(compared: RulesCompared, units: System = "ip") -> str:
    """The answer of ``freecool compare`` as text, given the rules compared and a unit system.

    Parameters
    ----------
    compared : RulesCompared
        What to show.
    units : {"ip", "si"}, optional
        Unit system of what is shown.

    Returns
    -------
    str
        What the command prints.
    """
    heads, rows = compare_cells(compared, units)
    best = compared.best
    marked = [
        (f"{'>' if rule is best else ' '} {row[0]}", *row[1:]) for row, rule in zip(rows, compared.rules, strict=True)
    ]
    return "\n\n".join(
        [
            wrap(compared.answers[0]),
            facts(compared.case, compared.weather, units) + f"\n  Climate   zone {zone_text(compared)}",
            bullets(compared.answers[1:], "-"),
            _table(heads, marked, f"{'> the rule to fit; ' if best else ''}{COMPARE_KEY}"),
            "When a sensor is wrong\n" + bullets(faults(compared), "-"),
            *closing(compared.warnings),
        ]
    )


def chosen_of(sweep: DifferentialSweep) -> Candidate:
    """What a sweep's effects are told at: the pick, or what would be picked if moisture did not matter.

    Parameters
    ----------
    sweep : DifferentialSweep
        What was picked from.

    Returns
    -------
    Candidate
        The pick where there is one.
    """
    return sweep.best or sweep.best_ignoring_humidity


def effects(sweep: DifferentialSweep, units: System) -> list[str]:
    """What else changes the answer at the chosen differential: model, precooling, fan power.

    Parameters
    ----------
    sweep : DifferentialSweep
        What to show.
    units : {"ip", "si"}
        Unit system of what is shown.

    Returns
    -------
    list of str
        A sentence an effect.
    """
    low, high = sweep.model_band
    at = format_quantity(chosen_of(sweep).differential_k, "difference", units)
    told = [
        f"Two building models say {whole(low)} to {whole(high)} kWh net at {at}.",
        "Precooling the mass by "
        + "; ".join(
            f"{format_quantity(v.value, 'difference', units)}: {whole(v.net_kwh_saved)} kWh, risk {v.risk}"
            for v in sweep.precool
        )
        + ".",
    ]
    if sweep.fan:
        powers = "; ".join(f"{100.0 * v.value:.0f} %: {whole(v.net_kwh_saved)} kWh" for v in sweep.fan)
        told.append(f"Fan power at {powers} net.")
    return told


def choice_lines(sweep: DifferentialSweep, options: bool) -> list[str]:
    """The settings to choose from, a line each, given a sweep.

    Parameters
    ----------
    sweep : DifferentialSweep
        What to show.
    options : bool
        Whether to tell the command line's options that ask for each.

    Returns
    -------
    list of str
        What speaks for it, what to set, and what it saves.
    """
    listed = {True: ", listed by the energy code", False: ", not listed by the energy code", None: ""}
    return [
        f"{one.kind[0].upper()}{one.kind[1:]}: {one.words}: {whole(one.net_kwh_saved)} kWh, "
        f"{format_money(one.saved_per_year, sweep.case.money.currency)} a year, humidity risk {one.risk}"
        f"{listed[one.code_changeover]}{f' ({one.options})' if options else ''}"
        for one in sweep.choices
    ]


def faults(compared: RulesCompared) -> list[str]:
    """What a sensor in the sun and one whose humidity drifted leave of each rule.

    Parameters
    ----------
    compared : RulesCompared
        What to show.

    Returns
    -------
    list of str
        A line a rule.
    """
    return [
        f"{rule.name}: outdoor sensor in the sun {whole(rule.in_the_sun.energy.net_kwh_saved)} kWh, humidity drifted "
        f"{whole(rule.drifted.energy.net_kwh_saved)} kWh"
        for rule in compared.rules
    ]


def zone_text(compared: RulesCompared) -> str:
    """The climate zone as given, or that none is claimed.

    Parameters
    ----------
    compared : RulesCompared
        What to show.

    Returns
    -------
    str
        A short phrase.
    """
    return compared.climate_zone or f"not claimed; by degree days its number is {compared.thermal_zone}"


def pick_cells(sweep: DifferentialSweep, units: System) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """(heads, rows) of a sweep's table, a row a candidate.

    Parameters
    ----------
    sweep : DifferentialSweep
        What to show.
    units : {"ip", "si"}
        Unit system of what is shown.

    Returns
    -------
    tuple[tuple[str, ...], list[tuple[str, ...]]]
        Heads, and a row a candidate.
    """
    unit = DIMENSIONS["difference"].unit(units)
    currency = sweep.case.money.currency
    heads = (
        "°F below" if unit == "F" else f"{unit} below",
        "risk",
        "net kWh",
        "9 of 10",
        currency,
        "compressor",
        "fan",
        "permitted",
        "damp",
        "damp air",
    )
    rows: list[tuple[str, ...]] = []
    for candidate in sweep.candidates:
        outcome = candidate.outcome
        rows.append(
            (
                f"{convert(candidate.differential_k, 'difference', unit):.3g}",
                outcome.humidity.risk,
                whole(outcome.energy.net_kwh_saved),
                whole(outcome.net_kwh_p10),
                whole(outcome.money.saved_per_year),
                whole(outcome.energy.compressor_kwh_avoided),
                whole(outcome.energy.fan_kwh_added),
                whole(outcome.hours.permitted),
                whole(outcome.humidity.clause_hours_added),
                whole(outcome.hours.damp),
            )
        )
    return heads, rows


def _mark(sweep: DifferentialSweep, candidate: Candidate) -> str:
    return ">" if candidate is sweep.best else "~" if candidate.differential_k in sweep.flat_k else " "


def compare_cells(compared: RulesCompared, units: System) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """(heads, rows) of a comparison's table, a row a rule.

    Parameters
    ----------
    compared : RulesCompared
        What to show.
    units : {"ip", "si"}
        Unit system of what is shown.

    Returns
    -------
    tuple[tuple[str, ...], list[tuple[str, ...]]]
        Heads, and a row a rule.
    """
    currency = compared.case.money.currency
    heads = (
        "rule",
        "limit",
        "risk",
        "net kWh",
        "9 of 10",
        currency,
        "permitted",
        "damp",
        "best setting",
        "risk",
        "net kWh",
        "9 of 10",
    )
    rows: list[tuple[str, ...]] = []
    for rule in compared.rules:
        exact, tuned = rule.published, rule.tuned
        rows.append(
            (
                rule.name,
                format_quantity(rule.published_value, rule.tuned_dimension, units),
                exact.humidity.risk,
                whole(exact.energy.net_kwh_saved),
                whole(exact.net_kwh_p10),
                whole(exact.money.saved_per_year),
                whole(exact.hours.permitted),
                whole(exact.humidity.clause_hours_added),
                format_quantity(rule.tuned_value, rule.tuned_dimension, units),
                tuned.humidity.risk,
                whole(tuned.energy.net_kwh_saved),
                whole(tuned.net_kwh_p10),
            )
        )
    return heads, rows


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]], key: str) -> str:
    return indent(text_table(heads, rows), "  ") + "\n" + wrap(key, "  ")


def text_table(heads: Sequence[str], rows: Iterable[Sequence[str]], left: Container[int] = (0,)) -> str:
    """A table as plain text, given its heads, its rows and which columns stand to the left.

    Parameters
    ----------
    heads : sequence of str
        One a column.
    rows : iterable of sequence of str
        Cells.
    left : container of int
        Columns that begin at their left edge, from 0; the others end at their right edge.

    Returns
    -------
    str
        Lines as long as they need to be, without colour.
    """
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, padding=(0, 1), header_style="")
    for place, head in enumerate(heads):
        table.add_column(Text(head), justify="left" if place in left else "right", no_wrap=True)
    for row in rows:
        table.add_row(*map(Text, row))
    lines = StringIO()
    Console(file=lines, width=UNBOUNDED, no_color=True, force_terminal=False).print(table)
    return "\n".join(line.rstrip() for line in lines.getvalue().splitlines())
