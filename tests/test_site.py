"""The site of docs/ builds without a warning and fetches nothing; the gallery is what its scripts print and draw."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import gallery
import nbformat
import pytest
import site_of_docs
from stress import amount

import freecool

REPOSITORY = Path(__file__).parents[1]
LOADING_TAG = re.compile(r"<(?:script|link|img|iframe|source|audio|video|object|embed)\b[^>]*>", re.IGNORECASE)
ADDRESS = re.compile(r"""(?:src|srcset|href|data)\s*=\s*["']?\s*((?:https?:)?//[^"'\s>]+)""", re.IGNORECASE)
IN_STYLE = re.compile(r"""(?:url\(|@import)\s*["']?\s*((?:https?:)?//[^"')\s]+)""", re.IGNORECASE)


def fetched(text: str) -> list[str]:
    """Addresses elsewhere that a browser would load, given a page or a style sheet."""
    tags = [address for tag in LOADING_TAG.findall(text) for address in ADDRESS.findall(tag)]
    return tags + IN_STYLE.findall(text)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The site, built as a maintainer builds it, but elsewhere."""
    folder = tmp_path_factory.mktemp("site")
    command = [sys.executable, "-m", "mkdocs", "build", "--strict", "--config-file", ".mkdocs.yml", "--site-dir"]
    run = subprocess.run([*command, str(folder)], cwd=REPOSITORY, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    return folder


@pytest.mark.long
def test_the_site_fetches_nothing(built: Path) -> None:
    pages = [*built.rglob("*.html"), *built.rglob("*.css")]
    assert len(pages) > 20
    assert {page.name: found for page in pages if (found := fetched(page.read_text("utf-8")))} == {}


@pytest.mark.parametrize(
    "text",
    [
        '<script src="https://example.org/a.js"></script>',
        "<link rel=stylesheet href=//example.org/a.css>",
        '<img alt="" src="http://example.org/a.png">',
        "@import 'https://example.org/a.css';",
        "body { background: url(https://example.org/a.png) }",
    ],
)
def test_a_planted_address_is_found(text: str) -> None:
    assert len(fetched(text)) == 1


def test_a_link_to_follow_is_not_fetched() -> None:
    assert fetched('<a href="https://example.org/">a</a> <link href="a.css"> <script src="a.js"></script>') == []


def test_the_front_page_is_the_readme_with_links_of_the_site(built: Path) -> None:
    page = (built / "index.html").read_text("utf-8")
    assert "first stage of cooling" in page
    for target in ("command-line.html", "developers.html", "CITATION.cff", "examples/quote.py", "months.svg"):
        assert f'"{target}"' in page
        assert (built / target).is_file()


@pytest.mark.parametrize(
    ("place", "link", "turned"),
    [
        ("index.md", "docs/web.md#start", "web.md#start"),
        ("batch.md", "../README.md", "index.md"),
        ("batch.md", "../examples/sites.csv", "examples/sites.csv"),
        ("reference/core.md", "../../DEVELOPERS.md", "../developers.md"),
        ("gallery/house.md", "office.md", "office.md"),
        ("batch.md", "#results", "#results"),
        ("batch.md", "https://example.org/a", "https://example.org/a"),
    ],
)
def test_links_are_turned_to_the_site(place: str, link: str, turned: str) -> None:
    assert site_of_docs.with_links_of_the_site(f"[a]({link})", place) == f"[a]({turned})"


def test_the_reference_names_every_name_of_the_public_face_and_every_room() -> None:
    folder = REPOSITORY / "docs" / "reference"
    face = re.findall(r"^::: freecool\.(\w+)$", (folder / "index.md").read_text("utf-8"), re.MULTILINE)
    assert sorted(face) == sorted(set(dir(freecool)) - {"__version__"})
    rooms = {page.stem for page in folder.glob("*.md")} - {"index"}
    doors = {"cli", "web"}
    assert rooms == {path.parent.name for path in (REPOSITORY / "freecool").glob("*/__init__.py")} - doors


@pytest.mark.parametrize("name", amount(tuple(gallery.SCRIPTS)[:2], tuple(gallery.SCRIPTS)))
def test_a_gallery_page_is_what_its_script_prints_and_draws(name: str) -> None:
    played = gallery.played(name)
    assert (gallery.PAGES / f"{name}.md").read_text("utf-8") == played.page
    kept = {path.name: path.read_text("utf-8") for path in gallery.PAGES.glob(f"{name}-[0-9].svg")}
    assert kept.keys() == played.pictures.keys()
    for picture, text in played.pictures.items():
        # Another release of matplotlib draws the same with other strokes.
        if drawn_with(kept[picture]) == drawn_with(text):
            assert kept[picture] == text, picture


@pytest.mark.parametrize("name", amount(gallery.NOTEBOOKS[:1], gallery.NOTEBOOKS))
def test_a_notebook_of_the_gallery_is_what_a_kernel_answers(name: str) -> None:
    text = (gallery.PAGES / f"{name}.ipynb").read_text("utf-8")
    kept, run = nbformat.reads(text, as_version=4), gallery.notebook(name)
    nbformat.validate(kept)
    assert [cell.source for cell in kept.cells] == [cell.source for cell in run.cells]
    assert [told(cell) for cell in kept.cells] == [told(cell) for cell in run.cells]
    assert any("image/png" in told(cell) for cell in kept.cells)
    assert len(text) < 150_000


def told(cell: Any) -> list[str]:
    """What a cell printed, and which kinds of picture it shows, given the cell."""
    outputs = cell.get("outputs", [])
    return [part for output in outputs for part in ([output.text] if "text" in output else sorted(output.data))]


def drawn_with(svg: str) -> list[str]:
    return re.findall(r"Matplotlib v[\d.]+", svg)


def test_the_gallery_has_a_page_a_script_and_says_that_all_is_invented() -> None:
    pages = {path.stem: path.read_text("utf-8") for path in gallery.PAGES.glob("*.md")}
    assert pages.keys() == {*gallery.SCRIPTS, "index"}
    assert [name for name, page in pages.items() if "invented" not in page] == []
