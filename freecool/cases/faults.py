"""What is wrong with a case, in plain words: what was given, what was expected, where."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

Place = tuple[int | str, ...]


def faults_in_words(error: ValidationError, root: type[BaseModel]) -> str:
    """All faults as one sentence without its full stop, given pydantic's error and the class that it is about."""
    return "; ".join(_fault(item, root) for item in error.errors())


def meant(given: str, allowed: Iterable[str]) -> str:
    """ " (did you mean 'x'?)", given a name and those that are known; empty when none is near."""
    close = get_close_matches(given, list(allowed), n=1)
    return f" (did you mean {close[0]!r}?)" if close else ""


def _fault(item: Any, root: type[BaseModel]) -> str:
    loc: Place = item["loc"]
    place = ".".join(str(piece) for piece in loc) or "the case"
    kind, given = item["type"], item["input"]
    if kind == "extra_forbidden":
        section = _section(loc, root)
        known = list(section.model_fields) if section else []
        return f"{place} is not a key{meant(str(loc[-1]), known)}; known there: {', '.join(known)}"
    if kind == "missing":
        return f"{place} is missing"
    if kind == "value_error":
        text = item["msg"].removeprefix("Value error, ").removeprefix("the value ").rstrip(".")
        return _joined(place, text, _section((*loc, ""), root)) if loc else text
    if kind == "string_too_long":
        return f"{place} has {len(given)} characters, expected at most {item['ctx']['max_length']}"
    if kind == "literal_error":
        words = item["ctx"]["expected"].replace("'", "").replace(" or ", ", ")
        return f"{place} is {given!r}{meant(str(given), words.split(', '))}, expected one of {words}"
    return f"{place} is {given!r}, expected {_expected(kind, loc, root)}"


def _joined(place: str, text: str, section: type[BaseModel] | None) -> str:
    """A value's fault reads on from its name; one of a whole section names its key or stands by itself."""
    if section is None:
        return f"{place} {text}"
    return f"{place}.{text}" if text.split()[0] in section.model_fields else f"{place}: {text}"


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
    section = _section(loc, root)
    return _bounds(section.model_fields[str(loc[-1])]) if section else "a number"


def _bounds(field: FieldInfo) -> str:
    """What a plain number may be."""
    parts = getattr(field.annotation, "__args__", ())
    optional = [item for part in parts for item in getattr(part, "__metadata__", ())]
    told: dict[str, float] = {}
    for item in (*field.metadata, *optional):
        for bound in getattr(item, "metadata", [item]):
            told.update({name: getattr(bound, name) for name in ("ge", "gt", "le", "lt") if hasattr(bound, name)})
    whole = "a whole number, " if field.annotation is int else ""
    least = f"{told['ge']:,g}" if "ge" in told else f"more than {told['gt']:,g}"
    most = f"{told['le']:,g}" if "le" in told else f"less than {told['lt']:,g}"
    return f"{whole}{least} to {most}"


def _section(loc: Place, root: type[BaseModel]) -> type[BaseModel] | None:
    """The class that holds the last piece of a place."""
    section: type[BaseModel] | None = root
    for piece in loc[:-1]:
        section = section if isinstance(piece, int) else _class_of(section, piece)
    return section


def _class_of(section: type[BaseModel] | None, name: str) -> type[BaseModel] | None:
    field = section.model_fields.get(name) if section else None
    if field is None:
        return None
    for kind in (field.annotation, *getattr(field.annotation, "__args__", ())):
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            return kind
    return None
