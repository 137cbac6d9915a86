"""A unit's performance map: a CSV table of capacity and power by entering wet bulb and outdoor dry bulb."""

from __future__ import annotations

import csv
import itertools
import math
from dataclasses import dataclass
from operator import add
from pathlib import Path
from typing import Any

import numpy as np

from freecool.core.errors import CaseError
from freecool.core.regular_file import read_regular
from freecool.core.units import BTU_H_W, CFM_M3_S, TON_W, System, format_quantity, parse

MOST_BYTES = 20_000
MOST_NAMED = 10
# Makers round, and fits of theirs dip where the coil is dry: so much against the trend from node to node is let pass;
# our own choice.
ROUNDING = 0.01
# Gross capacity over power of a direct-expansion unit, wide enough for any; common practice, no source.
LEAST_COP, MOST_COP = 1.0, 15.0
TEMPERATURES = {"entering_wet_bulb": (-5.0, 35.0), "outdoor": (-40.0, 60.0)}
POWER_UNITS = {"w": 1.0, "kw": 1000.0, "ton": TON_W, "btu_h": BTU_H_W}
QUANTITIES = {"capacity": POWER_UNITS, "sensible": POWER_UNITS, "power": {"w": 1.0, "kw": 1000.0}}
FLOW_UNITS = {"m3_s": 1.0, "cfm": CFM_M3_S}
BASIS = {"figures": ("gross", "net"), "power": ("without indoor fan", "with indoor fan")}
LAYOUT = (
    'expected comment lines "# figures: gross" or "net", "# power: without indoor fan" or "with indoor fan", '
    '"# entering_dry_bulb_f: 80" (or _c), "# flow_cfm: 3000" (or _m3_s), "# indoor_fan_w: 1200" where a fan is in '
    "them, then columns entering_wet_bulb_f (or _c), outdoor_f (or _c), capacity_btu_h (or _w, _kw, _ton), sensible_… "
    "likewise and power_w (or _kw)"
)

TOLD = (*BASIS, "entering_dry_bulb_c", "entering_dry_bulb_f", "flow_cfm", "flow_m3_s", "indoor_fan_w")
# AHRI 210/240, point A, and its default fan.
RATING_WET_BULB_C, RATING_OUTDOOR_C = parse("67F", "temperature"), parse("95F", "temperature")
RATING_FAN_W_PER_M3_S = 0.365 / CFM_M3_S

Grid = tuple[tuple[float, ...], ...]
Node = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class UnitMap:
    """A full grid of nodes, gross of the indoor fan, in SI.

    Attributes
    ----------
    source : str
        The file's name, empty where the table was typed.
    basis : str
        What the table says of its figures.
    entering_dry_bulb_c : float
        At which all its nodes stand [degC].
    flow_m3_s : float
        Air through the coil [m3/s].
    wet_bulb_c, outdoor_c : tuple of float
        Rising entering wet bulbs and outdoor dry bulbs [degC].
    capacity_w, sensible_w, power_w : tuple of tuple of float
        By wet bulb, then outdoor temperature; power of compressor and condenser fan [W].
    """

    source: str
    basis: str
    entering_dry_bulb_c: float
    flow_m3_s: float
    wet_bulb_c: tuple[float, ...]
    outdoor_c: tuple[float, ...]
    capacity_w: Grid
    sensible_w: Grid
    power_w: Grid

    def shown(self, units: System = "ip") -> str:
        """Where it comes from and what it reaches, given a unit system.

        Parameters
        ----------
        units : {"ip", "si"}
            For the text.

        Returns
        -------
        str
            One line.
        """
        wet_bulb, outdoor = (
            f"{format_quantity(nodes[0], 'temperature', units)} to {format_quantity(nodes[-1], 'temperature', units)}"
            for nodes in (self.wet_bulb_c, self.outdoor_c)
        )
        return f"{self.source or 'typed'}, {wet_bulb} entering wet bulb, {outdoor} outdoors; {self.basis}"


