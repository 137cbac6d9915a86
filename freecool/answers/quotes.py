"""Other quotes beside an answer: what differs in them, and what they bring."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from freecool.answers.humidity import Risk
from freecool.answers.results import Reach, Verdict
from freecool.core.record import Record, meaning


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference(Record):
    """A value of the case in which another quote differs."""

    key: str = field(metadata=meaning("of the case"))
    label: str = field(metadata=meaning("its name in words"))
    here: str = field(metadata=meaning("in the answer itself, with its unit; empty: not set"))
    there: str = field(metadata=meaning("in the other quote"))


@dataclass(frozen=True, kw_only=True, slots=True)
class OtherQuote(Record):
    """Another quote on the same weather."""

    name: str = field(metadata=meaning("of its case, told apart from the others"))
    verdict: Verdict = field(metadata=meaning("`yes`, `hardly` or `no`"))
    text: str = field(metadata=meaning("its answer in a sentence"))
    differs: tuple[Difference, ...] = field(metadata=meaning("values of the case that differ"))
    net_kwh_saved: float = field(metadata=meaning("compressor avoided less fan added", "kWh/year"))
    likely_net_kwh_saved: Reach = field(metadata=meaning("what buildings like it save [kWh/year]"))
    saved_per_year: float = field(metadata=meaning("after upkeep and added heating fuel", "money/year"))
    risk: Risk = field(metadata=meaning("of damp"))
    clause_hours_added: float = field(metadata=meaning("damp hours by the clause that the risk names", "h/year"))
    case: dict[str, Any] = field(metadata=meaning("every resolved value in SI, see [case-file.md](case-file.md)"))
