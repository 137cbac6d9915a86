"""How long the tests that repeat, wait or guess go on: short by default, long with ``FREECOOL_LONG_TESTS=1``."""

from __future__ import annotations

import os
from typing import TypeVar

LONG = os.environ.get("FREECOOL_LONG_TESTS", "") not in ("", "0")
Amount = TypeVar("Amount")


def amount(short: Amount, long: Amount) -> Amount:
    """How many times or seconds a test goes on, or over which cases, given both answers."""
    return long if LONG else short
