"""What is asked, and the link that carries it: only what differs from the preset, in the keys of a case file."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple
from urllib.parse import parse_qsl, urlencode

from freecool.cases.model import Case, make_case
from freecool.cases.options import merged, nested
from freecool.cases.presets import DEFAULT_PRESET, PRESETS
from freecool.core.errors import CaseError
from freecool.core.units import System, parse
from freecool.web.form import Field, case_fields, preset_case

MOST_DRAWS = 500
MOST_STEPS = 100
LONGEST_TEXT = 4_000
# How the pick goes about it, as the command line's options, and its defaults.
SWEEP = {"from": "0F", "to": "20F", "step": "1F", "draws": "100", "seed": "0", "humidity_ceiling": "250"}


class Sweep(NamedTuple):
    """Which differentials are tried [K], and under how many drawn sensor errors."""

    differentials_k: tuple[float, ...]
    draws: int
    seed: int
    humidity_ceiling_hours: float


class Question(NamedTuple):
    """A case, a weather by its name, and how a sweep goes about it."""

    case: Case
    weather: str | None
    years: str | None
    units: System
    sweep: Sweep


@dataclass(frozen=True)
class Link:
    """What a link or a form says, in its own words."""

    weather: str | None = None
    years: str | None = None
    preset: str = DEFAULT_PRESET
    units: System = "ip"
    settings: dict[str, str] = field(default_factory=dict)
    sweep: dict[str, str] = field(default_factory=dict)


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
    texts = {key: text.strip().replace("\r\n", "\n") for key, text in params.items()}
    units = texts.pop("units", "ip") or "ip"
    if units not in ("ip", "si"):
        raise CaseError(f"units is {units[:40]!r}: expected ip or si.")
    base = texts.pop("base", None)
    # The wish of a browser without script; no part of the question.
    texts.pop("answer", None)
    weather, years = (texts.pop(key, "") or None for key in ("weather", "years"))
    preset = texts.pop("preset", "") or DEFAULT_PRESET
    sweep = {key: texts.pop(key) for key in SWEEP if key in texts}
    if base is not None:
        texts = _changed(texts, read_link(dict(parse_qsl(base, keep_blank_values=True))))
    return Link(weather, years, preset, "si" if units == "si" else "ip", texts, sweep)


def _changed(texts: dict[str, str], base: Link) -> dict[str, str]:
    before, fields = case_of(base), case_fields()
    kept = {key: text for key, text in base.settings.items() if key not in texts}
    for key, text in texts.items():
        if key in fields and text == fields[key].text(before, base.units):
            if key in base.settings:
                kept[key] = base.settings[key]
        else:
            kept[key] = text
    return kept


def case_of(link: Link) -> Case:
    """The case of a link.

    Raises
    ------
    CaseError
        All faults in one message.
    """
    told = merged(*(nested(key, _entry(key, text)) for key, text in link.settings.items()))
    return make_case({}, told, preset=link.preset, units=link.units, where="form")


def question_of(link: Link) -> Question:
    """The question of a link.

    Raises
    ------
    CaseError
        Whatever describes no building, or no sweep.
    """
    asked = {**SWEEP, **{key: text for key, text in link.sweep.items() if text}}
    draws, seed, ceiling = (_number(asked[key], key) for key in ("draws", "seed", "humidity_ceiling"))
    sweep = make_sweep(link.units, asked["from"], asked["to"], asked["step"], draws, seed, ceiling)
    return Question(case_of(link), link.weather, link.years, link.units, sweep)


def make_sweep(
    units: System, first: str | float, last: str | float, step: str | float, draws: float, seed: float, ceiling: float
) -> Sweep:
    """A `Sweep`, given units, first, last and step of the differentials, draws, seed and the humidity ceiling [h].

    Raises
    ------
    CaseError
        Bounds that do not rise, or more work than one request may ask for.
    """
    low, high, by = (
        parse(text, "difference", units, name) for text, name in ((first, "from"), (last, "to"), (step, "step"))
    )
    if not 0.0 <= low <= high or by <= 0.0 or (high - low) / by > MOST_STEPS:
        raise CaseError(
            f"from {first} to {last} by {step}: expected 0 or more, rising, in at most {MOST_STEPS} steps, such as "
            "from 0F to 20F by 1F."
        )
    for name, value, most in (("draws", draws, MOST_DRAWS), ("seed", seed, 2**31 - 1)):
        if not (0 <= value <= most and value == int(value)):
            raise CaseError(f"{name} is {value:g}: expected a whole number from 0 to {most:,}.")
    if not 0.0 <= ceiling <= 8784.0:
        raise CaseError(f"humidity_ceiling is {ceiling:g}: expected hours a year, 0 to 8,784.")
    tried = tuple(low + by * index for index in range(int((high - low) / by + 1e-6) + 1))
    return Sweep(tried, int(draws), int(seed), ceiling)


def canonical(link: Link, case: Case) -> str:
    """The query that says the same in the fewest words, given a link and its case."""
    told = {
        "weather": link.weather or "",
        "years": link.years or "",
        "preset": link.preset,
        "units": "si" if link.units == "si" else "",
        **{key: "none" if text is None else text for key, text in settings_of(link, case).items()},
        **{key: link.sweep[key] for key, usual in SWEEP.items() if link.sweep.get(key, usual) != usual},
    }
    return urlencode([(key, text) for key, text in told.items() if text], safe=":/,")


def settings_of(link: Link, case: Case) -> dict[str, str | None]:
    """What a link's case changes in its preset: texts that read back to the same values; None clears."""
    preset = preset_case(link.preset)
    told: dict[str, str | None] = {}
    for key, found in case_fields().items():
        if key in link.settings and found.value(case) != found.value(preset):
            told[key] = _plain(found, link.settings[key], case, link.units)
    return told


