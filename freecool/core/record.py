"""Records: frozen dataclasses whose fields, each with its meaning and unit, are the keys of JSON."""

from __future__ import annotations

from dataclasses import Field, fields
from typing import Any, ClassVar


def meaning(text: str, unit: str = "") -> dict[str, Any]:
    """The metadata of a field, given what it means and its unit; JSON schema and key tables tell it so.

    Parameters
    ----------
    text : str
        A few words, without the unit.
    unit : str
        As people write it; empty where there is none.

    Returns
    -------
    dict
        For `dataclasses.field`.
    """
    return {"description": f"{text} [{unit}]" if unit else text}


class Record:
    """A base for what answers are made of: a frozen dataclass whose fields are its JSON keys."""

    __slots__ = ()
    # Read by pydantic where the JSON schema is made: no key but these.
    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}

    def __init_subclass__(cls, **more: Any) -> None:
        super().__init_subclass__(**more)
        told: dict[str, Field[Any]] = vars(cls).get("__dataclass_fields__", {})
        if told:
            # What `help` tells of a slot.
            slots: tuple[str, ...] = vars(cls)["__slots__"]
            words = {name: told[name].metadata.get("description", "") for name in slots}
            type.__setattr__(cls, "__slots__", words)

    def to_dict(self) -> dict[str, Any]:
        """The record as a JSON-ready object; a field that may be missing is left out while it is None.

        Returns
        -------
        dict
            Its fields by name, records within it likewise.
        """
        found = ((item, getattr(self, item.name)) for item in fields(self))  # type: ignore[arg-type]
        return {item.name: _plain(value) for item, value in found if value is not None or item.default is not None}

    def parts(self) -> dict[str, Any]:
        """The fields by name, as they are.

        Returns
        -------
        dict
            Records within it stay records.
        """
        return {item.name: getattr(self, item.name) for item in fields(self)}  # type: ignore[arg-type]


def names_of(kind: type[Record]) -> tuple[str, ...]:
    """The names of a record's fields, given its class.

    Parameters
    ----------
    kind : type
        The class.

    Returns
    -------
    tuple of str
        In the order of the class.
    """
    return tuple(item.name for item in fields(kind))  # type: ignore[arg-type]


def _plain(value: Any) -> Any:
    if isinstance(value, Record):
        return value.to_dict()
    return [_plain(item) for item in value] if isinstance(value, (tuple, list)) else value
