"""Short names for keys of a case: the command line's options, and columns of a list of sites."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from freecool.cases.vocabulary import WEATHER_SCHEMES
from freecool.core.errors import CaseError, short

OPTION_KEYS: dict[str, str] = {
    "building": "preset",
    "setpoint": "schedule.cooling",
    "differential": "rule.differential",
    "rule": "rule.name",
    "flow": "fan.flow",
    "fan": "fan.power",
    "price": "money.price",
    "installed_cost": "money.installed_cost",
    "zone": "site.climate_zone",
    "climate_zone": "site.climate_zone",
    "enthalpy_limit": "rule.enthalpy_limit",
    "dew_point_limit": "rule.dew_point_limit",
    "high_limit": "rule.high_limit",
    "precool": "damper.precool",
    "windows": "building.windows",
    "customer": "quote.customer",
    "quote_number": "quote.number",
    "quote_date": "quote.date",
}
"""The case key that each option sets, by the option's name."""

CLEARED: dict[str, str] = {"setpoint": "schedule.cooling_unoccupied", "windows": "building.windows_open_ach"}
"""The finer value of the case that an option stands in place of, by the option's name."""

_WORDS: dict[str, Any] = {"true": True, "false": False, "none": None}


def merged(*parts: Mapping[str, Any]) -> dict[str, Any]:
    """One nested table, given several; the later ones win key by key.

    Parameters
    ----------
    *parts : mapping
        Nested tables.

    Returns
    -------
    dict
        A new one.

    Examples
    --------
    >>> merged({"fan": {"flow": "800cfm", "mode": "auto"}}, {"fan": {"flow": "900cfm"}})
    {'fan': {'flow': '900cfm', 'mode': 'auto'}}
    """
    result: dict[str, Any] = {}
    for part in parts:
        for key, value in part.items():
            mine = result.get(key)
            result[key] = merged(mine, value) if isinstance(value, dict) and isinstance(mine, dict) else value
    return result


def nested(key: str, value: Any) -> dict[str, Any]:
    """The tables that hold one value, given its dotted key and the value.

    Parameters
    ----------
    key : str
        Such as "fan.flow".
    value : Any
        To stand there.

    Returns
    -------
    dict
        One table in another.

    Examples
    --------
    >>> nested("fan.flow", "900cfm")
    {'fan': {'flow': '900cfm'}}
    """
    for piece in reversed(key.split(".")):
        value = {piece: value}
    return dict(value)


def is_file(weather: str) -> bool:
    """Whether a weather source names a file, given the source.

    Parameters
    ----------
    weather : str
        As typed.

    Returns
    -------
    bool
        False of "demo:NAME" and its like.
    """
    return weather.strip().partition(":")[0] not in WEATHER_SCHEMES


def typed_value(text: str) -> Any:
    """What a typed text means, given the text.

    Parameters
    ----------
    text : str
        As typed after an option or into a cell.

    Returns
    -------
    Any
        True, False or None for those words in any case; else the text without spaces around it.
    """
    return _WORDS.get(text.strip().lower(), text.strip())


def by_key(options: Mapping[str, Any]) -> dict[str, Any]:
    """Values by dotted case key, given values by option name or by case key.

    Parameters
    ----------
    options : mapping
        Values by a name in `OPTION_KEYS` or by a dotted case key; None clears the value.

    Returns
    -------
    dict
        The same by case key. A set point given by its option is one constant set point: that of unoccupied hours is
        cleared, unless it is given too; a habit of opening windows clears the air changes that a case told.

    Examples
    --------
    >>> by_key({"setpoint": "75F", "fan.mode": "auto"})
    {'schedule.cooling_unoccupied': None, 'schedule.cooling': '75F', 'fan.mode': 'auto'}
    """
    cleared = {key: None for name, key in CLEARED.items() if name in options}
    return {**cleared, **{OPTION_KEYS.get(name, name): value for name, value in options.items()}}


def case_overrides(options: Mapping[str, Any]) -> dict[str, Any]:
    """The nested tables of a case, given values by option name or by case key.

    Parameters
    ----------
    options : mapping
        As of `by_key`.

    Returns
    -------
    dict
        To be given to `make_case` as overrides.

    Examples
    --------
    >>> case_overrides({"setpoint": "75F", "fan.mode": "auto"})
    {'schedule': {'cooling_unoccupied': None, 'cooling': '75F'}, 'fan': {'mode': 'auto'}}
    """
    return merged(*(nested(key, value) for key, value in by_key(options).items()))


def setting(text: str) -> dict[str, Any]:
    """The nested tables of a case, given "KEY=VALUE".

    Parameters
    ----------
    text : str
        A dotted key, an equals sign and a value, such as "building.floor_area=2000ft2".

    Returns
    -------
    dict
        To be given to `make_case` as overrides.

    Raises
    ------
    CaseError
        No key, or no equals sign.
    """
    key, equals, value = text.partition("=")
    if not equals or not key.strip():
        raise CaseError(f"{{set}} is {short(text)}: expected KEY=VALUE, such as building.floor_area=2000ft2.", set=None)
    return nested(key.strip(), typed_value(value))
