"""A unit's capacity and power as a table of entering wet bulb and outdoor dry bulb, read linearly between its nodes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from freecool.core.compiled import kernel

FloatArray = NDArray[np.float64]


class PerformanceTable(NamedTuple):
    """A full grid of nodes, both over their values at the unit's rating point."""

    wet_bulb_c: FloatArray
    """Rising entering wet bulbs (m,), two or more [degC]."""
    outdoor_c: FloatArray
    """Rising outdoor dry bulbs (n,), two or more [degC]."""
    capacity: FloatArray
    """Gross capacity (m, n) [-]."""
    power: FloatArray
    """Compressor and condenser fan (m, n) [-]."""
    refuses: bool = False
    """A run that leaves the table is refused; else it is read at its edge there."""


@kernel()
def place_among(nodes, at):
    """The cell that a value lies in, and how far into it, given rising nodes and the value.

    Parameters
    ----------
    nodes : ndarray
        Two or more.
    at : float
        Any value; beyond the nodes, that of the nearest.

    Returns
    -------
    tuple
        (lower node of the cell, share of the cell passed [-]).
    """
    low, high = 0, nodes.size - 1
    while high - low > 1:
        middle = (low + high) // 2
        if nodes[middle] <= at:
            low = middle
        else:
            high = middle
    share = (at - nodes[low]) / (nodes[low + 1] - nodes[low])
    return low, min(max(share, 0.0), 1.0)


@kernel()
def read_performance(table, wet_bulb_c, outdoor_c):
    """Capacity and power over their rated values, given the table and where to read it.

    Parameters
    ----------
    table : PerformanceTable
        With two or more nodes each way.
    wet_bulb_c, outdoor_c : float
        Beyond the nodes the edge holds [degC].

    Returns
    -------
    tuple of float
        Linear in each temperature between the nodes [-].
    """
    i, x = place_among(table.wet_bulb_c, wet_bulb_c)
    j, y = place_among(table.outdoor_c, outdoor_c)
    capacity, power = 0.0, 0.0
    for a, of_a in ((i, 1.0 - x), (i + 1, x)):
        for b, of_b in ((j, 1.0 - y), (j + 1, y)):
            capacity += of_a * of_b * table.capacity[a, b]
            power += of_a * of_b * table.power[a, b]
    return capacity, power


@kernel()
def is_outside(table, wet_bulb_c, outdoor_c):
    """Whether a table does not reach conditions, given the table and both temperatures.

    Parameters
    ----------
    table : PerformanceTable or None
        None, that of a unit with curves, is left out at compilation.
    wet_bulb_c, outdoor_c : float
        Where it would be read [degC].

    Returns
    -------
    bool
        False without a table.
    """
    if table is None:
        return False
    return (
        wet_bulb_c < table.wet_bulb_c[0]
        or wet_bulb_c > table.wet_bulb_c[-1]
        or outdoor_c < table.outdoor_c[0]
        or outdoor_c > table.outdoor_c[-1]
    )
