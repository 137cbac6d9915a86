"""The tables of JSON keys in the command-line page, written from the records of answers.

``python docs/build/json_keys.py`` writes them into the page, between their marks.
"""

from __future__ import annotations

import re
import typing
from collections.abc import Iterator
from dataclasses import Field, fields
from pathlib import Path

from freecool.answers.contract import ANSWERS
from freecool.core.record import Record, names_of

PAGE = Path(__file__).parents[1] / "command-line.md"
MARKED = re.compile(r"(<!-- keys of (\w+): .*? -->\n).*?(<!-- end of keys -->\n)", re.DOTALL)
HEADING = "| key | meaning |\n| --- | --- |\n"


Told = dict[type[Record], str]
"""The records that stand in a table already, and where."""


def key_tables() -> dict[str, str]:
    """The keys of each job's answer as a Markdown table, by the job's name.

    Returns
    -------
    dict of str to str
        A row a key, with the keys of what it holds; what stands in an earlier row is not told again.
    """
    told: Told = {}
    return {job: HEADING + "".join(_rows(kind, told)) for job, kind in ANSWERS.items()}


def _rows(kind: type[Record], told: Told) -> Iterator[str]:
    for item, within in _fields(kind):
        words = [item.metadata["description"], *(_keys(part, item.name, told) for part in within)]
        yield f"| `{item.name}` | {': '.join(words)} |\n"


def _keys(kind: type[Record], place: str, told: Told) -> str:
    """The keys of a record with their words, in a sentence; those that stand in an earlier row by name alone."""
    known = next((base for base in kind.__mro__ if base in told), None)
    names = names_of(known) if known else ()
    parts = [f"{', '.join(f'`{name}`' for name in names)} as in `{told[known]}`"] if known else []
    for base in kind.__mro__:
        if issubclass(base, Record) and base is not Record:
            told.setdefault(base, place)
    for item, within in _fields(kind):
        if item.name not in names:
            inner = "".join(f" ({_keys(part, f'{place}.{item.name}', told)})" for part in within)
            parts.append(f"`{item.name}` {item.metadata['description']}{inner}")
    return "; ".join(parts)


def _fields(kind: type[Record]) -> Iterator[tuple[Field[object], list[type[Record]]]]:
    """Each field of a record with the records that it holds."""
    hints = typing.get_type_hints(kind)
    return ((item, _records(hints[item.name])) for item in fields(kind))  # type: ignore[arg-type]


def _records(hint: object) -> list[type[Record]]:
    if isinstance(hint, type) and issubclass(hint, Record):
        return [hint]
    return [record for part in typing.get_args(hint) for record in _records(part)]


def with_tables(page: str) -> str:
    """The page with its tables as the records have them, given its text.

    Parameters
    ----------
    page : str
        With a pair of marks for each job.

    Returns
    -------
    str
        The same but for what stands between marks.
    """
    tables = key_tables()
    return MARKED.sub(lambda match: f"{match[1]}\n{tables[match[2]]}\n{match[3]}", page)


if __name__ == "__main__":
    PAGE.write_text(with_tables(PAGE.read_text("utf-8")), encoding="utf-8")
