"""The one table of jobs: what can be asked of a case and a weather, and what answers it.

Every door reads it: a job that stands here has a command, a page, a place in the JSON interface and in a batch.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Any

from freecool.answers.settings import SearchSettings

if TYPE_CHECKING:
    from threading import Event

    from freecool.answers.comparison import RulesCompared
    from freecool.answers.estimate import Estimate
    from freecool.answers.pick import DifferentialSweep
    from freecool.cases.model import Case
    from freecool.weather import Weather

    Result = Estimate | DifferentialSweep | RulesCompared
    Progress = Callable[[int, int], None]


@dataclass(frozen=True, kw_only=True)
class Job:
    """One thing that can be asked.

    Attributes
    ----------
    name : str
        The command's, the page's and the JSON route's.
    question : str
        As a person asks it.
    summary : str
        What its help says.
    working : str
        What is told while it works.
    answered_by : str
        Module and function, imported at the first answer so that help stays instant.
    takes : tuple of str
        The fields of `SearchSettings` that it heeds.
    table : str
        The name of its table, an attribute of the result unless it is "hourly".
    table_words : str
        What the table is called.
    more_tables : tuple of tuple
        Name and words of further tables, attributes of the result.
    sheet : bool
        Whether a commissioning sheet goes with it.
    against : bool
        Whether other cases can be set beside it, by `freecool.answers.against.compare_quotes`.
    bills : bool
        Whether bills may be held against its answer.
    """

    name: str
    question: str
    summary: str
    working: str
    answered_by: str
    takes: tuple[str, ...] = ()
    table: str
    table_words: str
    more_tables: tuple[tuple[str, str], ...] = ()
    sheet: bool = False
    against: bool = False
    bills: bool = False

    @property
    def searches(self) -> bool:
        """Whether it runs many years: it then tells its progress and can be cancelled."""
        return bool(self.takes)

    def run(
        self,
        case: Case,
        weather: Weather,
        settings: SearchSettings | None = None,
        *,
        workers: int | None = None,
        progress: Progress | None = None,
        cancel: Event | None = None,
    ) -> Result:
        """The answer, given a case, a weather and how a search goes about it.

        Parameters
        ----------
        case : Case
            Building, unit, fan, damper, rule and money.
        weather : Weather
            Of a typical year or real years.
        settings : SearchSettings, optional
            Its defaults unless given; what the job does not take is left aside.
        workers : int, optional
            Threads; one a core unless given.
        progress : callable, optional
            Told (done, total) while a search works.
        cancel : threading.Event, optional
            Ends a search early.

        Returns
        -------
        Estimate, DifferentialSweep or RulesCompared
            The result of the job's function.

        Raises
        ------
        FreecoolError
            As the job's function.
        """
        module, _, function = self.answered_by.rpartition(".")
        answer: Callable[..., Result] = getattr(import_module(module), function)
        if not self.searches:
            return answer(case, weather, workers=workers)
        chosen = settings or SearchSettings()
        taken = {name: getattr(chosen, name) for name in self.takes}
        return answer(case, weather, **taken, workers=workers, progress=progress, cancel=cancel)

    def table_of(self, result: Any) -> Any:
        """The table of one of its results.

        Parameters
        ----------
        result : Estimate, DifferentialSweep or RulesCompared
            That the job answered with.

        Returns
        -------
        DataFrame
            A row an hour, a differential or a rule.
        """
        return result.hourly if self.table == "hourly" else result.table


JOBS = {
    job.name: job
    for job in (
        Job(
            name="value",
            question="What is it worth?",
            summary="What a damper with first-stage free cooling is worth on a building in a climate.",
            working="Working it out",
            answered_by="freecool.answers.estimate.estimate",
            table="hourly",
            table_words="Hourly table",
            more_tables=(("bins", "Table by outdoor temperature"),),
            against=True,
            bills=True,
        ),
        Job(
            name="pick",
            question="Which differential?",
            summary="Which differential to set, and why.",
            working="Trying differentials",
            answered_by="freecool.answers.pick.sweep_differential",
            takes=("differentials_k", "draws", "seed", "humidity_ceiling_hours"),
            table="candidates",
            table_words="Table",
            sheet=True,
        ),
        Job(
            name="compare",
            question="Which rule?",
            summary="The named rules side by side: dry bulb or enthalpy, with honest sensors.",
            working="Comparing rules",
            answered_by="freecool.answers.comparison.compare_rules",
            takes=("draws", "seed"),
            table="rules",
            table_words="Table",
        ),
    )
}
