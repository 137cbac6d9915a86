"""The case-file page, written from the case's own classes: meaning, units, default and source of every key.

``python docs/build/case_reference.py`` prints it.
"""

from __future__ import annotations

from typing import Any

import tomli_w

from freecool.cases.fields import CaseField, fields_of
from freecool.cases.model import case_fields
from freecool.cases.presets import CONSTRUCTIONS, DEFAULT_PRESET, PRESETS
from freecool.cases.sections import TariffPeriod
from freecool.core.units import DIMENSIONS, convert

INTRO = f"""# Case file

<!-- Written by `python docs/build/case_reference.py`; change the case's classes, not this page. -->

A case file is a TOML text that tells about one building what differs from a preset:

```toml
name = "Corner house"
preset = "{DEFAULT_PRESET}"

[building]
floor_area = "2100 ft2"

[unit]
eer = "10.5"
```

- Write a quantity in quotes with its unit: `"75F"`, `"1200 cfm"`, `"0.365 W/cfm"`. A bare number takes the
  first unit of its row, or the second with `--units si`. Shares and counts are plain numbers.
- What the file leaves out comes from the preset; `--building` chooses another preset.
- `"none"` clears what may be none.
- An option of the command line is stronger than the file, the file stronger than the preset.
- "needed" means: where the table is given at all.
- A key that is not listed here is an error, and the message names the nearest one.
- `--set section.key=value` sets any key from the command line.
- `--save FILE.toml`, of `value`, `pick` and `compare`, writes such a file: what was told, and no more, each quantity
  with its unit and each line with what it is. A file that is there is kept, unless `--overwrite` is told. Read back it
  gives the same answer, and the last lines of the command ask the other questions from it.

Prices by time stand in a table of tables, `[[money.tariff]]`, one for each time. The first that fits an hour gives its
price; hours that none fits have `money.price`. Hours are local standard time; `"22-6"` goes through the night.

```toml
{{tariff}}```

| key | meaning | accepts | default |
| --- | --- | --- | --- |
{{periods}}"""
# Prices of an example, not of any utility.
TARIFF = """[money]
price = 0.14

[[money.tariff]]
months = "jun-sep"
days = "mon-fri"
hours = "16-21"
price = 0.38

[[money.tariff]]
hours = "22-6"
price = 0.09
"""
TOP = "Top level"
# The houses that differ in construction alone, and stand in one column.
HOUSES = [f"detached-house-{construction}" for construction in CONSTRUCTIONS]


def case_reference() -> str:
    """The case-file page as Markdown."""
    parts = [INTRO.format(tariff=TARIFF, periods=_periods())]
    heading = ("key", "meaning", "accepts", "default", "source")
    for section, fields in _sections().items():
        parts.append(f"## {section}\n\n" + _table(heading, [(*_cells(field), field.source) for field in fields]))
    parts.append(_presets())
    parts.append(_constructions())
    parts.append("## A complete case file\n\nThe default preset, written out.\n")
    parts.append(f"```toml\n{example_case()}```\n")
    return "\n".join(parts)


def _periods() -> str:
    return "".join(f"| {' | '.join(_cells(field))} |\n" for field in fields_of(TariffPeriod).values())


def example_case() -> str:
    """A complete case file as TOML: the default preset written out, keys without a default as comments."""
    lines = [_toml("name", "Example"), _toml("preset", DEFAULT_PRESET)]
    for section, fields in _sections().items():
        if section == TOP:
            continue
        values = {field.name: _value(field) for field in fields}
        given = any(value is not None for value in values.values())
        lines += ["", f"[{section}]" if given else f"# [{section}]"]
        lines += [f"# {name} =" if value is None else _toml(name, value) for name, value in values.items()]
    return "\n".join(lines) + "\n"


def _sections() -> dict[str, list[CaseField]]:
    """Every value of a case by the table it stands in, in the order in which a case file may hold them."""
    fields = case_fields().values()
    tables = dict.fromkeys([TOP, *(place for field in fields for place in _places(field.key))])
    return {table: [field for field in fields if (field.key.rpartition(".")[0] or TOP) == table] for table in tables}


def _places(key: str) -> list[str]:
    """The tables around a key, the outermost first."""
    pieces = key.split(".")[:-1]
    return [".".join(pieces[: count + 1]) for count in range(len(pieces))]


def _cells(field: CaseField) -> tuple[str, str, str, str]:
    return f"`{field.key}`", field.description, _accepts(field), _default_cell(field)


