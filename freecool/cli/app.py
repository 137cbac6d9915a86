"""The command line: words in, words out; knows no physics."""

from __future__ import annotations

import gc
import sys
from pathlib import Path
from typing import Annotated

import typer

from freecool.answers.jobs import JOBS
from freecool.cases.wording import option_wording
from freecool.cli.batch import batch
from freecool.cli.job_command import job_command
from freecool.cli.request import Request, option
from freecool.cli.serve import serve
from freecool.cli.weather import weather_app
from freecool.core.errors import CaseError, FreecoolError, worded

app = typer.Typer(
    name="freecool",
    help="What outdoor air as the first stage of cooling is worth: hours, compressor kWh avoided, fan kWh added, "
    "money, and whether it makes the place damp.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

app.add_typer(weather_app, name="weather")
app.command()(serve)
app.command()(batch)


def _version(asked: bool) -> None:
    if asked:
        from freecool.core.version import __version__

        typer.echo(f"freecool {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    pass


for job in JOBS.values():
    app.command(name=job.name)(job_command(job))


@app.command(name="sheet-check")
def sheet_check(
    outdoor: Annotated[str, option("Outdoor air as read, such as 55F.")],
    return_air: Annotated[str, option("Return air as read, such as 75F.", "--return")],
    closed: Annotated[str | None, option("Mixed air as read with the damper closed.")] = None,
    half: Annotated[str | None, option("Mixed air as read with the damper half open.")] = None,
    full: Annotated[str | None, option("Mixed air as read with the damper fully open.")] = None,
    case: Annotated[
        Path | None, option("Case file (.toml), for the damper's share and the sensors' tolerance.")
    ] = None,
    units: Annotated[str, option("ip or si; a bare number takes its unit.")] = "ip",
) -> None:
    """What the readings on a commissioning sheet say: damper leaking, stuck, or a sensor off."""
    from freecool.answers.mixing import POSITIONS
    from freecool.answers.readings import check_readings
    from freecool.cases.quantity import OUTDOOR_AIR, RETURN_AIR

    request = Request(case=case, units=units)

    given = dict(zip(POSITIONS, (closed, half, full), strict=True))
    read = [
        (position, OUTDOOR_AIR.told(text, request.system, f"--{position}"))
        for position, text in given.items()
        if text is not None
    ]
    if not read:
        raise CaseError("No mixed-air reading was given: give at least one of --closed, --half and --full.")
    outdoor_c = OUTDOOR_AIR.told(outdoor, request.system, "--outdoor")
    return_c = RETURN_AIR.told(return_air, request.system, "--return")
    findings = check_readings(request.make_case(), outdoor_c, return_c, read)
    for finding in findings:
        typer.echo(finding.text)
    if any(finding.code != "as_expected" for finding in findings):
        raise typer.Exit(1)


def main() -> None:
    """Run the command line; a user's mistake ends in one sentence and exit code 2."""
    # One short answer and out: collecting garbage while libraries load costs a tenth of the time.
    gc.disable()
    try:
        app()
    except FreecoolError as error:
        typer.echo(f"freecool: {worded(error, option_wording)}", err=True)
        sys.exit(2)


if __name__ == "__main__":
    main()
