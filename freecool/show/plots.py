"""The pictures of an estimate, a sweep and a comparison: each takes axes or makes its own, and returns them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from freecool.core.errors import WeatherError
from freecool.core.units import DIMENSIONS, System, convert
from freecool.show.style import INK, MONTHS, WARN, WITH, WITHOUT, key_below, own_axes, page_style, tone_map

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from freecool.answers.comparison import RulesCompared
    from freecool.answers.estimate import Estimate
    from freecool.answers.pick import DifferentialSweep
    from freecool.answers.results import Outcome


class EstimatePlots:
    """``estimate.plot``: the pictures of one estimate.

    Parameters
    ----------
    answer : Estimate
        Whose pictures they are.
    """

    def __init__(self, answer: Estimate) -> None:
        self._answer = answer

    def clock(self, ax: Axes | None = None, units: System | None = None) -> Axes:
        """Month by hour of day: how many hours outdoor air carried cooling at full flow.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes to draw on; new ones unless given.
        units : {"ip", "si"}, optional
            As every picture takes it; none of its axes depends on it.

        Returns
        -------
        matplotlib.axes.Axes
            The axes drawn on.

        Examples
        --------
        >>> from freecool import estimate, make_case, open_weather
        >>> answer = estimate(make_case(), open_weather("demo:high-desert"))
        >>> answer.plot.clock().get_xlabel()  # a notebook shows the picture itself
        'hour of day, local standard time'
        """
        with page_style():
            ax = own_axes(ax)
            hourly = self._answer.hourly
            years = max(self._answer.weather.hours / 8760.0, 1e-9)
            index = hourly.index
            grid = np.zeros((12, 24))
            np.add.at(grid, (index.month - 1, index.hour), hourly["damper_share"].to_numpy() / years)  # type: ignore[attr-defined]
            # Cells of few colours, drawn and not painted: each follows a light or dark screen.
            image = ax.pcolormesh(
                np.arange(25), np.arange(13), grid, cmap=tone_map(), vmin=0.0, edgecolors="face", linewidth=0.3
            )
            ax.invert_yaxis()
            ax.set_xticks(range(0, 25, 3))
            ax.set_yticks(np.arange(12) + 0.5, MONTHS)
            ax.set_xlabel("hour of day, local standard time")
            ax.set_title("When outdoor air carries the cooling")
            ax.grid(False)
            bar = ax.figure.colorbar(image, ax=ax, pad=0.02)
            bar.set_label("hours at full flow, a month")
            bar.outline.set_visible(False)
            return ax

    def months(self, ax: Axes | None = None, units: System | None = None) -> Axes:
        """Month by month: compressor kWh avoided, fan kWh added, net.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes to draw on; new ones unless given.
        units : {"ip", "si"}, optional
            As every picture takes it; none of its axes depends on it.

        Returns
        -------
        matplotlib.axes.Axes
            The axes drawn on.

        Examples
        --------
        >>> from freecool import estimate, make_case, open_weather
        >>> answer = estimate(make_case(), open_weather("demo:high-desert"))
        >>> axes = answer.plot.months()
        >>> axes.get_ylabel()
        'kWh a month'

        Axes are matplotlib's: ``axes.set_title("Harrow Lane 12")`` changes them, ``axes.figure.savefig("months.png")``
        writes them.
        """
        with page_style():
            ax = own_axes(ax)
            table = self._answer.monthly.reindex(range(1, 13), fill_value=0.0)
            place = np.arange(12)
            ax.bar(place, table["compressor_kwh_avoided"], 0.7, color=WITH, label="compressor avoided")
            fan = -table["fan_kwh_added"]
            ax.bar(place, fan, 0.7, color=WITHOUT, hatch="///", edgecolor=INK, linewidth=0.4, label="fan added")
            # A white rim: the mark is seen on any bar.
            ax.plot(place, table["net_kwh_saved"], "o", color=INK, mec="white", markersize=5.5, label="net saved")
            ax.axhline(0.0, color=INK, linewidth=0.8)
            ax.set_xticks(place, MONTHS)
            ax.set_ylabel("kWh a month")
            ax.set_title("What each month brings")
            key_below(ax, 3, 0.14)
            ax.margins(y=0.1)
            return ax

    def humidity(self, ax: Axes | None = None, units: System | None = None) -> Axes:
        """Mean relative humidity indoors of each day of the year, without and with the damper.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes to draw on; new ones unless given.
        units : {"ip", "si"}, optional
            As every picture takes it; none of its axes depends on it.

        Returns
        -------
        matplotlib.axes.Axes
            The axes drawn on.
        """
        with page_style():
            ax = own_axes(ax)
            hourly = self._answer.hourly
            for name, colour, width, order in (("without", WITHOUT, 2.6, 2.0), ("with", WITH, 1.0, 2.1)):
                humidity = hourly[f"relative_humidity_percent_{name}"]
                daily = humidity.groupby(hourly.index.day_of_year).mean()  # type: ignore[attr-defined]
                place = (daily.index.to_numpy() - 1.0) / 30.4375
                ax.plot(place, daily, color=colour, linewidth=width, zorder=order, label=f"{name} the damper")
            ax.axhline(65.0, color=WARN, linewidth=1.0, linestyle="--", label="65 %")
            ax.set_xticks(np.arange(12) + 0.5, MONTHS)
            ax.set_xlim(0, 12)
            key_below(ax, 3, 0.14)
            ax.set_ylabel("indoor relative humidity, %")
            ax.set_title("Does it get damp? Daily means")
            return ax

    def band(self, ax: Axes | None = None, units: System | None = None) -> Axes:
        """Net kWh that buildings like it save: 8 of 10 and their middle, the case as asked, and zero.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes to draw on; new ones unless given.
        units : {"ip", "si"}, optional
            As every picture takes it; none of its axes depends on it.

        Returns
        -------
        matplotlib.axes.Axes
            The axes drawn on.
        """
        from freecool.show.reach import draw_band

        return draw_band(self._answer, ax)

    def others(self, ax: Axes | None = None, units: System | None = None) -> Axes:
        """Net kWh of what else could be set or fitted, beside what was asked.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes to draw on; new ones unless given.
        units : {"ip", "si"}, optional
            As every picture takes it; none of its axes depends on it.

        Returns
        -------
        matplotlib.axes.Axes
            The axes drawn on.
        """
        from freecool.show.reach import draw_others

        return draw_others(self._answer, ax)

    def chart(self, ax: Axes | None = None, units: System | None = None) -> Axes:
        """Psychrometric chart: the year's hours, those the rule permits, and the damp ones.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes to draw on; new ones unless given.
        units : {"ip", "si"}, optional
            Unit system of what is shown; the case's own unless given.

        Returns
        -------
        matplotlib.axes.Axes
            The axes drawn on.
        """
        from freecool.show.chart import draw_chart

        return draw_chart(self._answer, ax, units or self._answer.case.units)

    def years(self, ax: Axes | None = None, units: System | None = None) -> Axes:
        """Net kWh of each real year, with the band in which eight of ten lie.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes to draw on; new ones unless given.
        units : {"ip", "si"}, optional
            As every picture takes it; none of its axes depends on it.

        Returns
        -------
        matplotlib.axes.Axes
            The axes drawn on.

        Raises
        ------
        WeatherError
            The weather is a typical year.
        """
        weather, by_year = self._answer.weather, self._answer.by_year
        if not by_year:
            raise WeatherError(
                f"{weather.source} is a typical year, which has no good and bad years: for this picture open "
                "real years, such as station:ID or near:TOWN."
            )
        with page_style():
            ax = own_axes(ax, 2.6)
            net = [year.net_kwh_saved for year in by_year]
            ax.bar(range(len(net)), net, 0.7, color=WITH)
            good = self._answer.spread
            if good is not None:
                ax.axhspan(good.p10, good.p90, color=WITHOUT, alpha=0.4, zorder=0.9, label="8 of 10 years")
                ax.axhline(float(np.mean(net)), color=INK, linewidth=1.0, linestyle="--", label="mean")
                key_below(ax, 2, 0.30 if len(net) > 10 else 0.18)
            ax.axhline(0.0, color=INK, linewidth=0.8)
            ax.set_xticks(range(len(net)), [str(int(year.year)) for year in by_year])
            if len(net) > 10:
                ax.tick_params(axis="x", rotation=90)
            ax.set_ylabel("net kWh saved")
            ax.set_title("Good and bad years")
            return ax


class SweepPlots:
    """``sweep.plot``: the pictures of a differential sweep.

    Parameters
    ----------
    sweep : DifferentialSweep
        Whose pictures they are.
    """

    def __init__(self, sweep: DifferentialSweep) -> None:
        self._sweep = sweep

    def curve(self, ax: Axes | None = None, units: System | None = None) -> Axes:
        """Net, compressor and fan kWh against differential; the pick marked, the flat region shaded.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes to draw on; new ones unless given.
        units : {"ip", "si"}, optional
            Unit system of what is shown; the case's own unless given.

        Returns
        -------
        matplotlib.axes.Axes
            The axes drawn on.

        Examples
        --------
        >>> from freecool import make_case, open_weather, sweep_differential
        >>> sweep = sweep_differential(make_case(), open_weather("demo:high-desert"), [0.0, 2.0, 4.0], draws=0)
        >>> sweep.plot.curve(units="si").get_xlabel()
        'differential: K below set point'
        """
        with page_style():
            ax = own_axes(ax, 3.8)
            sweep, table = self._sweep, self._sweep.table
            units = units or sweep.case.units
            x = self._differentials(units)
            ax.plot(x, table["compressor_kwh_avoided"], "--", color=WITH, label="compressor avoided")
            ax.plot(x, table["fan_kwh_added"], ":", color=INK, linewidth=1.8, label="fan added")
            band = (table["net_kwh_p10"], table["net_kwh_p90"])
            ax.fill_between(x, *band, color=WITH, alpha=0.18, linewidth=0, label="net, 8 of 10 with sensor error")
            ax.plot(x, table["net_kwh_saved"], "-", color=WITH, linewidth=2.2, label="net saved")
            damp = (table["risk"] == "high").to_numpy()
            if damp.any():
                ax.plot(x[damp], table["net_kwh_saved"].to_numpy()[damp], "x", color=WARN, label="gets damp", zorder=3)
            if len(sweep.flat_k) > 1:
                flat = [_difference(sweep.flat_k[end], units) for end in (0, -1)]
                ax.axvspan(*flat, color=WITHOUT, alpha=0.45, linewidth=0, zorder=0.9, label="within 5 % of the best")
            if sweep.best is not None:
                best = (_difference(sweep.best.differential_k, units), sweep.best.outcome.energy.net_kwh_saved)
                ax.plot(*best, "o", color=INK, mec="white", markersize=9, zorder=4, label="the pick")
            # A fan that costs far more than any differential saves would flatten all else: it leaves the frame.
            top = max(float(table["compressor_kwh_avoided"].max()), 1.0)
            ax.set_ylim(max(-0.6 * top, 1.1 * min(float(table["net_kwh_p10"].min()), -0.1 * top)), 1.15 * top)
            ax.axhline(0.0, color=INK, linewidth=0.8)
            self._name_differentials(ax, units)
            ax.set_ylabel("kWh a year")
            ax.set_title("What each differential brings")
            key_below(ax, 2, 0.2)
            return ax

    def moisture(self, ax: Axes | None = None, units: System | None = None) -> Axes:
        """Damp hours that each differential adds indoors; high risk hatched, the pick marked.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes to draw on; new ones unless given.
        units : {"ip", "si"}, optional
            Unit system of what is shown; the case's own unless given.

        Returns
        -------
        matplotlib.axes.Axes
            The axes drawn on.
        """
        with page_style():
            ax = own_axes(ax, 3.8)
            sweep, table = self._sweep, self._sweep.table
            units = units or sweep.case.units
            x = self._differentials(units)
            added = table["clause_hours_added"].to_numpy()
            high = (table["risk"] == "high").to_numpy()
            width = 0.8 * float(np.diff(x).min()) if len(x) > 1 else 0.8
            ax.bar(x[~high], added[~high], width, color=WITH, label="damp hours added indoors")
            if high.any():
                rim: dict[str, Any] = {"hatch": "xx", "edgecolor": WARN, "linewidth": 0.6}
                ax.bar(x[high], added[high], width, color=WITHOUT, label="the same, risk high", **rim)
            ax.plot(x, table["damp_hours"], ":", color=INK, linewidth=1.8, label="damper open in damp air")
            if sweep.best is not None:
                added_by_best = sweep.best.outcome.humidity.clause_hours_added
                best = (_difference(sweep.best.differential_k, units), added_by_best)
                ax.plot(*best, "o", color=INK, mec="white", markersize=9, zorder=4, label="the pick")
            ax.axhline(0.0, color=INK, linewidth=0.8)
            self._name_differentials(ax, units)
            ax.set_ylabel("hours a year")
            # A few hours must not look like many.
            ax.set_ylim(top=max(ax.get_ylim()[1], sweep.candidates[0].outcome.humidity.watched_hours))
            ax.set_title("How damp each differential gets")
            key_below(ax, 2, 0.2)
            return ax

    def _differentials(self, units: System) -> np.ndarray:
        return np.array([_difference(value, units) for value in self._sweep.table.index])

    def _name_differentials(self, ax: Axes, units: System) -> None:
        from matplotlib.ticker import MaxNLocator

        kind = DIMENSIONS["difference"]
        reference = "set point" if self._sweep.case.rule.name == "differential" else "return air"
        ax.set_xlabel(f"differential: {f'°{kind.ip}' if units == 'ip' else kind.si} below {reference}")
        ax.xaxis.set_major_locator(MaxNLocator(steps=[1, 2, 5, 10], integer=units == "ip"))


def _difference(kelvin: float, units: System) -> float:
    kind = DIMENSIONS["difference"]
    return convert(kelvin, "difference", kind.unit(units))


class RulesPlots:
    """``compared.plot``: the pictures of rules compared.

    Parameters
    ----------
    compared : RulesCompared
        Whose pictures they are.
    """

    def __init__(self, compared: RulesCompared) -> None:
        self._compared = compared

    def bars(self, ax: Axes | None = None, units: System | None = None) -> Axes:
        """Net kWh of each rule, at the limit told and tuned, with error bars from the sensors.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes to draw on; new ones unless given.
        units : {"ip", "si"}, optional
            As every picture takes it; none of its axes depends on it.

        Returns
        -------
        matplotlib.axes.Axes
            The axes drawn on.

        Examples
        --------
        >>> from freecool import compare_rules, make_case, open_weather
        >>> compared = compare_rules(make_case(), open_weather("demo:high-desert"), draws=0)
        >>> [label.get_text() for label in compared.plot.bars().get_yticklabels()][:2]
        ['differential', 'return-differential']
        """
        with page_style():
            ax = own_axes(ax, 3.8)
            for y, shown in self._pairs(ax, lambda outcome: outcome.energy.net_kwh_saved):
                reach = np.array([[outcome.net_kwh_p10, outcome.net_kwh_p90] for outcome in shown]).T
                ax.plot(reach, np.array([y, y]), color=INK, linewidth=1.4, marker="|", markersize=4)
                _mark_damp(ax, y, shown, [max(outcome.net_kwh_p90, outcome.energy.net_kwh_saved) for outcome in shown])
            ax.set_xlabel("net kWh saved a year; lines: 8 of 10\ninstallations under sensor error")
            ax.set_title("What each rule saves")
            key_below(ax, 2, 0.22)
            ax.margins(x=0.14)
            return ax

    def moisture(self, ax: Axes | None = None, units: System | None = None) -> Axes:
        """Damp hours that each rule adds indoors, at the limit told and tuned; high risk named.

        Parameters
        ----------
        ax : matplotlib.axes.Axes, optional
            Axes to draw on; new ones unless given.
        units : {"ip", "si"}, optional
            As every picture takes it; none of its axes depends on it.

        Returns
        -------
        matplotlib.axes.Axes
            The axes drawn on.
        """
        with page_style():
            ax = own_axes(ax, 3.8)
            for y, shown in self._pairs(ax, lambda outcome: outcome.humidity.clause_hours_added):
                _mark_damp(ax, y, shown, [outcome.humidity.clause_hours_added for outcome in shown])
            ax.set_xlabel("damp hours a year indoors, added;\ndamp: the humidity risk is high")
            ax.set_title("How damp each rule gets")
            key_below(ax, 2, 0.22)
            ax.margins(x=0.14)
            ax.set_xlim(right=max(ax.get_xlim()[1], self._compared.rules[0].published.humidity.watched_hours))
            return ax

    def _pairs(self, ax: Axes, length: Callable[[Outcome], float]) -> Iterator[tuple[np.ndarray, list[Outcome]]]:
        """Two bars a rule, at the limit told and tuned, drawn; then their places and outcomes, to add to."""
        rules = self._compared.rules
        ax.set_yticks(range(len(rules)), [rule.name for rule in rules])
        ax.invert_yaxis()
        ax.axvline(0.0, color=INK, linewidth=0.8)
        for shift, colour, name, shown in (
            (-0.2, WITHOUT, "at the limit told", [rule.published for rule in rules]),
            (0.2, WITH, "at its best setting", [rule.tuned for rule in rules]),
        ):
            y = np.arange(len(rules)) + shift
            ax.barh(y, list(map(length, shown)), 0.36, color=colour, edgecolor=INK, linewidth=0.4, label=name)
            yield y, shown


def _mark_damp(ax: Axes, places: np.ndarray, shown: Sequence[Outcome], ends: Sequence[float]) -> None:
    """The word "damp" behind the bar of every outcome of high humidity risk."""
    for place, outcome, end in zip(places, shown, ends, strict=True):
        if outcome.humidity.risk == "high":
            ax.annotate("damp", (max(end, 0.0), place), (4, 0), textcoords="offset points", va="center", color=WARN,
                        fontsize=7.5)  # fmt: skip
