"""What the form shows: every value of the case with its label, unit, default and source, the few that matter first."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from freecool.cases.fields import CaseField
from freecool.cases.model import Case, case_fields
from freecool.cases.presets import PRESETS
from freecool.cases.vocabulary import RUN_QUANTITIES, SECTIONS
from freecool.web.field_text import field_text, preset_case, unit_beside
from freecool.web.link import Link, search_defaults, search_words

if TYPE_CHECKING:
    from freecool.answers.jobs import Job
    from freecool.web.weather_store import WeatherStore

# What whoever stands before the unit knows, then what a quote adds.
KNOWN = ("building.floor_area", "schedule.cooling", "rule.differential", "unit.capacity")
ZONE = "site.climate_zone"
MORE = (
    "money.price", "money.installed_cost", "fan.flow", "fan.power", "damper.outdoor_share", "unit.eer",
)  # fmt: skip
# At work fresh air comes through the unit and free cooling needs a way out; at home people open windows.
MORE_BY_USE = {
    "commercial": ("damper.minimum_share", "damper.relief_fan"),
    "dwelling": ("building.windows",),
}
KINDS = {"flag": "choice", "list": "tariff", "integer": "number"}
"""The template's word for a kind of value, where it has its own."""
LINES = ("unit.map", "quote.address", "quote.customer")
"""Texts of several lines."""
NOT_TYPED = ("preset", "quote.logo")
"""What is chosen elsewhere, and a picture, which nobody types and no link holds."""


def form_values(
    job: Job,
    link: Link,
    case: Case,
    query: str,
    store: WeatherStore,
    typed: Mapping[str, str] = {},
    fault: str = "",
) -> dict[str, Any]:
    """What the form's template shows; a fault that names a field by its label stands at that field too."""
    preset = preset_case(link.preset if link.preset in PRESETS else case.preset)
    # A search for the differential has none of its own; the air it moves counts most beside it.
    first = [key for key in KNOWN if key != "rule.differential"] + ["fan.flow"] if job.name == "pick" else [*KNOWN]
    more = [key for key in (*MORE, *MORE_BY_USE.get(case.building.use, ())) if key not in first]
    fields = {key: field for key, field in case_fields().items() if key not in NOT_TYPED}
    rows = {key: _row(field, link, case, preset, typed.get(key), fault) for key, field in fields.items()}
    groups = []
    for section, title in SECTIONS.items():
        shown = (ZONE, *first, *more)
        members = [rows[key] for key, field in fields.items() if field.table == section and key not in shown]
        if members:
            groups.append((title, section or "name", members))
    usual = search_defaults(link.units)
    search = [
        {"key": key, "label": RUN_QUANTITIES[key].label, "text": link.search.get(key, usual[key])}
        for key in search_words(job)
    ]
    return {
        "link": query, "against": link.against,
        "weather": link.weather or "", "weathers": _weathers(link, store), "preset": preset.preset,
        "presets": list(PRESETS), "units": link.units, "years": link.years or "", "search": search,
        "zone": rows[ZONE], "first": [rows[key] for key in first], "more": [rows[key] for key in more],
        "groups": groups,
    }  # fmt: skip


def _row(field: CaseField, link: Link, case: Case, preset: Case, typed: str | None, fault: str) -> dict[str, Any]:
    default, unit = field_text(field, preset, link.units), unit_beside(field, case, link.units)
    words = field.description.replace("`", "")
    return {
        "key": field.key, "label": field.label, "source": field.source_words, "unit": unit,
        "kind": "lines" if field.key in LINES else KINDS.get(field.kind, field.kind),
        "choices": field.choices or ("true", "false"),
        "text": field_text(field, case, link.units) if typed is None else typed,
        "words": "" if field.label.lower().endswith(words.lower()) else words[0].upper() + words[1:],
        "preset": f"{default} {unit}".strip() if default else "none",
        "optional": not default and field.kind == "choice",
        "fault": fault if f"“{field.label}”" in fault else "",
    }  # fmt: skip


def _weathers(link: Link, store: WeatherStore) -> list[tuple[str, str]]:
    from freecool.weather.invented import DEMOS

    choices = [(f"demo:{name}", f"Invented: {name.replace('-', ' ')}") for name in DEMOS]
    if link.weather is None:
        return [("", "choose, or send a file below"), *choices]
    if link.weather not in dict(choices):
        choices.insert(0, (link.weather, store.words(link.weather, link.years)))
    return choices
