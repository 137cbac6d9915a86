"""Towns and ZIP codes by name: found without a network, nothing guessed, each as open data place it."""

from __future__ import annotations

import re
from importlib import resources
from typing import TYPE_CHECKING

import pytest
from station_server import StationServer

from freecool.core.errors import WeatherError
from freecool.weather import open_weather
from freecool.weather.places import STATES, find_place, suggest_places
from freecool.weather.readers.stations import place_of

if TYPE_CHECKING:
    from conftest import Outside


# Headers of the TMY3 files that pvlib carries and the tests keep: towns and their airports.
@pytest.mark.parametrize(
    ("text", "latitude", "longitude"),
    [
        ("Greensboro, NC", 36.10, -79.95),
        ("Albuquerque NM", 35.04, -106.62),
        ("sacramento california", 38.70, -121.58),
        ("Melbourne, Florida", 28.12, -80.65),
        ("27401", 36.10, -79.95),
        ("87102-1234", 35.04, -106.62),
    ],
)
def test_a_place_lies_where_its_weather_file_does(
    text: str, latitude: float, longitude: float, outside: Outside
) -> None:
    place = find_place(text)
    outside(f"{text}: latitude [deg]", "TMY3 header of its airport", latitude, place.latitude, 0.35)
    outside(f"{text}: longitude [deg]", "TMY3 header of its airport", longitude, place.longitude, 0.35)


# The towns of zones in the IANA time zone database, zone1970.tab of tzdata: to the minute of arc.
@pytest.mark.parametrize(
    ("text", "zone"),
    [
        ("Zürich, Switzerland", "Europe/Zurich"),
        ("paris france", "Europe/Paris"),
        ("Melbourne, Victoria, Australia", "Australia/Melbourne"),
        ("TOKYO JP", "Asia/Tokyo"),
        ("London, UK", "Europe/London"),
        ("Bogota, Colombia", "America/Bogota"),
    ],
)
def test_a_town_abroad_lies_where_its_time_zone_does(text: str, zone: str) -> None:
    table = resources.files("tzdata.zoneinfo").joinpath("zone1970.tab").read_text("utf-8")
    placed = next(line.split("\t")[1] for line in table.splitlines() if line.split("\t")[2:3] == [zone])
    latitude, longitude = re.findall(r"[+-]\d+", placed)
    place = find_place(text)
    assert place.latitude == pytest.approx(degrees(latitude, 2), abs=0.1)
    assert place.longitude == pytest.approx(degrees(longitude, 3), abs=0.1)


def degrees(text: str, digits: int) -> float:
    """Degrees of ISO 6709, such as "+4852" or "+353916", given how many digits whole degrees have."""
    whole, minutes, seconds = text[1 : digits + 1], text[digits + 1 : digits + 3], text[digits + 3 :] or "0"
    return float(f"{text[0]}1") * (int(whole) + int(minutes) / 60.0 + int(seconds) / 3600.0)


def test_a_zip_code_without_a_place_moves_no_town() -> None:
    """77352 of Livingston TX stands at 0, 0 in the list; the town is the seat of Polk County, 30.71, -94.93."""
    place = find_place("Livingston TX")
    assert (place.latitude, place.longitude) == pytest.approx((30.71, -94.93), abs=0.1)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Lyon, France", "Lyon, France"),
        ("St. Denis, Île-de-France, France", "Saint-Denis, France"),
        ("Cologne, Lombardy, Italy", "Cologne, Italy"),
        ("Greensboro, NC, USA", "Greensboro, NC"),
        ("greensboro nc", "Greensboro, NC"),
        ("  Greensboro ,  North Carolina ", "Greensboro, NC"),
        ("St. Louis, MO", "Saint Louis, MO"),
        ("Winston-Salem NC", "Winston Salem, NC"),
        ("O'Fallon, IL", "O Fallon, IL"),
        ("New York NY", "New York, NY"),
        ("Washington, DC", "Washington, DC"),
    ],
)
def test_ways_of_writing_a_town(text: str, name: str) -> None:
    assert find_place(text).name == name


def test_suggestions_are_names_that_are_found() -> None:
    names = suggest_places("green")
    assert len(names) == 8
    assert "Greensboro, NC" in names
    assert [find_place(name).name for name in names] == names
    assert set(suggest_places("Greensboro, V")) == {"Greensboro, VT", "Greensboro Bend, VT"}
    assert suggest_places("gr") == []


def test_the_clock_of_the_place_is_told() -> None:
    assert find_place("Greensboro NC").time_zone == "America/New_York"
    assert find_place("87102").time_zone == "America/Denver"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "Greensboro",
            # Great circle to Alabama by the haversine of both towns' degrees, by hand: 805 km.
            (
                "8 towns: Greensboro, NC (Guilford County); Greensboro, AL (Hale County), 500 mi from it",
                "add the state",
            ),
        ),
        ("San Giorgio, Italy", ("is the name of", "km from it", "add the region")),
        ("Lyom, France", ("is no town", "its own language")),
        ("77352", ("no ZIP code",)),
        ("Springfield", ("and 12 more",)),
        ("Greensbro NC", ("did you mean Greensboro, NC", "latitude and longitude")),
        ("Greensboro, QQ", ("is no town",)),
        ("99999", ("no ZIP code",)),
        ("Nowhereville", ("is no town",)),
    ],
)
def test_nothing_is_guessed(text: str, said: tuple[str, ...]) -> None:
    with pytest.raises(WeatherError) as error:
        find_place(text)
    assert all(words in str(error.value) for words in said), error.value


@pytest.mark.parametrize(("text", "where"), [("36.07,-79.79", (36.07, -79.79)), ("36.07 -79.79", (36.07, -79.79))])
def test_coordinates_stay_coordinates(text: str, where: tuple[float, float]) -> None:
    place = place_of(text)
    assert (place.latitude, place.longitude) == where
    assert place.name == ""


@pytest.mark.parametrize("text", ["", "36.07", "1,2,3", "--", "x"])
def test_what_is_no_place_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(WeatherError, match=re.escape("near:36.07,-79.79")):
        open_weather(f"near:{text}")


def test_states_are_two_letters_each_once() -> None:
    assert len(STATES) == len(set(STATES.values())) == 52
    assert all(len(code) == 2 and code.isupper() for code in STATES.values())


def test_weather_near_a_town_says_what_was_understood(station_server: StationServer) -> None:
    by_name = open_weather("near:Greensboro, NC", years=(2023, 2023))
    by_place = open_weather("near:36.0853,-79.8209", years=(2023, 2023))
    assert (by_name.frame == by_place.frame).all(axis=None)
    notice = by_name.notices[0]
    assert notice.code == "place_by_name"
    for words in (
        "Greensboro, NC (Guilford County)",
        "36.0853, -79.8209",
        "UTC-5 h",
        "climate zone's number",
        "GeoNames",
    ):
        assert words in notice.text
    assert "place_by_name" not in {notice.code for notice in by_place.notices}
