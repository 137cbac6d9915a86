"""Pages without a script, and what is downloaded: the same numbers, files and sentences as the command line."""

from __future__ import annotations

import html
import json
import re
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import pytest
from test_cli import freecool
from test_report import Structure
from web_serving import serving

from freecool import make_case, read_case_file
from freecool.cases.glossary import GLOSSARY
from freecool.web.link import case_of, read_link

LINK = "weather=demo:humid-coast&preset=shop&fan.flow=3900cfm&money.price=0.2"
OPTIONS = ("demo:humid-coast", "--building", "shop", "--flow", "3900cfm", "--price", "0.2")


@pytest.fixture(scope="module")
def server() -> Iterator[Any]:
    with serving() as running:
        yield running


def text_of(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).replace("\u00a0", " ").split())


def whole_page(page: str) -> str:
    """A page whose tags close, which fetches nothing foreign and holds no inline script, style or handler."""
    structure = Structure()
    structure.feed(page)
    assert structure.open == []
    assert structure.images_without_words == 0
    assert [address for address in structure.fetches if not address.startswith(("/", "#", "data:"))] == []
    assert not re.search(r"<style|<script(?! src=\"/static/)|\sstyle=|\son[a-z]+=", page)
    return page


def test_the_page_shows_the_command_s_numbers_without_a_script(server: Any) -> None:
    page = whole_page(server.client.get(f"/value?{LINK}").text)
    told = json.loads(freecool("value", *OPTIONS, "--json").output)
    text = text_of(page)
    assert told["verdict"]["text"] in text
    assert f"Net saved {told['energy']['net_kwh_saved']:,.0f} kWh" in text
    assert f"Permitted {told['hours']['permitted']:,.0f} h" in text
    assert all(warning["text"] in text for warning in told["warnings"])
    assert "INVENTED climate" in text
    assert "licensed technicians" in text


@pytest.mark.parametrize("job", ["pick", "compare"])
def test_longer_work_is_asked_for_by_a_button_without_a_script(server: Any, job: str) -> None:
    page = whole_page(server.client.get(f"/{job}?{LINK}&draws=1").text)
    assert '<noscript><input type="hidden" name="answer" value="now"></noscript>' in page
    assert "data-pending" in page
    page = whole_page(server.client.get(f"/{job}?{LINK}&draws=1&answer=now").text)
    told = json.loads(freecool(job, *OPTIONS, "--draws", "1", "--json").output)
    assert told["verdict"]["text"] in text_of(page)
    assert "data-pending" not in page


def test_a_form_of_a_browser_without_script_ends_at_the_short_link(server: Any) -> None:
    form = {"base": LINK, "weather": "demo:humid-coast", "preset": "shop", "building.floor_area": "3100"}
    answer = server.client.get("/value", params={**form, "answer": "now"})
    assert answer.status_code == 303
    assert answer.headers["location"] == (
        "/value?weather=demo:humid-coast&preset=shop&building.floor_area=3100ft2&fan.flow=3900cfm&money.price=0.2"
        "&answer=now"
    )


def test_without_weather_the_page_asks_for_it_and_the_demo_does_not(server: Any) -> None:
    page = whole_page(server.client.get("/").text)
    assert "choose, or send a file" in page
    assert 'class="number"' not in page
    with serving(demo=True) as demo:
        assert "INVENTED climate" in whole_page(demo.client.get("/").text)


def test_a_mistake_stands_on_the_page_beside_what_was_typed(server: Any) -> None:
    answer = server.client.get(f"/value?{LINK}&schedule.cooling=750", headers={"accept": "text/html"})
    assert answer.status_code == 422
    page = whole_page(answer.text)
    assert "“Cooling set point” is '750'" in text_of(page)
    assert 'value="750"' in page


def test_hostile_words_are_shown_as_text(server: Any) -> None:
    name = "<script>alert(1)</script>\"'&"
    for path in ("/value", "/pick"):
        page = whole_page(server.client.get(path, params={"weather": "demo:high-desert", "name": name}).text)
        assert "<script>alert" not in page
    answer = server.client.get("/answer/value", params={"weather": "demo:high-desert", "name": name}).text
    assert "<script>alert" not in answer
    for path in ("/%3Cscript%3E", "/value?%3Cscript%3E=1", "/download/value/%3Cscript%3E"):
        answer = server.client.get(path, headers={"accept": "text/html"})
        assert answer.status_code in (404, 422)
        whole_page(answer.text)


