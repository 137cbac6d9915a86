"""What outdoor air as the first stage of cooling is worth, in a building and a climate.

First three calls, each of which help(freecool.NAME) tells in full:

    open_weather         a file, station:ID, near:TOWN or demo:NAME: a Weather
    make_case            a building, from a preset and what you tell: a Case
    estimate             what a damper is worth there: an Estimate

then, with the same case and weather:

    sweep_differential   which differential to set: a DifferentialSweep
    compare_rules        dry bulb or enthalpy, side by side: a RulesCompared
    read_case_file       what a TOML case file tells, for make_case
    check_readings       what a commissioning sheet says, a Reading a damper position: a SheetCheck
    read_bills           electricity bills, of CSV or Green Button: Bills
    cooling_in_bills     what cooling takes of them, and how sure that is: a CoolingInBills
    fit_to_bills         an Estimate held against bills, and the building fitted to them

An answer shows itself in a notebook and by print(answer), and holds

    .sentence            the verdict in words
    .energy .hours .humidity .money    help(answer.energy) tells each field with its unit
    .hourly .monthly .bins   pandas tables; .hourly.attrs["columns"] tells each column
    .plot.months() and others    pictures: matplotlib axes; help(answer.plot) lists them
    .to_dict()           what --json prints

A mistake of yours is a FreecoolError with one plain sentence.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from freecool.core.version import __version__

if TYPE_CHECKING:
    from freecool.answers.comparison import RulesCompared as RulesCompared
    from freecool.answers.comparison import compare_rules
    from freecool.answers.estimate import Estimate as Estimate
    from freecool.answers.estimate import estimate
    from freecool.answers.fit_bills import fit_to_bills
    from freecool.answers.pick import DifferentialSweep as DifferentialSweep
    from freecool.answers.pick import sweep_differential
    from freecool.answers.readings import Reading as Reading
    from freecool.answers.readings import SheetCheck as SheetCheck
    from freecool.answers.readings import check_readings
    from freecool.bills.cooling import CoolingInBills as CoolingInBills
    from freecool.bills.cooling import cooling_in_bills
    from freecool.bills.model import Bills as Bills
    from freecool.bills.read import read_bills
    from freecool.cases.case_file import read_case_file
    from freecool.cases.model import Case as Case
    from freecool.cases.model import make_case
    from freecool.core.errors import FreecoolError as FreecoolError
    from freecool.weather import Weather as Weather
    from freecool.weather import open_weather

# What `help` lists in full: the calls. With the classes it would list a thousand lines that they inherit.
__all__ = [
    "__version__",
    "check_readings",
    "compare_rules",
    "cooling_in_bills",
    "estimate",
    "fit_to_bills",
    "make_case",
    "open_weather",
    "read_bills",
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
    "check_readings": "answers.readings",
    "Reading": "answers.readings",
    "SheetCheck": "answers.readings",
    "read_bills": "bills.read",
    "Bills": "bills.model",
    "cooling_in_bills": "bills.cooling",
    "CoolingInBills": "bills.cooling",
    "fit_to_bills": "answers.fit_bills",
    "FreecoolError": "core.errors",
}


def __getattr__(name: str) -> Any:
    # Loaded at first use, so that help and completion stay instant.
    if name not in _ROOMS:
        raise AttributeError(f"module 'freecool' has no attribute {name!r}")
    return getattr(import_module(f"freecool.{_ROOMS[name]}"), name)


def __dir__() -> list[str]:
    return sorted({*_ROOMS, "__version__"})
