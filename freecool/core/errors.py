"""The one family of errors a user can meet, and the warnings a result carries."""

from __future__ import annotations

from dataclasses import dataclass, field

from freecool.core.record import Record, meaning


class FreecoolError(Exception):
    """A user's mistake or a bad input, said in one plain sentence.

    The message tells what was given, what was expected, where, and what to do;
    doors print it without a traceback and exit with code 2.
    """


class UnitError(FreecoolError):
    """A quantity could not be read: unknown unit, or no number."""


class WeatherError(FreecoolError):
    """A weather source could not be read or is not fit for an answer."""


class CaseError(FreecoolError):
    """A case file, a preset name or an option describes no possible building."""


class BatchError(FreecoolError):
    """A list of sites cannot be read, or a batch cannot begin, go on or end."""


@dataclass(frozen=True, slots=True)
class Notice(Record):
    """A warning as data: a stable code and the sentence a person reads."""

    code: str = field(metadata=meaning("a name that stays"))
    text: str = field(metadata=meaning("the sentence a person reads"))
