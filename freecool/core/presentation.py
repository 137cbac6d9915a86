"""How a result is shown: the one registry through which it reaches the room that draws it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import Any, ClassVar

from freecool.core.units import System

# The only way up: nothing else below the room that draws names it.
DRAWING_ROOM = "freecool.show.presentations"


@dataclass(frozen=True, kw_only=True)
class Presentation:
    """What can be drawn of the results of one job.

    Attributes
    ----------
    text : callable
        The terminal's answer, given a result and a unit system.
    page : callable
        The report's contents, given a result, a unit system and how many pictures at most.
    plots : callable
        The pictures of a result, given it.
    notebook : callable
        Its HTML in a notebook, given a result.
    """

    text: Callable[[Any, System], str]
    page: Callable[[Any, System, int], Any]
    plots: Callable[[Any], Any]
    notebook: Callable[[Any], str]


PRESENTATIONS: dict[str, Presentation] = {}
"""By the name of the job; filled by the room that draws, when it is first imported."""


def presentation_of(job: str) -> Presentation:
    """What can be drawn of a job's results, given the job's name.

    Parameters
    ----------
    job : str
        Such as "value".

    Returns
    -------
    Presentation
        What the room that draws has declared for it.

    Raises
    ------
    KeyError
        No room draws results of this job.
    """
    if job not in PRESENTATIONS:
        import_module(DRAWING_ROOM)
    return PRESENTATIONS[job]


class Presented:
    """A base for results: its printout, its page in a notebook and its pictures, drawn when asked for."""

    job: ClassVar[str]
    """The name of the job that it answers."""
    case: Any
    """Whose units its printout is in."""

    @property
    def plot(self) -> Any:
        """Pictures, each a method that takes axes or makes its own, and returns them."""
        return presentation_of(self.job).plots(self)

    def _repr_html_(self) -> str:
        return presentation_of(self.job).notebook(self)

    def __repr__(self) -> str:
        return presentation_of(self.job).text(self, self.case.units)
