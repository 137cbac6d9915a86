"""A link carries the whole case: it reads back to the same values, and a form changes only what a person changed."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_cli import freecool

from freecool import make_case, read_case_file
from freecool.answers.jobs import JOBS
from freecool.cases.case_file import read_case_text
from freecool.cases.model import Case, case_fields
from freecool.cases.presets import PRESETS
from freecool.cases.rules import RULES
from freecool.cases.vocabulary import LABELS, SECTIONS
from freecool.core.errors import CaseError
from freecool.web.field_text import field_text
from freecool.web.form import KNOWN, MORE
from freecool.web.link import Link, canonical, case_of, case_toml, link_of_file, read_link, search_defaults, settings_of
from freecool.web.pages import form_html
from freecool.web.question import question_of
from freecool.web.weather_store import WeatherStore

TEXTS = {
    "name": st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=40).map(str.strip),
    "building.floor_area": st.floats(60, 5e5).map(lambda v: f"{v:.7g}ft2"),
    "building.glazing.north": st.floats(0, 0.95).map(str),
    "building.construction": st.sampled_from(["light", "medium", "heavy"]),
    "building.storeys": st.integers(1, 20).map(str),
    "schedule.cooling": st.floats(72, 80).map(lambda v: f"{v}F") | st.floats(22.5, 27).map(lambda v: f"{v} C"),
    "schedule.occupied_hours": st.sampled_from(["7-18", "22-6", "0-24"]),
    "schedule.cooling_unoccupied": st.sampled_from(["none", "85F", "30C"]),
    "unit.lockout": st.sampled_from(["none", "50F"]),
    "fan.power": (st.just(0.0) | st.floats(0.05, 2)).map(lambda v: f"{v:.6f} W/cfm"),
    "fan.variable": st.sampled_from(["true", "false"]),
    "rule.name": st.sampled_from(list(RULES)),
    "rule.differential": st.floats(0, 40).map(lambda v: f"{v}F"),
    "rule.enthalpy_limit": st.sampled_from(["none", "28 Btu/lb", "50kJ/kg"]),
    "money.price": st.floats(0, 10).map(str),
    "money.currency": st.sampled_from(["USD", "EUR", "&=+#%"]),
    "money.tariff": st.sampled_from(["", "jun-sep mon-fri 16-21 0.38", "jan mon 1-2 1e-1;jan-dec mon-sun 22-6 0.09"]),
    "site.climate_zone": st.sampled_from(["none", "4A", "8"]),
}
ANY_LINK = st.builds(
    Link,
    weather=st.sampled_from([None, "demo:high-desert", "station:72530", "near:36.07,-79.79", f"upload:{'a' * 32}"]),
    years=st.sampled_from([None, "2015-2024"]),
    preset=st.sampled_from(list(PRESETS)),
    units=st.sampled_from(["ip", "si"]),
    settings=st.fixed_dictionaries({}, optional=TEXTS),
    search=st.fixed_dictionaries({}, optional={"to": st.just("12F"), "draws": st.just("7")}),
    against=st.sampled_from([None, "preset=shop&fan.flow=3900cfm"]),
)


def opened(query: str) -> Link:
    return read_link(dict(parse_qsl(query, keep_blank_values=True)))


@given(ANY_LINK)
@settings(max_examples=200)
def test_a_link_reads_back_to_the_same_case(link: Any) -> None:
    case = case_of(link)
    query = canonical(link, case)
    again = opened(query)
    assert case_of(again) == case
    assert [again.weather, again.years, again.preset, again.units] == [
        link.weather, link.years, link.preset, link.units,
    ]  # fmt: skip
    assert question_of(again) == question_of(link)
    assert canonical(again, case_of(again)) == query


def test_the_form_tells_typical_values_where_checkers_read_marks() -> None:
    words = [field.source_words for field in case_fields().values()]
    assert any("(typical value)" in text for text in words)
    assert not any("memory" in text for text in words)


@given(ANY_LINK)
@settings(max_examples=200)
def test_a_case_file_reads_back_to_the_same_case(link: Any) -> None:
    case = case_of(link)
    assert make_case(read_case_text(case_toml(link, case).encode(), "the file")) == case


@given(ANY_LINK, st.sampled_from(["ip", "si"]))
@settings(max_examples=100)
def test_a_form_left_as_shown_changes_nothing(link: Any, units: Any) -> None:
    case = case_of(link)
    shown = {key: field_text(field, case, link.units) for key, field in case_fields().items()}
    params = {**shown, "base": canonical(link, case), "preset": link.preset, "units": units}
    assert case_of(read_link(params)) == case


def test_only_what_differs_is_in_the_link() -> None:
    link = read_link({
        "weather": "demo:high-desert", "building.floor_area": "1800", "fan.flow": "1200 cfm", "unit.eer": "10.5",
        "money.price": "0.150", "rule.name": "differential",
    })  # fmt: skip
    query = canonical(link, case_of(link))
    assert query == "weather=demo:high-desert&preset=detached-house-medium&unit.eer=10.5Btu/Wh"


def test_a_link_may_say_the_options_of_the_command_line() -> None:
    options = {"building": "small-office", "setpoint": "76F", "fan": "0.4W/cfm", "zone": "4A", "price": "0.2"}
    case = case_of(read_link(options))
    words = [word for name, text in options.items() for word in (f"--{name}", text)]
    told = json.loads(freecool("value", *words, "--json").output)["inputs"]["case"]
    assert json.loads(json.dumps(case.to_dict())) == told
    assert case.schedule.cooling_unoccupied is None
    assert "setpoint" not in canonical(read_link(options), case)


def test_a_changed_field_of_a_form_is_taken_in_its_unit() -> None:
    base = "preset=shop&building.floor_area=2500.123ft2"
    case = case_of(opened(base))
    shown = {key: field_text(field, case, "si") for key, field in case_fields().items()}
    link = read_link({"base": f"{base}&units=si", "units": "si", "preset": "shop", **shown, "schedule.cooling": "24"})
    assert settings_of(link, case_of(link)) == {"building.floor_area": "2500.123ft2", "schedule.cooling": "24C"}


def test_another_preset_brings_its_own_values_and_leaves_what_was_told() -> None:
    base = "preset=shop&unit.eer=10"
    case = case_of(opened(base))
    shown = {key: field_text(field, case, "ip") for key, field in case_fields().items()}
    link = read_link({**shown, "base": base, "preset": "small-office"})
    assert case_of(link) == make_case({"unit": {"eer": "10"}}, preset="small-office")


@pytest.mark.parametrize(
    ("params", "words"),
    [
        ({"schedule.cooling": "750"}, "schedule.cooling is '750'"),
        ({"building.flor_area": "1"}, "did you mean 'floor_area'?"),
        ({"rubbish": "1"}, "rubbish is not a key"),
        ({"building": "x"}, "building"),
        ({"building.floor_area.x": "1"}, "building.floor_area"),
        ({"preset": "house"}, "'house' is not a building preset"),
        ({"units": "metric"}, "units is 'metric'"),
        ({"money.tariff": "jun-sep 16-21 0.38"}, "expected months, days, hours and price"),
        ({"money.tariff": "jun-sep mon-fri 16-25 0.38"}, "hours is '16-25'"),
        ({"name": "x" * 5000}, "name has 5,000 characters"),
        ({"building.wall.mass": "I"}, "building.wall"),
        ({"draws": "many"}, "draws is 'many'"),
        ({"draws": "nan"}, "draws is 'nan'"),
        ({"draws": "1e9"}, "draws is 1e+09"),
        ({"humidity_ceiling": "-1"}, "humidity_ceiling"),
        ({"from": "9F", "to": "3F"}, "from 9F to 3F step 1F"),
        ({"": "x"}, "is not a key"),
        ({".": "x"}, "is not a key"),
        ({"a." * 900: "x"}, "is not a key"),
    ],
)
def test_a_link_that_says_nothing_possible_is_one_sentence(params: Any, words: str) -> None:
    with pytest.raises(CaseError) as refused:
        question_of(read_link(params))
    assert words in str(refused.value)


def test_the_form_shows_every_value_of_the_case_once() -> None:
    link = Link(preset="shop")
    page = form_html(JOBS["value"], link, case_of(link), "", WeatherStore())
    names = re.findall(r'name="([a-z_.]+)"', page)
    shown = [name for name in names if name not in ("base", "units", "years", "answer")]
    # The case's own schema, walked by pydantic and not by our reading of the classes.
    schema = Case.model_json_schema()
    assert sorted([*shown, "quote.logo"]) == sorted(leaves(schema, schema, ""))
    assert {field.table for field in case_fields().values()} <= set(SECTIONS)
    assert set(KNOWN) | set(MORE) | set(LABELS) <= set(case_fields())


@pytest.mark.parametrize(
    ("preset", "asked"),
    [
        ("detached-house-light", {"damper.outdoor_share"}),
        ("small-office", {"damper.outdoor_share", "damper.minimum_share", "damper.relief_fan"}),
    ],
)
def test_the_damper_is_asked_for_where_it_matters(preset: Any, asked: Any) -> None:
    link = Link(preset=preset)
    page = form_html(JOBS["value"], link, case_of(link), "", WeatherStore())
    first = page[: page.index('<details class="fold" id="fold-name"')]
    assert set(re.findall(r'name="(damper\.[a-z_]+)"', first)) == asked


@pytest.mark.parametrize("units", ["ip", "si"])
def test_a_saved_case_opens_as_the_same_case(units: Any) -> None:
    told = {
        "building.floor_area": "2345.678ft2", "schedule.cooling": "24.3C",
        "fan.variable": "true", "money.price": "0.19",
        "money.tariff": "jun-sep mon-fri 16-21 0.38;jan mon 1-2 0.11", "site.climate_zone": "4A", "name": "A: b; c",
    }  # fmt: skip
    link = Link("demo:high-desert", None, "shop", units, told)
    opened = link_of_file(case_toml(link, case_of(link)).encode(), "demo:high-desert", units)
    assert case_of(opened) == case_of(link)
    assert opened.weather == link.weather
    assert opened.units == units


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"\xff\xfe", "UTF-8"),
        (b"preset = ", "not valid TOML"),
        (b"[fan]\nflow = '5 kelvin'\n", "kelvin"),
        (b"[unit]\nmap_file = '/etc/hostname'\n", "map_file"),
    ],
)
def test_a_file_that_is_no_case_is_one_sentence(content: bytes, words: str) -> None:
    with pytest.raises(CaseError, match=re.escape(words)):
        link_of_file(content, None, "ip")


def test_the_form_steps_as_a_person_of_its_units_does() -> None:
    """Half a kelvin, not 0.556 K; a form that was left alone follows the units."""
    assert question_of(Link(units="si")).search.differentials_k[:3] == (0.0, 0.5, 1.0)
    form = {"base": "preset=shop", "units": "si", "preset": "shop", **search_defaults("ip")}
    assert read_link(form).search == {}
    assert read_link({**form, "step": "2F"}).search == {"step": "2F"}


def leaves(schema: Any, part: Any, place: str) -> list[str]:
    found = []
    for name, entry in part["properties"].items():
        refs = [choice["$ref"] for choice in (entry, *entry.get("anyOf", ())) if "$ref" in choice]
        if refs:
            found += leaves(schema, schema["$defs"][refs[0].rsplit("/", 1)[1]], f"{place}{name}.")
        else:
            found.append(f"{place}{name}")
    return found


def test_the_downloaded_file_is_read_by_the_command_s_reader(tmp_path: Path) -> None:
    link = read_link({"preset": "shop", "name": 'Corner "café" \\ shop', "fan.flow": "3900cfm", "money.price": "0.2"})
    path = tmp_path / "case.toml"
    path.write_text(case_toml(link, case_of(link)), encoding="utf-8")
    assert make_case(read_case_file(path)) == case_of(link)
