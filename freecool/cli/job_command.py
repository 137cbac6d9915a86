"""A command for each job of the table: what it can be told, how it answers, and the files it writes."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from freecool.answers.jobs import JOBS, Job
from freecool.answers.settings import STEPS, SearchSettings, differentials
from freecool.cli.output import progress_bar, say
from freecool.cli.request import Request, option, with_request
from freecool.core.atomic_file import check_places
from freecool.core.errors import BillsError, worded
from freecool.show.files import check_report, check_table_name, table_places, write_page, write_table

if TYPE_CHECKING:
    from freecool.bills.model import Bills
    from freecool.cases.model import Case

TABLE_HELP = "Write the {words} to this .csv or .parquet file."


def job_command(job: Job) -> Callable[..., None]:
    """The command of a job, given its place in the table."""

    def command(request: Request, **given: Any) -> None:
        table: Path | None = given.pop(_table_option(job))
        more: dict[str, Path | None] = {name: given.pop(name) for name, _ in job.more_tables}
        sheet: Path | None = given.pop("sheet", None)
        others: list[Path] = given.pop("against", None) or []
        bills: Path | None = given.pop("bills", None)
        day = {name: given.pop(name) for name in ("outdoor", "return_air") if name in given}
        for path in (table, *more.values()):
            check_table_name(path)
        check_report(request.report)
        settings, case = _settings(request, given), request.make_case()
        tables = [place for path in (table, *more.values()) for place in table_places(path)]
        inputs = [*request.files(), *others, *([bills] if bills else [])]
        check_places(*tables, sheet, request.report, request.save, inputs=inputs)
        request.check_saving()
        beside = [request.other_case(path) for path in others]
        read = None if bills is None else _read_bills(bills, case)
        weather = request.open_weather()
        _say_if_first_run(request)
        if job.searches:
            with progress_bar(job.working) as progress:
                result = job.run(case, weather, settings, progress=progress)
        elif beside:
            from freecool.answers.against import compare_quotes

            result = compare_quotes(case, weather, beside)
        else:
            result = job.run(case, weather)
        if read is not None:
            result = _with_bills(read, result)
        if table is not None:
            write_table(job.table_of(result), table)
        for name, path in more.items():
            if path is not None:
                write_table(getattr(result, name), path)
        if sheet is not None:
            write_page(_sheet(result, request, **day), sheet)
        request.answer(result)
        if request.save is not None:
            request = request.save_case(job.name, case)
        if table is not None and job.table == "hourly" and not request.as_json:
            say(f"\nHourly table written to {table}.")
        if not request.as_json:
            say(_next(job, request))

    command.__name__, command.__doc__ = job.name, job.summary
    command.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
        [
            inspect.Parameter("request", inspect.Parameter.POSITIONAL_OR_KEYWORD, annotation=Request),
            *_search_options(job),
            *_output_options(job),
        ]
    )
    return with_request(command)


def _next(job: Job, request: Request) -> str:
    """The other questions of the same case, as they are asked."""
    # The pick looks for the differential, whatever rule was asked about.
    left_out = {"pick": ("rule", "differential")}
    asked = [
        f"  freecool {other.name} {request.words(left_out.get(other.name, ()))}".rstrip()
        for other in JOBS.values()
        if other is not job
    ]
    return "\n".join(["", "Next, with this case", *asked])


def _table_option(job: Job) -> str:
    return "hourly" if job.table == "hourly" else "table"


def _option(name: str, annotation: Any, default: Any) -> inspect.Parameter:
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=annotation)


def _search_options(job: Job) -> list[inspect.Parameter]:
    found = []
    if "differentials_k" in job.takes:
        found += [
            _option(
                "first", Annotated[str | None, option("Smallest differential to try: 0F, or 0K in SI.", "--from")], None
            ),
            _option(
                "last", Annotated[str | None, option("Largest differential to try: 20F, or 10K in SI.", "--to")], None
            ),
            _option("step", Annotated[str | None, option("Step between them: 1F, or 0.5K in SI.")], None),
        ]
    for setting in fields(SearchSettings):
        if setting.name in job.takes and "help" in setting.metadata:
            text, most, whole = (setting.metadata[key] for key in ("help", "most", "whole"))
            kind = int if whole else float
            told = option(text, f"--{setting.name.removesuffix('_hours').replace('_', '-')}", min=0, max=kind(most))
            found.append(_option(setting.name, Annotated[kind, told], setting.default))
    return found


def _output_options(job: Job) -> list[inspect.Parameter]:
    table = option(TABLE_HELP.format(words=job.table_words.lower()))
    found = [_option(_table_option(job), Annotated[Path | None, table], None)]
    for name, words in job.more_tables:
        found.append(_option(name, Annotated[Path | None, option(TABLE_HELP.format(words=words.lower()))], None))
    if job.against:
        told = option("Another case file, answered on the same weather and set beside this one; at most two.")
        found.append(_option("against", Annotated[list[Path] | None, told], None))
    if job.bills:
        told = option("Electricity bills of this building: a CSV (start, end, kwh) or a Green Button .xml file.")
        found.append(_option("bills", Annotated[Path | None, told], None))
    if job.sheet:
        found += [
            _option("sheet", Annotated[Path | None, option("Write a commissioning sheet to this .html file.")], None),
            _option(
                "outdoor",
                Annotated[str | None, option("Outdoor air on the day of the sheet's test; 55F, or 13C in SI.")],
                None,
            ),
            _option(
                "return_air",
                Annotated[str | None, option("Return air that day; the set point unless given.", "--return")],
                None,
            ),
        ]
    return found


def _settings(request: Request, given: dict[str, Any]) -> SearchSettings:
    if "first" in given:
        told = (given.pop(name) for name in ("first", "last", "step"))
        first, last, step = (text or usual for text, usual in zip(told, STEPS[request.system], strict=True))
        given["differentials_k"] = differentials(first, last, step, request.system, names=("--from", "--to", "--step"))
    return SearchSettings(**given)


def _sheet(sweep: Any, request: Request, outdoor: str | None, return_air: str | None) -> str:
    from freecool.answers.commissioning import TEST_DAY, commissioning
    from freecool.cases.quantity import OUTDOOR_AIR, RETURN_AIR
    from freecool.show.sheet import sheet_html

    outdoor_c = OUTDOOR_AIR.told(outdoor or TEST_DAY[request.system], request.system, "--outdoor")
    set_point_c = sweep.case.schedule.cooling
    return_c = set_point_c if return_air is None else RETURN_AIR.told(return_air, request.system, "--return")
    pressure = float(sweep.weather.frame["pressure_pa"].mean())
    return sheet_html(sweep, commissioning(sweep.picked_case(), outdoor_c, return_c, pressure), request.system)


def _with_bills(bills: Bills, answer: Any) -> Any:
    from freecool.answers.fit_bills import fit_to_bills

    return fit_to_bills(answer, bills)


def _read_bills(path: Path, case: Case) -> Bills:
    from freecool.bills.read import read_bills

    try:
        return read_bills(path, time_zone=case.schedule.time_zone or None)
    except BillsError as error:
        raise BillsError(worded(error, lambda *_: "--set schedule.time_zone")) from None


def _say_if_first_run(request: Request) -> None:
    from freecool.core.compiled import cache_folder

    if not request.as_json and not any(Path(cache_folder()).rglob("*run_year*.nbi")):
        say("First run: compiling the year loop, under a minute; later runs start at once.", err=True)
