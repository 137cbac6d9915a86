"""A sweep and a comparison as text: the answer first, then its table, reasons, warnings, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from freecool.show.terminal import bullets, closing, facts, wrap
from freecool.units import DIMENSIONS, System, convert, show

if TYPE_CHECKING:
    from freecool.differential import Candidate, DifferentialSweep
    from freecool.rules_compared import RulesCompared


def pick_text(sweep: DifferentialSweep, units: System = "ip") -> str:
    """The answer of ``freecool pick`` as text, given a sweep and a unit system."""
    heads, rows = pick_cells(sweep, units)
    marked = [(f"{_mark(sweep, c)} {row[0]}", *row[1:]) for row, c in zip(rows, sweep.candidates, strict=True)]
    legend = (
        "> the pick, ~ within 5 % of the best; hours and kWh a year; compressor avoided, fan added; 9 in 10: net kWh "
        "that nine of ten installations reach under sensor error; humid: added hours indoors above 60 % RH; damp: "
        "hours with the damper open above the outdoor dew-point caution."
    )
    low, high = sweep.model_band
    chosen = sweep.best or sweep.keenest
    at = show(chosen.differential_k, "difference", units)
    effects = [
        f"Two building models say {low:,.0f} to {high:,.0f} kWh net at {at}.",
        "Precooling the mass by "
        + "; ".join(
            f"{show(v.value, 'difference', units)}: {v.net_kwh_saved:,.0f} kWh, risk {v.risk}" for v in sweep.precool
        )
        + ".",
        "Fan power at "
        + "; ".join(f"{100.0 * v.value:.0f} %: {v.net_kwh_saved:,.0f} kWh" for v in sweep.fan)
        + " net.",
    ]
    return "\n\n".join(
        [
            wrap(sweep.sentence),
            facts(sweep.case, sweep.weather, units),
            "Why\n" + bullets(sweep.reasons, "-"),
            _columns(heads, marked) + "\n" + wrap(legend, "  "),
            f"At {at}\n" + bullets(effects, "-"),
            *closing(sweep.warnings),
        ]
    )


def compare_text(compared: RulesCompared, units: System = "ip") -> str:
    """The answer of ``freecool compare`` as text, given the rules compared and a unit system."""
    heads, rows = compare_cells(compared, units)
    faults = [
        f"{rule.name}: outdoor sensor in the sun {rule.in_the_sun.energy.net_kwh_saved:,.0f} kWh, humidity drifted "
        f"{rule.drifted.energy.net_kwh_saved:,.0f} kWh"
        for rule in compared.rules
    ]
    legend = (
        "each rule as published, then at its own best setting that keeps the place dry, if one does; 9 in 10: net kWh "
        "that nine of ten installations reach "
        "under sensor error; humid: added hours indoors above 60 % RH."
    )
    zone = compared.climate_zone or f"not claimed; by degree days its number is {compared.thermal_zone}"
    return "\n\n".join(
        [
            wrap(compared.answers[0]),
            facts(compared.case, compared.weather, units) + f"\n  Zone      {zone}",
            bullets(compared.answers[1:], "-"),
            _columns(heads, rows) + "\n" + wrap(legend, "  "),
            "When a sensor is wrong\n" + bullets(faults, "-"),
            *closing(compared.warnings),
        ]
    )


def pick_cells(sweep: DifferentialSweep, units: System) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """(heads, rows) of a sweep's table, a row a candidate."""
    unit = DIMENSIONS["difference"].ip if units == "ip" else DIMENSIONS["difference"].si
    currency = sweep.case.money.currency
    heads = (
        "°F below" if unit == "F" else f"{unit} below",
        "permitted",
        "compressor",
        "fan",
        "net kWh",
        "9 in 10",
        currency,
        "humid",
        "damp",
        "risk",
    )
    rows: list[tuple[str, ...]] = []
    for candidate in sweep.candidates:
        outcome = candidate.outcome
        rows.append(
            (
                f"{convert(candidate.differential_k, 'difference', unit):.3g}",
                f"{outcome.hours.permitted:,.0f}",
                f"{outcome.energy.compressor_kwh_avoided:,.0f}",
                f"{round(outcome.energy.fan_kwh_added) + 0.0:,.0f}",
                f"{outcome.energy.net_kwh_saved:,.0f}",
                f"{outcome.net_kwh_p10:,.0f}",
                f"{outcome.money.saved_per_year:,.0f}",
                f"{outcome.humidity.rh_over_60_hours_added:,.0f}",
                f"{outcome.hours.damp:,.0f}",
                outcome.humidity.risk,
            )
        )
    return heads, rows


def _mark(sweep: DifferentialSweep, candidate: Candidate) -> str:
    return ">" if candidate is sweep.best else "~" if candidate.differential_k in sweep.flat_k else " "


def compare_cells(compared: RulesCompared, units: System) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """(heads, rows) of a comparison's table, a row a rule."""
    currency = compared.case.money.currency
    heads = (
        "rule",
        "permitted",
        "net kWh",
        "9 in 10",
        currency,
        "humid",
        "risk",
        "best setting",
        "net kWh",
        "9 in 10",
        "risk",
    )
    rows: list[tuple[str, ...]] = []
    for rule in compared.rules:
        exact, tuned = rule.published, rule.tuned
        rows.append(
            (
                rule.name,
                f"{exact.hours.permitted:,.0f}",
                f"{exact.energy.net_kwh_saved:,.0f}",
                f"{exact.net_kwh_p10:,.0f}",
                f"{exact.money.saved_per_year:,.0f}",
                f"{exact.humidity.rh_over_60_hours_added:,.0f}",
                exact.humidity.risk,
                show(rule.tuned_value, rule.tuned_dimension, units),
                f"{tuned.energy.net_kwh_saved:,.0f}",
                f"{tuned.net_kwh_p10:,.0f}",
                tuned.humidity.risk,
            )
        )
    return heads, rows


def _columns(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    widths = [max(len(row[place]) for row in (heads, *rows)) for place in range(len(heads))]
    lines = []
    for row in (heads, *rows):
        cells = [row[0].ljust(widths[0]), *(cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True))]
        lines.append(("  " + "  ".join(cells)).rstrip())
    return "\n".join(lines)