def _default_cell(field: CaseField) -> str:
    values = [_in_preset(preset, field.key) for preset in PRESETS.values()]
    if any(value is not None for value in values):
        same = all(value == values[0] for value in values)
        return f"`{_literal(values[0])}`" if same else "by preset"
    if field.needed:
        # What a preset's own table leaves out, a coarser word of it makes.
        return "by preset" if field.key.count(".") == 1 else "needed"
    return "none" if field.default is None else f"`{_literal(_default(field))}`"


def _accepts(field: CaseField) -> str:
    if field.dimension is not None:
        kind = DIMENSIONS[field.dimension]
        units = dict.fromkeys([kind.ip, kind.si, *kind.units])
        return f"{field.dimension.replace('_', ' ')}: {', '.join(units)}; {_reach(field)}"
    if field.kind == "choice":
        return ", ".join(f"`{value}`" for value in field.choices)
    if field.kind in ("number", "integer"):
        return f"{'whole number' if field.kind == 'integer' else 'number'} {_range(field)}".strip()
    return {"flag": "`true`, `false`", "list": "tables, see above"}.get(field.kind, "text")


def _reach(field: CaseField) -> str:
    """The least and the most of a quantity, in both systems."""
    assert field.bounds is not None
    reaches = []
    for unit in dict.fromkeys((field.unit("ip"), field.unit("si"))):
        ends = (convert(value, str(field.dimension), unit) for value in (field.bounds.least, field.bounds.most))
        reaches.append(" to ".join(f"{end:,.0f}" if abs(end) >= 1000 else f"{end:.3g}" for end in ends) + f" {unit}")
    return f"{'0 or ' if field.bounds.or_zero else ''}{', '.join(reaches)}"


def _range(field: CaseField) -> str:
    bounds = field.bounds
    if bounds is None:
        return ""
    return f"{'above ' if bounds.above else ''}{bounds.least:g} to {'below ' if bounds.below else ''}{bounds.most:g}"


def _in_preset(preset: dict[str, Any], key: str) -> Any:
    """What a preset says for a dotted key; None where it says nothing."""
    value: Any = preset
    for piece in key.split("."):
        value = value.get(piece) if isinstance(value, dict) else None
    return value


def _value(field: CaseField) -> Any:
    """What the default preset's case file would say: the preset's word, else the class's default."""
    value = _in_preset(PRESETS[DEFAULT_PRESET], field.key)
    # A default inside a part that is itself left out is no default of the case.
    return _default(field) if value is None and not field.in_optional_part else value


def _default(field: CaseField) -> Any:
    """A field's default as a case file would write it; a quantity that is kept in SI gets its unit."""
    if field.dimension is None or field.default is None:
        return list(field.default) if isinstance(field.default, tuple) else field.default
    unit = field.unit("ip")
    return f"{convert(field.default, field.dimension, unit):.6g}{unit}"


def _presets() -> str:
    """What the presets say, key by key."""
    heading = f"detached-house-{', -'.join(CONSTRUCTIONS)}"
    columns = {heading: PRESETS[HOUSES[0]]} | {n: p for n, p in PRESETS.items() if n not in HOUSES}
    rows = []
    for field in (field for fields in _sections().values() for field in fields):
        values = [_in_preset(preset, field.key) for preset in columns.values()]
        if field.key == "building.construction":
            values[0] = ", ".join(CONSTRUCTIONS)
        if any(value is not None for value in values):
            none = "as while occupied" if field.key.endswith("_unoccupied") else ""
            cells = (none if value is None else str(value) for value in values)
            rows.append((f"`{field.key}`", *cells))
    return "## Presets\n\n" + _table(("key", *columns), rows)


def _constructions() -> str:
    rows = [
        (
            name,
            part,
            f"{layers['resistance']:g}",
            f"{layers['capacity']:,.0f}",
            layers["mass"],
            layers.get("boundary", "air"),
        )
        for name, parts in CONSTRUCTIONS.items()
        for part, layers in parts.items()
    ]
    heading = ("construction", "part", "resistance [m2K/W]", "capacity [J/m2K]", "mass class", "outside it")
    return (
        "## Constructions\n\nSums of layers, films apart; common practice, no source. The mass class of "
        "ISO 52016-1 table B.11\nsays where the capacity sits: I inside, E outside, IE half and half, D spread, "
        "M in the middle.\n\n" + _table(heading, rows)
    )


def _table(heading: tuple[str, ...], rows: list[Any]) -> str:
    lines = [heading, ("---",) * len(heading), *rows]
    return "".join("| " + " | ".join(line) + " |\n" for line in lines)


def _toml(name: str, value: Any) -> str:
    return tomli_w.dumps({name: value}).rstrip()


def _literal(value: Any) -> str:
    return _toml("x", value).partition(" = ")[2]


if __name__ == "__main__":
    print(case_reference(), end="")
