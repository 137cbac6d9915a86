"""How a case's values are read from what people write: quantities with units, spans of time."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema

from freecool.core.errors import CaseError, UnitError, short
from freecool.core.units import DIMENSIONS, System, convert, format_quantity, parse

Zero = Literal["", "bare", "with unit"]
"""How nothing may be told where less than the least is refused: not at all, as 0, or as 0 with its unit alone."""


class Quantity:
    """A pydantic annotation: a quantity of a dimension as text or number, within two bounds, kept in SI.

    Parameters
    ----------
    dimension : str
        A key of `freecool.core.units.DIMENSIONS`.
    low, high : str
        The bounds, each with its unit: what is sane in the one unit system is not in the other, so that a number in
        the wrong unit is refused wherever bounds can tell.
    zero : {"", "bare", "with unit"}
        How 0 may be told, where it is less than `low`.
    """

    def __init__(self, dimension: str, low: str, high: str, zero: Zero = "") -> None:
        self.dimension = dimension
        self.least, self.most = parse(low, dimension), parse(high, dimension)
        self.zero = zero

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_before_validator_function(self._read, handler(source))

    def _read(self, value: Any, info: core_schema.ValidationInfo) -> float:
        return self._within(value, (info.context or {}).get("units", "ip"))

    def told(self, text: str, system: System, what: str) -> float:
        """The quantity in SI, given a text of what is told beside a case, whose unit a bare number takes, and its name.

        Parameters
        ----------
        text : str
            Such as "900ft".
        system : {"ip", "si"}
            Whose unit a bare number takes.
        what : str
            The name of the option, column or key, for the error message.

        Returns
        -------
        float
            In SI [unit of the dimension].

        Raises
        ------
        CaseError
            No such quantity, or one out of its bounds.
        """
        try:
            return self._within(text, system)
        except ValueError as error:
            raise CaseError(f"{what} {str(error).removeprefix('the value ').rstrip('.')}.") from None

    def _within(self, value: Any, system: System) -> float:
        try:
            number = parse(value, self.dimension, system, what="the value")
        except UnitError as error:
            raise ValueError(str(error)) from None
        if number == 0.0 and self.zero == "with unit" and _is_bare(value):
            unit = DIMENSIONS[self.dimension].unit(system)
            raise ValueError(f"is {short(value)}, which would cost nothing; write 0{unit} if that is meant")
        if number == 0.0 and self.zero:
            return number
        if not self.least - 1e-9 <= number <= self.most + 1e-9:
            other: System = "si" if system == "ip" else "ip"
            raise ValueError(
                f"is {short(value)}: {self._text(number, system)} ({self._text(number, other)}), expected "
                f"{self._text(self.least, system)} to {self._text(self.most, system)}; "
                "write the unit if another was meant"
            )
        return number

    def _text(self, number: float, system: System) -> str:
        shown = convert(number, self.dimension, DIMENSIONS[self.dimension].unit(system))
        if abs(shown) >= 1e9:
            return f"{shown:.3g} {DIMENSIONS[self.dimension].unit(system)}"
        digits = 1 if abs(shown) >= 10.0 else 2 if abs(shown) >= 1.0 else 3
        return format_quantity(number, self.dimension, system, digits)


# Inhabited places lie between the shore of the Dead Sea and the highest town; from memory, and some to spare.
ELEVATION = Quantity("length", "-1500ft", "18000ft")
OUTDOOR_AIR = Quantity("temperature", "-60F", "130F")
RETURN_AIR = Quantity("temperature", "40F", "110F")
"""What is told beside a case: where the site lies, and the air of the day on which a damper is tested."""


def _is_bare(value: Any) -> bool:
    """Whether a number came without a unit."""
    try:
        float(value)
    except ValueError:
        return False
    return True


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
        A name that is none of them, or a span that covers nothing.
    """
    found: set[int] = set()
    for piece in text.lower().replace(" ", "").split(","):
        ends = piece.split("-")
        if len(ends) > 2 or any(end not in names for end in ends):
            example = '"7-18"' if wrap else f'"{names[0]}-{names[4]}"'
            raise ValueError(f"{what} is {short(text)}: expected something like {example}")
        first, last = names.index(ends[0]), names.index(ends[-1])
        if wrap and len(ends) == 1:
            last = first + 1
        size = wrap or len(names)
        count = (last - first) % size if wrap else (last - first) % size + 1
        if wrap and last - first == size:
            count = size
        # "7-7" is no time at all and "24" the end of the day; either may have meant all of it.
        if not count or piece == str(wrap):
            raise ValueError(f'{what} is {short(text)}, and {piece!r} covers no hour: "0-{wrap}" is the whole day')
        found.update((first + step) % size for step in range(count))
    return frozenset(found)
