"""The psychrometric chart of an estimate: the year's hours, the rule's permitted region, the damp hours."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from freecool.core import air
from freecool.core.units import DIMENSIONS, System, convert, format_quantity, parse
from freecool.show.style import FAINT, INK, MUTED, WARN, WITH, WITHOUT, own_axes, page_style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from freecool.answers.estimate import Estimate

# The chart's frame.
CHART_C = (-5.0, 45.0)
CHART_W = (0.0, 0.026)
RELATIVE_HUMIDITY_LINES = (0.2, 0.4, 0.6, 0.8)
# Lines of constant enthalpy: round numbers in either system, each on its own datum.
ENTHALPY_LINES = {"ip": range(15, 50, 5), "si": range(10, 110, 10)}
# How a humidity ratio is shown: unit, and how many of it make 1 kg/kg.
HUMIDITY_RATIO = {"ip": ("gr/lb", 7000.0), "si": ("g/kg", 1000.0)}


def draw_chart(answer: Estimate, ax: Axes | None = None, units: System = "ip") -> Axes:
    """The psychrometric chart of an estimate, given axes and a unit system.

    Parameters
    ----------
    answer : Estimate
        What to show.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; new ones unless given.
    units : {"ip", "si"}, optional
        Unit system of what is shown.

    Returns
    -------
    matplotlib.axes.Axes
        The axes drawn on.
    """
    from matplotlib.patches import Patch

    with page_style():
        ax = own_axes(ax, 3.6)
        weather = answer.weather.frame
        pressure = float(weather["pressure_pa"].mean())
        caution = answer.case.humidity.caution_dew_point
        label, scale = HUMIDITY_RATIO[units]
        _draw_air(ax, pressure, units)
        edge_t, edge_w = np.linspace(*CHART_C, 101), np.linspace(*CHART_W, 53)
        edge = (_shown(edge_t, units), edge_w * scale, answer.rule_opens(edge_t, edge_w).astype(float))
        ax.contourf(*edge, levels=[0.5, 1.5], colors=[WITH], alpha=0.12)
        ax.contour(*edge, levels=[0.5], colors=[INK], linewidths=0.9)
        # No air lies above saturation: what the rule would do there is covered.
        t = np.linspace(*CHART_C, 101)
        saturated = air.humidity_ratio_from_relative_humidity(t, 1.0, pressure) * scale
        ax.fill_between(_shown(t, units), saturated, CHART_W[1] * scale * 2.0, color="white", zorder=2.5, linewidth=0)
        hourly = answer.hourly
        dew_point = hourly["outdoor_dew_point_c"].to_numpy()
        x = _shown(hourly["outdoor_dry_bulb_c"].to_numpy(), units)
        y = air.humidity_ratio_from_dew_point(dew_point, weather["pressure_pa"].to_numpy()) * scale
        permitted = hourly["permitted"].to_numpy()
        damper = hourly["damper_share"].to_numpy() > 0.0
        damp = damper & (dew_point > caution)
        for mask, colour, mark, size, name in (
            (~permitted, "#b9c0c7", ".", 3, "shut"),
            (permitted & ~damper, WITHOUT, "o", 2, "permitted, not needed"),
            (damper & ~damp, WITH, "s", 3, "damper open"),
            (damp, WARN, "x", 10, "damper open, damp"),
        ):
            ax.scatter(x[mask], y[mask], s=size, c=colour, marker=mark, linewidths=0.7, rasterized=True, label=name)
        w_caution = float(air.humidity_ratio_from_dew_point(caution, pressure))
        left = float(_shown(np.array([CHART_C[0]]), units)[0])
        ax.axhline(w_caution * scale, color=WARN, linewidth=0.9, linestyle=":")
        ax.annotate(
            f"dew point {format_quantity(caution, 'temperature', units)}", (left, w_caution * scale), (4, 2),
            textcoords="offset points", va="bottom", color=WARN, fontsize=7.5,
        )  # fmt: skip
        ax.set_xlim(*_shown(np.array(CHART_C), units))
        ax.set_ylim(CHART_W[0] * scale, CHART_W[1] * scale)
        kind = DIMENSIONS["specific_enthalpy"]
        each = f"{ENTHALPY_LINES[units].step} {kind.unit(units)}"
        ax.set_xlabel(f"outdoor dry bulb, °{'F' if units == 'ip' else 'C'}\ndashed: enthalpy, every {each}")
        ax.set_ylabel(f"humidity ratio, {label}")
        ax.set_title("The year's hours, and which of them the rule takes")
        ax.grid(False)
        handles, names = ax.get_legend_handles_labels()
        region = Patch(facecolor=WITH, alpha=0.25, edgecolor=INK)
        key = ax.legend([region, *handles], ["the rule permits", *names], loc="upper left", fontsize=7.5)
        for handle in key.legend_handles[1:]:
            handle.set_sizes([16.0])  # type: ignore[union-attr]
        return ax


def _draw_air(ax: Axes, pressure_pa: float, units: System) -> None:
    """Saturation, lines of relative humidity with their figures, lines of enthalpy."""
    scale = HUMIDITY_RATIO[units][1]
    t = np.linspace(*CHART_C, 101)
    saturated = air.humidity_ratio_from_relative_humidity(t, 1.0, pressure_pa)
    ax.plot(_shown(t, units), saturated * scale, color=INK, linewidth=1.2, zorder=3)
    for rh in RELATIVE_HUMIDITY_LINES:
        w = air.humidity_ratio_from_relative_humidity(t, rh, pressure_pa)
        ax.plot(_shown(t, units), w * scale, color=FAINT, linewidth=0.8)
        inside = np.flatnonzero(w < 0.97 * CHART_W[1])[-1]
        ax.annotate(
            f"{rh:.0%}", (_shown(t[[inside]], units)[0], w[inside] * scale), (-3, 0), textcoords="offset points",
            ha="right", va="center", color=MUTED, fontsize=7.5,
        )  # fmt: skip
    for enthalpy in enthalpy_lines_j_kg(units):
        w = humidity_ratio_at(enthalpy, t)
        inside = (w >= 0.0) & (w <= saturated)
        ax.plot(_shown(t[inside], units), w[inside] * scale, color=FAINT, linewidth=0.7, linestyle="--")


def _shown(celsius: NDArray[np.float64], units: System) -> NDArray[np.float64]:
    unit = "F" if units == "ip" else "C"
    return np.asarray([convert(float(value), "temperature", unit) for value in celsius])


def enthalpy_lines_j_kg(units: System) -> list[float]:
    """Enthalpies of the chart's dashed lines [J/kg], given a unit system.

    Parameters
    ----------
    units : {"ip", "si"}
        Unit system of what is shown.

    Returns
    -------
    list of float
        Round numbers in the unit of the system, in J/kg.
    """
    kind = DIMENSIONS["specific_enthalpy"]
    unit = kind.unit(units)
    return [parse(f"{value} {unit}", "specific_enthalpy") for value in ENTHALPY_LINES[units]]


def humidity_ratio_at(enthalpy_j_kg: float, dry_bulb_c: NDArray[np.float64]) -> NDArray[np.float64]:
    """Humidity ratio [kg/kg] on a line of enthalpy [J/kg], given dry bulb [degC].

    Parameters
    ----------
    enthalpy_j_kg : float
        Enthalpy of the line, 0 at 0 °C [J/kg].
    dry_bulb_c : numpy.ndarray
        Where on the line, any shape [°C].

    Returns
    -------
    numpy.ndarray
        Of the shape of `dry_bulb_c` [kg/kg].
    """
    dry = air.DRY_AIR_HEAT_J_KGK * dry_bulb_c
    return (enthalpy_j_kg - dry) / (air.VAPORISATION_J_KG + air.VAPOUR_HEAT_J_KGK * dry_bulb_c)
