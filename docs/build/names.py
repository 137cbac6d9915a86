"""The page of names: one quantity, and what it is called as option, case key, column, label and JSON key.

``python docs/build/names.py > docs/names.md`` writes it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Sequence
from typing import get_type_hints

from freecool.answers.contract import CandidateAnswer, RuleAnswer
from freecool.answers.results import EnergyBlock
from freecool.cases.fields import CaseField
from freecool.cases.model import case_fields
from freecool.cases.options import OPTION_KEYS
from freecool.cases.vocabulary import MONEY_UNITS, RUN_QUANTITIES
from freecool.core.record import Record, names_of

INTRO = """# Names

<!-- Written by `python docs/build/names.py`; change the tables it reads, not this page. -->

The same thing has the same name wherever it is told or read.

- An **option** is the short name; `--set KEY=VALUE` sets any key of the case.
- A **case key** names a value in a case file, a link and the `case` of a request.
- A **column** of a list of sites is a case key or an option's name without its dashes.
- A **label** stands beside the input on the page. The **unit** is the one that a bare number takes, the second with
  `--units si`; answers are in SI.
- A **JSON key** is the name with its unit at the end: `precool` is read as `precool_k`, `humidity_ceiling` as
  `humidity_ceiling_hours`. In a block the block says the unit, so `permitted` of `hours` is `permitted_hours` in a
  table, and `net_kwh_p10` of `tuned` is `tuned_net_kwh_p10`.
- *9 of 10* is the 10th percentile (`p10`): what nine of ten installations, or years, reach.
- *Best setting* is what a rule is `tuned` to. *Climate zone* is ASHRAE 169's; *zone* alone is the room that is cooled.
"""
ANSWERS = """## Of answers

A key's place within the answer of value, a candidate of pick or a rule of compare. In the results of a batch the place
is the column; in the tables of pick and compare (`--table`) it is one word. They also hold `rh_over_60_hours_added`
and `clause_hours_added`, with less without. `tuned` holds all of a rule again, at its best setting.
"""
COLUMNS = {
    "hours.permitted": "permitted_hours",
    "hours.damp": "damp_hours",
    "name": "rule",
    "value_si": "value_si",
    "tuned.value_si": "tuned_value_si",
    "tuned.code_changeover": "tuned_code_changeover",
    "tuned.energy.net_kwh_saved": "tuned_net_kwh_saved",
    "tuned.net_kwh_p10": "tuned_net_kwh_p10",
    "tuned.humidity.risk": "tuned_risk",
    "sensor_in_the_sun.net_kwh_saved": "in_the_sun_net_kwh",
    "humidity_drifted.net_kwh_saved": "drifted_net_kwh",
} | {
    place: place.rpartition(".")[2]
    for place in (
        *(f"energy.{name}" for name in names_of(EnergyBlock)), "money.saved_per_year", "net_kwh_p10", "net_kwh_p90",
        "saved_p10", "humidity.risk", "risk_p90", "worst_risk", "code_changeover", "differential_k",
    )
}  # fmt: skip
"""The column of pick's or compare's table that holds a figure, by the figure's place in JSON."""


def names_page() -> str:
    """The page of names as Markdown."""
    return "\n".join(
        [
            INTRO,
            "## Of the case\n\nBounds, choices, defaults and sources are in [case-file.md](case-file.md).\n",
            _table(("label", "option", "case key", "other column", "JSON key", "unit"), map(_case_row, _fields())),
            "## Of weather and work\n",
            _table(("label", "option", "request and link", "column", "JSON key", "unit"), _run_rows()),
            ANSWERS,
            _table(("JSON key", "column of a table", "meaning [unit]"), _answer_rows()),
        ]
    )


def _fields() -> Iterable[CaseField]:
    return case_fields().values()


def options_of(key: str) -> list[str]:
    """The options that set a case key, without their dashes."""
    return [option for option, target in OPTION_KEYS.items() if target == key]


def json_place(field: CaseField) -> str:
    """Where an answer tells a value of the case."""
    place = field.key.rpartition(".")[0]
    return ".".join(["inputs.case", *([place] if place else []), field.json_key])


def _case_row(field: CaseField) -> Sequence[str]:
    options = options_of(field.key)
    return (
        field.label,
        _code(f"--{option.replace('_', '-')}" for option in options),
        _code([field.key]),
        "" if field.kind == "list" else _code(options),
        _code([json_place(field)]),
        ", ".join(dict.fromkeys(filter(None, (field.unit("ip"), field.unit("si"), MONEY_UNITS.get(field.key))))),
    )


def _run_rows() -> Iterable[Sequence[str]]:
    for quantity in RUN_QUANTITIES.values():
        names = (quantity.option, quantity.request, quantity.column, quantity.answer)
        yield (quantity.label, *(_code(filter(None, [name])) for name in names), quantity.unit)


def _answer_rows() -> Iterable[Sequence[str]]:
    places = dict([*_places(CandidateAnswer), *_places(RuleAnswer)])
    for place, text in places.items():
        # A tuned rule holds all that a rule holds, once more.
        if place.removeprefix("tuned.") in places and place not in COLUMNS and place.startswith("tuned."):
            continue
        yield _code([place]), _code(filter(None, [COLUMNS.get(place)])), text


def _places(kind: type[Record], within: str = "") -> Iterator[tuple[str, str]]:
    """Every single value of a record by its dotted place, with its meaning."""
    hints = get_type_hints(kind)
    for item in dataclasses.fields(kind):  # type: ignore[arg-type]
        hint = hints[item.name]
        if isinstance(hint, type) and issubclass(hint, Record):
            yield from _places(hint, f"{within}{item.name}.")
        else:
            yield f"{within}{item.name}", item.metadata["description"]


def _code(names: Iterable[str]) -> str:
    return ", ".join(f"`{name}`" for name in names)


def _table(heading: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [heading, ("---",) * len(heading), *rows]
    return "".join("| " + " | ".join(line) + " |\n" for line in lines)


if __name__ == "__main__":
    print(names_page(), end="")
