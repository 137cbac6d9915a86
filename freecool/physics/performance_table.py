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
    """Rising entering wet bulbs (m,), none where a unit has curves [degC]."""
    outdoor_c: FloatArray
    """Rising outdoor dry bulbs (n,) [degC]."""
    capacity: FloatArray
    """Gross capacity (m, n) [-]."""
    power: FloatArray
    """Compressor and condenser fan (m, n) [-]."""


NO_TABLE = PerformanceTable(np.empty(0), np.empty(0), np.empty((0, 0)), np.empty((0, 0)))


@kernel()
def cell_of(nodes, at):
    """The lower node of the cell that a value lies in, given rising nodes and the value.

    Parameters
    ----------
    nodes : ndarray
        Two or more.
    at : float
        Any value; beyond the nodes, the first or the last cell.

    Returns
    -------
    int
        From 0 to the last node but one.
    """
    low, high = 0, nodes.size - 1
    while high - low > 1:
        middle = (low + high) // 2
        if nodes[middle] <= at:
            low = middle
        else:
            high = middle
    return low


@kernel()
def read_performance(table, wet_bulb_c, outdoor_c):
    """Capacity and power over their rated values, given the table and where to read it.

    Parameters
    ----------
    table : PerformanceTable
        With two or more nodes each way.
    wet_bulb_c, outdoor_c : float
        Beyond the nodes the last cell goes on [degC].

    Returns
    -------
    tuple of float
        Linear in each temperature between the nodes [-].
    """
    i, j = cell_of(table.wet_bulb_c, wet_bulb_c), cell_of(table.outdoor_c, outdoor_c)
    x = (wet_bulb_c - table.wet_bulb_c[i]) / (table.wet_bulb_c[i + 1] - table.wet_bulb_c[i])
    y = (outdoor_c - table.outdoor_c[j]) / (table.outdoor_c[j + 1] - table.outdoor_c[j])
    capacity, power = 0.0, 0.0
    for a, of_a in ((i, 1.0 - x), (i + 1, x)):
        for b, of_b in ((j, 1.0 - y), (j + 1, y)):
            capacity += of_a * of_b * table.capacity[a, b]
            power += of_a * of_b * table.power[a, b]
    return capacity, power
