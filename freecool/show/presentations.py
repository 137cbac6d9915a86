"""What is drawn of the results of each job: filled here, asked for through `freecool.core.presentation`."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any

from freecool.core.presentation import PRESENTATIONS, Presentation
from freecool.core.units import true_minus


def drawn_by(file: str, name: str) -> Callable[..., Any]:
    """What draws, imported when it is first asked to: an answer in words loads no page and no picture.

    Parameters
    ----------
    file : str
        Of this room.
    name : str
        Of its function or class.

    Returns
    -------
    callable
        Takes what the function or class takes, by position.
    """
    return lambda *given: getattr(import_module(f"freecool.show.{file}"), name)(*given)


def printed_by(file: str, name: str) -> Callable[..., str]:
    """What prints, as `drawn_by`, with true minus signs.

    Parameters
    ----------
    file : str
        Of this room.
    name : str
        Of its function.

    Returns
    -------
    callable
        Takes what the function takes, by position.
    """
    return lambda *given: true_minus(drawn_by(file, name)(*given))


for job, text_file, plots in (
    ("value", "answer", "EstimatePlots"),
    ("pick", "tables", "SweepPlots"),
    ("compare", "tables", "RulesPlots"),
):
    PRESENTATIONS[job] = Presentation(
        text=printed_by(text_file, "answer_text" if job == "value" else f"{job}_text"),
        page=drawn_by("contents", f"{job}_page"),
        plots=drawn_by("plots", plots),
        notebook=drawn_by("html", "notebook_html"),
    )