def read_map_file(path: Path) -> str:
    """The text of a performance map, given its path; its last line names the file.

    Parameters
    ----------
    path : Path
        Of a CSV table in UTF-8.

    Returns
    -------
    str
        For `unit_map_of`.

    Raises
    ------
    CaseError
        No such file, or none that can be a table.
    """
    try:
        text = "\n".join(read_regular(path, MOST_BYTES).decode("utf-8-sig").rstrip().splitlines())
        return f"{text}\n# file: {path.name}\n"
    except FileNotFoundError:
        raise CaseError(f"{path}: no such performance map; give the path of a CSV table.") from None
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or error
        raise CaseError(f"{path}: cannot be read as a performance map ({reason}); expected UTF-8 text.") from None


def unit_map_of(text: str, where: str = "unit.map") -> UnitMap:
    """A `UnitMap`, given the text of its CSV table.

    Parameters
    ----------
    text : str
        docs/performance-map.md tells its layout.
    where : str
        What to call it in a refusal.

    Returns
    -------
    UnitMap
        In SI and gross, whatever the table's units and basis.

    Raises
    ------
    CaseError
        All faults in one message, each with its line and column or its nodes.
    """
    lines, faults = text.removeprefix("\ufeff").splitlines(), list[str]()
    told, rows = _told(lines, faults), _rows(lines)
    for name, words in BASIS.items():
        if told.get(name, "").lower() not in words:
            faults.append(f"{_said(name, told)}: expected {' or '.join(repr(word) for word in words)}, never guessed")
    net, with_fan = (told.get(name, "").lower() == words[1] for name, words in BASIS.items())
    dry_bulb_c = _told_number(told, "entering_dry_bulb", {"c": 1.0, "f": 1.0}, (5.0, 50.0), faults)
    flow_m3_s = _told_number(told, "flow", FLOW_UNITS, (0.01, 100.0), faults)
    fan_w = _told_number(told, "indoor_fan", {"w": 1.0}, (0.0, 1e5), faults) if net or with_fan else 0.0
    header = [name.strip().lower() for name in rows[0][1]] if rows else []
    columns = {name: _column(name, header, faults) for name in (*TEMPERATURES, *QUANTITIES)}
    faults += [f"column {name!r} is not known" for at, name in enumerate(header) if at not in columns.values()]
    layout = f"; {LAYOUT}" if faults else ""
    nodes = {} if None in columns.values() else _nodes(rows[1:], header, columns, faults)  # type: ignore[arg-type]

    wet_bulbs, outdoors = (tuple(sorted({node[at] for node in nodes})) for at in (0, 1))
    # Net figures are the coil's less the fan's heat.
    changes = (fan_w if net else 0.0, fan_w if net else 0.0, -fan_w if with_fan else 0.0)
    if nodes and not layout:
        gross = {at: tuple(map(add, values, changes)) for at, values in nodes.items()}
        faults += _gaps(wet_bulbs, outdoors, nodes) or _implausible(wet_bulbs, outdoors, gross, dry_bulb_c)
    if faults:
        raise CaseError(f"{where}: {_some(faults)}{layout}.")
    capacity, sensible, power = (
        tuple(tuple(gross[x, y][which] for y in outdoors) for x in wet_bulbs) for which in range(3)
    )
    return UnitMap(
        source=told.get("file", ""), basis=f"{told['figures']}, power {told['power']}".lower(),
        entering_dry_bulb_c=dry_bulb_c, flow_m3_s=flow_m3_s, wet_bulb_c=wet_bulbs, outdoor_c=outdoors,
        capacity_w=capacity, sensible_w=sensible, power_w=power,
    )  # fmt: skip


