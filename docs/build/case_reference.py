"""The case-file page, written from the case's own classes: meaning, units, default and source of every key.

``python docs/build/case_reference.py`` prints it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple, get_args

from freecool.cases.model import Case, Part
from freecool.cases.presets import CONSTRUCTIONS, DEFAULT_PRESET, PRESETS, SOURCES
from freecool.cases.quantity import Quantity
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
- An option of the command line is stronger than the file, the file stronger than the preset.
- "needed" means: where the table is given at all.
- A key that is not listed here is an error, and the message names the nearest one.
- `--set section.key=value` sets any key from the command line.

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
HOUSES = [name for name in PRESETS if name.startswith("detached-house-")]


class Key(NamedTuple):
    """One key of a case file."""

    path: str
    meaning: str
    accepts: str
    default: str
    source: str


def case_reference() -> str:
    """The case-file page as Markdown."""
    schema = _case_schema()
    parts = [INTRO.format(tariff=TARIFF, periods=_periods(schema))]
    for section, keys in _sections(schema):
        rows = [(f"`{key.path}`", *key[1:]) for key in keys]
        parts.append(f"## {section}\n\n" + _table(("key", "meaning", "accepts", "default", "source"), rows))
    parts.append(_presets(schema))
    parts.append(_constructions())
    parts.append("## A complete case file\n\nThe default preset, written out.\n")
    parts.append(f"```toml\n{example_case()}```\n")
    return "\n".join(parts)


def _periods(schema: dict[str, Any]) -> str:
    keys = (_key(name, field) for name, field in schema["$defs"]["TariffPeriod"]["properties"].items())
    return "".join(f"| `{key.path}` | {key.meaning} | {key.accepts} | {key.default} |\n" for key in keys)


def example_case() -> str:
    """A complete case file as TOML: the default preset written out, keys without a default as comments."""
    schema = _case_schema()
    lines = ['name = "Example"', f'preset = "{DEFAULT_PRESET}"']
    for section, keys in _sections(schema):
        if section == TOP:
            continue
        optional = all(_told(PRESETS[DEFAULT_PRESET], key.path, schema) is None for key in keys)
        lines += ["", f"# [{section}]" if optional else f"[{section}]"]
        for key in keys:
            value = _told(PRESETS[DEFAULT_PRESET], key.path, schema)
            name = key.path.rpartition(".")[2]
            lines.append(f"# {name} =" if value is None else f"{name} = {_toml(value)}")
    return "\n".join(lines) + "\n"


def _case_schema() -> dict[str, Any]:
    """The case's JSON schema, where every quantity names its dimension."""
    schema = Case.model_json_schema()
    for part in Part.__subclasses__():
        properties = schema["$defs"].get(part.__name__, schema)["properties"]
        for name, field in part.model_fields.items():
            places = (field.metadata, *(getattr(choice, "__metadata__", ()) for choice in get_args(field.annotation)))
            for item in (item for place in places for item in place):
                if isinstance(item, Quantity):
                    properties[name]["dimension"] = item.dimension
    return schema


def _sections(schema: dict[str, Any]) -> Iterator[tuple[str, list[Key]]]:
    yield from _walk(schema, schema, "")


def _walk(schema: dict[str, Any], part: dict[str, Any], place: str) -> Iterator[tuple[str, list[Key]]]:
    """The values of a part as one section, then the sections of its parts."""
    parts = {name: _part(schema, field) for name, field in part["properties"].items()}
    dot = f"{place}." if place else ""
    yield place or TOP, [_key(dot + name, part["properties"][name]) for name, inner in parts.items() if not inner]
    for name, inner in parts.items():
        if inner:
            yield from _walk(schema, inner, dot + name)


def _part(schema: dict[str, Any], field: dict[str, Any]) -> dict[str, Any] | None:
    """The class that a field holds, None where it holds a value."""
    for choice in (field, *field.get("anyOf", ())):
        if "$ref" in choice:
            found: dict[str, Any] = schema["$defs"][choice["$ref"].rsplit("/", 1)[1]]
            return found
    return None


def _key(path: str, field: dict[str, Any]) -> Key:
    parent = path.rpartition(".")[0]
    values = [_told(preset, path) for preset in PRESETS.values()]
    if any(value is not None for value in values):
        same = all(value == values[0] for value in values)
        default = f"`{_toml(values[0])}`" if same else "by preset"
    elif field.get("default") is None:
        default = "none" if "default" in field else "needed"
    else:
        default = f"`{_toml(_default(field))}`"
    return Key(
        path,
        field.get("description", f"window share of the facade facing {path.rpartition('.')[2]}"),
        _accepts(field),
        default,
        SOURCES.get(path, SOURCES.get(parent, "")),
    )


def _accepts(field: dict[str, Any]) -> str:
    for choice in (field, *field.get("anyOf", ())):
        if "dimension" in choice:
            kind = DIMENSIONS[choice["dimension"]]
            units = [kind.ip, kind.si, *kind.units]
            return f"{choice['dimension'].replace('_', ' ')}: {', '.join(dict.fromkeys(units))}"
        if "enum" in choice:
            return ", ".join(f"`{value}`" for value in choice["enum"])
        if choice.get("type") in ("number", "integer"):
            return f"{'whole number' if choice['type'] == 'integer' else 'number'} {_range(choice)}".strip()
        if choice.get("type") == "boolean":
            return "`true`, `false`"
        if choice.get("type") == "array":
            return "tables, see above"
    return "text"


def _range(choice: dict[str, Any]) -> str:
    low = choice.get("minimum", choice.get("exclusiveMinimum"))
    high = choice.get("maximum", choice.get("exclusiveMaximum"))
    above = "above " if "exclusiveMinimum" in choice else ""
    below = "below " if "exclusiveMaximum" in choice else ""
    return "" if low is None or high is None else f"{above}{low:g} to {below}{high:g}"


def _told(preset: dict[str, Any], path: str, schema: dict[str, Any] | None = None) -> Any:
    """What a preset says for a dotted key, else the class's default when its schema is given."""
    value: Any = preset
    for piece in path.split("."):
        value = value.get(piece) if isinstance(value, dict) else None
    if value is not None or schema is None:
        return value
    part: dict[str, Any] | None = schema
    *sections, name = path.split(".")
    for section in sections:
        field = part["properties"][section] if part else {}
        # A default inside a part that is itself left out is no default of the case.
        part = None if "default" in field and field["default"] is None else _part(schema, field)
    return _default(part["properties"][name]) if part else None


def _default(field: dict[str, Any]) -> Any:
    """A field's default as a case file would write it; a quantity that is kept in SI gets its unit."""
    value = field.get("default")
    if "dimension" not in field or not isinstance(value, float):
        return value
    unit = DIMENSIONS[field["dimension"]].ip
    return f"{convert(value, field['dimension'], unit):.6g}{unit}"


def _presets(schema: dict[str, Any]) -> str:
    """What the presets say, key by key; the three houses differ in construction alone."""
    columns = {"detached-house-*": PRESETS[HOUSES[0]]} | {n: p for n, p in PRESETS.items() if n not in HOUSES}
    rows = []
    for _, keys in _sections(schema):
        for key in keys:
            values = [_told(preset, key.path) for preset in columns.values()]
            if key.path == "building.construction":
                values[0] = "light, medium, heavy"
            if any(value is not None for value in values):
                told = ("as while occupied" if value is None else str(value) for value in values)
                rows.append((f"`{key.path}`", *told))
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


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return f"[{', '.join(map(_toml, value))}]"
    return f'"{value}"' if isinstance(value, str) else str(value)


if __name__ == "__main__":
    print(case_reference(), end="")
