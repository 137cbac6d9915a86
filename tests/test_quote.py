"""A report with a letterhead: who offers, to whom, which offer; a logo is drawn anew and lets nothing else pass."""

from __future__ import annotations

import base64
import io
import re
import zlib
from pathlib import Path
from typing import Any

import html5lib
import pytest
from PIL import Image, PngImagePlugin
from test_cli import freecool

from freecool import estimate, make_case, open_weather
from freecool.cases.case_file import read_case_file
from freecool.cases.logo import KEPT_PX, MOST_BYTES, redrawn
from freecool.core.errors import CaseError
from freecool.show.html import report_html

SECRET = b"taken at 39.7 N, 104.9 W"
QUOTE = """[quote]
name = "Example Comfort Co."
address = "12 Sample Street\\nAnytown"
customer = "Pat Example"
number = "Q-14"
date = 2026-03-14
logo_file = "logo.png"
"""


def picture(kind: str = "PNG", size: tuple[int, int] = (600, 200), **more: Any) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", size, "#26809f").save(file, kind, **more)
    return file.getvalue()


def letterhead_of(page: str) -> Any:
    return html5lib.parse(page, namespaceHTMLElements=False).find(".//div[@class='letterhead']")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "case.toml").write_text(QUOTE, encoding="utf-8")
    (tmp_path / "logo.png").write_bytes(picture())
    return tmp_path


def test_a_report_says_who_offers_to_whom_and_shows_the_logo(folder: Path) -> None:
    case = make_case(read_case_file(folder / "case.toml"))
    page = report_html(estimate(case, open_weather("demo:high-desert")))
    head = letterhead_of(page)
    said = " ".join("".join(head.itertext()).split())
    for words in ("Example Comfort Co.", "12 Sample Street", "Anytown", "For Pat Example", "Q-14", "2026-03-14"):
        assert words in said
    source = head.find(".//img").get("src")
    with Image.open(io.BytesIO(base64.b64decode(source.removeprefix("data:image/png;base64,")))) as shown:
        assert shown.size == (390, 130)
        assert shown.convert("RGB").getpixel((5, 5)) == (0x26, 0x80, 0x9F)
    # No number rests on whose offer it is.
    assert "Q-14" not in page.partition("What this rests on")[2]


def test_a_report_without_a_quote_has_no_letterhead() -> None:
    assert letterhead_of(report_html(estimate(make_case(), open_weather("demo:high-desert")))) is None


def test_options_tell_the_quote_too(folder: Path) -> None:
    report = folder / "report.html"
    words = ("--customer", "Sam <b>Sample</b>", "--quote-number", "Q-15", "--quote-date", "1 May 2026")
    freecool(
        "value",
        "--case",
        str(folder / "case.toml"),
        "--logo",
        str(folder / "logo.png"),
        *words,
        "--report",
        str(report),
    )
    said = "".join(letterhead_of(report.read_text("utf-8")).itertext())
    assert "Sam <b>Sample</b>" in said
    assert "Q-15" in said
    assert "1 May 2026" in said
    assert "Pat Example" not in said


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "GIF", "WEBP"])
def test_a_logo_of_each_kind_is_redrawn_as_a_small_png(kind: str) -> None:
    kept = base64.b64decode(redrawn(base64.b64encode(picture(kind)).decode()))
    with Image.open(io.BytesIO(kept)) as seen:
        assert seen.format == "PNG"
        assert seen.width <= KEPT_PX[0]
        assert seen.height <= KEPT_PX[1]
    # What is kept already is kept as it is.
    assert redrawn(base64.b64encode(kept).decode()) == base64.b64encode(kept).decode()


def test_nothing_but_pixels_passes() -> None:
    note = PngImagePlugin.PngInfo()
    note.add_text("Comment", SECRET.decode())
    sent = picture(pnginfo=note, icc_profile=SECRET) + SECRET
    assert sent.count(SECRET) >= 2
    kept = base64.b64decode(redrawn(base64.b64encode(sent).decode()))
    chunks = re.findall(rb"(IHDR|tEXt|zTXt|iTXt|iCCP|eXIf|IDAT|IEND)", kept)
    assert set(chunks) == {b"IHDR", b"IDAT", b"IEND"}
    assert SECRET not in kept
    assert SECRET not in zlib.decompress(kept.partition(b"IDAT")[2][:-16])


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        (b"<svg onload='alert(1)'/>", "no picture of these kinds"),
        (b"%PDF-1.4", "no picture of these kinds"),
        (picture("BMP"), "no picture of these kinds"),
        (picture()[:200], "cannot be read"),
        (picture(size=(4001, 10)), "4,001 by 10 pixels"),
    ],
    ids=["svg", "pdf", "bmp", "cut", "wide"],
)
def test_what_is_no_logo_is_refused_with_what_would_be(sent: bytes, words: str, folder: Path) -> None:
    (folder / "logo.png").write_bytes(sent)
    for read in (
        lambda: read_case_file(folder / "case.toml"),
        lambda: make_case({"quote": {"logo": base64.b64encode(sent).decode()}}),
    ):
        with pytest.raises(CaseError) as refused:
            read()
        assert words in str(refused.value)
        assert "expected a PNG, JPEG, GIF or WebP picture of at most 1,000,000 bytes and 4,000 pixels a side" in str(
            refused.value
        )


def test_a_large_a_missing_and_a_strange_file_are_refused(folder: Path) -> None:
    logo = folder / "logo.png"
    logo.write_bytes(b"x" * (MOST_BYTES + 1))
    with pytest.raises(CaseError, match=r"more than 1,000,000 bytes.*expected a PNG"):
        read_case_file(folder / "case.toml")
    logo.unlink()
    with pytest.raises(CaseError, match="no such logo"):
        read_case_file(folder / "case.toml")
    logo.mkdir()
    with pytest.raises(CaseError, match="it is a folder"):
        read_case_file(folder / "case.toml")


def test_only_a_case_file_may_name_a_file() -> None:
    with pytest.raises(CaseError, match="logo_file"):
        make_case({"quote": {"logo_file": "/etc/hostname"}})
    with pytest.raises(CaseError, match="base64"):
        make_case({"quote": {"logo": "/etc/hostname!"}})
