"""Every page as its reader meets it, in a browser: on a desk, on a telephone, on paper, through a screen reader."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import combinations
from pathlib import Path
from typing import Any

import html5lib
import numpy as np
import pandas as pd
import pytest
from browser import DESK, PHONE, accessibility_faults, layout_faults
from matplotlib.backends.backend_agg import FigureCanvasAgg
from stress import amount

from freecool import compare_rules, estimate, make_case, open_weather, sweep_differential
from freecool.answers.commissioning import commissioning
from freecool.show.html import report_html
from freecool.show.sheet import sheet_html
from freecool.show.style import WIDTH
from freecool.weather.save import save_weather

# The damp place has the longest pages; a dry one and one between them where tests are long.
PLACES = amount(("melbourne",), ("albuquerque", "melbourne", "greensboro"))
PAGES = ("value", "pick", "compare", "sheet")
# Width of A4 less margins of 12 mm, in CSS pixels.
PAPER = round((210 - 2 * 12) / 25.4 * 96)
# A name of 300 characters, the most a case takes, that would run or break a careless page.
HOSTILE = "<script>alert(1)</script> \"quotes\" 'and' & \U0001f9ca ".ljust(300, "x")
# The body's padding takes this much of a telephone; smaller type than this is a strain; our own bound.
PHONE_PADDING_PX, SMALLEST_TYPE_PX = 32, 8.0


def results_of(case: Any, weather: Any) -> dict[str, Any]:
    """All three answers; few draws, since the layout does not depend on them."""
    return {
        "value": estimate(case, weather),
        "pick": sweep_differential(case, weather, draws=3),
        "compare": compare_rules(case, weather, draws=1),
    }


def pages_of(results: Any) -> dict[str, str]:
    """The three reports and the sheet."""
    sweep = results["pick"]
    pressure = float(sweep.weather.frame["pressure_pa"].mean())
    day = commissioning(sweep.picked_case(), 12.8, 23.9, pressure)
    return {**{job: report_html(result) for job, result in results.items()}, "sheet": sheet_html(sweep, day)}


def written(pages: Any, folder: Any) -> Any:
    """Each page as a file that a browser can open."""
    paths = {}
    for name, page in pages.items():
        paths[name] = folder / f"{name}.html"
        paths[name].write_text(page, encoding="utf-8")
    return paths


@pytest.fixture(scope="module")
def results(shared_weather: Callable[[str], Path], pvlib_weather: Callable[[str], Path]) -> Any:
    files = {
        "albuquerque": shared_weather("723650TYA_Albuquerque_TMY3.csv"),
        "melbourne": shared_weather("722040TYA_MelbourneFL_TMY3.csv"),
        "greensboro": pvlib_weather("723170TYA.CSV"),
    }
    case = make_case({"money": {"installed_cost": 1200}})
    return {place: results_of(case, open_weather(files[place])) for place in PLACES}


@pytest.fixture(scope="module")
def pages(results: Any) -> Any:
    return {place: pages_of(told) for place, told in results.items()}


@pytest.fixture(scope="module")
def paths(pages: Any, tmp_path_factory: pytest.TempPathFactory) -> Any:
    return {place: written(told, tmp_path_factory.mktemp(place)) for place, told in pages.items()}


def faults_of(seen: Any, path: Any) -> list[str]:
    """What a reader of a page at this width would complain of."""
    seen.page.goto(path.as_uri())
    faults = [f"console: {error}" for error in seen.errors]
    faults += [f"asked for {address}" for address in seen.requests if address != path.as_uri()]
    return faults + layout_faults(seen.page) + accessibility_faults(seen.page)


@pytest.mark.parametrize("width", [PHONE, DESK])
@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("place", PLACES)
def test_page_lies_well_and_everyone_can_read_it(place: Any, name: Any, width: Any, paths: Any, page_at: Any) -> None:
    """No console error, no request that leaves the file, nothing cut or overlapping, WCAG 2 A and AA by axe-core."""
    assert faults_of(page_at(width), paths[place][name]) == []


@pytest.mark.parametrize("name", PAGES)
def test_printed_page_lies_well(name: Any, paths: Any, page_at: Any) -> None:
    seen = page_at(PAPER)
    seen.page.emulate_media(media="print")
    assert faults_of(seen, paths["melbourne"][name]) == []


def printed_pages(seen: Any, path: Any, paper: Any) -> int:
    from io import BytesIO

    from pypdf import PdfReader

    seen.page.goto(path.as_uri())
    return len(PdfReader(BytesIO(seen.page.pdf(format=paper))).pages)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("place", PLACES)
def test_page_prints_on_two_sheets(place: Any, name: Any, paper: str, paths: Any, page_at: Any) -> None:
    assert printed_pages(page_at(DESK), paths[place][name], paper) <= 2


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("place", PLACES)
def test_page_is_small_and_valid_html(place: Any, name: Any, pages: Any) -> None:
    """By html5lib's strict parser, which refuses every parse error of the HTML standard."""
    page = pages[place][name]
    assert len(page.encode()) < 1_500_000
    html5lib.HTMLParser(strict=True).parse(page)


