"""The page in a real browser: each job end to end on real weather, at a desk and on a phone."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from browser import DESK, PHONE, accessibility_faults, layout_faults
from pypdf import PdfReader
from stress import amount
from test_cli import freecool
from web_serving import Held, serving

from freecool.core.units import format_money, format_quantity

LONG_MS = 180_000
MORE = "More of the building, unit, fan and money"
WEATHER = "723170TYA.CSV"
FEW = {"value": (), "pick": ("--draws", "2"), "compare": ("--draws", "1")}

# Every job, both widths and both schemes; every combination of them where tests are long.
SCREENS = amount(
    (("value", PHONE, "light"), ("pick", DESK, "dark"), ("compare", PHONE, "dark")),
    tuple(product(("value", "pick", "compare"), (DESK, PHONE), ("light", "dark"))),
)


@pytest.fixture(scope="module")
def server() -> Iterator[Any]:
    with serving() as running:
        yield running


@pytest.fixture(scope="module")
def uploaded(server: Any, pvlib_weather: Callable[[str], Path]) -> Any:
    return server.send_file(pvlib_weather(WEATHER).read_bytes(), WEATHER).json()["weather"]


def shown(page: Any) -> str:
    return f"{page.inner_text('#lead')}\n{page.inner_text('#rest')}".replace("\u00a0", " ").replace("−", "-")


def wait_for_answer(page: Any, words: str = "") -> None:
    page.wait_for_function(
        """words => document.getElementById('wait').hidden && document.querySelector('main').innerText
        .replace(/\\s+/g, ' ').replaceAll('−', '-').includes(words) && document.querySelector('#pictures img')
        && !document.querySelector('#pictures.stale')""",
        arg=words, timeout=LONG_MS,
    )  # fmt: skip


def command(job: str, path: Any, *arguments: str) -> dict[str, Any]:
    return json.loads(freecool(job, str(path), *FEW[job], *arguments, "--json").output)  # type: ignore[no-any-return]


def whole(value: float) -> str:
    return f"{round(value) + 0.0:,.0f}"


def numbers_agree(job: str, text: str, told: dict[str, Any]) -> None:
    """The page says what the command's JSON says."""
    assert told["verdict"]["text"] in " ".join(text.split())
    flat = " ".join(text.split())
    if job == "value":
        energy, hours = told["energy"], told["hours"]
        for label, value in (
            ("Net saved", f"{whole(energy['net_kwh_saved'])} kWh"),
            ("Compressor avoided", f"{whole(energy['compressor_kwh_avoided'])} kWh"),
            ("Fan added", f"{whole(energy['fan_kwh_added'])} kWh"),
            ("Money saved", format_money(told["money"]["saved_per_year"], "USD")),
            ("Permitted", f"{whole(hours['permitted'])} h"),
            ("Both at once", f"{whole(hours['coincident'])} h"),
            ("Humidity risk", told["humidity"]["risk"]),
        ):
            assert f"{label} {value}" in flat
    elif job == "pick":
        assert len(re.findall(r"(?m)^\d+\t", text)) == len(told["candidates"])
        for candidate in told["candidates"]:
            row = f"{candidate['differential_k'] * 1.8:.3g} {candidate['humidity']['risk']} "
            assert row + whole(candidate["energy"]["net_kwh_saved"]) in flat
    else:
        for rule in told["rules"]:
            limit = format_quantity(rule["value_si"], rule["tuned"]["dimension"])
            row = f"{rule['name']} {limit} {rule['humidity']['risk']} {whole(rule['energy']['net_kwh_saved'])}"
            assert row in flat


