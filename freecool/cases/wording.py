"""The parameters that errors name, in the words of each door: option, label, key and column of one vocabulary.

Each function is a `freecool.core.errors.Wording`: it takes a parameter's name in Python and the value to give it,
None where only the name is meant.
"""

from __future__ import annotations

from collections.abc import Iterable

from freecool.cases.options import OPTION_KEYS
from freecool.cases.vocabulary import RUN_QUANTITIES
from freecool.core.errors import Wording

UNITLESS = {"elevation_m": "elevation", "utc_offset_h": "utc_offset"}
"""Names in the vocabulary of parameters that carry their unit in Python."""
FIND_STATIONS = "stations_near"
"""The function that lists stations, which errors name as a way out."""


def is_case_key(name: str) -> bool:
    """Whether a parameter that an error names is a value of the case, given its name.

    Parameters
    ----------
    name : str
        In Python, or the dotted key of a case.

    Returns
    -------
    bool
        True of a dotted key; option, column and JSON interface call it so too.
    """
    return "." in name


def case_wording(names: Iterable[str], prefix: str = "") -> Wording:
    """How a door calls the values of a case that it was given by the names of options, given those names.

    Parameters
    ----------
    names : iterable of str
        Names in `OPTION_KEYS` or dotted case keys.
    prefix : str
        Of an option's name: dashes on the command line.

    Returns
    -------
    callable
        A `Wording`: the option that gave a value, else its case key.
    """
    called = {
        OPTION_KEYS[name]: f"{prefix}{name.replace('_', '-') if prefix else name}"
        for name in names
        if name in OPTION_KEYS
    }
    return lambda key, value: called.get(key, key)


def option_wording(name: str, value: object) -> str:
    """A parameter as an option of the command line, given its name and value.

    Parameters
    ----------
    name : str
        In Python.
    value : object
        What to give it, True of a switch; None where only the name is meant.

    Returns
    -------
    str
        Such as ``--years`` or ``--allow-gaps``.
    """
    if is_case_key(name):
        return name
    if name == FIND_STATIONS:
        return "'freecool weather find LAT LON'"
    told = RUN_QUANTITIES.get(UNITLESS.get(name, name))
    option = told.option if told else f"--{name.replace('_', '-')}"
    return option if value is None or value is True else f"{option} {value}"


def label_wording(name: str, value: object) -> str:
    """A parameter as the page's label, given its name and value.

    Parameters
    ----------
    name : str
        In Python.
    value : object
        What to give it; None where only the name is meant.

    Returns
    -------
    str
        The label in quotes; what no form sets, as on the command line.
    """
    if is_case_key(name):
        from freecool.cases.model import case_fields

        return f"“{case_fields()[name].label}”"
    if name == FIND_STATIONS:
        return "“Find a weather station”"
    told = RUN_QUANTITIES.get(UNITLESS.get(name, name))
    return f"“{told.label}”" if told else _on_command_line(name, value)


def key_wording(name: str, value: object) -> str:
    """A parameter as a key of the JSON interface, given its name and value.

    Parameters
    ----------
    name : str
        In Python.
    value : object
        What to give it; None where only the name is meant.

    Returns
    -------
    str
        The key, with its value where one is to be given; what no key sets, as on the command line.
    """
    if is_case_key(name):
        return name
    if name == FIND_STATIONS:
        return "/api/stations"
    told = RUN_QUANTITIES.get(UNITLESS.get(name, name))
    if not told or not told.request:
        return _on_command_line(name, value)
    return told.request if value is None else f"{told.request}={str(value).lower()}"


def column_wording(name: str, value: object) -> str:
    """A parameter as a column of a list of sites, given its name and value.

    Parameters
    ----------
    name : str
        In Python.
    value : object
        What to give it; None where only the name is meant.

    Returns
    -------
    str
        The column; what holds for all sites, as an option.
    """
    told = RUN_QUANTITIES.get(UNITLESS.get(name, name))
    return told.column if told and told.column else option_wording(name, value)


def _on_command_line(name: str, value: object) -> str:
    return f"{option_wording(name, value)} on the command line"