@pytest.mark.parametrize("place", PLACES)
def test_every_picture_has_words_with_numbers(place: Any, pages: Any) -> None:
    counts = {"value": 6, "pick": 2, "compare": 2, "sheet": 0}
    for name, count in counts.items():
        tree = html5lib.parse(pages[place][name], namespaceHTMLElements=False)
        words = [image.get("alt") or "" for image in tree.iter("img")]
        assert len(words) == count
        assert [text for text in words if not re.search(r"\d", text)] == []


def drawn(told: Any) -> list[Any]:
    value, pick, compare = (told[job].plot for job in ("value", "pick", "compare"))
    return [
        value.clock(), value.months(), value.humidity(), value.chart(), value.chart(units="si"), value.band(),
        value.others(), pick.curve(), pick.curve(units="si"), pick.moisture(), compare.bars(), compare.moisture(),
    ]  # fmt: skip


def texts_of(axes: Any) -> list[Any]:
    """Every text of a picture that is seen: names, keys, notes, and the figures of ticks in view."""
    figure = axes.figure
    found = []
    for ax in figure.axes:
        key = ax.get_legend()
        found += [ax.title, ax._left_title, ax.xaxis.label, ax.yaxis.label, *ax.texts]
        found += key.get_texts() if key else []
        for axis in (ax.xaxis, ax.yaxis):
            low, high = sorted(axis.get_view_interval())
            slack = 1e-9 * (high - low)
            ticks = [tick for tick in axis.get_major_ticks() if low - slack <= tick.get_loc() <= high + slack]
            found += [label for tick in ticks for label in (tick.label1, tick.label2)]
    return [text for text in found if text.get_visible() and text.get_text().strip()]


@pytest.mark.parametrize("place", PLACES)
def test_words_in_pictures_are_whole_apart_and_large_enough(place: Any, results: Any) -> None:
    shrink = (PHONE - PHONE_PADDING_PX) / (WIDTH * 96)
    faults = []
    for axes in drawn(results[place]):
        canvas = FigureCanvasAgg(axes.figure)
        canvas.draw()  # type: ignore[no-untyped-call]
        page = axes.figure.bbox
        boxes = [(text.get_text(), text.get_window_extent(canvas.get_renderer())) for text in texts_of(axes)]  # type: ignore[no-untyped-call]
        assert len(boxes) >= 5
        for text, box in boxes:
            if box.x0 < page.x0 - 1 or box.y0 < page.y0 - 1 or box.x1 > page.x1 + 1 or box.y1 > page.y1 + 1:
                faults.append(f"{axes.get_title(loc='left')}: {text!r} is cut")
        for (one, first), (other, second) in combinations(boxes, 2):
            # Rotated text and its neighbour may touch by a pixel.
            if min(first.x1, second.x1) - max(first.x0, second.x0) > 1 and (
                min(first.y1, second.y1) - max(first.y0, second.y0) > 1
            ):
                faults.append(f"{axes.get_title(loc='left')}: {one!r} over {other!r}")
        for text in texts_of(axes):
            if text.get_fontsize() * 96 / 72 * shrink < SMALLEST_TYPE_PX:
                faults.append(f"{text.get_text()!r} is {text.get_fontsize()} pt")
    assert faults == []


def hostile_epw(shared_weather: Callable[[str], Path], tmp_path: Path) -> Any:
    """A real EPW whose city is hostile."""
    real = shared_weather("USA_CO_Denver.Intl.AP.725650_TMY3.epw").read_text("utf-8")
    head, rest = real.split("\n", 1)
    fields = head.split(",")
    fields[1] = HOSTILE
    path = tmp_path / "hostile.epw"
    path.write_text(",".join(fields) + "\n" + rest, encoding="utf-8")
    return path


