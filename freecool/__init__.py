"""What outdoor air as the first stage of cooling is worth, in a building and a climate.

In the order a person needs it: `open_weather`, `make_case`, `estimate`, `sweep_differential`,
`compare_rules`.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from freecool.core.version import __version__

if TYPE_CHECKING:
    from freecool.answers.comparison import RulesCompared, compare_rules
    from freecool.answers.estimate import Estimate, estimate
    from freecool.answers.pick import DifferentialSweep, sweep_differential
    from freecool.cases.case_file import read_case_file
    from freecool.cases.model import Case, make_case
    from freecool.core.errors import FreecoolError
    from freecool.weather import Weather, open_weather

__all__ = [
    "Case",
    "DifferentialSweep",
    "Estimate",
    "FreecoolError",
    "RulesCompared",
    "Weather",
    "__version__",
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
    "make_case": "cases.model",
    "read_case_file": "cases.case_file",
    "Case": "cases.model",
    "estimate": "answers.estimate",
    "Estimate": "answers.estimate",
    "sweep_differential": "answers.pick",
    "DifferentialSweep": "answers.pick",
    "compare_rules": "answers.comparison",
    "RulesCompared": "answers.comparison",
    "FreecoolError": "core.errors",
}


def __getattr__(name: str) -> Any:
    # Loaded at first use, so that help and completion stay instant.
    if name not in _ROOMS:
        raise AttributeError(f"module 'freecool' has no attribute {name!r}")
    return getattr(import_module(f"freecool.{_ROOMS[name]}"), name)


def __dir__() -> list[str]:
    return list(__all__)
