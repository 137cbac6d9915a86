"""The page to hand over: it fetches nothing, says what the JSON says, and shows hostile names as text."""

from __future__ import annotations

import pydoc
import re
from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

import html5lib
import numpy as np
import pytest

import freecool
from freecool import FreecoolError, compare_rules, estimate, make_case, open_weather, sweep_differential
from freecool.answers.commissioning import commissioning
from freecool.answers.rules import rule_opens
from freecool.cases.rules import RULES
from freecool.core.units import format_quantity
from freecool.show.html import notebook_html, report_html, report_page
from freecool.show.sheet import sheet_html

HOSTILE = "<script>alert(1)</script> \"quotes\" 'and' & \U0001f9ca " + "x" * 200
# Elements that HTML leaves without an end tag.
VOID = {"meta", "img", "br", "link", "input", "hr"}


class Structure(HTMLParser):
    """Checks that every tag closes in order, and collects what a page could fetch."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.fetches: list[str] = []
        self.images_without_words = 0
        self.tags: set[str] = set()

    def handle_starttag(self, tag: Any, attrs: Any) -> None:
        told = dict(attrs)
        self.tags.add(tag)
        self.fetches += [told[name] for name in ("src", "href", "srcset", "action") if told.get(name)]
        if tag == "img" and not told.get("alt"):
            self.images_without_words += 1
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: Any) -> None:
        assert self.open.pop() == tag


@pytest.fixture(scope="module")
def results() -> Any:
    case = make_case({"name": HOSTILE})
    weather = open_weather("demo:mixed-inland")
    return {
        "value": estimate(case, weather),
        "pick": sweep_differential(case, weather, draws=5),
        "compare": compare_rules(case, weather, draws=3),
    }


@pytest.mark.parametrize("job", ["value", "pick", "compare"])
@pytest.mark.parametrize("units", ["ip", "si"])
def test_page_is_whole_and_fetches_nothing(job: str, units: str, results: Any) -> None:
    page = report_html(results[job], units)  # type: ignore[arg-type]
    structure = Structure()
    structure.feed(page)
    assert structure.open == []
    assert structure.images_without_words == 0
    assert all(place.startswith("data:") for place in structure.fetches)
    assert "script" not in structure.tags
    assert re.search(r"url\(|@import|https?://", page) is None
    assert len(page.encode()) < 1_500_000


def test_what_an_answer_rests_on_names_the_damper() -> None:
    told = {"outdoor_share": 0.9, "leakage": 0.05, "minimum_share": 0.125, "relief_fan": "0.2 W/cfm"}
    page = report_html(estimate(make_case({"damper": told}), open_weather("demo:high-desert")))
    said = resting_on(page)
    assert {name: said[name] for name in said if name.startswith(("Outdoor share", "Minimum outdoor", "Relief"))} == {
        "Outdoor share of supply, fully open": "0.9", "Outdoor share of supply, shut": "0.05",
        "Minimum outdoor share of supply": "0.125", "Relief fan power": "0.2 W/cfm",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("units", "told"),
    [
        (
            "ip",
            {
                "Window U-factor": "0.35 Btu/(h·ft²·°F)", "Water while occupied": "17.6 lb/day",
                "Floor area": "1,800 ft²", "Installed cost": "1,900 EUR", "Electricity price": "0.31 EUR a kWh",
            },
        ),
        (
            "si",
            {
                "Window U-factor": "1.99 W/(m²·K)", "Water while occupied": "8 kg/day", "Floor area": "167 m²",
                "Supply air flow": "0.566 m³/s", "Fan power": "773 W/(m³/s)",
            },
        ),
    ],
)  # fmt: skip
def test_what_an_answer_rests_on_is_in_words_and_units(units: Any, told: Any) -> None:
    money = {"installed_cost": 1900, "currency": "EUR", "price": 0.31}
    page = report_html(estimate(make_case({"money": money}), open_weather("demo:high-desert")), units)
    said = resting_on(page)
    assert {name: said[name] for name in told} == told
    # Every value has a label of the form, none a key of the case.
    assert [name for name in said if "_" in name] == []
    assert "€" not in page
    assert "$" not in page.partition("</style>")[2]


@pytest.mark.parametrize("job", ["value", "pick", "compare"])
def test_hostile_name_is_text(job: str, results: Any) -> None:
    page = report_html(results[job])
    assert "<script>" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "\U0001f9ca" in page


def tree_of(page: Any) -> Any:
    return html5lib.parse(page, namespaceHTMLElements=False)


def resting_on(page: Any) -> dict[str, str]:
    """The table of what a report rests on."""
    told = tree_of(page).find(".//div[@class='told']")
    return {
        line.find("dt").text: line.find("dd").text.replace("\xa0", " ") for line in told.iter("div") if line is not told
    }


def number_of(text: str) -> float:
    """A number as it is shown, with commas and the minus sign of print."""
    return float(text.replace(",", "").replace("−", "-"))


def said_in(page: Any) -> str:
    """All words of a page; a space that holds a number and its unit together, and a minus sign, count as any other."""
    return " ".join("".join(tree_of(page).itertext()).replace("−", "-").split())


def figures_of(page: Any) -> dict[str, float]:
    """The large numbers of a report by their labels."""
    found = {}
    for block in tree_of(page).iter("div"):
        label, number = block.find("dt"), block.find("dd/span[@class='number']")
        digits = None if number is None else re.match(r"(−?)\$?([\d,.]+)", number.text)
        if digits is not None:
            found[label.text] = number_of(f"{digits[1]}{digits[2]}")
    return found


def table_of(page: Any) -> list[list[str]]:
    return [[cell.text for cell in row.iter("td")] for row in tree_of(page).iter("tr") if row.find("th") is None]


def added_of(told: Any) -> float:
    humidity = told["humidity"]
    return humidity["clause_hours_with"] - humidity["clause_hours_without"]  # type: ignore[no-any-return]


def test_value_page_says_what_the_json_says(results: Any) -> None:
    answer = results["value"]
    told, page = answer.to_dict(), report_html(answer)
    energy, hours = told["energy"], told["hours"]
    expected = {
        "Net saved": energy["net_kwh_saved"],
        "Buildings like it": told["likely_band"]["net_kwh_saved"]["low"],
        "Compressor avoided": energy["compressor_kwh_avoided"],
        "Fan added": energy["fan_kwh_added"],
        "Money saved": told["money"]["saved_per_year"],
        "Added heating": energy["heating_kwh_added"],
        "Permitted": hours["permitted"],
        "Cooling wanted": hours["cooling"],
        "Both at once": hours["coincident"],
        "Damper at full flow": hours["free_cooling"],
        "Open in damp air": hours["damp"],
        "Break-even": 1.8 * told["break_even_differential_k"],
    }
    shown = figures_of(page)
    assert shown == {label: pytest.approx(number, abs=0.5) for label, number in expected.items()}
    said = said_in(page)
    for text in (told["verdict"]["text"], told["humidity"]["risk"], *(warning["text"] for warning in told["warnings"])):
        assert " ".join(text.split()) in said


def test_pick_page_says_what_the_json_says(results: Any) -> None:
    sweep = results["pick"]
    told, page = sweep.to_dict(), report_html(sweep)
    rows = table_of(page)
    assert len(rows) == len(told["candidates"]) == 21
    for row, candidate in zip(rows, told["candidates"], strict=True):
        energy, hours = candidate["energy"], candidate["hours"]
        numbers = [number_of(cell) for cell in (row[0], *row[2:])]
        expected = [
            1.8 * candidate["differential_k"], energy["net_kwh_saved"], candidate["net_kwh_p10"],
            candidate["money"]["saved_per_year"], energy["compressor_kwh_avoided"], energy["fan_kwh_added"],
            hours["permitted"], added_of(candidate), hours["damp"],
        ]  # fmt: skip
        assert numbers == pytest.approx(expected, abs=0.5)
        assert row[1] == candidate["humidity"]["risk"]
    said = said_in(page)
    for text in (told["verdict"]["text"], *told["reasons"]):
        assert text in said


def test_compare_page_says_what_the_json_says(results: Any) -> None:
    compared = results["compare"]
    told, page = compared.to_dict(), report_html(compared)
    rows = [row for row in table_of(page) if len(row) > 1]
    assert [row[0] for row in rows] == [rule["name"] for rule in told["rules"]]
    for row, rule in zip(rows, told["rules"], strict=True):
        numbers = [number_of(cell) for cell in (*row[3:8], *row[10:])]
        tuned = rule["tuned"]
        expected = [
            rule["energy"]["net_kwh_saved"], rule["net_kwh_p10"], rule["money"]["saved_per_year"],
            rule["hours"]["permitted"], added_of(rule),
            tuned["energy"]["net_kwh_saved"], tuned["net_kwh_p10"],
        ]  # fmt: skip
        assert numbers == pytest.approx(expected, abs=0.5)
        assert (row[2], row[9]) == (rule["humidity"]["risk"], tuned["humidity"]["risk"])
        assert row[1] == format_quantity(rule["value_si"], tuned["dimension"])
    for text in told["answers"]:
        assert text in said_in(page)


def test_sheet_says_what_the_json_says(results: Any) -> None:
    sweep = results["pick"]
    told, case = sweep.to_dict(), sweep.picked_case()
    day = commissioning(case, 12.8, 23.9, 99_000.0)
    page = sheet_html(sweep, day)
    assert sweep.setting in said_in(page)
    assert told["verdict"]["text"].startswith(sweep.setting)
    # A job that is sold is not judged again, and a dry-bulb rule knows no humidity.
    assert "worth" not in sweep.setting
    assert "RH" not in said_in(page)
    best = told["best"]["differential_k"]
    assert best is not None
    assert f"at least {1.8 * best:g} °F below the set point" in said_in(page)
    assert case.to_dict()["rule"]["differential_k"] == best
    rows = {row[0]: row for row in table_of(page)}
    for place in day.expected:
        mixed, supply = (float(cell.split("\u00a0")[0]) for cell in rows[place.position][2:4])
        assert mixed == pytest.approx(32 + 1.8 * place.mixed_c, abs=0.06)
        assert supply == pytest.approx(32 + 1.8 * place.supply_c, abs=0.06)


def test_sheet_has_room_for_customer_and_address_and_is_in_one_system_of_units() -> None:
    quote = {"customer": "A. Customer\n12 Elm Street", "name": "Example Cooling", "address": "1 Main Street"}
    case = make_case(units="si", overrides={"rule": {"dew_point_limit": "13C"}, "quote": quote})
    sweep = sweep_differential(case, open_weather("demo:mixed-inland"), [0.0, 2.0, 4.0], draws=0)
    page = sheet_html(sweep, commissioning(sweep.picked_case(), 13.0, 24.0, 99_000.0), "si")
    said = said_in(page)
    assert "Example Cooling, 1 Main Street" in said
    assert "Customer A. Customer Address 12 Elm Street Unit and its place" in " ".join(
        said.replace("Address", " Address").replace("Unit and", " Unit and").split()
    )
    assert not re.search(r"°F|\bcfm\b|Btu|55,75", said)
    assert "at least 6 K between them" in said
    assert "--units si, each outdoor,return,mixed,supply as read, such as 13,24,24,24.7" in said
    # Outdoor air to test at is told in whole degrees.
    air = [row[0] for row in table_of(page) if row[0].endswith("RH")]
    assert len(air) == 8
    assert all(re.fullmatch(r"-?\d+\s°C, \d+\s% RH", told) for told in air)


def test_sheet_of_free_cooling_left_off_opens_nothing() -> None:
    case = make_case({"fan": {"power": "2W/cfm"}})
    sweep = sweep_differential(case, open_weather("demo:high-desert"), [0.0, 2.0, 4.0], draws=0)
    assert sweep.best is None
    said = said_in(sheet_html(sweep, commissioning(sweep.picked_case(), 12.8, 23.9, 85_000.0)))
    assert "Free cooling off; the damper stays shut" in said
    assert "opens" not in said


def test_notebook_view_is_short_and_escaped(results: Any) -> None:
    for result in results.values():
        html = notebook_html(result)
        assert result._repr_html_() == html
        assert "<script>" not in html
        assert html.count("<img") == 1


def test_sheet_is_whole_and_names_the_pick(results: Any) -> None:
    sweep = results["pick"]
    day = commissioning(sweep.picked_case(), 12.8, 23.9, 99_000.0)
    page = sheet_html(sweep, day)
    structure = Structure()
    structure.feed(page)
    assert structure.open == []
    assert structure.fetches == []
    assert "<script>" not in page
    assert page.count('class="blank"') >= 15


def test_pictures_draw_on_given_axes(results: Any) -> None:
    from matplotlib.figure import Figure

    axes = Figure().subplots()
    assert results["value"].plot.months(axes) is axes
    assert results["pick"].plot.curve(axes) is axes


def pictures(plot: Any) -> list[str]:
    return [name for name in dir(plot) if not name.startswith("_")]


def test_every_picture_of_its_own_axes_is_shown_by_a_notebook(results: Any) -> None:
    shown = {job: pictures(result.plot) for job, result in results.items()}
    assert shown["value"] == ["band", "chart", "clock", "humidity", "months", "others", "years"]
    for job, names in shown.items():
        for name in names:
            if name != "years":
                picture = getattr(results[job].plot, name)(units="si")
                # As IPython's display asks an object.
                assert picture._repr_png_().startswith(b"\x89PNG"), name


def test_good_and_bad_years_of_a_typical_year_are_a_sentence(results: Any) -> None:
    with pytest.raises(FreecoolError, match=r"demo:mixed-inland is a typical year.* open real years"):
        results["value"].plot.years()


def test_a_case_told_in_si_prints_and_draws_in_si() -> None:
    case = make_case({"schedule": {"cooling": 24.0}}, units="si")
    answer = estimate(case, open_weather("demo:high-desert"))
    assert "cools to 24 °C" in repr(answer)
    assert "°F" not in answer.sentence
    assert answer.plot.chart().get_xlabel().startswith("outdoor dry bulb, °C")


def test_help_tells_what_each_field_of_an_answer_is(results: Any) -> None:
    told = pydoc.render_doc(results["value"].energy, renderer=pydoc.plaintext)  # type: ignore[attr-defined]
    assert re.search(r"\|  heating_kwh_added\n \|      heat, not fuel, that the damper adds \[kWh/year\]", told)
    assert "Alias for field" not in pydoc.render_doc(results["value"].pair)


def test_help_of_the_package_is_a_table_of_contents() -> None:
    told = pydoc.render_doc(freecool, renderer=pydoc.plaintext).splitlines()  # type: ignore[attr-defined]
    # What a call takes, its docstring and all.
    assert len(told) < 50 + 25 * len(freecool.__all__)
    contents = "\n".join(told[:40])
    assert [name for name in dir(freecool) if name != "__version__" and name not in contents] == []
    assert not any(line.startswith("CLASSES") for line in told)


def test_saturation_line_of_the_chart_is_psychrolibs(results: Any) -> None:
    """The chart's dark line, point by point against psychrolib's saturation humidity ratio at the site's pressure."""
    import psychrolib

    answer = results["value"]
    line = next(line for line in answer.plot.chart(units="si").get_lines() if line.get_linewidth() == 1.2)
    pressure = float(answer.weather.frame["pressure_pa"].mean())
    for t, w in zip(line.get_xdata()[::20], line.get_ydata()[::20], strict=True):
        assert w / 1000.0 == pytest.approx(psychrolib.GetSatHumRatio(float(t), pressure), rel=1e-9)


