"""How a search goes about it: what is tried, under how many sensor errors, and where it stops."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from typing import Any

from freecool.core.errors import CaseError
from freecool.core.units import System, parse

DIFFERENTIALS_K = tuple(parse(degrees, "difference") for degrees in range(21))
"""What a pick tries unless told: 0 to 20 degF by 1 degF [K]."""

NO_CEILING_HOURS = 8784.0
"""As many hours as a year has: the humidity risk alone rules out [h]."""

STEPS: dict[System, tuple[str, str, str]] = {"ip": ("0F", "20F", "1F"), "si": ("0K", "10K", "0.5K")}
"""First, last and step of the differentials that a pick tries unless told, by whose units a person reads."""

MOST_DIFFERENTIAL = "40F"
"""As of a case's rule."""
MOST_STEPS = 400
MOST_DRAWS = 10_000
"""More than these no answer needs; our own bounds."""


def _setting(default: Any, label: str, text: str, most: float = math.inf, whole: bool = False) -> Any:
    return field(default=default, metadata={"label": label, "help": text, "most": most, "whole": whole})


@dataclass(frozen=True, kw_only=True)
class SearchSettings:
    """What a job may take besides a case and a weather.

    Attributes
    ----------
    differentials_k : tuple of float
        Differentials to try [K].
    draws : int
        Sensor errors drawn for each rule or setting that is tried.
    seed : int
        The same seed draws the same errors.
    humidity_ceiling_hours : float
        Hours a year above 60 % RH that the damper may add, besides what the humidity risk rules out [h].
    """

    differentials_k: tuple[float, ...] = field(default=DIFFERENTIALS_K)
    draws: int = _setting(
        100, "Sensor errors drawn", "Sensor errors drawn for each differential, rule and setting.", MOST_DRAWS, True
    )
    seed: int = _setting(0, "Seed of the draw", "The same seed gives the same answer.", 2**31 - 1, True)
    humidity_ceiling_hours: float = _setting(
        NO_CEILING_HOURS,
        "Most added hours above 60 % RH indoors",
        "Hours a year indoors above 60 % RH that the damper may add, besides what the humidity risk rules out.",
        NO_CEILING_HOURS,
    )

    def __post_init__(self) -> None:
        """Refuse what no search can use.

        Raises
        ------
        CaseError
            A number out of its range, or nothing to try.
        """
        for setting in fields(self):
            value = getattr(self, setting.name)
            if "most" not in setting.metadata:
                continue
            most, whole = setting.metadata["most"], setting.metadata["whole"]
            if not (0 <= value <= most and (not whole or value == int(value))):
                kind = "a whole number from" if whole else "hours a year,"
                name = setting.name.removesuffix("_hours")
                raise CaseError(f"{name} is {value:g}: expected {kind} 0 to {most:,.0f}.")


def differentials(
    first: str | float,
    last: str | float,
    step: str | float,
    units: System,
    *,
    most_steps: int = MOST_STEPS,
    names: tuple[str, str, str] = ("from", "to", "step"),
) -> tuple[float, ...]:
    """Differentials to try, given the first, the last and the step between them as people write them.

    Parameters
    ----------
    first, last, step : str or float
        Such as "0F", "20F" and "1F"; a bare number takes the unit of `units`.
    units : {"ip", "si"}
    most_steps : int
        How many steps are taken at most.
    names : tuple of str
        What the door calls the three.

    Returns
    -------
    tuple of float
        Rising [K].

    Raises
    ------
    CaseError
        Bounds that do not rise, or too many steps.
    """
    low, high, by = (
        parse(text, "difference", units, name) for text, name in zip((first, last, step), names, strict=True)
    )
    most_k = parse(MOST_DIFFERENTIAL, "difference")
    if not 0.0 <= low <= high <= most_k + 1e-9 or by <= 0.0 or (high - low) / by > most_steps:
        raise CaseError(
            f"{names[0]} {first} {names[1]} {last} {names[2]} {step}: expected 0 or more, up to {MOST_DIFFERENTIAL}, "
            f"rising, in at most {most_steps} steps, such as {names[0]} 0F {names[1]} 20F {names[2]} 1F."
        )
    return tuple(low + by * index for index in range(int((high - low) / by + 1e-6) + 1))
