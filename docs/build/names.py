"""The page of names: one quantity, and what it is called as option, case key, column, label and JSON key.

``python docs/build/names.py > docs/names.md`` writes it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from freecool.cases.fields import CaseField
from freecool.cases.model import case_fields
from freecool.cases.options import OPTION_KEYS
from freecool.cases.vocabulary import MONEY_UNITS, RUN_QUANTITIES

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
- *9 in 10* is the 10th percentile (`p10`): what nine of ten installations, or years, reach.
- *Best setting* is what a rule is `tuned` to. *Climate zone* is ASHRAE 169's; *zone* alone is the room that is cooled.
"""


def names_page() -> str:
    """The page of names as Markdown."""
    return "\n".join(
        [
            INTRO,
            "## Of the case\n\nBounds, choices, defaults and sources are in [case-file.md](case-file.md).\n",
            _table(("label", "option", "case key", "other column", "JSON key", "unit"), map(_case_row, _fields())),
            "## Of weather and work\n",
            _table(("label", "option", "request and link", "column", "JSON key", "unit"), _run_rows()),
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


def _code(names: Iterable[str]) -> str:
    return ", ".join(f"`{name}`" for name in names)


def _table(heading: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [heading, ("---",) * len(heading), *rows]
    return "".join("| " + " | ".join(line) + " |\n" for line in lines)


if __name__ == "__main__":
    print(names_page(), end="")
