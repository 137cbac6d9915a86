"""One reading of a case's classes: every value's name, meaning, unit, bounds, choices, default and source.

Help, the form, the case-file page, lists of sites and error messages all read a case from here.
"""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from freecool.cases.presets import SOURCES
from freecool.cases.quantity import Quantity
from freecool.cases.vocabulary import LABELS
from freecool.core.units import DIMENSIONS, System, parse

Kind = Literal["quantity", "number", "integer", "flag", "choice", "text", "list", "section"]


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """The least and the most that a number may be, in SI.

    Attributes
    ----------
    least, most : float
        The ends, in SI [unit of the quantity's dimension, else -].
    above, below : bool
        Whether `least` or `most` itself is refused.
    or_zero : bool
        Whether 0 is taken too, where it is less than `least`.
    """

    least: float
    most: float
    above: bool = False
    below: bool = False
    or_zero: bool = False


@dataclass(frozen=True, kw_only=True)
class CaseField:
    """One value of a case, or one section of values.

    Attributes
    ----------
    key : str
        The dotted key, such as "fan.flow".
    label : str
        Its name on a form.
    description : str
        What it means.
    kind : {"quantity", "number", "integer", "flag", "choice", "text", "list", "section"}
    dimension : str or None
        Of a quantity, a key of `DIMENSIONS`.
    bounds : Bounds or None
        Of a quantity or number that has them.
    choices : tuple of str
        The words of a choice.
    default : Any
        The class's own default, a quantity's in SI; None where there is none.
    needed : bool
        Whether its table must give it.
    optional : bool
        Whether it may be none.
    source : str
        Where the presets' numbers come from; empty where none is stated.
    section : type or None
        The class of a section, or of the items of a list.
    in_optional_part : bool
        Whether the section that holds it may be left out.
    """

    key: str
    label: str
    description: str
    kind: Kind
    dimension: str | None
    bounds: Bounds | None
    choices: tuple[str, ...]
    default: Any
    needed: bool
    optional: bool
    source: str
    section: type[BaseModel] | None
    in_optional_part: bool = False

    @property
    def name(self) -> str:
        """The last piece of the key."""
        return self.key.rpartition(".")[2]

    @property
    def table(self) -> str:
        """The outermost table of the case file that it stands in, empty at the top level."""
        return self.key.partition(".")[0] if "." in self.key else ""

    def unit(self, system: System) -> str:
        """The unit that a bare number takes, given the unit system.

        Parameters
        ----------
        system : {"ip", "si"}
            Whose unit.

        Returns
        -------
        str
            As `freecool.core.units.parse` reads it; empty for what has none.
        """
        if self.dimension is None:
            return ""
        kind = DIMENSIONS[self.dimension]
        return kind.unit(system)

    @property
    def source_words(self) -> str:
        """Its source for who fills a form, whom the mark of a recalled value, meant for who checks, tells nothing."""
        return self.source.replace("all from memory", "typical values").replace("from memory", "typical value")

    @property
    def json_key(self) -> str:
        """Its name in the resolved case of an answer, with the unit at its end."""
        return f"{self.name}_{DIMENSIONS[self.dimension].suffix}" if self.dimension else self.name

    def value(self, case: BaseModel) -> Any:
        """Its value, given a case.

        Parameters
        ----------
        case : Case
            Or the class's own section, for a field of that section.

        Returns
        -------
        Any
            In SI; None where it is none or its section is left out.
        """
        found: Any = case
        for piece in self.key.split("."):
            found = getattr(found, piece, None)
        return found


@cache
def fields_of(section: type[BaseModel], place: str = "") -> dict[str, CaseField]:
    """The values and sections that stand directly in a class, by name, given the class and its own dotted key.

    Parameters
    ----------
    section : type
        A pydantic class.
    place : str
        Empty for the case itself.

    Returns
    -------
    dict
        A `CaseField` each.
    """
    return {name: _field(f"{place}.{name}" if place else name, info) for name, info in section.model_fields.items()}


@cache
def values_of(section: type[BaseModel], place: str = "") -> dict[str, CaseField]:
    """Every single value and list below a class, by dotted key, given the class and its own dotted key.

    Parameters
    ----------
    section : type
        A pydantic class.
    place : str
        Empty for the case itself.

    Returns
    -------
    dict
        A `CaseField` each, in the order of the classes; sections themselves are left out.
    """
    found: dict[str, CaseField] = {}
    for field in fields_of(section, place).values():
        if field.kind == "section" and field.section is not None:
            below = values_of(field.section, field.key)
            # A part that may be left out names its values, which would read like those of the part above.
            found |= {key: _owned(value, field) for key, value in below.items()} if field.optional else below
        else:
            found[field.key] = field
    return found


def _owned(field: CaseField, part: CaseField) -> CaseField:
    return replace(field, label=f"Own {part.name}: {field.description}", in_optional_part=True)


def _field(key: str, info: FieldInfo) -> CaseField:
    pieces = [*_pieces(info.annotation), *_pieces(info)]
    section = next((piece for piece in pieces if inspect.isclass(piece) and issubclass(piece, BaseModel)), None)
    quantity = next((piece for piece in pieces if isinstance(piece, Quantity)), None)
    choices: tuple[str, ...] = next((get_args(piece) for piece in pieces if get_origin(piece) is Literal), ())
    description = info.description or key.rpartition(".")[2].replace("_", " ")
    default = None if info.is_required() else info.default
    if quantity is not None and default is not None:
        default = parse(default, quantity.dimension, "si")
    return CaseField(
        key=key,
        label=LABELS.get(key) or description[0].upper() + description[1:],
        description=description,
        kind=_kind(pieces, section, quantity, choices),
        dimension=quantity.dimension if quantity else None,
        bounds=_bounds(pieces, quantity),
        choices=choices,
        default=default,
        needed=info.is_required(),
        optional=type(None) in pieces,
        source=SOURCES.get(key, SOURCES.get(key.rpartition(".")[0], "")),
        section=section,
    )


def _pieces(annotation: Any) -> Iterator[Any]:
    """An annotation and all that it is made of, such as the parts of a union and what is annotated to them."""
    yield annotation
    inner = [*getattr(annotation, "__metadata__", ()), *getattr(annotation, "metadata", ())]
    if get_origin(annotation) is not Literal:
        inner += get_args(annotation)
    for part in inner:
        yield from _pieces(part)


def _kind(
    pieces: list[Any], section: type[BaseModel] | None, quantity: Quantity | None, choices: tuple[str, ...]
) -> Kind:
    if section is not None:
        return "list" if any(get_origin(piece) is tuple for piece in pieces) else "section"
    if bool in pieces:
        return "flag"
    if choices:
        return "choice"
    if quantity is not None:
        return "quantity"
    return "integer" if int in pieces else "number" if float in pieces else "text"


def _bounds(pieces: list[Any], quantity: Quantity | None) -> Bounds | None:
    if quantity is not None:
        return Bounds(least=quantity.least, most=quantity.most, or_zero=bool(quantity.zero))
    limits = {
        name: getattr(piece, name) for piece in pieces for name in ("ge", "gt", "le", "lt") if hasattr(piece, name)
    }
    least, most = limits.get("ge", limits.get("gt")), limits.get("le", limits.get("lt"))
    if least is None or most is None:
        return None
    return Bounds(least=least, most=most, above="gt" in limits, below="lt" in limits)
