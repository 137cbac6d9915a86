"""Writes docs/gallery/: each script of examples/gallery/ run cell by cell, with what it printed and drew.

``python docs/build/gallery.py`` writes all pages, ``python docs/build/gallery.py house`` one. The scripts are in the
percent format that editors open as notebooks: the last expression of a cell is shown, a figure or axes as a picture.
Those of `NOTEBOOKS` are written as notebooks too, run in a kernel.
"""

from __future__ import annotations

import ast
import contextlib
import io
import re
import sys
from pathlib import Path
from typing import Any, NamedTuple

import nbformat
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from freecool.show.style import page_style

REPOSITORY = Path(__file__).parents[2]
SCRIPTS = {path.stem.replace("_", "-"): path for path in sorted((REPOSITORY / "examples" / "gallery").glob("*.py"))}
NOTEBOOKS = ("house", "office", "equipment-room")
PAGES = REPOSITORY / "docs" / "gallery"
MARKDOWN = "[markdown]"
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
    for title, body in cells_of(name):
        if title == MARKDOWN:
            parts.append(body)
            continue
        printed, shown = run_cell(body, names)
        parts.append(f"```python\n{body}\n```")
        if printed:
            parts.append(f"```text\n{printed.rstrip()}\n```")
        if shown is not None:
            picture = f"{name}-{len(pictures) + 1}.svg"
            pictures[picture] = as_svg(shown)
            parts.append(f"![{title}]({picture})")
    source = script.relative_to(REPOSITORY).as_posix()
    also = f" Also [as a notebook]({name}.ipynb)." if name in NOTEBOOKS else ""
    parts.append(f"Written by running [{source}](../../{source}).{also}")
    return Gallery("\n\n".join(parts) + "\n", pictures)


def cells_of(name: str) -> list[tuple[str, str]]:
    """Title and text of each cell of a script, given its name; a page's words stand without their comment marks."""
    pieces = [piece.strip() for piece in CELL.split(SCRIPTS[name].read_text("utf-8"))]
    return [
        (title, re.sub(r"^# ?", "", body, flags=re.MULTILINE) if title == MARKDOWN else body)
        for title, body in zip(pieces[1::2], pieces[2::2], strict=True)
    ]


def notebook(name: str) -> Any:
    """A script as a notebook that a kernel has run, given its name."""
    from nbclient import NotebookClient

    book = nbformat.v4.new_notebook()
    for number, (title, body) in enumerate(cells_of(name)):
        # A counted name stays when the notebook is written again.
        told = {"source": body, "id": f"cell-{number}"}
        is_text = title == MARKDOWN
        book.cells.append(nbformat.v4.new_markdown_cell(**told) if is_text else nbformat.v4.new_code_cell(**told))
    NotebookClient(book, timeout=600, kernel_name="python3", record_timing=False).execute()
    book.metadata.pop("language_info", None)
    return book


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
    if isinstance(value, Axes):
        value = value.figure
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
    if name in NOTEBOOKS:
        nbformat.write(notebook(name), PAGES / f"{name}.ipynb")


if __name__ == "__main__":
    for wanted in sys.argv[1:] or SCRIPTS:
        write(wanted)
