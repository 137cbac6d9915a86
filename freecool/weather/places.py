"""Towns and ZIP codes of the USA by name, without a network."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from statistics import fmean
from typing import Any

from freecool.core.errors import WeatherError

ATTRIBUTION = "Place by the open data of GeoNames (CC BY 4.0), in the package zipcodes."
ZIP = re.compile(r"(\d{5})(-\d{4})?")
# Of a town; boxes and single firms lie at its post offices.
DELIVERED = "STANDARD"
MOST_NAMED = 12
LEAST_LETTERS = 3
SPELLED = {"st": "saint", "ste": "sainte", "mt": "mount", "ft": "fort"}
# Two-letter codes of the United States Postal Service.
STATES = {
    "alabama": "AL", "alaska": "AK", "arizona": "AZ", "arkansas": "AR", "california": "CA", "colorado": "CO",
    "connecticut": "CT", "delaware": "DE", "district of columbia": "DC", "florida": "FL", "georgia": "GA",
    "hawaii": "HI", "idaho": "ID", "illinois": "IL", "indiana": "IN", "iowa": "IA", "kansas": "KS", "kentucky": "KY",
    "louisiana": "LA", "maine": "ME", "maryland": "MD", "massachusetts": "MA", "michigan": "MI", "minnesota": "MN",
    "mississippi": "MS", "missouri": "MO", "montana": "MT", "nebraska": "NE", "nevada": "NV", "new hampshire": "NH",
    "new jersey": "NJ", "new mexico": "NM", "new york": "NY", "north carolina": "NC", "north dakota": "ND",
    "ohio": "OH", "oklahoma": "OK", "oregon": "OR", "pennsylvania": "PA", "puerto rico": "PR", "rhode island": "RI",
    "south carolina": "SC", "south dakota": "SD", "tennessee": "TN", "texas": "TX", "utah": "UT", "vermont": "VT",
    "virginia": "VA", "washington": "WA", "west virginia": "WV", "wisconsin": "WI", "wyoming": "WY",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Place:
    """A town, or the area of a ZIP code.

    Attributes
    ----------
    name : str
        Such as "Greensboro, NC".
    county : str
    latitude, longitude : float
        [degrees], north and east positive; of a town the mean of its ZIP codes.
    time_zone : str
        As the IANA time zone database names it; empty where it is not known.
    """

    name: str
    county: str
    latitude: float
    longitude: float
    time_zone: str


def find_place(text: str) -> Place:
    """The one place that a text names: a ZIP code, or a town with its state where several have that name.

    Parameters
    ----------
    text : str
        Such as "27401", "Greensboro, NC" or "Greensboro North Carolina".

    Returns
    -------
    Place
        Nothing is guessed.

    Raises
    ------
    WeatherError
        No such place, or several, all of them named.

    Examples
    --------
    >>> find_place("greensboro nc").name
    'Greensboro, NC'
    """
    wanted = " ".join(text.split())
    if code := ZIP.fullmatch(wanted):
        return _of_zip(code[1])
    found = _towns(wanted)
    if len(found) > 1:
        shown = "; ".join(f"{one.name} ({one.county})" for one in found[:MOST_NAMED])
        more = f" and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
        raise WeatherError(f"{wanted!r} is the name of {len(found)} towns: {shown}{more}; add the state")
    if not found:
        raise WeatherError(
            f"{wanted!r} is no town or ZIP code of the USA that is known here{_meant(wanted)}; give latitude and "
            "longitude in degrees, such as near:36.07,-79.79"
        )
    return found[0]


def suggest_places(text: str, most: int = 8) -> list[str]:
    """Towns whose name begins so, the largest first, given the beginning of a name, with or without its state.

    Parameters
    ----------
    text : str
        Three letters at least; fewer suggest nothing.
    most : int
        How many at most.

    Returns
    -------
    list of str
        Names that `find_place` takes, such as "Greensboro, NC".
    """
    city, state = _parted(" ".join(text.split()))
    if len(city) < LEAST_LETTERS:
        return []
    towns = (
        (len(rows), f"{rows[0]['city']}, {code}")
        for name, by_state in _by_name().items()
        if name.startswith(city)
        for code, rows in by_state.items()
        if code.startswith(state)
    )
    return [name for _, name in sorted(towns, key=lambda town: (-town[0], town[1]))[:most]]


def _of_zip(code: str) -> Place:
    import zipcodes

    rows = zipcodes.matching(code)
    if not rows:
        raise WeatherError(f"{code} is no ZIP code that is known here; give the town with its state")
    return _place(rows)


def _towns(wanted: str) -> list[Place]:
    """Every town that a text may name, by state."""
    by_name, (city, state) = _by_name(), _parted(wanted)
    rows = by_name.get(city, {})
    chosen = {state: rows[state]} if state in rows else {} if state else rows
    return [_place(chosen[key]) for key in sorted(chosen)]


def _parted(wanted: str) -> tuple[str, str]:
    """(name of the town as it is looked up, two letters of its state or none)."""
    before, comma, after = wanted.rpartition(",")
    if comma:
        return _looked_up(before), _state(after) or after.strip().upper()
    words = wanted.split()
    for count in (3, 2, 1):
        state = _state(" ".join(words[-count:]))
        if len(words) > count and state:
            return _looked_up(" ".join(words[:-count])), state
    return _looked_up(wanted), ""


def _state(text: str) -> str:
    plain = text.strip().rstrip(".").lower()
    return STATES.get(plain) or (plain.upper() if plain.upper() in STATES.values() else "")


def _looked_up(name: str) -> str:
    words = re.sub(r"[.'’]", "", name.lower()).replace("-", " ").split()
    return "".join(SPELLED.get(word, word) for word in words)


@lru_cache(1)
def _by_name() -> dict[str, dict[str, list[Mapping[str, Any]]]]:
    """Rows of ZIP codes by town and state."""
    import zipcodes

    towns: dict[str, dict[str, list[Mapping[str, Any]]]] = {}
    for row in zipcodes.list_all():
        if row["country"] == "US":
            towns.setdefault(_looked_up(row["city"]), {}).setdefault(row["state"], []).append(row)
    return towns


def _place(rows: list[Mapping[str, Any]]) -> Place:
    kept = [row for row in rows if row["zip_code_type"] == DELIVERED and row["active"]] or rows
    first = kept[0]
    return Place(
        name=f"{first['city']}, {first['state']}",
        county=first["county"],
        latitude=round(fmean(float(row["lat"]) for row in kept), 4),
        longitude=round(fmean(float(row["long"]) for row in kept), 4),
        time_zone=first["timezone"],
    )


def _meant(wanted: str) -> str:
    city, state = _parted(wanted)
    near = get_close_matches(city, _by_name(), n=3, cutoff=0.8)
    names = [place.name for name in near for place in _towns(f"{name}, {state}" if state else name)[:2]]
    return f" (did you mean {' or '.join(names[:4])}?)" if names else ""
