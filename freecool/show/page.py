"""What a report says before it is HTML: words, figures, pictures and tables, with true minus signs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from freecool.core.units import true_minus
from freecool.show.cautions import CAUTIONS
from freecool.show.pictures import Picture

# How every answer is made; docs/how-it-works.md tells it in full.
METHOD = (
    "The building runs through the weather twice, hour by hour, without and with the damper; what is avoided is the "
    "difference of the two.",
    "One well-mixed zone by ISO 52016-1:2017; where a second building model is told of, by ISO 13790:2008. Left out: "
    "rooms and stairs, duct losses, wind-driven leakage, faults.",
    "Humidity goes by the published clause that is named. Our own: the least saving that is worth it, and how large a "
    "share of the occupied hours may be damp by the damper.",
)


class Figure(NamedTuple):
    """One number in large type."""

    label: str
    number: str
    note: str


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
    handed_over: bool = False
    """Whether it stands on the page that is handed over."""


class Letterhead(NamedTuple):
    """Who offers, to whom, and which offer it is; nothing where it is not told."""

    name: str
    address: Sequence[str]
    logo: str
    """Address of a picture within the page, empty without one."""
    customer: Sequence[str]
    offer: Sequence[tuple[str, str]]
    """Number and date, each with its name."""


class Page(NamedTuple):
    """Everything a report says, before it is HTML."""

    title: str
    what: str
    verdict: str
    facts: Sequence[tuple[str, str]]
    figures: Sequence[Sequence[Figure]]
    """In groups, the first in the largest type, of three at most."""
    reasons: Sequence[str]
    pictures: Sequence[Picture]
    table: Table | None
    more: tuple[str, Sequence[str]] | None
    """A title and sentences under the table."""
    warnings: Sequence[str]
    resting: Sequence[tuple[str, Sequence[tuple[str, str]]]]
    """What the numbers rest on: titles, and under each (label, value)."""
    footer: Sequence[str]
    letterhead: Letterhead | None = None
    cautions: Sequence[str] = CAUTIONS
    method: Sequence[str] = METHOD
    advice: str = ""
    """What to set or do instead, under the verdict."""
    reasons_title: str = "Why"

    @property
    def assumptions(self) -> list[tuple[str, str]]:
        """What the numbers rest on, without titles."""
        return [pair for _, pairs in self.resting for pair in pairs]


def with_minus(told: Any) -> Any:
    """The same with the minus sign of print before every negative number, given a text or texts in tuples and lists.

    Parameters
    ----------
    told : Any
        Text, or named tuples, tuples and lists of texts; what is none of these stays as it is.

    Returns
    -------
    Any
        As given; hyphens in words, ranges, dates and options stay.
    """
    if isinstance(told, str):
        return true_minus(told)
    if isinstance(told, Picture):
        return told._replace(caption=true_minus(told.caption), words=true_minus(told.words))
    if isinstance(told, tuple) and not isinstance(told, Letterhead):
        parts = [with_minus(part) for part in told]
        return told._make(parts) if hasattr(told, "_make") else tuple(parts)
    return [with_minus(part) for part in told] if isinstance(told, list) else told