def test_a_file_without_script_is_kept_and_the_form_with_it(server: Any, pvlib_weather: Callable[[str], Path]) -> None:
    path = pvlib_weather("723170TYA.CSV")
    fields = {"job": "value", "link": "preset=shop&money.price=0.2"}
    answer = server.client.post("/weather", files={"file": (path.name, path.read_bytes())}, data=fields)
    assert answer.status_code == 303
    assert re.fullmatch(r"/value\?weather=upload:[0-9a-f]{32}&preset=shop&money.price=0.2", answer.headers["location"])
    assert "GREENSBORO" in server.client.get(answer.headers["location"]).text.upper()
    refused = server.client.post("/weather", files={"file": ("x", b"PK\x03\x04")}, headers={"accept": "text/html"})
    assert refused.status_code == 422
    assert "unpack it first" in whole_page(refused.text)


def download(server: Any, path: str) -> str:
    answer = server.client.get(f"/download/{path}")
    assert answer.status_code == 200, answer.text[:300]
    assert answer.headers["content-disposition"].startswith('attachment; filename="freecool-')
    return answer.text  # type: ignore[no-any-return]


@pytest.mark.parametrize(
    ("path", "command", "option"),
    [
        ("value/report.html", "value", "--report"),
        ("value/hourly.csv", "value", "--hourly"),
        ("pick/report.html", "pick", "--report"),
        ("pick/candidates.csv", "pick", "--table"),
        ("pick/sheet.html", "pick", "--sheet"),
        ("compare/rules.csv", "compare", "--table"),
    ],
)
def test_a_download_is_the_command_s_file(server: Any, tmp_path: Path, path: str, command: str, option: str) -> None:
    file = tmp_path / path.split("/")[1]
    few = () if command == "value" else ("--draws", "1")
    run = freecool(command, *OPTIONS, *few, option, str(file))
    assert run.code == 0, run.errors
    assert download(server, f"{path}?{LINK}&draws=1") == file.read_text("utf-8")


def test_the_sheet_is_for_the_day_s_air(server: Any, tmp_path: Path) -> None:
    file = tmp_path / "sheet.html"
    freecool("pick", *OPTIONS, "--draws", "1", "--sheet", str(file), "--outdoor", "50F", "--return", "74F")
    sheet = download(server, f"pick/sheet.html?{LINK}&draws=1&outdoor=50F&return=74F")
    assert sheet == file.read_text("utf-8")
    refused = server.client.get(f"/download/pick/sheet.html?{LINK}&outdoor=warm")
    assert refused.status_code == 422
    assert "outdoor is 'warm'" in server.refusal(refused)


@pytest.mark.parametrize("job", ["value", "pick", "compare"])
def test_the_case_file_reads_back_into_the_same_case(server: Any, tmp_path: Path, job: str) -> None:
    file = tmp_path / "case.toml"
    file.write_text(download(server, f"{job}/case.toml?{LINK}"), encoding="utf-8")
    told = {"fan": {"flow": "3900cfm"}, "money": {"price": 0.2}}
    assert make_case(read_case_file(file)) == make_case(told, preset="shop")
    assert tomllib.loads(file.read_text())["preset"] == "shop"


def test_every_word_of_the_glossary_is_told_and_the_way_leads_back(server: Any) -> None:
    page = server.client.get(f"/value?{LINK}&answer=now", headers={"accept": "text/html"}).text
    link = html.unescape(re.search(r'href="(/glossary[^"]*)"', page)[1])  # type: ignore[index]
    told = server.client.get(link).text
    for term, sentence in GLOSSARY.items():
        assert f"{term} {sentence}" in text_of(told)
    back = html.unescape(re.search(r'class="back" href="([^"]*)"', told)[1])  # type: ignore[index]
    assert case_of(read_link(dict(parse_qsl(urlsplit(back).query)))) == case_of(read_link(dict(parse_qsl(LINK))))
