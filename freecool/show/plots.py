"""The pictures of an estimate, a sweep and a comparison: each takes axes or makes its own, and returns them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from freecool import air
from freecool.changeover import limits_of
from freecool.physics.rule import permits
from freecool.show.style import FAINT, INK, MONTHS, WARN, WITH, WITHOUT, own_axes, page_style, tone_map
from freecool.units import DIMENSIONS, System, convert, parse

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from freecool.case import Case
    from freecool.differential import DifferentialSweep
    from freecool.estimate import Estimate
    from freecool.rules_compared import RulesCompared

# The psychrometric chart's frame.
CHART_C = (-5.0, 45.0)
CHART_W = (0.0, 0.026)
GRAINS_PER_POUND = 7000.0
RELATIVE_HUMIDITY_LINES = (0.2, 0.4, 0.6, 0.8)
ENTHALPY_LINES_J_KG = tuple(parse(f"{value} Btu/lb", "specific_enthalpy") for value in range(15, 50, 5))
# Return air of the drawn rule, at set point.
RETURN_RH = 0.5


class EstimatePlots:
    """``estimate.plot``: the pictures of one estimate."""

    def __init__(self, answer: Estimate) -> None:
        self._answer = answer

    def clock(self, ax: Axes | None = None) -> Axes:
        """Month by hour of day: how many hours outdoor air carried cooling at full flow."""
        with page_style():
            ax = own_axes(ax, 6.4, 3.0)
            hourly = self._answer.hourly
            years = max(self._answer.weather.hours / 8760.0, 1e-9)
            index = hourly.index
            grid = np.zeros((12, 24))
            np.add.at(grid, (index.month - 1, index.hour), hourly["damper_share"].to_numpy() / years)  # type: ignore[attr-defined]
            image = ax.imshow(grid, aspect="auto", cmap=tone_map(), vmin=0.0, origin="upper", extent=(0, 24, 12, 0))
            ax.set_xticks(range(0, 25, 3))
            ax.set_yticks(np.arange(12) + 0.5, MONTHS)
            ax.set_xlabel("hour of day, local standard time")
            ax.set_title("When outdoor air carries the cooling")
            ax.grid(False)
            bar = ax.figure.colorbar(image, ax=ax, pad=0.02)
            bar.set_label("hours at full flow")
            bar.outline.set_visible(False)  # type: ignore[operator]
            return ax

    def months(self, ax: Axes | None = None) -> Axes:
        """Month by month: compressor kWh avoided, fan kWh added, net."""
        with page_style():
            ax = own_axes(ax)
            table = self._answer.monthly.reindex(range(1, 13), fill_value=0.0)
            place = np.arange(12)
            ax.bar(place, table["compressor_kwh_avoided"], 0.7, color=WITH, label="compressor avoided")
            ax.bar(
                place,
                -table["fan_kwh_added"],
                0.7,
                color=WITHOUT,
                hatch="///",
                edgecolor=INK,
                linewidth=0.4,
                label="fan added",
            )
            ax.plot(place, table["net_kwh_saved"], "o", color=INK, markersize=4, label="net saved")
            ax.axhline(0.0, color=INK, linewidth=0.8)
            ax.set_xticks(place, MONTHS)
            ax.set_ylabel("kWh a month")
            ax.set_title("What each month brings")
            ax.legend(loc="upper left", ncols=3)
            ax.margins(y=0.2)
            return ax

    def humidity(self, ax: Axes | None = None) -> Axes:
        """Daily mean relative humidity indoors, without and with the damper."""
        with page_style():
            ax = own_axes(ax)
            hourly = self._answer.hourly
            for name, colour, width, style in (("without", WITHOUT, 2.4, "-"), ("with", WITH, 1.2, "-")):
                daily = hourly[f"relative_humidity_percent_{name}"].resample("D").mean()
                ax.plot(
                    np.arange(len(daily)) / 30.4375,
                    daily,
                    style,
                    color=colour,
                    linewidth=width,
                    label=f"{name} the damper",
                )
            ax.axhline(60.0, color=WARN, linewidth=1.0, linestyle="--", label="60 %")
            if len(daily) <= 366:
                ax.set_xticks(np.arange(12) + 0.5, MONTHS)
                ax.set_xlim(0, 12)
            else:
                ax.set_xlabel("months")
            ax.set_ylabel("indoor relative humidity, %")
            ax.set_title("Does it get damp?")
            ax.legend(loc="upper left", ncols=3)
            ax.margins(y=0.25)
            return ax

    def chart(self, ax: Axes | None = None, units: System = "ip") -> Axes:
        """Psychrometric chart: the year's hours, those the rule permits, and the damp ones."""
        with page_style():
            ax = own_axes(ax, 6.4, 4.0)
            weather = self._answer.weather.frame
            pressure = float(weather["pressure_pa"].mean())
            unit, scale, label = ("F", GRAINS_PER_POUND, "gr/lb") if units == "ip" else ("C", 1000.0, "g/kg")

            def dry_bulb(celsius: np.ndarray) -> np.ndarray:
                return np.asarray([convert(float(value), "temperature", unit) for value in np.atleast_1d(celsius)])

            t = np.linspace(*CHART_C, 101)
            for rh in (*RELATIVE_HUMIDITY_LINES, 1.0):
                w = air.humidity_ratio_from_relative_humidity(t, rh, pressure)
                ax.plot(dry_bulb(t), w * scale, color=INK if rh == 1.0 else FAINT, linewidth=1.2 if rh == 1.0 else 0.8)
            for enthalpy in ENTHALPY_LINES_J_KG:
                w = humidity_ratio_at(enthalpy, t)
                inside = (w >= 0.0) & (w <= air.humidity_ratio_from_relative_humidity(t, 1.0, pressure))
                ax.plot(dry_bulb(t[inside]), w[inside] * scale, color=FAINT, linewidth=0.7, linestyle="--")
            edge_t, edge_w, opens = permitted_region(self._answer.case, pressure)
            ax.contour(dry_bulb(edge_t), edge_w * scale, opens, levels=[0.5], colors=[INK], linewidths=0.9)
            # No air lies above saturation: what the rule would do there is covered.
            full = air.humidity_ratio_from_relative_humidity(t, 1.0, pressure) * scale
            ax.fill_between(dry_bulb(t), full, CHART_W[1] * scale * 2.0, color="white", zorder=2.5, linewidth=0)
            outdoor = weather["dry_bulb_c"].to_numpy()
            w = air.humidity_ratio_from_dew_point(weather["dew_point_c"].to_numpy(), weather["pressure_pa"].to_numpy())
            permitted = self._answer.hourly["permitted"].to_numpy()
            damper = self._answer.hourly["damper_share"].to_numpy() > 0.0
            damp = damper & (weather["dew_point_c"].to_numpy() > self._answer.case.humidity.caution_dew_point)
            x, y = dry_bulb(outdoor), w * scale
            for mask, colour, mark, size, name in (
                (~permitted, FAINT, "o", 2, "shut"),
                (permitted & ~damper, WITHOUT, "o", 2, "permitted, not needed"),
                (damper & ~damp, WITH, "o", 4, "damper open"),
                (damp, WARN, "x", 12, "damper open, damp"),
            ):
                ax.scatter(x[mask], y[mask], s=size, c=colour, marker=mark, linewidths=0.7, rasterized=True, label=name)
            ax.set_xlim(*dry_bulb(np.array(CHART_C)))
            ax.set_ylim(CHART_W[0] * scale, CHART_W[1] * scale)
            ax.set_xlabel(f"outdoor dry bulb, °{unit}")
            ax.set_ylabel(f"humidity ratio, {label}")
            ax.set_title("The year's hours, and which of them the rule takes")
            ax.grid(False)
            ax.legend(loc="upper left", markerscale=2)
            return ax

    def years(self, ax: Axes | None = None) -> Axes:
        """Net kWh of each real year."""
        with page_style():
            ax = own_axes(ax, 6.4, 2.6)
            told = self._answer.by_year
            net = [year["net_kwh_saved"] for year in told]
            ax.bar(range(len(net)), net, 0.7, color=WITH)
            if net:
                ax.axhline(float(np.mean(net)), color=INK, linewidth=1.0, linestyle="--")
            ax.set_xticks(range(len(net)), [str(int(year["year"])) for year in told])
            ax.set_ylabel("net kWh saved")
            ax.set_title("Good and bad years")
            return ax


