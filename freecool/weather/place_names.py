"""Names of places as they are looked up: without accents, hyphens and short forms."""

from __future__ import annotations

import re
import unicodedata

SPELLED = {"st": "saint", "ste": "sainte", "mt": "mount", "ft": "fort"}


def looked_up(name: str) -> str:
    """A name as it is compared with others, given as people write it.

    Parameters
    ----------
    name : str
        Of a town, region or country.

    Returns
    -------
    str
        Its letters alone.

    Examples
    --------
    >>> looked_up("St.-Rémy"), looked_up("Zürich")
    ('saintremy', 'zurich')
    """
    letters = unicodedata.normalize("NFKD", name.casefold())
    plain = "".join(letter for letter in letters if not unicodedata.combining(letter))
    return "".join(SPELLED.get(word, word) for word in re.sub(r"[.'’]", "", plain).replace("-", " ").split())
