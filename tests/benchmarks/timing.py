"""How a time is taken on a machine that others use too."""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter


def best_of(times: int, *runs: Callable[[], object], clock: Callable[[], float] = perf_counter) -> list[float]:
    """The shortest time of each run [s], after a first that compiles; in turn, so that a busy machine slows all."""
    for run in runs:
        run()
    best = [float("inf")] * len(runs)
    for _ in range(times):
        for place, run in enumerate(runs):
            start = clock()
            run()
            best[place] = min(best[place], clock() - start)
    return best
