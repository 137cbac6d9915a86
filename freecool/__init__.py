"""What outdoor air as the first stage of cooling is worth, in a building and a climate.

In the order a person needs it: `open_weather`, `make_case`, `estimate`, `sweep_differential`,
`compare_rules`.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from freecool.case import Case, make_case, read_case_file
    from freecool.differential import DifferentialSweep, sweep_differential
    from freecool.errors import FreecoolError
    from freecool.estimate import Estimate, estimate
    from freecool.rules_compared import RulesCompared, compare_rules
    from freecool.weather import Weather, open_weather

__version__ = "0.1.0"
__all__ = [
    "Case",
    "DifferentialSweep",
    "Estimate",
    "FreecoolError",
    "RulesCompared",
    "Weather",
    "compare_rules",
    "estimate",
    "make_case",
    "open_weather",
    "read_case_file",
    "sweep_differential",
]

_ROOMS = {
    "open_weather": "weather",
    "Weather": "weather",
    "make_case": "case",
    "read_case_file": "case",
    "Case": "case",
    "estimate": "estimate",
    "sweep_differential": "differential",
    "DifferentialSweep": "differential",
    "compare_rules": "rules_compared",
    "RulesCompared": "rules_compared",
    "Estimate": "estimate",
    "FreecoolError": "errors",
}


def __getattr__(name: str) -> Any:
    # Loaded at first use, so that help and completion stay instant.
    if name not in _ROOMS:
        raise AttributeError(f"module 'freecool' has no attribute {name!r}")
    return getattr(import_module(f"freecool.{_ROOMS[name]}"), name)


def __dir__() -> list[str]:
    return [*__all__, "__version__"]


class _Face(ModuleType):
    def __setattr__(self, name: str, value: object) -> None:
        # Importing the room "estimate" must not hide the function of that name.
        if not (name in _ROOMS and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Face
