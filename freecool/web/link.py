"""The link: only what differs from the preset, in the keys of a case file, so that it carries the whole question."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qsl, urlencode

from freecool.answers.jobs import Job
from freecool.answers.settings import STEPS, SearchSettings
from freecool.cases.case_file import case_text, leaves, read_case_text
from freecool.cases.demos import DEMOS
from freecool.cases.model import Case, case_fields, make_case
from freecool.cases.options import by_key, merged, nested
from freecool.cases.presets import DEFAULT_PRESET
from freecool.core.errors import CaseError
from freecool.core.units import System
from freecool.web.field_text import PERIOD, field_text, link_text, preset_case, typed_entry

LONGEST_TEXT = 4_000
# What makes the rule of a commercial building in a zone its own, even where it is that of the preset.
OWN_RULE = ("rule.name", "rule.differential")
SEARCH_KEYS = ("from", "to", "step", "draws", "seed", "humidity_ceiling")
# Which of these fill each field of `SearchSettings`.
SEARCH_WORDS = {
    "differentials_k": ("from", "to", "step"),
    "draws": ("draws",),
    "seed": ("seed",),
    "humidity_ceiling_hours": ("humidity_ceiling",),
}


def search_defaults(units: System) -> dict[str, str]:
    """How a search goes about it unless told, as the command line's options, given whose units."""
    draws, seed, ceiling = SearchSettings.draws, SearchSettings.seed, SearchSettings.humidity_ceiling_hours
    return dict(zip(SEARCH_KEYS, (*STEPS[units], f"{draws}", f"{seed}", f"{ceiling:g}"), strict=True))


def search_words(job: Job) -> tuple[str, ...]:
    """What a form asks of a job's search, given the job."""
    return tuple(word for name in job.takes for word in SEARCH_WORDS[name])


@dataclass(frozen=True)
class Link:
    """What a link or a form says, in its own words."""

    weather: str | None = None
    years: str | None = None
    preset: str = DEFAULT_PRESET
    units: System = "ip"
    settings: dict[str, str] = field(default_factory=dict)
    search: dict[str, str] = field(default_factory=dict)
    against: str | None = None
    """Another case to set beside it, as a link of its own."""


def read_link(params: Mapping[str, str]) -> Link:
    """What a query says; of a form, what was changed in it.

    A field left as the form showed it keeps the exact value of the link in `base`, or follows the preset.

    Raises
    ------
    CaseError
        A text too long, units that are none, or a base that cannot be read.
    """
    long = next((key for key, text in params.items() if len(text) > LONGEST_TEXT), None)
    if long is not None:
        raise CaseError(f"{long[:60]} has {len(params[long]):,} characters, expected at most {LONGEST_TEXT:,}.")
    typed = {key: text.strip().replace("\r\n", "\n") for key, text in params.items()}
    # A link may say an option's name too, such as "setpoint=75F".
    texts = {key: "none" if text is None else text for key, text in by_key(typed).items()}
    units = texts.pop("units", "ip") or "ip"
    if units not in ("ip", "si"):
        raise CaseError(f"units is {units[:40]!r}: expected ip or si.")
    base = texts.pop("base", None)
    # A browser without script asks for the answer at once; no part of the question.
    texts.pop("answer", None)
    weather, years = (texts.pop(key, "") or None for key in ("weather", "years"))
    against = texts.pop("against", "") or None
    preset = texts.pop("preset", "") or DEFAULT_PRESET
    search = {key: texts.pop(key) for key in SEARCH_KEYS if key in texts}
    if base is not None:
        before = read_query(base)
        texts = _changed(texts, before)
        usual = search_defaults(before.units)
        search = {key: text for key, text in search.items() if key in before.search or text != usual[key]}
    return Link(weather, years, preset, "si" if units == "si" else "ip", texts, search, against)


def read_query(query: str) -> Link:
    """What a link's query says, given its text.

    Raises
    ------
    CaseError
        As `read_link`.
    """
    return read_link(dict(parse_qsl(query, keep_blank_values=True)))


def _changed(texts: dict[str, str], base: Link) -> dict[str, str]:
    before, fields = case_of(base), case_fields()
    kept = {key: text for key, text in base.settings.items() if key not in texts}
    for key, text in texts.items():
        if key in fields and text == field_text(fields[key], before, base.units):
            if key in base.settings:
                kept[key] = base.settings[key]
        else:
            kept[key] = text
    return kept


def link_of_demo(name: str) -> Link:
    """An invented job to try, as a link, given its name."""
    demo = DEMOS[name]
    texts = dict(_texts(demo.case))
    return Link(demo.weather, None, texts.pop("preset"), settings=texts)


def link_of_file(content: bytes, weather: str | None, units: System) -> Link:
    """What a case file says, as a link, given its bytes, the weather to go with it and whose units.

    Raises
    ------
    CaseError
        It is no case file, or describes no building.
    """
    tables = read_case_text(content, "the case file")
    make_case(tables, units=units, where="the case file")
    preset = tables.pop("preset", DEFAULT_PRESET)
    return Link(weather, None, preset, units, dict(_texts(tables)))


def _texts(tables: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Each value of a case file's tables as the text that a link carries, by its key."""
    for key, value in leaves(tables):
        if isinstance(value, list):
            yield key, ";".join(" ".join(str(period[word]) for word in PERIOD) for period in value)
        else:
            yield key, str(value).lower() if isinstance(value, bool) else str(value)


def case_of(link: Link) -> Case:
    """The case of a link.

    Raises
    ------
    CaseError
        All faults in one message.
    """
    fields = case_fields()
    changes = merged(*(nested(key, typed_entry(fields.get(key), text)) for key, text in link.settings.items()))
    return make_case({}, changes, preset=link.preset, units=link.units, where="")


def canonical(link: Link, case: Case) -> str:
    """The query that says the same in the fewest words, given a link and its case."""
    said = {
        "weather": link.weather or "",
        "years": link.years or "",
        "preset": link.preset,
        "units": "si" if link.units == "si" else "",
        **{key: "none" if text is None else text for key, text in settings_of(link, case).items()},
        **{
            key: link.search[key]
            for key, usual in search_defaults(link.units).items()
            if link.search.get(key, usual) != usual
        },
        "against": link.against or "",
    }
    return urlencode([(key, text) for key, text in said.items() if text], safe=":/,")


def settings_of(link: Link, case: Case) -> dict[str, str | None]:
    """What a link's case changes in its preset: texts that read back to the same values; None clears."""
    preset, by_code = preset_case(link.preset), case.code_zone is not None
    return {
        key: link_text(found, link.settings[key], case, link.units)
        for key, found in case_fields().items()
        if key in link.settings and ((by_code and key in OWN_RULE) or found.value(case) != found.value(preset))
    }


def case_toml(link: Link, case: Case) -> str:
    """The case of a link as a case file: what differs from its preset."""
    fields = case_fields()
    told: dict[str, Any] = dict(settings_of(link, case))
    for key in told:
        if fields[key].kind == "list":
            told[key] = [{name: getattr(period, name) for name in PERIOD} for period in case.money.tariff]
    return case_text(merged(*(nested(key, value) for key, value in told.items())), case)
