"""The page to hand over: it fetches nothing, says what the JSON says, and shows hostile names as text."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from freecool import compare_rules, estimate, make_case, open_weather, sweep_differential
from freecool.commissioning import commissioning
from freecool.show.report import notebook_html, report_html
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

    def handle_starttag(self, tag, attrs):
        told = dict(attrs)
        self.tags.add(tag)
        self.fetches += [told[name] for name in ("src", "href", "srcset", "action") if told.get(name)]
        if tag == "img" and not told.get("alt"):
            self.images_without_words += 1
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


@pytest.fixture(scope="module")
def results():
    case = make_case({"name": HOSTILE})
    weather = open_weather("demo:mixed-inland")
    return {
        "value": estimate(case, weather),
        "pick": sweep_differential(case, weather, draws=5),
        "compare": compare_rules(case, weather, draws=3),
    }


@pytest.mark.parametrize("job", ["value", "pick", "compare"])
@pytest.mark.parametrize("units", ["ip", "si"])
def test_page_is_whole_and_fetches_nothing(job, units, results):
    page = report_html(results[job], units)
    structure = Structure()
    structure.feed(page)
    assert structure.open == []
    assert structure.images_without_words == 0
    assert all(place.startswith("data:") for place in structure.fetches)
    assert "script" not in structure.tags
    assert re.search(r"url\(|@import|https?://", page) is None
    assert len(page.encode()) < 1_500_000


@pytest.mark.parametrize("job", ["value", "pick", "compare"])
def test_hostile_name_is_text(job, results):
    page = report_html(results[job])
    assert "<script>" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "\U0001f9ca" in page


def test_page_says_what_the_json_says(results):
    answer = results["value"]
    told, page = answer.to_dict(), report_html(answer)
    for block, name in (
        ("energy", "net_kwh_saved"),
        ("energy", "compressor_kwh_avoided"),
        ("energy", "fan_kwh_added"),
        ("hours", "permitted"),
        ("hours", "damp"),
    ):
        assert f">{told[block][name]:,.0f} " in page, name
    assert told["humidity"]["risk"] in page
    for warning in told["warnings"]:
        assert warning["text"].split("'")[0][:40] in page


def test_pick_page_holds_every_candidate(results):
    sweep = results["pick"]
    page = report_html(sweep)
    for candidate in sweep.to_dict()["candidates"]:
        assert f"<td>{candidate['energy']['net_kwh_saved']:,.0f}</td>" in page


def test_notebook_view_is_short_and_escaped(results):
    for result in results.values():
        html = notebook_html(result)
        assert result._repr_html_() == html
        assert "<script>" not in html
        assert html.count("<img") == 1


def test_sheet_is_whole_and_names_the_pick(results):
    sweep = results["pick"]
    day = commissioning(sweep.picked_case(), 12.8, 23.9, 99_000.0)
    page = sheet_html(sweep, day)
    structure = Structure()
    structure.feed(page)
    assert structure.open == []
    assert structure.fetches == []
    assert "<script>" not in page
    assert page.count('class="blank"') >= 15


def test_pictures_draw_on_given_axes(results):
    from matplotlib.figure import Figure

    axes = Figure().subplots()
    assert results["value"].plot.months(axes) is axes
    assert results["pick"].plot.curve(axes) is axes


def test_saturation_line_of_the_chart_is_psychrolibs(results):
    """The chart's dark line, point by point against psychrolib's saturation humidity ratio at the site's pressure."""
    import psychrolib

    answer = results["value"]
    line = next(line for line in answer.plot.chart(units="si").get_lines() if line.get_linewidth() == 1.2)
    pressure = float(answer.weather.frame["pressure_pa"].mean())
    for t, w in zip(line.get_xdata()[::20], line.get_ydata()[::20], strict=True):
        assert w / 1000.0 == pytest.approx(psychrolib.GetSatHumRatio(float(t), pressure), rel=1e-9)


def test_enthalpy_lines_of_the_chart_are_psychrolibs():
    import numpy as np
    import psychrolib

    from freecool.show.plots import ENTHALPY_LINES_J_KG, humidity_ratio_at

    for enthalpy in ENTHALPY_LINES_J_KG:
        t = np.array([0.0, 10.0, 20.0])
        for dry_bulb, w in zip(t, humidity_ratio_at(enthalpy, t), strict=True):
            if w > 0.0:
                assert psychrolib.GetMoistAirEnthalpy(float(dry_bulb), float(w)) == pytest.approx(enthalpy, rel=1e-9)


def test_permitted_region_ends_at_the_differential():
    from freecool.show.plots import permitted_region

    t, _, opens = permitted_region(make_case({"rule": {"differential": "5F"}}), 101_325.0)
    assert t[opens.any(axis=0)].max() == pytest.approx((70.0 - 32.0) / 1.8, abs=0.5)