@pytest.mark.parametrize("job", ["value", "pick", "compare"])
@pytest.mark.parametrize("width", amount((PHONE,), (DESK, PHONE)))
def test_a_door_end_to_end_on_real_weather(
    server: Any, page_at: Any, pvlib_weather: Callable[[str], Path], job: str, width: Any
) -> None:
    """Choose a file, change a number, read the answer, follow its link."""
    path = pvlib_weather(WEATHER)
    seen = page_at(width)
    page = seen.page
    few = {"value": "", "pick": "?draws=2", "compare": "?draws=1"}[job]
    page.goto(f"{server.address}/{job}{few}")
    page.get_by_text("Your own weather file").click()
    page.set_input_files("#file", path)
    wait_for_answer(page)
    page.get_by_text(MORE).click()
    page.get_by_label("Electricity price").fill("0.21")
    page.get_by_label("Floor area").fill("2400")
    told = command(job, path, "--price", "0.21", "--set", "building.floor_area=2400ft2")
    page.wait_for_function(
        "() => /price=0.21/.test(document.getElementById('link').value) && /2400ft2/.test(location)", timeout=LONG_MS
    )
    wait_for_answer(page, told["verdict"]["text"])
    numbers_agree(job, shown(page), told)
    assert page.evaluate("document.activeElement.name") == "building.floor_area", "typing goes on undisturbed"
    link = page.input_value("#link")
    assert page.url == link
    assert "money.price=0.21" in link
    assert re.search("weather=upload:[0-9a-f]{32}", link)
    again = page_at(width)
    again.page.goto(link)
    wait_for_answer(again.page, told["verdict"]["text"])
    assert again.page.input_value("[name='building.floor_area']") == "2400"
    numbers_agree(job, shown(again.page), told)
    for one in (seen, again):
        assert one.errors == []
        assert [address for address in one.requests if not address.startswith(server.address)] == []


@pytest.mark.parametrize(("job", "width", "scheme"), SCREENS)
def test_no_accessibility_or_layout_fault(
    server: Any, uploaded: Any, page_at: Any, job: str, width: Any, scheme: str
) -> None:
    seen = page_at(width)
    page = seen.page
    page.emulate_media(color_scheme=scheme)
    page.goto(f"{server.address}/{job}?weather={uploaded}&draws=1")
    wait_for_answer(page)
    # The bar at the foot of a phone lies over what scrolls beneath it, as it should.
    page.evaluate("document.getElementById('brief').hidden = true")
    assert layout_faults(page) == []
    assert accessibility_faults(page) == []
    for fold in page.locator("details").all():
        fold.evaluate("fold => { fold.open = true }")
    assert layout_faults(page) == []
    assert accessibility_faults(page) == []
    paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert (sum(map(int, re.findall(r"\d+", paper)[:3])) > 384) == (scheme == "light")
    assert seen.errors == []


@pytest.mark.parametrize("job", ["value", "pick", "compare"])
def test_the_first_screen_of_a_phone_holds_the_answer(server: Any, page_at: Any, job: str) -> None:
    """Sentence and main number above the fold of a small phone (390 by 844 CSS px) and above the bar at its foot."""
    page = page_at(PHONE, 844).page
    page.goto(f"{server.address}/{job}?weather=demo:mixed-inland&draws=1")
    wait_for_answer(page)
    bar = page.locator("#brief").bounding_box()
    for one in (page.locator("h1"), page.locator(".number").first):
        box = one.bounding_box()
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= bar["y"]
    words = page.inner_text("#brief")
    assert page.inner_text("h1").replace("\u00a0", " ").startswith(words.split(":")[0])


def test_a_case_kept_on_the_page_opens_again(server: Any, page_at: Any, tmp_path: Path) -> None:
    seen = page_at(PHONE)
    page = seen.page
    page.goto(f"{server.address}/value?weather=demo:mixed-inland&preset=shop&setpoint=76F")
    wait_for_answer(page)
    before = page.inner_text("h1")
    with page.expect_download() as kept:
        page.get_by_text("Case file", exact=True).click()
    kept.value.save_as(tmp_path / "case.toml")
    page.goto(f"{server.address}/value?weather=demo:mixed-inland")
    wait_for_answer(page)
    assert page.inner_text("h1") != before
    page.get_by_text("A case saved before").click()
    page.set_input_files("#saved-file", tmp_path / "case.toml")
    page.wait_for_url("**preset=shop**")
    wait_for_answer(page)
    assert page.inner_text("h1") == before
    assert seen.errors == []


def test_the_report_of_an_answer_is_downloaded_as_a_pdf(server: Any, page_at: Any, tmp_path: Path) -> None:
    seen = page_at(PHONE)
    page = seen.page
    page.goto(f"{server.address}/value?weather=demo:mixed-inland&setpoint=76F")
    wait_for_answer(page)
    with page.expect_download() as kept:
        page.get_by_text("Report (PDF)").click()
    kept.value.save_as(tmp_path / "report.pdf")
    pages = PdfReader(tmp_path / "report.pdf").pages
    assert len(pages) == 2
    assert page.inner_text("h1").split(":")[0] in pages[0].extract_text()
    assert seen.errors == []


