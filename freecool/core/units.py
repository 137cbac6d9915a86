"""Quantities as people write them, to SI and back.

A short table of our own: general unit libraries read ``F`` as farad and ``C``
as coulomb. Below the cases floor everything is an SI float.
"""

from __future__ import annotations

import math
import re
from typing import Literal, NamedTuple

from freecool.core.errors import UnitError, short

System = Literal["ip", "si"]

# Exact by definition: NIST SP 811 (2008), appendix B.8.
FOOT_M = 0.3048
INCH_M = 0.0254
POUND_KG = 0.45359237
BTU_J = 1055.05585262
FAHRENHEIT_K = 5.0 / 9.0
BTU_H_W = BTU_J / 3600.0
CFM_M3_S = FOOT_M**3 / 60.0
TON_W = 12000.0 * BTU_H_W
BTU_LB_J_KG = BTU_J / POUND_KG
# Inch-pound enthalpy is zero at 0 degF, SI at 0 degC: 28 Btu/lb is 47.25 kJ/kg, not 65.13.
# ASHRAE Fundamentals (2017) ch. 1 eq. 30 (IP): dry air 0.240 Btu/lb F times 32 F.
ENTHALPY_DATUM_BTU_LB = 0.240 * 32.0


class Conversion(NamedTuple):
    """How one unit becomes SI: si = (value + offset) * scale."""

    scale: float
    offset: float = 0.0


class Dimension(NamedTuple):
    """A kind of quantity: its SI key ending, its units, and the unit each system shows."""

    suffix: str
    si: str
    ip: str
    units: dict[str, Conversion]

    def unit(self, system: System) -> str:
        """The unit that a system shows.

        Parameters
        ----------
        system : {"ip", "si"}

        Returns
        -------
        str
            A key of `units`.
        """
        return self.ip if system == "ip" else self.si


