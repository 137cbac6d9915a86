"""How every picture looks: quiet, typographic, readable without colour."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from io import BytesIO
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Two tones and two greys, told apart in print by lightness too; the pair is safe for the common colour-vision defects.
# The tones stand on white and on black paper alike; ink, paper and greys change with the screen.
INK = "#22303c"
PAPER = "#ffffff"
WITH = "#26809f"
WITHOUT = "#c9b79c"
WARN = "#bf5034"
FAINT = "#d9dde1"
MUTED = "#6b7782"
# From nothing to much, light to dark; on a dark screen from dark to light.
STEPS = ("#eef1f0", "#cfdfe3", "#b0cdd7", "#86b5c5", "#5b9cb2", "#26809f", "#24647f", "#234560")
DARK = {INK: "#e6eaec", PAPER: "#12181d", FAINT: "#33404a", MUTED: "#a9b5bf"} | dict(
    zip(STEPS, ("#1a242b", "#1d333e", "#204555", "#23596f", "#267089", "#26809f", "#6fb3c9", "#cfe6ee"), strict=True)
)
"""What each colour of paper is on a dark screen."""

# Width of a picture [in]: half a printed page or a whole telephone, so that one drawing reads well in both.
WIDTH = 4.4
# Of a picture in a notebook.
NOTEBOOK_DPI = 120

PAGE_STYLE: dict[str, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 9.0,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.titlesize": 9.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": FAINT,
    "grid.linewidth": 0.6,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "legend.frameon": False,
    "legend.fontsize": 8.0,
    "legend.handlelength": 1.8,
    "legend.columnspacing": 1.2,
    "xtick.labelsize": 8.0,
    "ytick.labelsize": 8.0,
    "svg.fonttype": "path",
    "svg.hashsalt": "freecool",
    "figure.dpi": 100,
}
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@contextmanager
def page_style() -> Iterator[None]:
    """Our look for the pictures made inside, and nothing left behind.

    Yields
    ------
    None
        While our look holds.
    """
    import matplotlib

    settings: Any = PAGE_STYLE
    with matplotlib.rc_context(settings):
        yield


def tone_map() -> Any:
    """Steps from paper over our tone to ink: darker is more, in print too.

    Returns
    -------
    matplotlib.colors.ListedColormap
        Light for little, dark for much.
    """
    from matplotlib.colors import ListedColormap

    return ListedColormap(list(STEPS), "tone")


def own_axes(ax: Axes | None, height: float = 3.0) -> Axes:
    """The given axes, or new ones of a figure that no global state holds, given its height [in].

    Parameters
    ----------
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; new ones unless given.
    height : float, optional
        Of a new figure [in].

    Returns
    -------
    matplotlib.axes.Axes
        The axes drawn on.
    """
    if ax is not None:
        return ax
    from matplotlib.figure import Figure

    kind = {"axes_class": shown_axes()}
    axes: Axes = Figure(figsize=(WIDTH, height), layout="constrained").subplots(subplot_kw=kind)
    return axes


@cache
def shown_axes() -> type[Axes]:
    """The class of axes that a notebook shows as their picture; others it shows once pyplot holds their figure.

    Returns
    -------
    type
        Made when it is first asked for: matplotlib loads with it.
    """
    from matplotlib.axes import Axes

    class ShownAxes(Axes):
        """Axes that are shown as the picture that they are in."""

        def _repr_png_(self) -> bytes:
            picture = BytesIO()
            figure: Any = self.figure
            figure.savefig(picture, format="png", dpi=NOTEBOOK_DPI, facecolor="white")
            return picture.getvalue()

    return ShownAxes


def key_below(ax: Axes, columns: int, drop: float) -> None:
    """A legend under the axes, where it covers nothing, given how far down [share of the axes' height].

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        Whose marks to explain.
    columns : int
        Entries beside one another.
    drop : float
        How far below the axes [share of their height].
    """
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -drop), ncols=columns, borderaxespad=0.0)
