"""Where files that can be made again are kept."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from freecool.core.cache import cache_root
from freecool.core.compiled import cache_folder
from freecool.weather.station_list import stations_folder


def test_the_setting_wins(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("FREECOOL_CACHE_DIR", str(tmp_path))
    assert cache_root() == tmp_path
    assert stations_folder() == tmp_path / "stations"
    assert Path(cache_folder.__wrapped__()).parent == tmp_path


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the XDG Base Directory Specification is Linux's")
@pytest.mark.parametrize("setting", ["", None])
def test_without_it_the_cache_is_where_the_system_keeps_such_things(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, setting: str | None
) -> None:
    """XDG Base Directory Specification 0.8: $XDG_CACHE_HOME, else $HOME/.cache."""
    if setting is None:
        monkeypatch.delenv("FREECOOL_CACHE_DIR", raising=False)
    else:
        monkeypatch.setenv("FREECOOL_CACHE_DIR", setting)
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert cache_root() == tmp_path / ".cache" / "freecool"
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "elsewhere"))
    assert cache_root() == tmp_path / "elsewhere" / "freecool"
