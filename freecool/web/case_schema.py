"""JSON schema of what a request may change in a case."""

from __future__ import annotations

from typing import Any

from freecool.cases.fields import CaseField
from freecool.cases.model import case_fields
from freecool.cases.sections import MOST_PERIODS


def case_changes_schema() -> dict[str, Any]:
    """JSON schema of what may be changed in a case: the tables of a case file, every key optional."""
    schema: dict[str, Any] = {
        "type": "object", "additionalProperties": False, "properties": {},
        "description": "What differs from the preset, as the tables of a case file; see docs/case-file.md.",
    }  # fmt: skip
    for field in case_fields().values():
        *tables, name = field.key.split(".")
        place = schema
        for table in tables:
            place = place["properties"].setdefault(
                table, {"type": "object", "additionalProperties": False, "properties": {}}
            )
        if field.key != "preset":
            place["properties"][name] = {**_schema_of(field), "description": field.description.replace("`", "")}
    return schema


def _schema_of(field: CaseField) -> dict[str, Any]:
    if field.kind == "quantity":
        kinds = [{"type": kind} for kind in ("string", "number", "null")]
        return {"anyOf": kinds, "examples": [f"1 {field.unit('ip')}"]}
    if field.kind in ("number", "integer"):
        return {"anyOf": [{"type": kind} for kind in ("number", "null")]}
    if field.kind == "flag":
        return {"type": "boolean"}
    if field.kind == "choice":
        return {"anyOf": [{"type": "string", "enum": list(field.choices)}, {"type": "null"}]}
    if field.kind == "list":
        return {"type": "array", "maxItems": MOST_PERIODS, "items": {"type": "object"}}
    return {"type": "string"}