DIMENSIONS: dict[str, Dimension] = {
    "temperature": Dimension("c", "C", "F", {"C": Conversion(1.0), "F": Conversion(FAHRENHEIT_K, -32.0)}),
    "difference": Dimension("k", "K", "F", {"K": Conversion(1.0), "C": Conversion(1.0), "F": Conversion(FAHRENHEIT_K)}),
    "flow": Dimension(
        "m3_s",
        "m3/s",
        "cfm",
        {"m3/s": Conversion(1.0), "cfm": Conversion(CFM_M3_S), "m3/h": Conversion(1 / 3600), "l/s": Conversion(1e-3)},
    ),
    "fan_power": Dimension(
        "w_per_m3_s",
        "W/(m3/s)",
        "W/cfm",
        {
            "W/(m3/s)": Conversion(1.0),
            "W/cfm": Conversion(1 / CFM_M3_S),
            "W/(l/s)": Conversion(1e3),
            "kW/(m3/s)": Conversion(1e3),
            "W/(m3/h)": Conversion(3600.0),
        },
    ),
    "power": Dimension(
        "w",
        "kW",
        "ton",
        {
            "W": Conversion(1.0),
            "kW": Conversion(1e3),
            "ton": Conversion(TON_W),
            "Btu/h": Conversion(BTU_H_W),
            "kBtu/h": Conversion(1e3 * BTU_H_W),
        },
    ),
    "efficiency": Dimension(
        "w_per_w",
        "W/W",
        "Btu/Wh",
        {"W/W": Conversion(1.0), "COP": Conversion(1.0), "Btu/Wh": Conversion(BTU_H_W), "EER": Conversion(BTU_H_W)},
    ),
    "area": Dimension(
        "m2", "m2", "ft2", {"m2": Conversion(1.0), "ft2": Conversion(FOOT_M**2), "sqft": Conversion(FOOT_M**2)}
    ),
    "length": Dimension("m", "m", "ft", {"m": Conversion(1.0), "ft": Conversion(FOOT_M), "in": Conversion(INCH_M)}),
    "power_density": Dimension(
        "w_per_m2", "W/m2", "W/ft2", {"W/m2": Conversion(1.0), "W/ft2": Conversion(1 / FOOT_M**2)}
    ),
    "flow_density": Dimension(
        "m3_s_m2", "l/s/m2", "cfm/ft2", {"l/s/m2": Conversion(1e-3), "cfm/ft2": Conversion(CFM_M3_S / FOOT_M**2)}
    ),
    "transmittance": Dimension(
        "w_per_m2k",
        "W/m2K",
        "Btu/hft2F",
        {"W/m2K": Conversion(1.0), "Btu/hft2F": Conversion(BTU_H_W / FOOT_M**2 / FAHRENHEIT_K)},
    ),
    "resistance": Dimension(
        "m2k_w",
        "m2K/W",
        "hft2F/Btu",
        {"m2K/W": Conversion(1.0), "hft2F/Btu": Conversion(FOOT_M**2 * FAHRENHEIT_K / BTU_H_W)},
    ),
    "specific_enthalpy": Dimension(
        "j_kg",
        "kJ/kg",
        "Btu/lb",
        {"J/kg": Conversion(1.0), "kJ/kg": Conversion(1e3), "Btu/lb": Conversion(BTU_LB_J_KG, -ENTHALPY_DATUM_BTU_LB)},
    ),
    "enthalpy_difference": Dimension(
        "j_kg",
        "kJ/kg",
        "Btu/lb",
        {"J/kg": Conversion(1.0), "kJ/kg": Conversion(1e3), "Btu/lb": Conversion(BTU_LB_J_KG)},
    ),
    "moisture_rate": Dimension(
        "kg_s",
        "kg/day",
        "lb/day",
        {
            "kg/s": Conversion(1.0),
            "kg/day": Conversion(1 / 86400),
            "lb/day": Conversion(POUND_KG / 86400),
            "kg/h": Conversion(1 / 3600),
            "lb/h": Conversion(POUND_KG / 3600),
        },
    ),
    "energy": Dimension(
        "j",
        "kWh",
        "kWh",
        {
            "J": Conversion(1.0),
            "kWh": Conversion(3.6e6),
            "therm": Conversion(1e5 * BTU_J),
            "MBtu": Conversion(1e6 * BTU_J),
        },
    ),
}

MOST_DIGITS = 200
_NUMBER = re.compile(r"^\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$")
_SPELLINGS = {
    " ": "", "deg": "", "°": "", "tons": "ton", "^": "", "²": "2", "³": "3", "·": "", "(": "", ")": "", "sqft": "ft2",
}  # fmt: skip


def _canonical(unit: str) -> str:
    for spelled, plain in _SPELLINGS.items():
        unit = unit.replace(spelled, plain)
    return unit.lower()


def parse(text: str | float, dimension: str, system: System = "ip", what: str = "value") -> float:
    """SI value of a quantity, given as people write it.

    Parameters
    ----------
    text : str or float
        Such as ``"75F"``, ``"1200 cfm"``, ``"0.365 W/cfm"``; a bare number takes
        the unit that `system` shows for this dimension.
    dimension : str
        A key of `DIMENSIONS`.
    system : {"ip", "si"}
        Whose unit a bare number takes.
    what : str
        The name of the option or key, for the error message.

    Returns
    -------
    float
        The quantity in SI [degC for temperatures, K for differences, else SI base].

    Raises
    ------
    UnitError
        No number, or a unit that does not belong to the dimension.

    Examples
    --------
    >>> round(parse("75F", "temperature"), 3)
    23.889
    >>> round(parse("3 ton", "power"))
    10551
    """
    kind = DIMENSIONS[dimension]
    shown = kind.unit(system)
    # No person writes as much; Python writes no whole number of more than 4,300 digits.
    large = abs(text) > 10**MOST_DIGITS if isinstance(text, int) else isinstance(text, str) and len(text) > MOST_DIGITS
    match = None if large else _NUMBER.match(str(text))
    if isinstance(text, bool) or not match or not math.isfinite(float(match[1])):
        raise UnitError(
            f"{what} is {short(text)}: expected a number with a unit, such as {_example(dimension, system)}."
        )
    number, unit = float(match[1]), match[2] or shown
    table = {_canonical(name): conversion for name, conversion in kind.units.items()}
    conversion = table.get(_canonical(unit))
    if conversion is None:
        raise UnitError(
            f"{what} is {short(text)}: {short(unit)} is not a unit of {dimension.replace('_', ' ')}; "
            f"use {', '.join(kind.units)}, such as {_example(dimension, system)}."
        )
    return (number + conversion.offset) * conversion.scale