def humidity_ratio_at(enthalpy_j_kg: float, dry_bulb_c: NDArray[np.float64]) -> NDArray[np.float64]:
    """Humidity ratio [kg/kg] on a line of enthalpy [J/kg], given dry bulb [degC]."""
    dry = air.DRY_AIR_HEAT_J_KGK * dry_bulb_c
    return (enthalpy_j_kg - dry) / (air.VAPORISATION_J_KG + air.VAPOUR_HEAT_J_KGK * dry_bulb_c)


def permitted_region(
    case: Case, pressure_pa: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """(dry bulb, humidity ratio, 1 where the rule opens) on a grid, with return air at set point and 50 % RH."""
    t, w = np.linspace(*CHART_C, 101), np.linspace(*CHART_W, 53)
    set_point = case.schedule.cooling
    limits = limits_of(case.rule, pressure_pa, case.site.climate_zone)
    inside = float(air.humidity_ratio_from_relative_humidity(set_point, RETURN_RH, pressure_pa))
    table = air.saturation_table()
    opens = np.array(
        [[permits(limits, table, True, x, y, set_point, set_point, inside, pressure_pa) for x in t] for y in w], float
    )
    return t, w, opens


class SweepPlots:
    """``sweep.plot``: the pictures of a differential sweep."""

    def __init__(self, sweep: DifferentialSweep) -> None:
        self._sweep = sweep

    def curve(self, ax: Axes | None = None, units: System = "ip") -> Axes:
        """Net, compressor and fan kWh against differential; the pick marked, the flat region shaded."""
        with page_style():
            ax = own_axes(ax, 6.4, 3.6)
            sweep = self._sweep
            kind = DIMENSIONS["difference"]
            unit = kind.ip if units == "ip" else kind.si

            def degrees(kelvin: float) -> float:
                return convert(kelvin, "difference", unit)

            table = sweep.table
            x = [degrees(value) for value in table.index]
            ax.plot(x, table["compressor_kwh_avoided"], "--", color=WITH, label="compressor avoided")
            ax.plot(x, table["fan_kwh_added"], ":", color=INK, label="fan added")
            ax.fill_between(
                x,
                table["net_kwh_p10"],
                table["net_kwh_p90"],
                color=WITH,
                alpha=0.15,
                linewidth=0,
                label="net, 8 of 10 under sensor error",
            )
            ax.plot(x, table["net_kwh_saved"], "-", color=WITH, linewidth=2.2, label="net saved")
            damp = (table["risk"] == "high").to_numpy()
            ax.plot(np.array(x)[damp], table["net_kwh_saved"].to_numpy()[damp], "x", color=WARN, label="gets damp")
            if sweep.flat_k:
                ax.axvspan(
                    degrees(sweep.flat_k[0]),
                    degrees(sweep.flat_k[-1]),
                    color=FAINT,
                    zorder=0,
                    label="within 5 % of the best",
                )
            if sweep.best is not None:
                best = degrees(sweep.best.differential_k)
                ax.plot(
                    [best], [sweep.best.outcome.energy.net_kwh_saved], "o", color=INK, markersize=8, label="the pick"
                )
            top = float(table["compressor_kwh_avoided"].max())
            ax.set_ylim(-0.6 * max(top, 1.0), 1.15 * max(top, 1.0))
            ax.axhline(0.0, color=INK, linewidth=0.8)
            ax.set_xlabel(f"differential, °{unit}" if unit == "F" else f"differential, {unit}")
            ax.set_ylabel("kWh a year")
            ax.set_title("What each differential brings")
            ax.legend(loc="lower right", ncols=2, fontsize=7.5)
            return ax


class RulesPlots:
    """``compared.plot``: the pictures of rules compared."""

    def __init__(self, compared: RulesCompared) -> None:
        self._compared = compared

    def bars(self, ax: Axes | None = None) -> Axes:
        """Net kWh of each rule, as published and tuned, with error bars from the sensors."""
        with page_style():
            ax = own_axes(ax, 6.4, 3.6)
            rules = self._compared.rules
            for shift, colour, hatch, name in (
                (-0.2, WITHOUT, "", "as published"),
                (0.2, WITH, "", "tuned, kept dry if it can be"),
            ):
                told = [rule.published if shift < 0 else rule.tuned for rule in rules]
                net = np.array([outcome.energy.net_kwh_saved for outcome in told])
                low = np.array([outcome.net_kwh_p10 for outcome in told])
                high = np.array([outcome.net_kwh_p90 for outcome in told])
                y = np.arange(len(rules)) + shift
                ax.barh(y, net, 0.36, color=colour, hatch=hatch, edgecolor=INK, linewidth=0.4, label=name)
                ax.plot(np.array([low, high]), np.array([y, y]), color=INK, linewidth=1.4)
                for place, outcome in zip(y, told, strict=True):
                    if outcome.humidity.risk == "high":
                        ax.annotate(
                            " damp",
                            (max(outcome.net_kwh_p90, outcome.energy.net_kwh_saved, 0.0), place),
                            va="center",
                            color=WARN,
                            fontsize=7.5,
                        )
            ax.set_yticks(range(len(rules)), [rule.name for rule in rules])
            ax.invert_yaxis()
            ax.axvline(0.0, color=INK, linewidth=0.8)
            ax.set_xlabel("net kWh saved a year; lines: 8 of 10 installations under sensor error")
            ax.set_title("The rules side by side")
            ax.legend(loc="upper center", bbox_to_anchor=(0.4, -0.18), ncols=2)
            ax.margins(x=0.12)
            return ax
