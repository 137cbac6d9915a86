"""The page of outside checks; ``python docs/build/checks.py WRITTEN RAN`` tells how the checks of two pages differ."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

INTRO = """# Checked against the outside

<!-- Written by `pytest --outside-table=docs/checks.md`; change the tests, not this page. -->

Each row is one of our figures beside one that others published. The tests of a full run wrote it.

"""


class Comparison(NamedTuple):
    """One of our figures beside a published one, all as text; `tolerance` is empty where there is no pass mark."""

    verdict: str
    check: str
    source: str
    expected: str
    got: str
    tolerance: str
    reason: str = ""


LEADING, PASSED, CONTRADICTED, PRINTED, RECALLED = "leading", "passed", "contradicted", "printed", "recalled"
# What the tool is for: checks of it stand first.
MAIN_JOB = "compressor kWh avoided by outdoor air"
# Title, what its rows are, what stands above the last column and which field that is.
SECTIONS = {
    LEADING: (
        "Compressor kWh avoided by outdoor air, against published ranges",
        "passed: the main job, inside the range beside them",
        "tolerance",
    ),
    PASSED: ("Passed against a source", "others inside the tolerance or the range beside them", "tolerance"),
    CONTRADICTED: ("Contradicts a source", "outside it, with the reason; the test is expected to fail", "reason"),
    PRINTED: ("Printed beside a source", "without a pass mark: the source gives none that applies", ""),
    RECALLED: (
        "From memory",
        "passed; the figure was recalled, or is common practice without a source",
        "tolerance",
    ),
}
COMMON = ("check", "source", "expected", "got")


def section_of(comparison: Comparison) -> str:
    """The section of the page in which a comparison stands."""
    recalled = any(words in comparison.source for words in ("from memory", "no source"))
    if comparison.verdict != PASSED:
        return comparison.verdict
    if recalled:
        return RECALLED
    return LEADING if MAIN_JOB in comparison.check else PASSED


def checks_page(comparisons: Iterable[Comparison]) -> str:
    """The page as Markdown, given the comparisons in order; equal ones stand once."""
    sections: dict[str, list[Comparison]] = {name: [] for name in SECTIONS}
    for comparison in dict.fromkeys(comparisons):
        sections[section_of(comparison)].append(comparison)
    counts = [(title, str(len(sections[name])), what) for name, (title, what, _) in SECTIONS.items()]
    lines = [INTRO + "\n".join(_table(("", "checks", "what they are"), counts))]
    for name, (title, _, last) in SECTIONS.items():
        fields = (*COMMON, last) if last else COMMON
        rows = [[getattr(comparison, field) for field in fields] for comparison in sections[name]]
        lines += ["", f"## {title}", "", *(_table(fields, rows) if rows else ["None."])]
    return "\n".join(lines) + "\n"


def checks_of(page: str) -> set[tuple[str, ...]]:
    """(section, check, source, expected) of each row of a page; what we got may differ in its last digit."""
    found, section = set(), ""
    for line in page.splitlines():
        if line.startswith("## "):
            section = line[3:]
        elif section and line.startswith("| ") and not line.startswith(("| check |", "| --- |")):
            found.add((section, *line.replace("\\|", "/").split(" | ")[:3]))
    return found


def _table(titles: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    lines = ["| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in (titles, *rows)]
    lines.insert(1, "|" + " --- |" * len(titles))
    return lines


if __name__ == "__main__":
    written, ran = (checks_of(Path(page).read_text("utf-8")) for page in sys.argv[1:3])
    for told, rows in (("not on the page", ran - written), ("on the page, but did not run", written - ran)):
        for row in sorted(rows):
            print(f"{told}: {' | '.join(row)}")
    if written != ran:
        sys.exit("the page of checks is not what ran: pytest --outside-table=docs/checks.md writes it")