def nameplate_of(unit_map: UnitMap) -> dict[str, Any]:
    """What a nameplate would say of a unit, given its map.

    Parameters
    ----------
    unit_map : UnitMap
        Around the rating point of AHRI 210/240: 67 degF entering wet bulb, 95 degF outdoors.

    Returns
    -------
    dict
        Of `[unit]`: net capacity and efficiency with the default fan of 365 W per 1,000 cfm, and sensible share.
    """
    gross_w, sensible_w, power_w = (
        float(np.interp(RATING_WET_BULB_C, unit_map.wet_bulb_c, [np.interp(RATING_OUTDOOR_C, unit_map.outdoor_c, row)
                                                                 for row in grid]))
        for grid in (unit_map.capacity_w, unit_map.sensible_w, unit_map.power_w)
    )  # fmt: skip
    fan_w = RATING_FAN_W_PER_M3_S * unit_map.flow_m3_s
    return {
        "capacity": f"{gross_w - fan_w!r} W",
        "eer": f"{(gross_w - fan_w) / (power_w + fan_w)!r} W/W",
        "sensible_heat_ratio": sensible_w / gross_w,
    }


def _told(lines: list[str], faults: list[str]) -> dict[str, str]:
    """What comment lines such as "# figures: gross" tell; a spreadsheet may have filled them up with commas."""
    told: dict[str, str] = {}
    for line in filter(_is_comment, lines):
        name, _, value = line.lstrip('"# ').partition(":")
        name, value = name.strip().lower(), value.strip(' ",')
        if name in TOLD and told.get(name, value) != value:
            faults.append(f"{name} is {told[name]!r} and again {value!r}, expected one")
        told.setdefault(name, value)
    return told


def _is_comment(line: str) -> bool:
    return line.lstrip('" ').startswith("#")


def _rows(lines: list[str]) -> list[tuple[int, list[str]]]:
    """The cells of every line that is neither comment nor empty, and its number."""
    kept = [(at, line) for at, line in enumerate(lines, 1) if line.strip(", ") and not _is_comment(line)]
    return [(at, next(csv.reader([line]))) for at, line in kept]


def _nodes(
    rows: list[tuple[int, list[str]]], header: list[str], columns: dict[str, int], faults: list[str]
) -> dict[Node, tuple[float, ...]]:
    """Capacity, sensible capacity and power [W] by wet bulb and outdoor temperature [degC]."""
    nodes: dict[Node, tuple[float, ...]] = {}
    if not rows:
        faults.append("no line tells a node")
    for line, cells in rows:
        if len(cells) != len(header):
            faults.append(f"line {line} has {len(cells)} cells, expected {len(header)}")
            continue
        x, y, *values = (_value(cells[at], header[at], name, line, faults) for name, at in columns.items())
        if (x, y) in nodes:
            faults.append(f"line {line} tells the node {_node(x, y)} again")
        if math.isfinite(x) and math.isfinite(y):
            nodes[x, y] = tuple(values)
    return nodes


def _gaps(wet_bulbs: tuple[float, ...], outdoors: tuple[float, ...], nodes: dict[Node, tuple[float, ...]]) -> list[str]:
    """What a grid lacks, given the nodes that are told."""
    faults = [
        f"{len(at)} {name}, expected 2 or more"
        for name, at in (("wet bulbs", wet_bulbs), ("outdoor temperatures", outdoors))
        if len(at) < 2
    ]
    missing = [_node(x, y) for x, y in itertools.product(wet_bulbs, outdoors) if (x, y) not in nodes]
    if missing:
        faults.append(f"not a full grid, these nodes are missing: {_some(missing)}")
    x, y = RATING_WET_BULB_C, RATING_OUTDOOR_C
    if not (wet_bulbs[0] <= x <= wet_bulbs[-1] and outdoors[0] <= y <= outdoors[-1]):
        faults.append(
            f"nodes from {_node(wet_bulbs[0], outdoors[0])} to {_node(wet_bulbs[-1], outdoors[-1])} leave out the "
            f"rating point, {_node(x, y)} (67 and 95 °F): give nodes around it"
        )
    return faults


def _said(name: str, told: dict[str, str]) -> str:
    return f"{name} is {told[name]!r}" if name in told else f"no line says {name}"


