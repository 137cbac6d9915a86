"""Writes docs/gallery/: each script of examples/gallery/ run cell by cell, with what it printed and drew.

``python docs/build/gallery.py`` writes all pages, ``python docs/build/gallery.py house`` one. The scripts are in the
percent format that editors open as notebooks: the last expression of a cell is shown, a figure as a picture.
"""

from __future__ import annotations

import ast
import contextlib
import io
import re
import sys
from pathlib import Path
from typing import Any, NamedTuple

from matplotlib.figure import Figure

from freecool.show.style import page_style

REPOSITORY = Path(__file__).parents[2]
SCRIPTS = {path.stem.replace("_", "-"): path for path in sorted((REPOSITORY / "examples" / "gallery").glob("*.py"))}
PAGES = REPOSITORY / "docs" / "gallery"
CELL = re.compile(r"^# %%(.*)\n", re.MULTILINE)
# matplotlib's name of a clip path: a hash that changes with the sixteenth digit of a coordinate.
CLIP_PATH = re.compile(r"\bp[0-9a-f]{10}\b")


class Gallery(NamedTuple):
    """A page and its pictures by file name."""

    page: str
    pictures: dict[str, str]


def played(name: str) -> Gallery:
    """The page of a script, given its name: words, code, and what the code printed and drew."""
    script = SCRIPTS[name]
    parts: list[str] = []
    pictures: dict[str, str] = {}
    names: dict[str, Any] = {"__name__": "__main__", "__file__": str(script)}
    pieces = CELL.split(script.read_text("utf-8"))
    for title, body in zip(pieces[1::2], pieces[2::2], strict=True):
        if title.strip() == "[markdown]":
            parts.append(re.sub(r"^# ?", "", body, flags=re.MULTILINE).strip())
            continue
        printed, shown = run_cell(body, names)
        parts.append(f"```python\n{body.strip()}\n```")
        if printed:
            parts.append(f"```text\n{printed.rstrip()}\n```")
        if shown is not None:
            picture = f"{name}-{len(pictures) + 1}.svg"
            pictures[picture] = as_svg(shown)
            parts.append(f"![{title.strip()}]({picture})")
    source = script.relative_to(REPOSITORY).as_posix()
    parts.append(f"Written by running [{source}](../../{source}).")
    return Gallery("\n\n".join(parts) + "\n", pictures)


def run_cell(source: str, names: dict[str, Any]) -> tuple[str, Figure | None]:
    """What a cell printed and the figure that it ends in, given its source and the names so far."""
    tree = ast.parse(source)
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    output = io.StringIO()
    value = None
    with contextlib.redirect_stdout(output):
        exec(compile(tree, "<cell>", "exec"), names)
        if isinstance(last, ast.Expr):
            value = eval(compile(ast.Expression(last.value), "<cell>", "eval"), names)
    if isinstance(value, Figure):
        return output.getvalue(), value
    return output.getvalue() + ("" if value is None else f"{value!r}\n"), None


def as_svg(figure: Figure) -> str:
    """A figure as SVG without the time of its making, its clip paths counted rather than named by their last digits."""
    text = io.StringIO()
    with page_style():
        figure.savefig(text, format="svg", metadata={"Date": None}, facecolor="white")
    names: dict[str, str] = {}
    counted = CLIP_PATH.sub(lambda found: names.setdefault(found[0], f"clip{len(names) + 1}"), text.getvalue())
    return "".join(f"{line.rstrip()}\n" for line in counted.splitlines())


def write(name: str) -> None:
    """Write a page and its pictures, given the name of the script."""
    gallery = played(name)
    PAGES.mkdir(exist_ok=True)
    for old in PAGES.glob(f"{name}-*.svg"):
        old.unlink()
    (PAGES / f"{name}.md").write_text(gallery.page, encoding="utf-8")
    for picture, text in gallery.pictures.items():
        (PAGES / picture).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    for wanted in sys.argv[1:] or SCRIPTS:
        write(wanted)
