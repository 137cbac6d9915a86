"""The one family of errors a user can meet, and the warnings a result carries."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from freecool.core.record import Record, meaning

MOST_CHARACTERS = 4_000
"""Of an error; more is cut off."""
MOST_QUOTED = 80
"""Of what an error quotes."""
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")

Wording = Callable[[str, object], str]
"""How a door writes a parameter, given its name in Python and its value, None where only the name is meant."""


class FreecoolError(Exception):
    """A user's mistake or a bad input, said in one plain sentence.

    The sentence tells what was given, what was expected, where, and what to do;
    doors print it without a traceback and exit with code 2.

    Parameters
    ----------
    text : str
        The sentence; ``{years}`` in it stands for the parameter ``years``, which each door calls by its own name.
    **parameters : object
        The parameters that stand so in the text, each with the value to give it, None where only its name is meant.
    """

    def __init__(self, text: str, **parameters: object) -> None:
        super().__init__(text)
        self.text = text
        self.parameters = parameters

    def __str__(self) -> str:
        return worded(self, python_wording)


def python_wording(name: str, value: object) -> str:
    """A parameter as Python writes it, given its name and value: ``years``, or ``allow_gaps=True``.

    Parameters
    ----------
    name : str
        The parameter.
    value : object
        What to give it; None where only the name is meant.

    Returns
    -------
    str
        The name, or the name with its value.
    """
    return name if value is None else f"{name}={value!r}"


def worded(error: FreecoolError, wording: Wording) -> str:
    """The sentence of an error, given the error and how a door writes its parameters.

    Parameters
    ----------
    error : FreecoolError
        What was raised.
    wording : callable
        From a parameter's name and value to the door's words for it.

    Returns
    -------
    str
        The sentence as this door says it.
    """
    text = error.text
    # Not str.format: the text may hold pieces of a user's file, braces among them.
    for name, value in error.parameters.items():
        text = text.replace(f"{{{name}}}", wording(name, value))
    return printable(text if len(text) <= MOST_CHARACTERS else f"{text[:MOST_CHARACTERS]} …")


def short(given: object) -> str:
    """What was given, as an error quotes it, given the value.

    Parameters
    ----------
    given : object
        Of any size.

    Returns
    -------
    str
        In quotes where it is a text, "none" where it is nothing; of a long one its beginning.

    Examples
    --------
    >>> short("75F"), short("x" * 100)[-12:]
    ("'75F'", 'xxxxxxxxxxx…')
    """
    if given is None:
        return "none"
    try:
        text = repr(given[: 2 * MOST_QUOTED] if isinstance(given, str) else given)
    except (RecursionError, ValueError):
        # Python writes no number of more than 4,300 digits.
        return f"too large a {'number' if isinstance(given, int) else 'value'}"
    return text if len(text) <= MOST_QUOTED else f"{text[:MOST_QUOTED]}…"


def printable(text: str) -> str:
    """A text that cannot command a terminal, given any.

    Parameters
    ----------
    text : str
        Such as a file's own words.

    Returns
    -------
    str
        With control characters but line ends and tabs as JSON writes them, so that a JSON text stays one.

    Examples
    --------
    >>> printable("a\\x1b[2Jb")
    'a\\\\u001b[2Jb'
    """
    return CONTROL.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


class UnitError(FreecoolError):
    """A quantity could not be read: unknown unit, or no number."""


class WeatherError(FreecoolError):
    """A weather source could not be read or is not fit for an answer."""


class CaseError(FreecoolError):
    """A case file, a preset name or an option describes no possible building."""


class BillsError(FreecoolError):
    """A file of electricity bills cannot be read, or its periods make no sense."""


class BatchError(FreecoolError):
    """A list of sites cannot be read, or a batch cannot begin, go on or end."""


@dataclass(frozen=True, slots=True)
class Notice(Record):
    """A warning as data: a stable code and the sentence a person reads."""

    code: str = field(metadata=meaning("a name that stays"))
    text: str = field(metadata=meaning("the sentence a person reads"))
