"""Two or three quotes as a table: what differs in them, and what each brings."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from freecool.core.units import format_money
from freecool.show.text import whole

if TYPE_CHECKING:
    from freecool.answers.estimate import Estimate

AGAINST = "Quotes side by side"
AGAINST_KEY = "above: what differs; below: what each brings in a year on the same weather."
NOT_SET = "none"


def against_cells(answer: Estimate) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """(heads, rows) of quotes side by side, a column a quote, given an answer with others beside it.

    Parameters
    ----------
    answer : Estimate
        What to show.

    Returns
    -------
    tuple[tuple[str, ...], list[tuple[str, ...]]]
        Heads; rows of what differs, then of what each quote brings.
    """
    others, currency = answer.against, answer.case.money.currency
    heads = ("", answer.case.name or "as asked", *(other.name for other in others))
    there = [{each.key: each.there for each in other.differs} for other in others]
    differing = {each.key: each for other in others for each in other.differs}
    rows = [
        (each.label, *(text or NOT_SET for text in (each.here, *(found.get(key, each.here) for found in there))))
        for key, each in differing.items()
    ]
    likely = [answer.likely_band.net_kwh_saved, *(other.likely_net_kwh_saved for other in others)]
    net = [answer.energy.net_kwh_saved, *(other.net_kwh_saved for other in others)]
    saved = [answer.money.saved_per_year, *(other.saved_per_year for other in others)]
    currencies = [currency, *(other.case["money"]["currency"] for other in others)]
    return heads, [
        *rows,
        ("Verdict", *map(verdict_word, (answer.headline, *(other.text for other in others)))),
        ("Net saved", *(f"{whole(kwh)} kWh" for kwh in net)),
        ("Buildings like it", *(f"{whole(reach.low)} to {whole(reach.high)} kWh" for reach in likely)),
        ("Money saved", *(format_money(each, name) for each, name in zip(saved, currencies, strict=True))),
        ("Humidity risk", answer.humidity.risk, *(other.risk for other in others)),
    ]


def verdict_word(sentence: str) -> str:
    """The first words of a verdict, given its sentence.

    Parameters
    ----------
    sentence : str
        Of an estimate.

    Returns
    -------
    str
        Such as "Don't".

    Examples
    --------
    >>> verdict_word("Don't, it never pays back within its life: it saves 28 kWh a year.")
    "Don't"
    """
    return re.split(r"[:(]|, | if ", sentence)[0].strip()
