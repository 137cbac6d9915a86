"""The command line: words in, words out; knows no physics."""

from __future__ import annotations

import gc
import sys
from typing import Annotated

import typer

from freecool.answers.jobs import JOBS
from freecool.cases.wording import option_wording
from freecool.cli.batch import batch
from freecool.cli.glossary import glossary
from freecool.cli.job_command import job_command
from freecool.cli.serve import serve
from freecool.cli.sheet_check import sheet_check
from freecool.cli.weather import weather_app
from freecool.core.errors import FreecoolError, worded

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
app.command()(glossary)


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


app.command(name="sheet-check")(sheet_check)


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