def convert(value: float, dimension: str, unit: str) -> float:
    """The number to show, given an SI value and one of its dimension's units.

    Parameters
    ----------
    value : float
        In SI.
    dimension : str
        A key of `DIMENSIONS`.
    unit : str
        One of the dimension's.

    Returns
    -------
    float
        In that unit.

    Examples
    --------
    >>> round(convert(20.0, "temperature", "F"), 6)
    68.0
    """
    conversion = DIMENSIONS[dimension].units[unit]
    return value / conversion.scale - conversion.offset


def format_both(value: float, dimension: str) -> str:
    """A quantity as text in both systems, for words that do not know which one a reader chose.

    Parameters
    ----------
    value : float
        In SI.
    dimension : str
        A key of `DIMENSIONS`.

    Returns
    -------
    str
        °F and the like first, SI in brackets.

    Examples
    --------
    >>> format_both(23.888889, "temperature")
    '75 °F (23.9 °C)'
    """
    return f"{format_quantity(value, dimension)} ({format_quantity(value, dimension, 'si')})"


# Not within words, ranges, dates, names, options and coordinates.
_NEGATIVE = re.compile(r"(?<![\w.,=)-])(?<!\d, )-(?=[$€£]?\d)")
_SHOWN = {
    "F": " °F", "C": " °C", "m2": " m²", "ft2": " ft²", "m3/s": " m³/s", "W/(m3/s)": " W/(m³/s)", "W/m2": " W/m²",
    "W/ft2": " W/ft²", "l/s/m2": " l/s/m²", "cfm/ft2": " cfm/ft²", "W/m2K": " W/(m²·K)", "m2K/W": " m²·K/W",
    "Btu/hft2F": " Btu/(h·ft²·°F)", "hft2F/Btu": " h·ft²·°F/Btu",
}  # fmt: skip


def true_minus(text: str) -> str:
    """A text for people with a true minus sign before its negative numbers.

    Parameters
    ----------
    text : str
        Such as "saves -5 kWh"; hyphens of ranges, dates, names and options stay.

    Returns
    -------
    str
        The same length.

    Examples
    --------
    >>> true_minus("-5 to 12 kWh in 2015-2024, never -$3 (fan.x=-1)")
    '−5 to 12 kWh in 2015-2024, never −$3 (fan.x=-1)'
    """
    return _NEGATIVE.sub("−", text)


def format_quantity(value: float, dimension: str, system: System = "ip", digits: int = 1) -> str:
    """A quantity as text in the units of a system, given its SI value.

    Parameters
    ----------
    value : float
        In SI.
    dimension : str
        A key of `DIMENSIONS`.
    system : {"ip", "si"}, optional
        Whose unit to use.
    digits : int, optional
        Most digits after the point.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> format_quantity(23.888889, "temperature")
    '75 °F'
    """
    kind = DIMENSIONS[dimension]
    unit = kind.unit(system)
    number = f"{convert(value, dimension, unit):,.{digits}f}"
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    return number + _SHOWN.get(unit, f" {unit}")


