"""The way from a question through weather and computation to its answer."""

from __future__ import annotations

import threading
from collections.abc import AsyncGenerator, Callable
from contextlib import aclosing
from typing import TYPE_CHECKING, Any

from cachetools import LRUCache

from freecool.answers.jobs import JOBS
from freecool.web.question import Question
from freecool.web.weather_store import WeatherStore
from freecool.web.work import Line, Tell, Work

if TYPE_CHECKING:
    from freecool.answers.jobs import Result

# A few threads: the computation itself uses all cores.
THREADS = 2
# The settings of a drawing are the process's, so one thread draws; no computation waits for it.
DRAWERS = 1
WAITING = 100
LONGEST_S = 180.0
"""Longest computation; a comparison takes 5 to 20 s on two cores. [s]"""
FETCHES = 2
FETCHES_WAITING = 8
RESULTS_KEPT = 8
MOST_HOURS_KEPT = 90_000
"""Longer records make answers too large to keep. [h]"""


class AnswerService:
    """Where questions are answered: weather, threads, and the last few results."""

    def __init__(self, threads: int = THREADS, waiting: int = WAITING, seconds: float = LONGEST_S) -> None:
        self.weather = WeatherStore()
        self.work = Work(threads, waiting, seconds)
        self.fetches = Work(FETCHES, FETCHES_WAITING, seconds)
        self.drawings = Work(DRAWERS, waiting, seconds)
        self._results: LRUCache[tuple[Any, ...], Result] = LRUCache(RESULTS_KEPT)
        self._lock = threading.Lock()

    def stop(self) -> None:
        """Cancel all work, for good."""
        for work in (self.work, self.fetches, self.drawings):
            work.stop()

    async def lines(
        self,
        job: str,
        question: Question,
        show: Callable[[Result, Tell], Any],
        draw: Callable[[Result], Any] | None = None,
    ) -> AsyncGenerator[Line, None]:
        """What the answering of a question tells; its result is what `show` makes of the answer, in a worker.

        Where there is something to `draw`, it is drawn after that by the one thread that may, and is the result.

        Raises
        ------
        FreecoolError
            As the weather, the computation and `Work.lines`.
        """
        self.weather.check(question.weather)
        if self.weather.is_slow(question.weather, question.years):
            fetching = self.fetches.lines(lambda tell, cancel: self.weather.open(question.weather, question.years))
            async with aclosing(fetching):
                async for line in fetching:
                    if "result" not in line:
                        yield line
        answers: list[Result] = []

        def work(tell: Tell, cancel: threading.Event) -> Any:
            answers.append(self._answer(job, question, tell, cancel))
            return show(answers[0], tell)

        working = self.work.lines(work)
        async with aclosing(working):
            async for line in working:
                if draw is None or "result" not in line:
                    yield line
        if draw is not None:
            drawing = self.drawings.lines(lambda tell, cancel: draw(answers[0]))
            async with aclosing(drawing):
                async for line in drawing:
                    yield line

    def _answer(self, job: str, question: Question, tell: Tell, cancel: threading.Event) -> Result:
        cases = [one and one.model_dump_json() for one in (question.case, question.against)]
        key = (job, question.weather, question.years, *cases, question.search)
        with self._lock:
            kept = self._results.get(key)
            if kept is not None:
                return kept
        result = self._compute(job, question, tell, cancel)
        if result.weather.hours <= MOST_HOURS_KEPT:
            with self._lock:
                self._results[key] = result
        return result

    def _compute(self, job: str, question: Question, tell: Tell, cancel: threading.Event) -> Result:
        weather = self.weather.open(question.weather, question.years)

        def progress(done: int, total: int) -> None:
            tell({"progress": [done, total]})

        if JOBS[job].against and question.against is not None:
            from freecool.answers.against import compare_quotes

            return compare_quotes(question.case, weather, [question.against])
        return JOBS[job].run(question.case, weather, question.search, progress=progress, cancel=cancel)
