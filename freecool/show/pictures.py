"""From axes to a picture within a page: SVG whose ink and paper follow the reader's light or dark screen."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from freecool.show.style import DARK, page_style

if TYPE_CHECKING:
    from matplotlib.axes import Axes


class Drawing(NamedTuple):
    """A picture to draw, its caption, and what only those hear who cannot see it."""

    draw: Callable[[], Axes]
    caption: str
    details: str = ""
    name: str = ""


class Picture(NamedTuple):
    """One picture, its caption and what it says in words."""

    svg: str
    caption: str
    words: str
    name: str = ""
    """What a page knows it by, where it has a place of its own."""

    @property
    def source(self) -> str:
        """An address within a page for screens, light or dark."""
        return _address(_following_the_screen(self.svg))

    @property
    def printed(self) -> str:
        """An address within a page for paper."""
        return _address(self.svg)


def pictures_of(drawings: Sequence[Drawing]) -> list[Picture]:
    """Pictures as SVG, given drawings.

    Parameters
    ----------
    drawings : sequence of Drawing
        In order.

    Returns
    -------
    list of Picture
        One a drawing.
    """
    pictures = []
    for draw, caption, details, name in drawings:
        with page_style():
            file = io.BytesIO()
            figure: Any = draw().figure
            figure.savefig(file, format="svg", dpi=200, metadata={"Date": None})
        pictures.append(Picture(file.getvalue().decode(), caption, f"{caption} {details}".rstrip(), name))
    return pictures


def _address(svg: str) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()


def _following_the_screen(svg: str) -> str:
    """The same with names for the colours that differ on a dark screen, and what they mean on either."""
    light, dark = [], []
    for place, (colour, other) in enumerate(DARK.items()):
        svg = svg.replace(colour, f"var(--c{place})")
        light.append(f"--c{place}:{colour}")
        dark.append(f"--c{place}:{other}")
    style = f":root{{{';'.join(light)}}}@media screen and (prefers-color-scheme:dark){{:root{{{';'.join(dark)}}}}}"
    head, open_tag, rest = svg.partition("<defs>")
    return f"{head}<style>{style}</style>{open_tag}{rest}"
