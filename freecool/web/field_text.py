"""A case's values as the texts that forms and links carry, and back."""

from __future__ import annotations

import re
from functools import cache
from typing import Any

from freecool.cases.fields import CaseField
from freecool.cases.model import Case, make_case
from freecool.cases.vocabulary import MONEY_UNITS
from freecool.core.errors import CaseError
from freecool.core.units import System, convert, format_quantity

# Digits that a form shows of small numbers; what is left as shown keeps its exact value, see `link.read_link`.
SHOWN_DIGITS = 4
PERIOD = ("months", "days", "hours", "price")
"""What a line of a tariff holds."""


@cache
def preset_case(preset: str) -> Case:
    """The case that a preset alone makes."""
    return make_case(preset=preset)


def field_text(field: CaseField, case: Case, units: System) -> str:
    """A value of a case as an input shows it, without a unit."""
    value = field.value(case)
    if value is None:
        return ""
    if field.kind == "list":
        return "\n".join(f"{period.months} {period.days} {period.hours} {period.price:g}" for period in value)
    if field.kind == "flag":
        return "true" if value else "false"
    if field.dimension is None:
        return f"{value:.10g}" if isinstance(value, float) else str(value)
    shown = convert(value, field.dimension, field.unit(units))
    # Of a large number no digit before the point is lost.
    digits = max(SHOWN_DIGITS, len(f"{abs(shown):.0f}"))
    return f"{float(f'{shown:.{digits}g}'):.10f}".rstrip("0").rstrip(".")


def link_text(field: CaseField, typed: str, case: Case, units: System) -> str | None:
    """A value of a case as a link carries it, exact and with its unit, given what was typed; None where it is none."""
    value = field.value(case)
    if value is None:
        return None
    if field.kind == "quantity":
        try:
            float(typed)
        except ValueError:
            return typed.replace(" ", "")
        return f"{typed.strip()}{field.unit(units)}"
    if field.kind == "list":
        return ";".join(field_text(field, case, units).splitlines())
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    return field_text(field, case, units)


def typed_entry(field: CaseField | None, text: str) -> Any:
    """What a text means for `make_case`, given its field, if the case has such a one.

    Raises
    ------
    CaseError
        As `read_tariff`.
    """
    if field is None or field.kind == "text":
        return text
    if field.kind == "list":
        return read_tariff(text)
    return None if text.lower() in ("", "none") else text


def unit_beside(field: CaseField, case: Case, units: System) -> str:
    """The unit as it stands beside an input; of an amount of money, the case's currency."""
    if field.dimension is not None:
        return format_quantity(0.0, field.dimension, units).partition(" ")[2]
    return MONEY_UNITS.get(field.key, "").replace("money", case.money.currency)


def read_tariff(text: str) -> list[dict[str, str]]:
    """Prices by time, given months, days, hours and price in each line.

    Raises
    ------
    CaseError
        A line that does not hold these four.
    """
    periods = []
    for line in filter(str.strip, re.split(r"[;\n]", text)):
        words = line.split()
        if len(words) != len(PERIOD):
            raise CaseError(
                f"{{money.tariff}} has the line {line[:80]!r}: expected months, days, hours and price, such as "
                '"jun-sep mon-fri 16-21 0.38".',
                **{"money.tariff": None},
            )
        periods.append(dict(zip(PERIOD, words, strict=True)))
    return periods