def test_enthalpy_lines_of_the_chart_are_psychrolibs() -> None:
    import numpy as np
    import psychrolib

    from freecool.show.chart import enthalpy_lines_j_kg, humidity_ratio_at

    for enthalpy in (*enthalpy_lines_j_kg("ip"), *enthalpy_lines_j_kg("si")):
        t = np.array([0.0, 10.0, 20.0])
        for dry_bulb, w in zip(t, humidity_ratio_at(enthalpy, t), strict=True):
            if w > 0.0:
                assert psychrolib.GetMoistAirEnthalpy(float(dry_bulb), float(w)) == pytest.approx(enthalpy, rel=1e-9)


def test_permitted_region_ends_at_the_differential() -> None:
    case = make_case({"rule": {"differential": "5F"}})
    t = np.linspace(-5.0, 45.0, 101)
    opens = rule_opens(case, t, np.linspace(0.0, 0.026, 53), 101_325.0)
    assert t[opens.any(axis=0)].max() == pytest.approx((70.0 - 32.0) / 1.8, abs=0.5)


def test_the_small_pictures_say_what_the_answer_says(results: Any) -> None:
    answer = results["value"]
    likely, others = answer.likely_band.net_kwh_saved, answer.alternatives
    (bar,) = answer.plot.band().patches
    assert (bar.get_x(), bar.get_x() + bar.get_width()) == pytest.approx((likely.low, likely.high))
    bars = answer.plot.others().patches[: 1 + len(others.by_kind) + len(others.would_help)]
    told = [answer.energy.net_kwh_saved, *(one.net_kwh_saved for one in (*others.by_kind, *others.would_help))]
    assert [each.get_width() for each in bars] == pytest.approx(told)