def test_two_cases_stand_side_by_side(server: Any, page_at: Any) -> None:
    """A thriftier fan beside the kept case; the numbers are those of each alone."""
    seen = page_at(PHONE)
    page = seen.page
    page.goto(f"{server.address}/value")
    page.get_by_text("an invented house of an older unit").click()
    wait_for_answer(page)
    alone = page.inner_text("#lead .number")
    page.get_by_role("button", name="Keep this case to compare with").click()
    page.wait_for_selector("text=Quotes side by side")
    page.get_by_text(MORE).click()
    page.get_by_label("Fan power").first.fill("0.2")
    page.wait_for_function("before => document.querySelector('#lead .number').innerText !== before", arg=alone)
    wait_for_answer(page, "0.365 W/cfm")
    rows = dict(row.split("\t", 1) for row in page.inner_text("table tbody").replace("\u00a0", " ").splitlines())
    plain = alone.replace("\u00a0", " ")
    assert rows["Fan power"].split("\t") == ["0.2 W/cfm", "0.365 W/cfm"]
    assert rows["Net saved"].split("\t") == [page.inner_text("#lead .number").replace("\u00a0", " "), plain]
    assert accessibility_faults(page) == []
    page.get_by_role("button", name="No longer beside it").click()
    page.wait_for_selector("text=Quotes side by side", state="detached")
    assert seen.errors == []


def test_cases_are_remembered_in_the_browser_only_if_asked(server: Any, page_at: Any) -> None:
    seen = page_at(PHONE)
    page = seen.page
    page.goto(f"{server.address}/value?weather=demo:mixed-inland")
    wait_for_answer(page)
    assert page.evaluate("localStorage.length") == 0
    page.get_by_text("Recent cases").click()
    page.get_by_label("Remember the last cases in this browser").check()
    page.goto(f"{server.address}/value?weather=demo:high-desert")
    wait_for_answer(page)
    page.get_by_text("Recent cases").click()
    assert page.locator("#recent a").count() == 2
    page.locator("#recent a").last.click()
    wait_for_answer(page, "Oxbow Prairie")
    page.get_by_text("Recent cases").click()
    page.get_by_label("Remember the last cases in this browser").uncheck()
    assert page.evaluate("localStorage.length") == 0
    assert seen.errors == []


def test_targets_on_a_phone_are_large_enough_for_a_thumb(server: Any, uploaded: Any, page_at: Any) -> None:
    page = page_at(PHONE).page
    page.goto(f"{server.address}/pick?weather={uploaded}&draws=1")
    wait_for_answer(page)
    small = page.evaluate("""[...document.querySelectorAll('a, button, summary, select, input, textarea')]
        .filter(one => one.checkVisibility() && one.type !== 'checkbox' && !one.matches('.skip'))
        .filter(one => one.getBoundingClientRect().height < 44)
        .map(one => one.outerHTML.slice(0, 80))""")
    assert small == []


def test_the_keyboard_alone_is_enough(server: Any, page_at: Any) -> None:
    seen = page_at(DESK)
    page = seen.page
    page.goto(f"{server.address}/value?weather=demo:high-desert")
    wait_for_answer(page)
    before = shown(page)

    def tab_to(selector: str) -> None:
        for _ in range(120):
            page.keyboard.press("Tab")
            if page.evaluate("selector => document.activeElement.matches(selector)", selector):
                assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
                return
        raise AssertionError(f"the keyboard does not reach {selector}")

    tab_to("#f-preset")
    page.keyboard.type("equip")
    wait_for_answer(page, "equipment-room")
    assert page.evaluate("document.activeElement.id") == "f-preset", "the form made anew keeps the focus"
    assert page.input_value("[name='building.floor_area']") == "300"
    tab_to("[name='schedule.cooling']")
    page.keyboard.press("Control+a")
    page.keyboard.type("78F")
    told = command("value", "demo:high-desert", "--building", "equipment-room", "--setpoint", "78F")
    wait_for_answer(page, told["verdict"]["text"])
    assert shown(page) != before
    numbers_agree("value", shown(page), told)
    tab_to("#fold-more > summary")
    page.keyboard.press("Enter")
    tab_to("#fold-fan > summary")
    page.keyboard.press("Enter")
    tab_to("[name='fan.mode']")
    tab_to("button.go")
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.activeElement.id === 'answer'")
    assert seen.errors == []


