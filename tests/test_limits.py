"""What the page of limits says is what is said."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from test_cli import DESERT, freecool

PAGE = Path(__file__).parents[1] / "docs" / "limits.md"
SAID = re.findall(r"^\| `(--[^`]+)` \| `([^`]+)` \|$", PAGE.read_text("utf-8"), flags=re.MULTILINE)


@pytest.mark.parametrize(("options", "sentence"), SAID)
def test_an_option_out_of_its_range_is_refused_as_the_page_says(options: str, sentence: str) -> None:
    run = freecool("value", DESERT, *shlex.split(options))
    assert (run.code, run.output) == (2, "")
    assert sentence in run.errors


def test_the_page_tells_some() -> None:
    assert len(SAID) >= 5
