"""Many runs in one pass, through a pool of threads: the kernel lets go of the interpreter lock."""

from __future__ import annotations

import os
from collections.abc import Callable, Hashable, Sequence
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from functools import partial
from hashlib import sha256
from typing import TYPE_CHECKING, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from freecool.answers.runs import simulate
from freecool.core.cancel import Cancelled, cancelling
from freecool.physics.cooling_unit import CoolingUnit
from freecool.physics.damper import Damper, Fan
from freecool.physics.rule import Limits, dry_bulb_hours
from freecool.physics.year import TOTALS, YearRun, Zone

if TYPE_CHECKING:
    from threading import Event

# A chunk is long enough to hide its own cost and short enough to cancel within a blink; few jobs make more of them than
# there are threads, so that none waits long for another.
CHUNK = 16
CHUNKS_PER_THREAD = 4

Answer = TypeVar("Answer")

Progress = Callable[[int, int], None]


class Scenario(NamedTuple):
    """One damper with its fan and rule."""

    fan: Fan
    damper: Damper
    limits: Limits


def run_scenarios(
    zone: Zone,
    unit: CoolingUnit,
    base: YearRun,
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
        With its weather's hours.
    unit : CoolingUnit
        That cools it.
    base : YearRun
        The run without the damper; every scenario starts from its warmed-up state.
    scenarios : sequence of Scenario
        Those that cannot differ run once.
    workers : int, optional
        Threads; as many as cores unless given. The result does not depend on it.
    progress : callable, optional
        Called with (done, all) as the work goes on.
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
    # Weather comes in tenths of a degree, so that many a sensor error changes no hour: what is alike runs once.
    alike = [_decided(zone, scenario) for scenario in scenarios]
    distinct = dict(zip(alike, scenarios, strict=True))
    index_of = {key: index for index, key in enumerate(distinct)}

    def _report(done: int, total: int) -> None:
        if progress is not None:
            progress(done * len(scenarios) // total, len(scenarios))

    totals = run_jobs(
        [partial(_totals, zone, unit, base, scenario) for scenario in distinct.values()],
        workers=workers,
        progress=_report,
        cancel=cancel,
    )
    every = np.array(totals).reshape(len(distinct), base.totals.shape[0], len(TOTALS))
    return every[[index_of[key] for key in alike]]


def _decided(zone: Zone, scenario: Scenario) -> Hashable:
    """What is equal for runs that are: the permitted hours where they are known beforehand, else the rule."""
    fan, damper, limits = scenario
    hours = dry_bulb_hours(limits, zone.hours.outdoor_c, zone.hours.cool_c)
    return fan, damper, limits if hours is None else sha256(np.packbits(hours).tobytes()).digest()


def _totals(zone: Zone, unit: CoolingUnit, base: YearRun, scenario: Scenario) -> NDArray[np.float64]:
    fan, damper, limits = scenario
    return simulate(zone, unit, fan, damper, limits, base=base).totals


def run_jobs(
    jobs: Sequence[Callable[[], Answer]],
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    cancel: Event | None = None,
) -> list[Answer]:
    """What each job returns, in their order, given jobs that do not depend on one another.

    Parameters
    ----------
    jobs : sequence of callable
        Without arguments.
    workers : int, optional
        Threads; one a core unless given. The result does not depend on it.
    progress : callable, optional
        Called with (done, all) as the work goes on.
    cancel : threading.Event, optional
        Stops the work when set; that of `freecool.core.cancel` unless given.

    Returns
    -------
    list
        In the order of `jobs`.

    Raises
    ------
    Cancelled
        `cancel` was set.
    """
    threads = workers or os.cpu_count() or 1
    cancel = cancelling() if cancel is None else cancel
    chunk = min(max(len(jobs) // (CHUNKS_PER_THREAD * threads), 1), CHUNK)

    def _run(first: int) -> list[Answer]:
        return [job() for job in jobs[first : first + chunk] if cancel is None or not cancel.is_set()]

    done = 0
    with ThreadPoolExecutor(threads) as pool:
        chunks = [pool.submit(_run, first) for first in range(0, len(jobs), chunk)]
        waiting = set(chunks)
        try:
            while waiting:
                finished, waiting = wait(waiting, return_when=FIRST_COMPLETED)
                done += sum(len(future.result()) for future in finished)
                if progress is not None:
                    progress(done, len(jobs))
                if cancel is not None and cancel.is_set():
                    break
        finally:
            for future in waiting:
                future.cancel()
    if cancel is not None and cancel.is_set():
        raise Cancelled("Cancelled before all scenarios were run; nothing was written.")
    return [answer for future in chunks for answer in future.result()]
