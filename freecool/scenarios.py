"""Many runs of one building in one pass, through a pool of threads: the kernel lets go of the interpreter lock."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from freecool.errors import FreecoolError
from freecool.physics.damper import Damper, Fan
from freecool.physics.rule import Limits
from freecool.physics.unit import Unit
from freecool.physics.year import TOTALS, Year, Zone, simulate

if TYPE_CHECKING:
    from threading import Event

# A chunk is long enough to hide its own cost and short enough to cancel within a blink.
CHUNK = 16

Progress = Callable[[int, int], None]


class Scenario(NamedTuple):
    """One damper with its fan and rule."""

    fan: Fan
    damper: Damper
    limits: Limits


class Cancelled(FreecoolError):
    """The work was cancelled before it was done."""


def run_scenarios(
    zone: Zone,
    unit: Unit,
    base: Year,
    scenarios: Sequence[Scenario],
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    cancel: Event | None = None,
) -> NDArray[np.float64]:
    """The totals of every scenario, given a zone, a unit and the run without a damper.

    Parameters
    ----------
    zone : Zone
    unit : Unit
    base : Year
        The run without the damper; every scenario starts from its warmed-up state.
    scenarios : sequence of Scenario
    workers : int, optional
        Threads; as many as cores unless given. The result does not depend on it.
    progress : callable, optional
        Called with (done, all) after every chunk.
    cancel : threading.Event, optional
        Stops the work when set.

    Returns
    -------
    ndarray
        (scenarios, years, TOTALS).

    Raises
    ------
    Cancelled
        `cancel` was set.
    """
    totals = np.empty((len(scenarios), base.totals.shape[0], len(TOTALS)))

    def run(first: int) -> int:
        last = min(first + CHUNK, len(scenarios))
        for index in range(first, last):
            if cancel is not None and cancel.is_set():
                return 0
            fan, damper, limits = scenarios[index]
            totals[index] = simulate(zone, unit, fan, damper, limits, base=base).totals
        return last - first

    done = 0
    with ThreadPoolExecutor(workers or os.cpu_count() or 1) as pool:
        waiting = {pool.submit(run, first) for first in range(0, len(scenarios), CHUNK)}
        try:
            while waiting:
                finished, waiting = wait(waiting, return_when=FIRST_COMPLETED)
                done += sum(future.result() for future in finished)
                if progress is not None:
                    progress(done, len(scenarios))
                if cancel is not None and cancel.is_set():
                    break
        finally:
            for future in waiting:
                future.cancel()
    if cancel is not None and cancel.is_set():
        raise Cancelled("Cancelled before all scenarios were run; nothing was written.")
    return totals
