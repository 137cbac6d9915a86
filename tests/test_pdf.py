"""The report as a PDF: a page to hand over and an annex, its fonts embedded, small, made without asking anyone."""

from __future__ import annotations

import base64
import io
import random
import sys
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfReader
from stress import amount
from test_cli import freecool

from freecool import compare_rules, estimate, make_case, open_weather, sweep_differential
from freecool.core.errors import CaseError, FreecoolError
from freecool.show import html
from freecool.show.files import write_report
from freecool.show.pdf import check_pdf, report_pdf

LETTER, A4 = (612, 792), (595, 842)


@pytest.fixture(scope="module", autouse=True)
def _printer() -> None:
    """Skips where the system lacks Pango, which Debian's chromium brings."""
    try:
        check_pdf()
    except FreecoolError as error:
        pytest.skip(str(error))


def noise() -> str:
    """The logo that packs worst."""
    file, random_bytes = io.BytesIO(), random.Random(0).randbytes(4 * 400 * 130)
    Image.frombytes("RGBA", (400, 130), random_bytes).save(file, "PNG")
    return base64.b64encode(file.getvalue()).decode()


@pytest.fixture(scope="module")
def results() -> Any:
    quote = {"name": "Example Comfort Co.", "customer": "Pat Example", "address": "1 Way\nAnytown", "logo": noise()}
    case, weather = make_case({"quote": quote, "money": {"installed_cost": 900}}), open_weather("demo:mixed-inland")
    return {
        "value": estimate(case, weather),
        "pick": sweep_differential(case, weather, draws=3),
        "compare": compare_rules(case, weather, draws=1),
    }


def fonts_of(reader: PdfReader) -> list[Any]:
    """The descriptors of every font of a PDF."""
    fonts = [font.get_object() for page in reader.pages for font in page["/Resources"]["/Font"].values()]  # type: ignore[index]
    return [below.get_object()["/FontDescriptor"] for font in fonts for below in font["/DescendantFonts"]]


@pytest.mark.parametrize(
    ("job", "units"), amount((("value", "ip"),), (("value", "ip"), ("pick", "si"), ("compare", "ip")))
)
def test_two_pages_of_the_customers_paper_with_fonts_embedded(
    job: str, units: Any, results: Any, tmp_path: Path
) -> None:
    result, path = results[job], tmp_path / "report.PDF"
    write_report(result, path, units)
    made = path.read_bytes()
    assert len(made) < 500_000
    reader = PdfReader(io.BytesIO(made))
    assert len(reader.pages) == 2
    box = reader.pages[0].mediabox
    assert (round(box.width), round(box.height)) == (LETTER if units == "ip" else A4)
    fonts = fonts_of(reader)
    assert len(fonts) >= 2
    assert all("/FontFile2" in font or "/FontFile3" in font for font in fonts)
    assert {font["/FontName"].partition("+")[2][:11] for font in fonts} == {"DejaVu-Sans"}
    first, annex = (" ".join(page.extract_text().replace("−", "-").split()) for page in reader.pages)
    told = result.to_dict()
    sentence = told["verdict"]["text"] if job != "value" else result.headline
    assert " ".join(sentence.split()) in first
    for words in ("Example Comfort Co.", "For Pat Example", "An estimate, not a design."):
        assert words in first
    assert "What this rests on" in annex
    assert "Window U-factor" in annex


def test_a_thing_elsewhere_is_refused_and_not_left_out(results: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from weasyprint.urls import FatalURLFetchingError

    page = html.report_page(results["value"], "ip", 0)
    assert page.letterhead is not None
    elsewhere = page._replace(letterhead=page.letterhead._replace(logo=Path(__file__).as_uri()))
    monkeypatch.setattr(html, "report_page", lambda *_: elsewhere)
    with pytest.raises(FatalURLFetchingError, match=r"test_pdf\.py"):
        report_pdf(results["value"])


def test_without_the_library_the_answer_says_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(
        FreecoolError, match=r"pip install '\.\[pdf\]' in a copy of the sources; or write an \.html file"
    ):
        check_pdf()
    refused = freecool("value", "demo:high-desert", "--report", str(tmp_path / "report.pdf"))
    assert refused.code == 2
    assert "A PDF needs the package weasyprint" in refused.errors
    assert list(tmp_path.iterdir()) == []


def test_without_pango_the_answer_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    class Broken:
        def find_spec(self, name: str, *_: Any) -> None:
            if name == "weasyprint":
                raise OSError("cannot load library 'libpango-1.0-0': no such file\nand more")

    monkeypatch.delitem(sys.modules, "weasyprint")
    monkeypatch.setattr(sys, "meta_path", [Broken(), *sys.meta_path])
    with pytest.raises(FreecoolError, match=r"apt-get install libpangoft2-1\.0-0"):
        check_pdf()


def test_a_logo_that_is_cut_off_stays_refused_beside_the_library() -> None:
    check_pdf()
    cut = base64.b64encode(base64.b64decode(noise())[:5000]).decode()
    with pytest.raises(CaseError, match="cannot be read"):
        make_case({"quote": {"logo": cut}})
