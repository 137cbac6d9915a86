"""What the readings on a commissioning sheet say, as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from freecool.core.units import true_minus
from freecool.show.text import bullets, wrap

if TYPE_CHECKING:
    from freecool.answers.readings import SheetCheck

FITS = "What fits, the likeliest first, and what to check"


def check_text(check: SheetCheck) -> str:
    """The answer of ``freecool sheet-check`` as text, given a check.

    Parameters
    ----------
    check : SheetCheck
        What to show.

    Returns
    -------
    str
        What the command prints: the whole, what fits and what to check next, and each position.
    """
    parts = [wrap(f"{check.word[0].upper()}{check.word[1:]}. {check.text}")]
    if check.causes and check.causes[0].code == "unexplained":
        parts.append("What to do\n" + bullets([check.causes[0].check], "-"))
    elif check.causes:
        parts.append(f"{FITS}\n" + bullets([f"{cause.text} {cause.check}" for cause in check.causes], "-"))
    parts.append("By position\n" + bullets([finding.text for finding in check.positions], "-"))
    return true_minus("\n\n".join(parts))