def test_a_mistake_is_said_beside_its_field_and_goes_when_mended(server: Any, page_at: Any) -> None:
    seen = page_at(PHONE)
    page = seen.page
    page.goto(f"{server.address}/value?weather=demo:high-desert")
    wait_for_answer(page)
    page.get_by_label("Cooling set point", exact=True).fill("750")
    page.wait_for_selector("#fault:not([hidden])")
    assert "“Cooling set point” is '750'" in page.inner_text("#fault")
    assert page.get_attribute("[name='schedule.cooling']", "aria-invalid") == "true"
    assert "expected 50 °F to 95 °F" in page.inner_text("[data-key='schedule.cooling'] .at")
    assert page.evaluate("[...document.querySelectorAll('.stale')].map(one => one.id)") == ["lead", "rest"]
    assert accessibility_faults(page) == []
    page.get_by_label("Cooling set point", exact=True).fill("77")
    page.wait_for_selector("#fault", state="hidden")
    wait_for_answer(page)
    assert page.get_attribute("[name='schedule.cooling']", "aria-invalid") is None
    assert page.query_selector(".at, .stale") is None
    # A refused request is a line in the console of this browser, and nothing else may be.
    assert [said for said in seen.errors if "422" not in said] == []


def test_a_bad_file_is_told_where_it_was_chosen(server: Any, page_at: Any, tmp_path: Path) -> None:
    path = tmp_path / "weather.zip"
    path.write_bytes(b"PK\x03\x04 nothing")
    page = page_at(DESK).page
    page.goto(f"{server.address}/value")
    page.get_by_text("Your own weather file").click()
    page.set_input_files("#file", path)
    page.wait_for_function("() => document.getElementById('upload-said').innerText.includes('unpack it first')")


def test_units_change_what_is_shown_and_not_what_is_asked(server: Any, page_at: Any) -> None:
    page = page_at(DESK).page
    page.goto(f"{server.address}/value?weather=demo:high-desert&building.floor_area=2345.678ft2")
    wait_for_answer(page)
    before = page.inner_text("h1")
    page.get_by_text(MORE).click()
    page.select_option("#f-units", "si")
    page.wait_for_function("() => document.querySelector(\"[name='schedule.cooling']\").value === '23.89'")
    wait_for_answer(page)
    assert page.inner_text("h1") == before
    assert "building.floor_area=2345.678ft2" in page.input_value("#link")
    assert page.evaluate("document.getElementById('fold-more').open")


def test_progress_is_shown_and_cancel_stops_the_work(page_at: Any) -> None:
    with serving() as server:
        held = Held()
        true_compute, service = server.service._compute, server.service

        def compute(job: Any, question: Any, tell: Any, cancel: Any) -> Any:
            tell({"progress": [7, 40]})
            return held(job, question, tell, cancel)

        service._compute = compute  # type: ignore[method-assign]
        seen = page_at(PHONE)
        page = seen.page
        page.goto(f"{server.address}/compare?weather=demo:mixed-inland&draws=1")
        page.wait_for_function("() => document.getElementById('wait-words').innerText.includes('7 of 40')")
        assert page.get_attribute("#bar", "max") == "40"
        assert page.evaluate("document.getElementById('bar').value") == 7
        assert "7 of 40" in page.inner_text("#brief")
        assert accessibility_faults(page) == []
        page.get_by_role("button", name="Cancel").click()
        page.wait_for_selector("#wait", state="hidden")
        assert "Cancelled" in page.inner_text("#fault")
        assert held.begun.wait(10)
        page.wait_for_timeout(100)
        for _ in range(100):
            if held.cancelled:
                break
            page.wait_for_timeout(100)
        assert held.cancelled == [True]
        service._compute = true_compute  # type: ignore[method-assign]
        page.get_by_role("button", name="Show the answer").click()
        wait_for_answer(page)
        page.wait_for_function("() => document.activeElement.id === 'answer'")
        assert seen.errors == []


def test_a_station_is_found_and_used(server: Any, station_server: Any, page_at: Any) -> None:
    seen = page_at(PHONE)
    page = seen.page
    page.goto(f"{server.address}/value?years=2022")
    page.locator("#s-place").press_sequentially("Greensb")
    page.wait_for_selector("#s-places option[value='Greensboro, NC']", state="attached")
    page.fill("#s-place", "Greensboro, NC")
    page.get_by_role("button", name="Find stations").click()
    page.get_by_text("Oxbow Field (invented)").click()
    wait_for_answer(page, "Oxbow Field")
    assert "weather=station:99001" in page.url
    assert seen.errors == []