def test_pictures_follow_a_dark_screen_and_paper_does_not(results: Any) -> None:
    from base64 import b64decode

    picture = report_page(results["value"], "ip", 1).pictures[0]
    on_screen, on_paper = (b64decode(text.partition(",")[2]).decode() for text in (picture.source, picture.printed))
    assert "prefers-color-scheme:dark" in on_screen
    # Ink and paper stand once, where they are named.
    assert on_screen.count("#22303c") == on_screen.count("#ffffff") == 1
    assert "var(" not in on_paper
    assert on_paper.count("#22303c") > 10


def test_minus_signs_are_of_print_where_people_read_and_plain_in_json(results: Any) -> None:
    answer = results["value"]
    assert answer.energy.net_kwh_saved < 0.0
    shown = f"−{abs(round(answer.energy.net_kwh_saved))} kWh"
    assert shown in repr(answer)
    assert shown in " ".join("".join(tree_of(report_html(answer)).itertext()).split())
    assert "−" not in str(answer.to_dict())


def test_one_rule_is_marked_and_it_is_the_one_that_the_sentence_speaks_for(results: Any) -> None:
    compared = results["compare"]
    best = compared.best
    marked = [row for row in tree_of(report_html(compared)).iter("tr") if row.get("class") == "pick"]
    assert [row.find("td").text for row in marked] == [best.name]
    assert re.findall(r"(?m)^ +> (\S+)", repr(compared)) == [best.name, "the"]
    # What reads humidity is fitted only where the sentence says that it pays.
    assert compared.answers[0].startswith("Reading humidity makes no difference here")
    assert not RULES[best.name].reads_humidity
    assert best.tuned.humidity.risk != "high"


def test_the_rule_to_fit_reads_humidity_where_nothing_else_keeps_dry_and_none_where_nothing_does(results: Any) -> None:
    compared = results["compare"]

    def with_rules(*dry_of: bool) -> Any:
        """The comparison with the humidity risk of its dry-bulb rules, and of the others, as given."""
        rules = []
        for rule in compared.rules:
            keeps_dry = dry_of[RULES[rule.name].reads_humidity]
            humidity = replace(rule.tuned.humidity, risk="low" if keeps_dry else "high")
            rules.append(replace(rule, tuned=replace(rule.tuned, humidity=humidity, risk_p90=humidity.risk)))
        return replace(compared, rules=tuple(rules))

    assert RULES[with_rules(False, True).best.name].reads_humidity
    assert with_rules(False, False).best is None
    page = report_page(with_rules(False, False), "ip", 0)
    assert page.figures[0][0].number == "none"
    assert page.table is not None
    assert not any(row.picked for row in page.table.rows)