def format_least(value: float, dimension: str, system: System = "ip") -> str:
    """A least amount as people write it, given its SI value: whole, and never less.

    Parameters
    ----------
    value : float
        In SI.
    dimension : str
        A key of `DIMENSIONS`.
    system : {"ip", "si"}, optional
        Whose unit to use.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> format_least(5.3, "difference"), format_least(5.3, "difference", "si")
    ('10 °F', '6 K')
    """
    kind = DIMENSIONS[dimension]
    whole = math.ceil(convert(value, dimension, kind.unit(system)) - 1e-6)
    return format_quantity(float(parse(whole, dimension, system)), dimension, system, 0)


def format_near(value: float, dimension: str, system: System = "ip") -> str:
    """A rough amount as people write it, given its SI value: to half a unit.

    Parameters
    ----------
    value : float
        In SI.
    dimension : str
        A key of `DIMENSIONS`.
    system : {"ip", "si"}, optional
        Whose unit to use.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> format_near(1.11, "difference"), format_near(1.57, "difference", "si")
    ('2 °F', '1.5 K')
    """
    kind = DIMENSIONS[dimension]
    halves = round(2.0 * convert(value, dimension, kind.unit(system)))
    return format_quantity(float(parse(0.5 * halves, dimension, system)), dimension, system)


def format_rounded(value: float, dimension: str, system: System = "ip") -> str:
    """A quantity as a person writes it down, given its SI value: three figures, and no whole number cut.

    Parameters
    ----------
    value : float
        In SI.
    dimension : str
        A key of `DIMENSIONS`.
    system : {"ip", "si"}, optional
        Whose unit to use.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> format_rounded(8.0 / 86400.0, "moisture_rate"), format_rounded(170.0, "area")
    ('17.6 lb/day', '1,830 ft²')
    """
    number = abs(convert(value, dimension, DIMENSIONS[dimension].unit(system)))
    digits = 2 - math.floor(math.log10(number)) if number > 0.0 else 0
    return format_quantity(value, dimension, system, max(digits, 0))


def format_money(amount: float, currency: str, digits: int = 0) -> str:
    """An amount of money as text, given the name of its money.

    Parameters
    ----------
    amount : float
        In that money.
    currency : str
        Such as "USD"; that one alone has a sign of its own here, as it stands where °F and cfm do.
    digits : int, optional
        After the point.

    Returns
    -------
    str
        Never "-$0".

    Examples
    --------
    >>> format_money(1234.4, "USD"), format_money(-3.0, "USD"), format_money(80.0, "EUR")
    ('$1,234', '-$3', '80 EUR')
    """
    sign = "-" if round(amount, digits) < 0.0 else ""
    return sign + with_currency(f"{abs(round(amount, digits)):,.{digits}f}", currency)


def with_currency(number: str, currency: str) -> str:
    """A number as people write that much money, given the name of its money.

    Parameters
    ----------
    number : str
        Without a sign, such as "0.15".
    currency : str
        Such as "USD".

    Returns
    -------
    str
        Such as "$0.15", or "0.15 EUR".
    """
    return f"${number}" if currency == "USD" else f"{number} {currency}"


def option_text(value: float, dimension: str, system: System = "ip") -> str:
    """A quantity as an option of the command line takes it, given its SI value.

    Parameters
    ----------
    value : float
        In SI.
    dimension : str
        A key of `DIMENSIONS`.
    system : {"ip", "si"}, optional
        Whose unit to use.

    Returns
    -------
    str
        Number and unit without a space.

    Examples
    --------
    >>> option_text(5 / 1.8, "difference")
    '5F'
    """
    kind = DIMENSIONS[dimension]
    unit = kind.unit(system)
    return f"{convert(value, dimension, unit):.4g}{unit}"


def _example(dimension: str, system: System) -> str:
    numbers = {"temperature": (75, 24), "difference": (5, 3), "flow": (1200, 0.6), "fan_power": (0.365, 750),
               "power": (3, 10), "efficiency": (12, 3.5), "area": (1800, 170), "length": (8, 2.5)}  # fmt: skip
    kind = DIMENSIONS[dimension]
    ip, si = numbers.get(dimension, (1, 1))
    return f'"{ip}{kind.ip}"' if system == "ip" else f'"{si}{kind.si}"'
