"""The command that tells what terms mean."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Annotated

import typer

from freecool.cases.glossary import GLOSSARY
from freecool.cli.output import say
from freecool.core.errors import FreecoolError


def glossary(
    term: Annotated[str | None, typer.Argument(help="A term or a part of one; left out: all.")] = None,
) -> None:
    """What the terms mean, a sentence each."""
    from freecool.show.text import wrap

    wanted = (term or "").lower()
    found = [name for name in GLOSSARY if wanted in name.lower()]
    if not found:
        meant = get_close_matches(wanted, GLOSSARY, n=3)
        hint = f" (did you mean {' or '.join(meant)}?)" if meant else ""
        raise FreecoolError(f"{term!r} is not in the glossary{hint}; leave it out for all terms.")
    say("\n".join(wrap(f"{name}: {GLOSSARY[name]}", "", "  ") for name in found))