def hostile_csv(_: Any, tmp_path: Path) -> Any:
    """A plain CSV whose "# name:" is hostile."""
    path = tmp_path / "hostile.csv"
    save_weather(open_weather("demo:mixed-inland"), path)
    text = re.sub(r"^# name: .*$", lambda _: f"# name: {HOSTILE}", path.read_text("utf-8"), count=1, flags=re.MULTILINE)
    path.write_text(text, encoding="utf-8")
    return path


def hostile_file_name(_: Any, tmp_path: Path) -> Any:
    """A plain CSV without a name, in a file with a hostile one as long as a folder takes."""
    path = tmp_path / (HOSTILE.replace("/", "\\")[:120] + ".csv")
    save_weather(open_weather("demo:mixed-inland"), path)
    text = re.sub(r"^# name: .*\n", "", path.read_text("utf-8"), count=1, flags=re.MULTILINE)
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.long
@pytest.mark.parametrize("make", [hostile_epw, hostile_csv, hostile_file_name])
def test_hostile_names_are_text_and_break_nothing(
    make: Any, shared_weather: Callable[[str], Path], tmp_path: Path, page_at: Any
) -> None:
    weather = open_weather(make(shared_weather, tmp_path))
    told = pages_of(results_of(make_case({"name": HOSTILE}), weather))
    for name, path in written(told, tmp_path).items():
        html5lib.HTMLParser(strict=True).parse(told[name])
        for width in (PHONE, DESK):
            seen = page_at(width)
            assert faults_of(seen, path) == [], name
            said = seen.page.inner_text("body")
            # Once as the case's name, once more as the weather's.
            assert said.count("<script>alert(1)<") >= 2, name
            assert "\U0001f9ca" in said
            assert "x" * 200 in said
            assert seen.page.evaluate("document.scripts.length") == 0


BROKEN = """<!doctype html><html><head><title>x</title></head><body style="margin:0">
<div style="width:2000px">wide</div><div style="width:50px;overflow:hidden;white-space:nowrap">text that is cut</div>
<p style="position:absolute;top:200px">one text</p><p style="position:absolute;top:203px">over another</p>
<img src="http://127.0.0.1:9/gone.png"><script>console.error("said")</script></body></html>"""


def test_the_checks_see_a_broken_page(tmp_path: Path, page_at: Any) -> None:
    """Each fault that the tests above look for, made on purpose."""
    path = tmp_path / "broken.html"
    path.write_text(BROKEN, encoding="utf-8")
    told = "\n".join(faults_of(page_at(PHONE), path))
    for words in ("console: said", "asked for http://127.0.0.1:9", "px wide", "is cut", "overlap", "image-alt", "lang"):
        assert words in told, words


@pytest.mark.long
def test_many_years_print_on_two_sheets_and_show_good_and_bad(tmp_path: Path, page_at: Any) -> None:
    demo = open_weather("demo:high-desert").frame
    hours = pd.date_range("2009-01-01", "2021-01-01", freq="h", inclusive="left")
    place = ((hours.day_of_year - 1) % 365) * 24 + hours.hour
    table = demo.iloc[place].set_axis(hours)
    # Warm and cool years, made up.
    swing = np.sin(1.7 * (hours.year.to_numpy() - 2009))
    for column in ("dry_bulb_c", "dew_point_c"):
        table[column] = table[column] + swing
    source = tmp_path / "years.csv"
    head = "# name: Made-up years\n# latitude: 36\n# longitude: -108\n# elevation_m: 1500\n# utc_offset_h: -7\n"
    source.write_text(head + table.to_csv(index_label="time", date_format="%Y-%m-%d %H:%M"), encoding="utf-8")
    answer = estimate(make_case(), open_weather(source))
    assert len(answer.by_year) == 12
    path = written({"value": report_html(answer)}, tmp_path)["value"]
    tree = html5lib.parse(path.read_text("utf-8"), namespaceHTMLElements=False)
    assert len(list(tree.iter("img"))) == 7
    assert "Good and bad years" in path.read_text("utf-8")
    for paper in ("A4", "Letter"):
        assert printed_pages(page_at(DESK), path, paper) <= 2
    for width in (PHONE, DESK):
        assert faults_of(page_at(width), path) == []
