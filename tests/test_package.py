"""What is shipped: one version number, and a wheel and an archive that hold what they should."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from freecool import __version__

REPOSITORY = Path(__file__).parents[1]
# The version as a number of its own, not a part of a longer one.
STATED = re.compile(rf"(?<![\d.]){re.escape(__version__)}(?![\d.]*\d)")
VERSION_PLACE = "freecool/core/version.py"
# These must say it, and a test compares each.
REPEATED = {"docs/changelog.md", "docs/CITATION.cff"}


def texts() -> dict[str, str]:
    """Every text file of the repository by its place."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=REPOSITORY, capture_output=True, check=False)
    if listed.returncode:
        pytest.skip("not a clone: what belongs to the repository is known to git alone")
    paths = [REPOSITORY / name for name in listed.stdout.decode().split("\0") if name]
    # Binary files state nothing.
    return {
        path.relative_to(REPOSITORY).as_posix(): path.read_text("utf-8", errors="replace")
        for path in paths
        if path.is_file() and b"\0" not in path.read_bytes()
    }


def stating(files: dict[str, str]) -> set[str]:
    """Places that state the version, given files by place; pictures, written with numbers of their own, apart."""
    return {place for place, text in files.items() if not place.endswith(".svg") and STATED.search(text)}


def test_the_version_is_stated_in_one_place_and_where_it_is_compared() -> None:
    assert stating(texts()) == {VERSION_PLACE, *REPEATED}


@pytest.mark.parametrize("text", [f'version = "{__version__}"', f"freecool=={__version__}", f"v{__version__}."])
def test_a_second_place_is_found(text: str) -> None:
    assert stating({"pyproject.toml": text}) == {"pyproject.toml"}


def test_the_citation_and_the_changelog_are_of_this_version() -> None:
    citation = (REPOSITORY / "docs" / "CITATION.cff").read_text("utf-8")
    assert re.findall(r"^version: (.+)$", citation, re.MULTILINE) == [__version__]
    releases = re.findall(r"^## (\d\S*)$", (REPOSITORY / "docs" / "changelog.md").read_text("utf-8"), re.MULTILINE)
    assert releases[0] == __version__
    assert releases == sorted(set(releases), key=lambda text: [int(part) for part in text.split(".")], reverse=True)


def test_the_top_level_holds_what_it_should() -> None:
    top = {place.split("/")[0] for place in texts()}
    shown = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "freecool", "tests", "examples", "docs"}
    assert {name for name in top if not name.startswith(".")} == shown


def astray(page: str) -> list[str]:
    """Files that the table of rooms names and that are not there, given the page for developers."""
    rows = re.findall(r"^\| `(\w+)/` \|.*\|(.*)\|$", page, re.MULTILINE)
    assert len(rows) > 5
    named = [f"{room}/{name}" for room, cell in rows for name in re.findall(r"`([^`]+)`", cell)]
    named += re.findall(r"`((?:cli|web|batch|show|answers|physics|cases|bills|weather|core)/\w+\.py)`", page)
    return [name for name in named if not (REPOSITORY / "freecool" / name).exists()]


def test_the_page_for_developers_names_rooms_and_files_that_are_there() -> None:
    page = (REPOSITORY / "DEVELOPERS.md").read_text("utf-8")
    assert astray(page) == []
    assert astray(page.replace("`units.py`", "`flats.py`").replace("`answers/jobs.py`", "`answers/tasks.py`")) == [
        "core/flats.py",
        "answers/tasks.py",
    ]
    rooms = {path.parent.name for path in (REPOSITORY / "freecool").glob("*/__init__.py")}
    assert set(re.findall(r"^\| `(\w+)/` \|", page, re.MULTILINE)) == rooms
