"""Two small pictures of an estimate: what buildings like it save, and what else could be set or fitted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from freecool.core.units import format_money, true_minus
from freecool.show.style import INK, MUTED, PAPER, WARN, WITH, WITHOUT, own_axes, page_style
from freecool.show.text import whole

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from freecool.answers.estimate import Estimate

# Height of a bar with its line of words, and of what is around all bars [in].
EACH_IN, AROUND_IN = 0.32, 0.55


def draw_band(answer: Estimate, ax: Axes | None = None) -> Axes:
    """What buildings like it save: the likely band with its middle, the case as asked, and zero.

    Parameters
    ----------
    answer : Estimate
        What to show.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; new ones unless given.

    Returns
    -------
    matplotlib.axes.Axes
        The axes drawn on.
    """
    likely, asked = answer.likely_band.net_kwh_saved, answer.energy.net_kwh_saved
    with page_style():
        ax = own_axes(ax, 1.25)
        ax.barh(0.0, likely.high - likely.low, 0.5, left=likely.low, color=WITHOUT)
        ax.plot([likely.middle] * 2, [-0.25, 0.25], color=INK, linewidth=2.0)
        ax.plot(asked, 0.0, "o", color=WITH, mec=PAPER, markersize=8.5)
        ax.axvline(0.0, color=INK, linewidth=1.0)
        ends = {"right": likely.low, "left": likely.high}
        for side, end in ends.items():
            shift = -4 if side == "right" else 4
            ax.annotate(
                true_minus(whole(end)), (end, 0.0), (shift, 0), textcoords="offset points", ha=side, va="center"
            )
        ax.set_xlabel(
            "net kWh saved a year: bar, 8 of 10 buildings\nlike it; line, their middle; dot, as asked", fontsize=8.0
        )
        ax.set_title("How sure it is")
        _only_zero(ax)
        return ax


def draw_others(answer: Estimate, ax: Axes | None = None) -> Axes:
    """What else could be set or fitted, beside what was asked: net kWh, money, and the humidity risk where not low.

    Parameters
    ----------
    answer : Estimate
        What to show.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; new ones unless given.

    Returns
    -------
    matplotlib.axes.Axes
        The axes drawn on.
    """
    currency, found = answer.case.money.currency, answer.alternatives
    shown = [("as asked", answer.energy.net_kwh_saved, answer.money.saved_per_year, answer.humidity.risk, WITH, "")]
    for ones, colour, hatch in ((found.by_kind, WITH, ""), (found.would_help, WITHOUT, "///")):
        # What is fitted goes with a setting, which the bars above tell.
        shown += [
            (one.words.partition(", with ")[0], one.net_kwh_saved, one.saved_per_year, one.risk, colour, hatch)
            for one in ones
        ]
    with page_style():
        ax = own_axes(ax, AROUND_IN + EACH_IN * len(shown))
        for place, (words, kwh, money, risk, colour, hatch) in enumerate(shown):
            ax.barh(place, kwh, 0.36, color=colour, hatch=hatch, edgecolor=INK, linewidth=0.4)
            ax.annotate(
                true_minus(f"{whole(kwh)} kWh, {format_money(money, currency)}"), (max(kwh, 0.0), place), (4, 0),
                textcoords="offset points", va="center", fontsize=7.5,
            )  # fmt: skip
            damp = "" if risk == "low" else f", humidity risk {risk}"
            # On paper of its own: the line of zero does not run through words.
            ax.text(
                0.0, place - 0.24, words + damp, transform=ax.get_yaxis_transform(), va="bottom", fontsize=7.5,
                color=WARN if damp else INK, fontweight="bold" if place == 0 else "normal",
                bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6},
            )  # fmt: skip
        ax.set_ylim(len(shown) - 0.6, -0.85)
        ax.axvline(0.0, color=INK, linewidth=0.8)
        ax.set_xlabel("net kWh saved a year; hatched: fitted, not set")
        ax.set_title("What else could be set or fitted")
        _only_zero(ax)
        ax.margins(x=0.3)
        return ax


def _only_zero(ax: Axes) -> None:
    """No frame and no scale but the place of zero: the words tell the numbers."""
    ax.grid(False)
    ax.set_yticks([])
    ax.set_xticks([0.0], ["0"], color=MUTED)
    for side in ("left", "bottom"):
        ax.spines[side].set_visible(False)
    ax.margins(x=0.16)
