"""The commissioning sheet: what to set, what to expect, a place for readings and a signature."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from freecool.cases.model import make_case
from freecool.cases.rules import RULES
from freecool.core.units import DIMENSIONS, System, convert, format_least, format_near, format_quantity
from freecool.show.cautions import CAUTIONS
from freecool.show.html import page_environment
from freecool.show.page import with_minus
from freecool.show.text import case_facts, rule_text

if TYPE_CHECKING:
    from freecool.answers.commissioning import Commissioning
    from freecool.answers.pick import DifferentialSweep
    from freecool.cases.model import Case

# Common practice, no source.
CARE = (
    "The outdoor sensor belongs in outdoor air in the shade: north side, away from exhausts, roofs in the sun and the "
    "unit's own warm air, under a radiation shield.",
    "The mixed-air sensor must see mixed air: an averaging element across the duct, not one point near the damper.",
    "Leave the set point, differential and limits as found on this sheet, and write any change on it.",
    "Give control of damper and compressor back to the controller, and put back whatever was changed for a test.",
)
# Arguments of the check, each of which stays on one line.
CHECK = ("freecool sheet-check", "--closed …", "--half …", "--full …")


class SheetParts(NamedTuple):
    """What a sheet says of a case and a day, on paper and on the page."""

    rule: str
    settings: list[str]
    before: list[str]
    expected: list[tuple[str, ...]]
    other_day: str
    changeover: str
    steps: list[tuple[str, str, str]]
    measures: list[tuple[str, str]]
    care: tuple[str, ...]


class Sheet(NamedTuple):
    """Everything a sheet says, before it is HTML."""

    title: str
    what: str
    sentence: str
    offered_by: str
    about: list[tuple[str, str]]
    facts: list[tuple[str, str]]
    parts: SheetParts
    command: tuple[str, ...]
    order: str


def sheet_html(sweep: DifferentialSweep, day: Commissioning, units: System = "ip") -> str:
    """The commissioning sheet as one self-contained HTML page.

    Parameters
    ----------
    sweep : DifferentialSweep
        Whose pick is to be set.
    day : Commissioning
        What to expect on the day.
    units : {"ip", "si"}

    Returns
    -------
    str
        A page that fetches nothing.
    """
    case = sweep.picked_case()
    name = case.name or case.preset
    sheet = Sheet(
        title=f"Commissioning sheet: {name}",
        what=f"Commissioning sheet: {name}, weather of {sweep.weather.location.name}",
        sentence=sweep.setting,
        offered_by=", ".join([case.quote.name, *case.quote.address.splitlines()]).strip(", "),
        about=[
            *zip(("Customer", "Address"), customer_of(case), strict=True),
            ("Unit and its place", ""),
            ("Telephone", ""),
        ],
        facts=[*case_facts(case, units)[:2], ("Weather data", sweep.weather.attribution or sweep.weather.kind)],
        parts=sheet_parts(case, day, units, off=sweep.best is None),
        command=(*CHECK, *(["--case …"] if _told_apart(case) else []), *(["--units si"] if units == "si" else [])),
        order=f"each outdoor,return,mixed,supply as read, such as {_as_read(day, units)}",
    )
    return page_environment().get_template("sheet.html").render(page=sheet)


def sheet_parts(case: Case, day: Commissioning, units: System, off: bool = False) -> SheetParts:
    """What a sheet says, given a case and its day.

    Parameters
    ----------
    case : Case
        As it is set.
    day : Commissioning
        What to expect on the day.
    units : {"ip", "si"}
        Unit system of what is shown.
    off : bool, optional
        Whether free cooling is left off.

    Returns
    -------
    SheetParts
        Texts, a field a part.
    """
    rule = rule_text(case, units)

    def degrees(value: float) -> str:
        return format_quantity(value, "temperature", units)

    set_points = f"Cooling set point {degrees(case.schedule.cooling)}, heating {degrees(case.schedule.heating)}"
    others = [
        f"Mixed-air low limit {degrees(case.damper.mixed_air_minimum)}",
        "Compressor may run with the damper open" if case.damper.integrated else "Compressor and damper never together",
    ]
    parts = SheetParts(
        rule="Free cooling off; the damper stays shut" if off else rule[0].upper() + rule[1:],
        settings=[set_points] if off else [*_limits(case, day, units), set_points, *others],
        before=_before(case, day, units),
        expected=[
            (
                row.position,
                f"{100.0 * row.outdoor_share:.0f} %",
                degrees(row.mixed_c),
                degrees(row.supply_c),
                f"± {format_near(row.tolerance_k, 'difference', units)}",
            )
            for row in (day.expected[:1] if off else day.expected)
        ],
        other_day="In other air: mixed = return − outdoor share × (return − outdoor); supply = mixed + "
        f"{format_quantity(day.fan_rise_k, 'difference', units)}, the fan's heat. Give or take: what sensors within "
        f"{format_near(case.sensors.dry_bulb_error, 'difference', units)} may put mixed air off.",
        changeover=_changeover(_reads_humidity(case), day, units, off),
        steps=_steps(case, day, units, off),
        measures=_measures(case, units),
        care=(*CARE, *CAUTIONS),
    )
    told: SheetParts = with_minus(parts)
    return told


def customer_of(case: Case) -> tuple[str, str]:
    """Name and address of the customer, as far as a case tells.

    Parameters
    ----------
    case : Case
        Its quote tells.

    Returns
    -------
    tuple of str
        The first line, and the others in one.
    """
    name, *address = [line.strip() for line in case.quote.customer.splitlines()] or [""]
    return name, ", ".join(address)


def _limits(case: Case, day: Commissioning, units: System) -> list[str]:
    """The limits that go with a named rule, those left out that the case itself tells beside it."""
    rule = case.rule
    return [
        f"Outdoor {words} at most {format_quantity(value, dimension, units)}"
        for words, dimension, value, told in (
            ("dry bulb", "temperature", day.dry_bulb_max_c, rule.high_limit),
            ("enthalpy", "specific_enthalpy", day.enthalpy_max_j_kg, rule.enthalpy_limit),
            ("dew point", "temperature", day.dew_point_max_c, rule.dew_point_limit),
        )
        if value is not None and told is None
    ]


def _as_read(day: Commissioning, units: System) -> str:
    """The readings expected with the damper closed, as the check takes them."""
    unit, closed = DIMENSIONS["temperature"].unit(units), day.expected[0]
    air = (day.outdoor_c, day.return_c, closed.mixed_c, closed.supply_c)
    return ",".join(f"{convert(value, 'temperature', unit):.1f}".removesuffix(".0") for value in air)


def _told_apart(case: Case) -> bool:
    """Whether the check needs the case: its damper or sensors are not what is assumed without one."""
    return _checked_against(case) != _checked_against(make_case())


def _checked_against(case: Case) -> tuple[float, ...]:
    damper = case.damper
    return damper.leakage, damper.minimum_share, damper.outdoor_share, case.sensors.dry_bulb_error


def _before(case: Case, day: Commissioning, units: System) -> list[str]:
    """What to do before reading; common practice, no source."""
    told = [
        f"This table is for outdoor air at {format_quantity(day.outdoor_c, 'temperature', units)} and return air at "
        f"{format_quantity(day.return_c, 'temperature', units)}. Test with at least "
        f"{format_least(day.least_spread_k, 'difference', units)} between them.",
        "Lock the compressor out, run the fan at full speed, and command the damper by hand.",
        "At each position wait until readings are steady, then read all four within a few minutes, with the same "
        "thermometer where one reaches.",
    ]
    coldest = min(row.mixed_c for row in day.expected)
    if coldest < case.damper.mixed_air_minimum:
        told.append(
            f"The mixed-air low limit of {format_quantity(case.damper.mixed_air_minimum, 'temperature', units)} "
            "would hold the "
            "damper back in this air: set it aside for the reading, and put it back."
        )
    return told


def _reads_humidity(case: Case) -> bool:
    """Whether outdoor humidity moves what the rule does."""
    rule = case.rule
    limits = (rule.dew_point_limit, rule.enthalpy_limit, rule.enthalpy_margin)
    return RULES[rule.name].reads_humidity or any(limit is not None for limit in limits)


def _changeover(humid: bool, day: Commissioning, units: System, off: bool) -> str:
    if off:
        return "Free cooling is off: whatever the weather, the damper stays shut."
    if day.changeover_c is None:
        text = "The rule does not change over within reach of this test."
    else:
        at = format_quantity(day.changeover_c, "temperature", units)
        text = f"The rule changes over at {at} outdoors"
        if humid:
            text = f"At 50 % relative humidity outdoors the rule changes over at {at}"
        if day.damp_changeover_c is not None:
            text += f", at 90 % at {format_quantity(day.damp_changeover_c, 'temperature', units)}"
        text += "."
    return (
        f"{text} To bring the outdoor sensor to these conditions on one day, cool or warm it, or move the setting and "
        "put it back."
    )


def _steps(case: Case, day: Commissioning, units: System, off: bool) -> list[tuple[str, str, str]]:
    """(outdoor air, call, what the damper must do)."""
    told = []
    if not off:
        for step in sorted(day.changeover, key=lambda step: (step.relative_humidity, step.outdoor_c)):
            air = format_quantity(step.outdoor_c, "temperature", units)
            if _reads_humidity(case):
                air += f", {100.0 * step.relative_humidity:.0f} % RH"
            told.append((air, "cooling", "opens" if step.opens else "stays shut"))
        if day.held_back is not None:
            held = day.held_back
            told.insert(0, (
                format_quantity(held.outdoor_c, "temperature", units), "cooling",
                f"opens in part, about {100.0 * held.outdoor_share:.0f} % outdoor air; mixed air "
                f"{format_quantity(held.mixed_c, 'temperature', units)}",
            ))  # fmt: skip
    fresh = day.expected[0].outdoor_share > 0.0 or case.ventilation.flow > 0.0
    shut = "goes to its least opening for fresh air" if fresh else "shuts"
    return [
        *told,
        ("any", "cooling" if off else "none", "stays shut" if off else shut),
        ("any", "power off", "shuts by itself"),
    ]


def _measures(case: Case, units: System) -> list[tuple[str, str]]:
    near = format_near(case.sensors.dry_bulb_error, "difference", units)
    return [
        ("Outdoor sensor beside a thermometer", f"within {near}"),
        ("Return and mixed-air sensors beside it", f"within {near}"),
        ("Supply air flow, damper shut", format_quantity(case.fan.flow, "flow", units, 2)),
        ("Supply air flow, damper fully open", "as near to it as ducts allow"),
        ("Fan power, damper fully open", f"{case.fan.flow * case.fan.power:,.0f} W"),
        ("Building pressure, damper fully open", "relief path open; doors close by themselves"),
        ("Combustion draft, damper open and shut", "by the appliance's instructions and local code"),
        ("Filter", "clean, fits the outdoor opening's load"),
    ]
