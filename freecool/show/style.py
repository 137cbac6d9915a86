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
INK = "#22303c"
WITH = "#1f6f8b"
WITHOUT = "#c9b79c"
WARN = "#a4452c"
FAINT = "#d9dde1"
MUTED = "#6b7782"

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
    """From paper over our tone to ink: darker is more, in print too.

    Returns
    -------
    matplotlib.colors.Colormap
        Light for little, dark for much.
    """
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list("tone", ["#f3f4f2", "#a9c9d3", WITH, INK])


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
