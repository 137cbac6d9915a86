"""A batch from list to table: what is not yet in the ledger is answered, and the full ledger becomes the table."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from freecool.answers.scenarios import Progress
from freecool.batch.ledger import Ledger, ledger_folder, read_inputs, refuse_in_use, remove_ledger
from freecool.batch.results import write_results
from freecool.batch.row import BatchSettings, RowTask
from freecool.batch.sites import SiteList, iterate_sites, read_sites
from freecool.batch.workers import answers, cores, worker_pool
from freecool.core.atomic_file import check_places
from freecool.core.errors import BatchError
from freecool.core.version import __version__


class Summary(NamedTuple):
    """How a batch ended."""

    rows: int
    errors: int
    """Rows that hold an error in place of an answer."""
    first_error: str | None


def run_batch(
    sites: str | Path,
    out: str | Path,
    settings: BatchSettings | None = None,
    *,
    resume: bool = False,
    overwrite: bool = False,
    workers: int | None = None,
    scheduler: str | None = None,
    progress: Progress | None = None,
) -> Summary | None:
    """Answers for a list of sites in one table, given the list, where the table shall be, and the job.

    Parameters
    ----------
    sites : str or Path
        CSV with the columns name, weather, and any option of the command line or key of the case.
    out : str or Path
        Table to write, .csv or .parquet; a folder beside it with ".part" added to its name is the ledger.
    settings : BatchSettings, optional
        The job and what holds for every row.
    resume : bool
        Go on where an earlier batch was stopped, if there was one.
    overwrite : bool
        Begin anew, and replace results that are there.
    workers : int, optional
        Processes on this machine; one a core unless given.
    scheduler : str, optional
        Address of a Dask scheduler, whose workers answer instead.
    progress : callable, optional
        Called with (done, all) after every row.

    Returns
    -------
    Summary or None
        None: the results were there already.

    Raises
    ------
    BatchError
        The list is unfit, the inputs changed since the batch began, or a place cannot be written.
    """
    path, out, settings = Path(sites).absolute(), Path(out), settings or BatchSettings()
    folder = ledger_folder(out)
    listed = read_sites(path)
    check_places(out, inputs=[path, *(path.parent / source for source in listed.weather)])
    if _is_finished(out, resume=resume, overwrite=overwrite):
        return None
    with Ledger(folder, _inputs(listed, settings), listed.rows) as ledger:
        _answer_rows(ledger, listed, settings, workers, scheduler, progress)
        errors, first = write_results(out, ledger, settings.job)
    remove_ledger(folder)
    return Summary(listed.rows, errors, first)


def _is_finished(out: Path, *, resume: bool, overwrite: bool) -> bool:
    """Whether there is nothing to do; refuses what would overwrite by mistake."""
    folder = ledger_folder(out)
    if overwrite:
        refuse_in_use(folder)
        remove_ledger(folder)
    elif read_inputs(folder) is not None:
        if not resume:
            raise BatchError(f"{folder} holds a batch that was stopped: --resume goes on, --overwrite begins anew.")
    elif out.exists():
        if not resume:
            raise BatchError(f"{out} is there already: name another output, or add --overwrite.")
        remove_ledger(folder)
        return True
    return False


def _answer_rows(
    ledger: Ledger,
    listed: SiteList,
    settings: BatchSettings,
    workers: int | None,
    scheduler: str | None,
    progress: Progress | None,
) -> None:
    """Answer what the ledger does not hold yet."""
    if progress is not None:
        progress(ledger.done, listed.rows)
    if ledger.done == listed.rows:
        return
    with worker_pool(workers or min(cores(), listed.rows - ledger.done), scheduler) as team:
        for task, values in answers(team, _tasks(listed, settings, ledger)):
            ledger.append(task.site.place, values)
            if progress is not None:
                progress(ledger.done, listed.rows)


def _inputs(listed: SiteList, settings: BatchSettings) -> dict[str, Any]:
    """All that the answers depend on, by the name to call it when it changed."""
    return {
        "freecool": __version__,
        listed.path.name: listed.digest,
        "weather": listed.weather,
        **settings._asdict(),
        "told": hashlib.sha256(json.dumps(settings.told or {}, sort_keys=True, default=str).encode()).hexdigest(),
    }


def _tasks(listed: SiteList, settings: BatchSettings, ledger: Ledger) -> Iterator[RowTask]:
    folder, name = str(listed.path.parent), listed.path.name
    for site in iterate_sites(listed):
        if site.place not in ledger:
            digest = listed.weather.get(site.cells.get("weather", ""), "")
            yield RowTask(settings, folder, name, site, digest, __version__)
