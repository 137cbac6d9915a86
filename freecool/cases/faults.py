"""What is wrong with a case, in plain words: what was given, what was expected, where."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Any

from pydantic import BaseModel, ValidationError

from freecool.cases.fields import CaseField, fields_of, values_of
from freecool.core.errors import MOST_QUOTED, CaseError, short

Place = tuple[int | str, ...]

MOST_FAULTS = 10
"""That one message tells."""


def case_error(error: ValidationError, root: type[BaseModel], where: str) -> CaseError:
    """One error of all faults, given pydantic's error, the class that it is about and where its values came from.

    Parameters
    ----------
    error : pydantic.ValidationError
        All that was found.
    root : type
        The class that was validated.
    where : str
        Such as a file's name; empty where a form shows them at their fields.

    Returns
    -------
    CaseError
        Each fault with its key, what was given and what was expected, parted by semicolons. The keys are its
        parameters, which each door calls by its own name.
    """
    faults = error.errors(include_url=False)
    texts = [_fault(item, root) for item in faults[:MOST_FAULTS]]
    more = [f"and {len(faults) - MOST_FAULTS:,} more faults"] if len(faults) > MOST_FAULTS else []
    text = "; ".join([*texts, *more])
    keys = [key for key in values_of(root) if f"{{{key}}}" in text]
    return CaseError(f"{where}: {text}." if where else f"{text}.", **dict.fromkeys(keys))


def meant(given: str, allowed: Iterable[str]) -> str:
    """The question whether a near name was meant, given a name and those that are known.

    Parameters
    ----------
    given : str
        The name that is not known.
    allowed : iterable of str
        The names that are.

    Returns
    -------
    str
        To stand after the name; empty when none is near.

    Examples
    --------
    >>> meant("pirce", ["price", "currency"])
    " (did you mean 'price'?)"
    """
    close = get_close_matches(given[:MOST_QUOTED], list(allowed), n=1)
    return f" (did you mean {close[0]!r}?)" if close else ""


def _fault(item: Any, root: type[BaseModel]) -> str:
    loc: Place = item["loc"]
    place = _named(".".join(str(piece)[:MOST_QUOTED] for piece in loc), root) or "the case"
    kind, given = item["type"], item["input"]
    if kind == "extra_forbidden":
        known = _beside(loc, root)
        return f"{place} is not a key{meant(str(loc[-1]), known)}; known there: {', '.join(known)}"
    if kind == "missing":
        return f"{place} is missing"
    if kind == "value_error":
        text = item["msg"].removeprefix("Value error, ").removeprefix("the value ").rstrip(".")
        return _joined(loc, text, root) if loc else text
    if kind == "too_long":
        return f"{place} has {len(given):,} entries, expected at most {item['ctx']['max_length']:,}"
    if kind == "string_pattern_mismatch":
        return f"{place} is {short(given)}, expected text without control characters"
    if kind == "string_too_long":
        return f"{place} has {len(given)} characters, expected at most {item['ctx']['max_length']}"
    if kind == "literal_error":
        words = item["ctx"]["expected"].replace("'", "").replace(" or ", ", ")
        return f"{place} is {short(given)}{meant(str(given), words.split(', '))}, expected one of {words}"
    return f"{place} is {short(given)}, expected {_expected(kind, loc, root)}"


def _joined(loc: Place, text: str, root: type[BaseModel]) -> str:
    """A value's fault reads on from its name; one of a whole section names its keys or stands by itself."""
    place = ".".join(str(piece) for piece in loc)
    within = _beside((*loc, ""), root)
    if not within:
        return f"{_named(place, root)} {text}"
    if text.startswith("{"):
        return text
    first, _, rest = text.partition(" ")
    return f"{_named(f'{place}.{first}', root)} {rest}" if first in within else f"{place}: {text}"


def _named(key: str, root: type[BaseModel]) -> str:
    """A key as errors name their parameters, where it is one of the case's; one at the top level stays as it is."""
    return f"{{{key}}}" if "." in key and key in values_of(root) else key


def _expected(kind: str, loc: Place, root: type[BaseModel]) -> str:
    words = {
        "string": "text",
        "bool": "true or false",
        "tuple": f"a list of tables [[{loc[-1]}]]",
        "model": "a table of values",
    }
    for start, text in words.items():
        if kind.startswith(start):
            return text
    field = _beside(loc, root).get(str(loc[-1]))
    return _number(field) if field else "a number"


def _number(field: CaseField) -> str:
    """What a plain number may be."""
    whole = "a whole number" if field.kind == "integer" else ""
    bounds = field.bounds
    if bounds is None:
        return whole or "a number"
    least = f"{'more than ' if bounds.above else ''}{bounds.least:,g}"
    most = f"{'less than ' if bounds.below else ''}{bounds.most:,g}"
    return f"{whole}{', ' if whole else ''}{least} to {most}"


def _beside(loc: Place, root: type[BaseModel]) -> dict[str, CaseField]:
    """What stands in the class that holds the last piece of a place; empty where no class does."""
    section: type[BaseModel] | None = root
    for piece in loc[:-1]:
        if section is None:
            return {}
        if not isinstance(piece, int):
            field = fields_of(section).get(piece)
            section = field.section if field else None
    return fields_of(section) if section else {}
