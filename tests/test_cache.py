"""Where files that can be made again are kept."""

from __future__ import annotations

import errno
import pickle
import sys
from pathlib import Path
from typing import Any

import pytest
from numba.core.caching import UserProvidedCacheLocator

from freecool.core.cache import cache_root
from freecool.core.compiled import cache_folder, kernel, share
from freecool.weather.station_list import stations_folder


def test_the_setting_wins(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("FREECOOL_CACHE_DIR", str(tmp_path))
    assert cache_root() == tmp_path
    assert stations_folder() == tmp_path / "stations"
    assert Path(cache_folder.__wrapped__()).parent == tmp_path


def test_two_environments_with_the_same_sources_share_what_is_compiled(tmp_path: Path) -> None:
    """By the names that numba gives to the folders of a module."""
    folder = tmp_path / "compiled"
    folder.mkdir()
    places = [tmp_path / environment / "physics" for environment in ("one", "two")]
    for place in (*places, *places):
        share(folder, place)
    name_of: Any = UserProvidedCacheLocator.get_suitable_cache_subpath
    names = [name_of(str(place / "hour.py")) for place in places]
    assert len(set(names)) == 2
    assert {(folder / name).resolve() for name in names} == {folder / "physics"}


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


@pytest.mark.parametrize("error", [OSError(errno.ENOSPC, "full"), EOFError(), pickle.UnpicklingError("torn")])
def test_what_cannot_be_kept_is_compiled_all_the_same(error: Exception, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise error

    def twice(number: float) -> float:
        return 2.0 * number

    made = kernel()(twice)
    for name in ("save", "load"):
        monkeypatch.setattr(made._cache._cache_file, name, fail)
    assert made(2.5) == 5.0
