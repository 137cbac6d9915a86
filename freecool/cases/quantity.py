"""How a case's values are read from what people write: quantities with units, spans of time."""

from __future__ import annotations

from typing import Any

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema

from freecool.core.errors import UnitError
from freecool.core.units import System, format_quantity, parse


class Quantity:
    """A pydantic annotation: a quantity of a dimension as text or number, within two bounds, kept in SI.

    Parameters
    ----------
    dimension : str
        A key of `freecool.core.units.DIMENSIONS`.
    low, high : str
        The bounds, each with its unit.
    """

    def __init__(self, dimension: str, low: str, high: str) -> None:
        self.dimension = dimension
        self.least, self.most = parse(low, dimension), parse(high, dimension)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_before_validator_function(self._read, handler(source))

    def _read(self, value: Any, info: core_schema.ValidationInfo) -> float:
        system: System = (info.context or {}).get("units", "ip")
        try:
            number = parse(value, self.dimension, system, what="the value")
        except UnitError as error:
            raise ValueError(str(error)) from None
        if not self.least - 1e-9 <= number <= self.most + 1e-9:
            other: System = "si" if system == "ip" else "ip"
            raise ValueError(
                f"is {value!r}: {format_quantity(number, self.dimension, system)} "
                f"({format_quantity(number, self.dimension, other)}), expected "
                f"{format_quantity(self.least, self.dimension, system)} to "
                f"{format_quantity(self.most, self.dimension, system)}; "
                f"write the unit if another was meant"
            )
        return number


def read_span(text: str, names: list[str], what: str, wrap: int | None) -> frozenset[int]:
    """The indices in a list of names that spans such as "mon-fri" or "22-6" cover, given text and names.

    Parameters
    ----------
    text : str
        Spans parted by commas.
    names : list of str
        Days, months or hours in their order.
    what : str
        The key's name, for the error message.
    wrap : int, optional
        How many hours go round: their last name is the end of the last one.

    Returns
    -------
    frozenset of int
        Indices from 0.

    Raises
    ------
    ValueError
        A name that is none of them.
    """
    found: set[int] = set()
    for piece in text.lower().replace(" ", "").split(","):
        ends = piece.split("-")
        if len(ends) > 2 or any(end not in names for end in ends):
            example = '"7-18"' if wrap else f'"{names[0]}-{names[4]}"'
            raise ValueError(f"{what} is {text!r}: expected something like {example}")
        first, last = names.index(ends[0]), names.index(ends[-1])
        if wrap and len(ends) == 1:
            last = first + 1
        size = wrap or len(names)
        count = (last - first) % size if wrap else (last - first) % size + 1
        if wrap and last - first == size:
            count = size
        found.update((first + step) % size for step in range(count))
    return frozenset(found)
