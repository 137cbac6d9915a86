"""The command line: words in, words out; knows no physics."""

from __future__ import annotations

import gc
import io
import sys
from typing import Annotated

import typer

from freecool.answers.jobs import JOBS
from freecool.cases.wording import option_wording
from freecool.cli.batch import batch
from freecool.cli.glossary import glossary
from freecool.cli.job_command import job_command
from freecool.cli.output import Untold, say
from freecool.cli.serve import serve
from freecool.cli.sheet_check import sheet_check
from freecool.cli.weather import weather_app
from freecool.core.errors import CaseError, FreecoolError, printable, short, worded

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

        say(f"freecool {__version__}")
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
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # What a narrow terminal cannot show, and a name that is no text, still gets through.
            stream.reconfigure(errors="backslashreplace")
    try:
        if sys.stdout is None:
            raise Untold("Standard output is closed, so no answer could be printed: send it to a file or to /dev/null.")
        _refuse_control_characters(sys.argv[1:])
        app()
    except FreecoolError as error:
        if isinstance(error, Untold):
            # What is left in it would be tried again at the end.
            sys.stdout = None
        say(f"freecool: {worded(error, option_wording)}", err=True)
        sys.exit(2)
    except OSError as error:
        sys.stdout = None
        # Without a name it is what printed the help.
        place, reason = error.filename or "Standard output", error.strerror or error
        say(f"freecool: {place} cannot be read or written ({reason}): free space, or mend it.", err=True)
        sys.exit(2)


def _refuse_control_characters(words: list[str]) -> None:
    for word in words:
        if word != printable(word):
            raise CaseError(f"{short(word)} holds a control character: type it anew, without.")


if __name__ == "__main__":
    main()
