"""The sheet on the page: filled in with and without a script, checked as one types, kept in the link, printed."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from io import BytesIO
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from browser import DESK, PHONE, accessibility_faults, layout_faults
from stress import amount
from test_cli import freecool
from test_web_pages import text_of, whole_page
from web_serving import serving

FILLED = "closed.outdoor=55&closed.return=75&closed.mixed=70&half.mixed=65&full.mixed=58"
OPTIONS = ("--closed", "55,75,70", "--half", ",,65", "--full", ",,58")


@pytest.fixture(scope="module")
def server() -> Iterator[Any]:
    with serving() as running:
        yield running


def told(*options: str) -> dict[str, Any]:
    return json.loads(freecool("sheet-check", *options, "--json").output)  # type: ignore[no-any-return]


def test_the_fourth_question_leads_to_the_sheet_of_the_same_case(server: Any) -> None:
    page = server.client.get("/value?preset=shop&rule.differential=8F").text
    href = re.search(r'<a href="(/sheet[^"]*)"[^>]*>Does it work\?</a>', page)
    assert href
    sheet = text_of(whole_page(server.client.get(href[1].replace("&amp;", "&")).text))
    assert "Outdoor air at least 8 °F below the set point" in sheet
    assert "90 % outdoor air asked" in sheet


def test_a_pick_leads_to_the_sheet_with_what_it_picked(server: Any) -> None:
    picked = json.loads(freecool("pick", "demo:high-desert", "--draws", "0", "--to", "4F", "--json").output)
    page = server.client.get("/pick?weather=demo:high-desert&draws=0&to=4F&answer=now").text
    link = re.search(r'href="(/sheet\?[^"]*)">Fill it in here', page)
    assert link
    best = picked["best"]["differential_k"] * 1.8
    sheet = text_of(server.client.get(link[1].replace("&amp;", "&")).text)
    assert f"Outdoor air at least {best:.0f} °F below the set point" in sheet


def test_a_customer_of_the_quote_stands_on_the_sheet(server: Any) -> None:
    """Invented, as all names in these tests."""
    page = server.client.get("/sheet", params={"quote.customer": "A. Customer\n12 Elm Street\nExampleton"}).text
    assert 'name="customer" value="A. Customer"' in page
    assert 'name="address" value="12 Elm Street, Exampleton"' in page


def test_the_sheet_tells_the_limit_that_a_named_rule_has(server: Any) -> None:
    """ASHRAE 90.1-2016 table 6.5.1.1.3: fixed dry bulb at most 65 °F in zone 3A, 75 °F in zone 4B."""
    for zone, limit in (("3A", 65), ("4B", 75)):
        page = text_of(server.client.get(f"/sheet?preset=small-office&site.climate_zone={zone}").text)
        assert f"Outdoor dry bulb at most {limit} °F" in page
    assert "at most" not in text_of(server.client.get("/sheet?preset=shop").text).partition("2. Temperatures")[0]


def test_without_a_script_the_sheet_says_what_the_command_says(server: Any) -> None:
    page = text_of(whole_page(server.client.get(f"/sheet?{FILLED}&customer=A+%26+B&seen.1=yes&notes=none").text))
    answer = told(*OPTIONS)
    assert f"Not in order. {answer['text']}" in page
    for cause in answer["causes"]:
        assert f"{cause['text']} {cause['check']}" in page
    html = server.client.get(f"/sheet?{FILLED}&customer=A+%26+B&seen.1=yes&notes=none").text
    assert 'value="A &amp; B"' in html
    assert 'name="seen.1" value="yes" checked' in html
    assert ">none</textarea>" in html


def test_an_empty_sheet_says_nothing_and_what_is_missing_is_told(server: Any) -> None:
    assert "Not read yet." in text_of(server.client.get("/sheet").text)
    assert "No outdoor air was read" in text_of(server.client.get("/sheet?full.mixed=58").text)


def test_what_cannot_be_read_is_told_at_its_field(server: Any) -> None:
    said = server.client.get("/sheet/said?closed.outdoor=warm&closed.mixed=850").json()
    assert list(said["faults"]) == ["closed.outdoor", "closed.mixed"]
    assert said["faults"]["closed.outdoor"].startswith("“Damper closed, outdoor air” is 'warm'")
    assert "expected -40 °F (-40 °C) to 140 °F (60 °C)" in said["faults"]["closed.mixed"]
    assert 'aria-invalid="true"' in server.client.get("/sheet?closed.outdoor=warm").text


def test_the_link_keeps_case_and_sheet_and_changes_its_units(server: Any) -> None:
    said = server.client.get(f"/sheet/said?preset=shop&schedule.cooling=76&{FILLED}&address=12+Elm+St").json()
    assert parse_qs(said["link"]) == {
        **parse_qs(FILLED), "preset": ["shop"], "schedule.cooling": ["76F"], "address": ["12 Elm St"],
    }  # fmt: skip
    again = server.client.get(f"/sheet/said?{said['link']}").json()
    assert again == said
    metric = server.client.get(f"/sheet/said?{said['other']}").json()
    assert "°F" not in metric["html"]
    assert parse_qs(metric["link"])["closed.outdoor"] == ["12.8"]
    # 76 °F stays 76 °F.
    assert "Cooling set point 24.4 °C" in text_of(server.client.get(f"/sheet?{said['other']}").text)
    # A keypad may have a comma, and a sign that is none.
    assert server.client.get("/sheet/said?units=si&closed.outdoor=−5,5&full.mixed=1").json()["faults"] == {}


def test_hostile_words_and_too_many_are_refused_or_shown_as_text(server: Any) -> None:
    words = "<script>alert(1)</script>\"'&"
    names = ("customer", "notes", "closed.mixed", "measured.0")
    for answer in (
        server.client.get("/sheet", params=dict.fromkeys(names, words)).text,
        server.client.get("/sheet/said", params=dict.fromkeys(names, words)).json()["html"],
    ):
        assert "<script>alert" not in answer
    whole_page(server.client.get("/sheet", params=dict.fromkeys(names, words)).text)
    refused = server.client.get("/sheet", params={"notes": "x" * 1001})
    assert (refused.status_code, "expected at most 1,000" in refused.text) == (422, True)
    assert server.client.get("/sheet?nonsense=1").status_code == 422
    headers = server.client.get("/sheet").headers
    assert "script-src 'self'" in headers["content-security-policy"]


def test_the_json_interface_says_what_the_command_says(server: Any) -> None:
    readings = [
        {"position": "closed", "outdoor": 55, "return": "75F", "mixed": 70},
        {"position": "half", "mixed": 65},
        {"position": "full", "mixed": "58 °F"},
    ]
    answer = server.post("/api/sheet-check", {"readings": readings})
    assert answer.status_code == 200
    assert answer.json() == told(*OPTIONS)
    refused = server.post("/api/sheet-check", {"readings": [{"position": "full", "outdoor": 55, "return": 75}]})
    assert refused.status_code == 422
    assert "No mixed or supply air was read" in server.refusal(refused)


@pytest.mark.parametrize("width", amount((PHONE,), (DESK, PHONE)))
def test_filled_in_by_keyboard_the_overall_line_follows(server: Any, page_at: Any, width: int) -> None:
    seen = page_at(width)
    page = seen.page
    page.goto(f"{server.address}/value?preset=shop")
    page.get_by_role("link", name="Does it work?").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("#said .not-read-yet")

    def typed(name: str, text: str) -> None:
        for _ in range(60):
            if page.evaluate("document.activeElement.name") == name:
                page.keyboard.type(text)
                return
            page.keyboard.press("Tab")
        raise AssertionError(f"the keyboard does not reach {name}")

    for name, text in {
        "customer": "A. Customer", "closed.outdoor": "55", "closed.return": "75", "closed.mixed": "74.5",
        "half.mixed": "66", "full.mixed": "57",
    }.items():  # fmt: skip
        typed(name, text)
    page.wait_for_selector("#said .in-order")
    assert page.inner_text("#brief") == "In order"
    page.keyboard.press("Control+a")
    page.keyboard.type("65.5")
    page.wait_for_selector("#said .not-in-order")
    assert "does not open fully" in page.inner_text("#said")
    assert page.evaluate("document.activeElement.name") == "full.mixed", "typing goes on undisturbed"
    typed("seen.0", " ")
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.activeElement.id === 'said'")
    page.wait_for_function("() => /seen.0=yes/.test(location)")
    assert parse_qs(urlsplit(page.url).query)["customer"] == ["A. Customer"]
    page.evaluate("document.getElementById('brief').hidden = true")
    assert layout_faults(page) == []
    assert accessibility_faults(page) == []
    small = page.evaluate("""[...document.querySelectorAll('nav a, button, input, textarea, .tick')]
        .filter(one => one.checkVisibility() && one.type !== 'checkbox')
        .filter(one => one.getBoundingClientRect().height < 44).map(one => one.outerHTML.slice(0, 80))""")
    assert small == []
    assert page.get_attribute("[name='full.mixed']", "inputmode") == "decimal"
    again = page_at(width).page
    again.goto(page.url)
    assert again.inner_text("#said") == page.inner_text("#said")
    assert again.is_checked("[name='seen.0']")
    assert seen.errors == []
    assert [address for address in seen.requests if not address.startswith(server.address)] == []


def test_it_is_kept_while_the_server_is_away_and_prints_on_two_sheets(page_at: Any) -> None:
    from pypdf import PdfReader

    with serving() as server:
        page = page_at(PHONE).page
        page.goto(f"{server.address}/sheet?{FILLED}")
    page.fill("[name='customer']", "A. Customer")
    page.wait_for_selector("#fault:not([hidden])")
    assert "kept in the address" in page.inner_text("#fault")
    assert "customer=A.+Customer" in page.url
    assert page.get_by_role("button", name="Print").is_visible()
    pdf = PdfReader(BytesIO(page.pdf(format="Letter")))
    text = " ".join(" ".join(one.extract_text().split()) for one in pdf.pages)
    assert len(pdf.pages) <= 2
    assert "Not in order." in text
    assert "Signature" in text
    assert "Link to this sheet" not in text