def _plain(found: Field, text: str, case: Case, units: System) -> str | None:
    value = found.value(case)
    if value is None:
        return None
    if found.kind == "quantity":
        try:
            float(text)
        except ValueError:
            return text.replace(" ", "")
        return f"{text.strip()}{found.unit(units)}"
    if found.kind == "tariff":
        return ";".join(found.text(case, units).splitlines())
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    return found.text(case, units)


def case_toml(link: Link, case: Case) -> str:
    """The case of a link as a case file: what differs from its preset."""
    tables: dict[str, list[str]] = {"": []}
    top = [f"preset = {_quoted(link.preset)}"]
    fields = case_fields()
    for key, text in settings_of(link, case).items():
        table, _, name = key.rpartition(".")
        if key == "money.tariff":
            for period in case.money.tariff:
                spans = [f"{part} = {_quoted(getattr(period, part))}" for part in ("months", "days", "hours")]
                tables.setdefault("[money.tariff]", []).append("\n".join([*spans, f"price = {period.price!r}"]))
            continue
        if text is None:
            # TOML has no word for none; without a set point of its own an empty building keeps the occupied one.
            occupied = fields[key.removesuffix("_unoccupied")]
            text = link.settings.get(occupied.key) or PRESETS[link.preset][table][name.removesuffix("_unoccupied")]
        value = fields[key].value(case)
        bare = fields[key].kind == "number" or isinstance(value, bool)
        tables.setdefault(table, []).append(f"{name} = {text if bare else _quoted(text)}")
    parts = ["\n".join([*tables.pop(""), *top])]
    for table, lines in tables.items():
        repeated = table.startswith("[")
        parts += [f"[{table}]\n{line}" for line in lines] if repeated else [f"[{table}]\n" + "\n".join(lines)]
    return "\n\n".join(parts) + "\n"


def _quoted(text: str) -> str:
    # A JSON string is a TOML string, but for the one control character that JSON lets pass.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _entry(key: str, text: str) -> Any:
    found = case_fields().get(key)
    if found is None or found.kind == "text":
        return text
    if found.kind == "tariff":
        return read_tariff(text)
    return None if text.lower() in ("", "none") else text


def read_tariff(text: str) -> list[dict[str, str]]:
    """Prices by time, given months, days, hours and price in each line.

    Raises
    ------
    CaseError
        A line that does not hold these four.
    """
    periods = []
    for line in filter(str.strip, re.split(r"[;\n]", text)):
        words = line.split()
        if len(words) != 4:
            raise CaseError(
                f'money.tariff has the line {line[:80]!r}: expected months, days, hours and price, such as "jun-sep '
                'mon-fri 16-21 0.38".'
            )
        periods.append(dict(zip(("months", "days", "hours", "price"), words, strict=True)))
    return periods


def _number(text: str, name: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise CaseError(f"{name} is {text[:40]!r}: expected a number.")
    return value