def _told_number(
    told: dict[str, str], name: str, units: dict[str, float], bounds: tuple[float, float], faults: list[str]
) -> float:
    given = [unit for unit in units if f"{name}_{unit}" in told]
    if len(given) != 1:
        faults.append(f"{len(given)} lines say {name}, expected one of {', '.join(f'{name}_{unit}' for unit in units)}")
        return math.nan
    text = told[f"{name}_{given[0]}"]
    number = _in_si(text, given[0], units)
    if not bounds[0] <= number <= bounds[1]:
        faults.append(f"{name}_{given[0]} is {text!r}, in SI expected {bounds[0]:g} to {bounds[1]:g}")
    return number


def _column(name: str, header: list[str], faults: list[str]) -> int | None:
    known = [f"{name}_{unit}" for unit in (("c", "f") if name in TEMPERATURES else QUANTITIES[name])]
    found = [at for at, column in enumerate(header) if column in known]
    if len(found) != 1:
        faults.append(f"{len(found)} columns of {name}, expected one of {', '.join(known)}")
    return found[0] if found else None


def _value(text: str, column: str, name: str, line: int, faults: list[str]) -> float:
    number = _in_si(text, column.removeprefix(f"{name}_"), QUANTITIES.get(name, {}))
    least, most = TEMPERATURES.get(name, (1.0, 1e7))
    if not least <= number <= most:
        faults.append(f"line {line}, {column} is {text.strip()!r}, in SI expected {least:g} to {most:g}")
        return math.nan
    return number


def _in_si(text: str, unit: str, units: dict[str, float]) -> float:
    try:
        number = float(text)
    except ValueError:
        return math.nan
    if unit in ("c", "f"):
        # Equal temperatures of two lines stay one node.
        return (
            round(parse(number, "temperature", "ip" if unit == "f" else "si"), 9) if math.isfinite(number) else number
        )
    return number * units[unit]


def _implausible(
    wet_bulbs: tuple[float, ...], outdoors: tuple[float, ...], gross: dict[Node, tuple[float, ...]], dry_bulb_c: float
) -> list[str]:
    """What no unit does, given a full grid; a figure that could not be read is no number and passes."""
    faults = [
        f"a wet bulb of {x:.1f} °C is above the entering dry bulb of {dry_bulb_c:.1f} °C"
        for x in wet_bulbs
        if x > dry_bulb_c
    ]
    for (x, y), (total, part, input_w) in sorted(gross.items()):
        if part > total * (1.0 + ROUNDING):
            faults.append(f"at {_node(x, y)} the sensible capacity {part:.0f} W is above the capacity {total:.0f} W")
        if input_w <= 0.0 or total < LEAST_COP * input_w or total > MOST_COP * input_w:
            faults.append(
                f"at {_node(x, y)} {total:.0f} W for {input_w:.0f} W of compressor and condenser fan, expected "
                f"{LEAST_COP:g} to {MOST_COP:g} W/W"
            )
    for (x0, x), y in itertools.product(itertools.pairwise(wet_bulbs), outdoors):
        if gross[x, y][0] < gross[x0, y][0] * (1.0 - ROUNDING):
            faults.append(f"capacity falls with the wet bulb from {_node(x0, y)} to {_node(x, y)}")
    for x, (y0, y) in itertools.product(wet_bulbs, itertools.pairwise(outdoors)):
        if gross[x, y][0] > gross[x, y0][0] * (1.0 + ROUNDING):
            faults.append(f"capacity rises with the outdoor temperature from {_node(x, y0)} to {_node(x, y)}")
        if gross[x, y][2] < gross[x, y0][2] * (1.0 - ROUNDING):
            faults.append(f"power falls with the outdoor temperature from {_node(x, y0)} to {_node(x, y)}")
    return faults


def _node(wet_bulb_c: float, outdoor_c: float) -> str:
    return f"{wet_bulb_c:.1f} °C wet bulb and {outdoor_c:.1f} °C outdoors"


def _some(faults: list[str]) -> str:
    more = len(faults) - MOST_NAMED
    return "; ".join(faults[:MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")
