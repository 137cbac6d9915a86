"""The commissioning sheet: what to set, what to expect, a place for readings and a signature."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from freecool.commissioning import Commissioning
from freecool.show.cautions import CAUTIONS
from freecool.show.report import page_environment
from freecool.show.terminal import rule_text
from freecool.units import System, show

if TYPE_CHECKING:
    from freecool.differential import DifferentialSweep

# Common practice, no source.
CARE = (
    "The outdoor sensor belongs in outdoor air in the shade: north side, away from exhausts, roofs in the sun and the "
    "unit's own warm air, under a radiation shield.",
    "The mixed-air sensor must see mixed air: an averaging element across the duct, not one point near the damper.",
    "Leave the set point, differential and limits as found on this sheet, and write any change on it.",
)


def sheet_html(sweep: DifferentialSweep, day: Commissioning, units: System = "ip") -> str:
    """The commissioning sheet as one self-contained HTML page.

    Parameters
    ----------
    sweep : DifferentialSweep
        Whose pick is to be set.
    day : Commissioning
        What to expect on the day.
    units : {"ip", "si"}
    """
    case = sweep.picked_case()

    def degrees(value: float) -> str:
        return show(value, "temperature", units)

    settings = [
        f"Cooling set point {degrees(case.schedule.cooling)}, heating {degrees(case.schedule.heating)}",
        f"Mixed-air low limit {degrees(case.damper.mixed_air_minimum)}",
        "Compressor may run with the damper open" if case.damper.integrated else "Compressor and damper never together",
    ]
    if day.changeover_c is None:
        changeover = "The rule does not change over within reach of this test."
    else:
        changeover = f"At 50 % relative humidity outdoors the rule changes over at {degrees(day.changeover_c)}."
    page: dict[str, Any] = {
        "name": case.name or case.preset,
        "place": sweep.weather.site.name,
        "sentence": sweep.sentence,
        "rule": "Free cooling off"
        if sweep.best is None
        else rule_text(case, units)[0].upper() + rule_text(case, units)[1:],
        "settings": settings,
        "outdoor": degrees(day.outdoor_c),
        "back": degrees(day.return_c),
        "expected": [
            (
                row.position,
                f"{row.outdoor_share:.0%}",
                degrees(row.mixed_c),
                degrees(row.supply_c),
                f"± {show(row.tolerance_k, 'difference', units)}",
            )
            for row in day.expected
        ],
        "command": "freecool sheet-check --outdoor … --return … --closed … --half … --full …",
        "changeover": changeover,
        "steps": [
            (degrees(step.outdoor_c), "damper opens" if step.opens else "damper stays shut") for step in day.changeover
        ],
        "measures": [
            ("Supply air flow", show(case.fan.flow, "flow", units, 2)),
            ("Fan power", f"{case.fan.flow * case.fan.power:,.0f} W"),
            ("Building pressure, damper fully open", "relief path open; doors close by themselves"),
            ("Combustion draft, damper open and shut", "by the appliance's instructions and local code"),
            ("Filter", "clean, fits the outdoor opening's load"),
        ],
        "care": (*CARE, *CAUTIONS),
    }
    return page_environment().get_template("sheet.html").render(page=page)
