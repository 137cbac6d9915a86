"""`freecool batch`: the same answers for many sites."""

from __future__ import annotations

import gc
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from freecool.cli.output import say
from freecool.cli.request import Request, option
from freecool.core.atomic_file import check_places
from freecool.core.errors import BatchError
from freecool.show.files import check_table_name

if TYPE_CHECKING:
    from freecool.answers.scenarios import Progress

# Where nobody watches, a line now and then for the log [s].
LOG_SECONDS = 60.0
INTERRUPTED = 130


def batch(
    sites: Annotated[
        Path, typer.Argument(help="CSV, one row a site: columns name, weather, and any option or key of the case.")
    ],
    out: Annotated[Path, option("Results to write, .csv or .parquet.")],
    job: Annotated[str, option("What to answer for each site: value, pick or compare.")] = "value",
    case: Annotated[Path | None, option("Case file (.toml) for all sites; a cell of the list is stronger.")] = None,
    units: Annotated[str, option("ip or si; a bare number takes its unit.")] = "ip",
    draws: Annotated[int, option("Of pick and compare: sensor errors drawn.", min=0, max=10_000)] = 100,
    seed: Annotated[int, option("The same seed gives the same answers.", min=0)] = 0,
    resume: Annotated[bool, option("Go on where the same batch was stopped.", "--resume")] = False,
    overwrite: Annotated[bool, option("Begin anew and replace what is there.", "--overwrite")] = False,
    workers: Annotated[int | None, option("Processes on this machine; one a core unless given.", min=1)] = None,
    scheduler: Annotated[str | None, option("Address of a Dask scheduler, whose workers answer instead.")] = None,
    offline: Annotated[bool, option("Station weather: use only what was fetched before.", "--offline")] = False,
    allow_gaps: Annotated[bool, option("Fill gaps longer than 48 h too.", "--allow-gaps")] = False,
) -> None:
    """The same answers for a list of many sites, in one table."""
    # A long run makes garbage that a short command need not collect.
    gc.enable()
    from freecool.batch import BatchSettings, run_batch
    from freecool.batch.columns import COLUMNS
    from freecool.batch.workers import cores
    from freecool.cases.case_file import read_case_file
    from freecool.show.text import closing, wrap

    request = Request(case=case, units=units)
    if job not in COLUMNS:
        raise BatchError(f"--job is {job!r}: expected one of {', '.join(COLUMNS)}.")
    if workers is not None and scheduler is not None:
        raise BatchError("--workers counts processes on this machine: leave it out with --scheduler.")
    if workers is not None and workers > cores():
        say(f"--workers {workers}: this machine lets {cores()} run at once, so as many are started.", err=True)
        workers = cores()
    check_table_name(out)
    check_places(out, inputs=[sites, *request.files()])
    # What is wrong for every site is said before the first.
    request.make_case()
    told = read_case_file(case) if case else {}
    settings = BatchSettings(job, told, request.system, draws, seed, offline, allow_gaps)
    try:
        with _progress() as progress:
            summary = run_batch(
                sites,
                out,
                settings,
                resume=resume,
                overwrite=overwrite,
                workers=workers,
                scheduler=scheduler,
                progress=progress,
            )
    except KeyboardInterrupt:
        say("freecool: stopped; every row done is kept: the same command with --resume goes on.", err=True)
        sys.exit(INTERRUPTED)
    if summary is None:
        say(f"{out} is there and no unfinished batch beside it: nothing was done. --overwrite does it anew.")
        return
    answered = summary.rows - summary.errors
    say(f"{out}: {answered:,} of {summary.rows:,} sites answered.")
    if summary.first_error is not None:
        say(wrap(f"{summary.errors:,} not, see the column error; the first: {summary.first_error}"))
    say("\n" + "\n\n".join(closing(())))


@contextmanager
def _progress() -> Iterator[Progress]:
    """A bar with rate and time left where a person watches, else a line now and then, on standard error."""
    from rich import progress as shown
    from rich.console import Console

    console = Console(stderr=True)
    if not console.is_terminal:
        yield _log_lines()
        return
    columns = (
        shown.TextColumn("Sites"),
        shown.BarColumn(),
        shown.MofNCompleteColumn(),
        shown.TextColumn("{task.fields[rate]}"),
        shown.TimeRemainingColumn(),
    )
    with shown.Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("Sites", total=None, rate="")

        def update(done: int, total: int) -> None:
            speed = bar.tasks[0].speed
            bar.update(task, completed=done, total=total, rate=f"{speed:,.1f} a second" if speed else "")

        yield update


def _log_lines() -> Progress:
    began = said = time.monotonic()
    before = -1

    def update(done: int, total: int) -> None:
        nonlocal said, before
        now = time.monotonic()
        before = done if before < 0 else before
        if now - said >= LOG_SECONDS and done > before:
            said = now
            rate = (done - before) / (now - began)
            left = (total - done) / rate / 60.0
            say(f"{done:,} of {total:,} sites, {rate:,.1f} a second, {left:,.0f} min left", err=True)

    return update
