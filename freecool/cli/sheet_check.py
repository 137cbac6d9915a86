"""The command that judges the readings of a commissioning sheet."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from freecool.cases.quantity import OUTDOOR_AIR
from freecool.cli.output import say
from freecool.cli.request import Request, option
from freecool.core.errors import CaseError
from freecool.core.units import System

if TYPE_CHECKING:
    from freecool.answers.mixing import Position
    from freecool.answers.readings import Reading

READ = (
    "As read with the damper {}: mixed air, or outdoor,return,mixed,supply air as on the sheet; leave empty what was "
    "not read."
)


def sheet_check(
    outdoor: Annotated[
        str | None, option("Outdoor air as read, such as 55F, where it is not told by position.")
    ] = None,
    return_air: Annotated[
        str | None, option("Return air as read, such as 75F, where it is not told by position.", "--return")
    ] = None,
    closed: Annotated[str | None, option(READ.format("closed"))] = None,
    half: Annotated[str | None, option(READ.format("half open"))] = None,
    full: Annotated[str | None, option(READ.format("fully open"))] = None,
    case: Annotated[
        Path | None, option("Case file (.toml), for the damper's share and the sensors' tolerance.")
    ] = None,
    units: Annotated[str, option("ip or si; a bare number takes its unit.")] = "ip",
    as_json: Annotated[bool, option("One JSON object on standard output.", "--json")] = False,
) -> None:
    """What the readings on a commissioning sheet say: in order or not, and every cause that fits."""
    from freecool.answers.mixing import POSITIONS
    from freecool.answers.readings import check_readings
    from freecool.show.sheet_check import check_text

    request = Request(case=case, units=units)
    both = (_degrees(outdoor, request.system, "--outdoor"), _degrees(return_air, request.system, "--return"))
    readings = [
        _reading(position, text, both, request.system)
        for position, text in zip(POSITIONS, (closed, half, full), strict=True)
        if text is not None
    ]
    if not readings:
        raise CaseError("No reading was given: give at least one of --closed, --half and --full.")
    check = check_readings(request.make_case(), readings)
    say(json.dumps(check.to_dict(), indent=2, allow_nan=False) if as_json else check_text(check))
    if check.word != "in order":
        raise typer.Exit(1)


def _degrees(text: str | None, system: System, name: str) -> float | None:
    return None if text is None or not text.strip() else OUTDOOR_AIR.told(text.strip(), system, name)


def _reading(position: Position, text: str, both: tuple[float | None, float | None], system: System) -> Reading:
    from freecool.answers.readings import Reading

    parts = text.split(",")
    if len(parts) not in (1, 3, 4):
        raise CaseError(
            f"--{position} is {text!r}: expected mixed air such as 74.5F, or outdoor,return,mixed,supply air such as "
            "55,75,74.5,75.6."
        )
    values = [_degrees(part, system, f"--{position}") for part in parts]
    if len(values) == 1:
        return Reading(position=position, outdoor_c=both[0], return_c=both[1], mixed_c=values[0])
    outdoor, back, mixed, supply = (*values, None)[:4]
    return Reading(
        position=position,
        outdoor_c=both[0] if outdoor is None else outdoor,
        return_c=both[1] if back is None else back,
        mixed_c=mixed,
        supply_c=supply,
    )
