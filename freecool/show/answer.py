"""An estimate as text a salesperson can read out: verdict, numbers that matter first, warnings, cautions."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from freecool.core.units import System
from freecool.show.against import AGAINST, AGAINST_KEY, against_cells
from freecool.show.tables import text_table
from freecool.show.text import (
    BY_BILLS,
    ELSE,
    bullets,
    closing,
    else_lines,
    facts,
    indoor_humidity,
    value_rows,
    whole,
    wrap,
)

if TYPE_CHECKING:
    from freecool.answers.estimate import Estimate


def answer_text(answer: Estimate, units: System = "ip") -> str:
    """The answer of ``freecool value`` as text, given an estimate and a unit system.

    Parameters
    ----------
    answer : Estimate
        What to show.
    units : {"ip", "si"}, optional
        Unit system of what is shown.

    Returns
    -------
    str
        What the command prints.
    """
    parts = [
        wrap(answer.sentence),
        facts(answer.case, answer.weather, units, rule=True),
        _table([*value_rows(answer, units), ("Indoor humidity", *indoor_humidity(answer))]),
    ]
    if answer.against:
        table = textwrap.indent(text_table(*against_cells(answer)), "  ")
        parts.append(f"{AGAINST}\n{table}\n" + wrap(AGAINST_KEY, "  "))
    if answer.bills is not None:
        parts.append(f"{BY_BILLS}\n" + bullets(answer.bills.sentences, "-"))
    others = else_lines(answer, options=True)
    if others:
        parts.append(f"{ELSE}\n" + bullets(others, "-"))
    if len(answer.by_year) > 1:
        each = ", ".join(f"{year.year}: {whole(year.net_kwh_saved)}" for year in answer.by_year)
        parts.append("Net kWh of each year\n" + wrap(each, "  "))
    return "\n\n".join([*parts, *closing(answer.warnings)])


def _table(rows: list[tuple[str, str, str] | None]) -> str:
    told = [row for row in rows if row]
    name, number = max(len(row[0]) for row in told), max(len(row[1]) for row in told)
    return "\n".join(
        wrap(row[2], f"  {row[0]:<{name}}  {row[1]:>{number}}  ", " " * (name + number + 6)) if row else ""
        for row in rows
    )
