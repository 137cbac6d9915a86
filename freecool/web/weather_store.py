"""Weather of a client: named by a scheme or a hash of what was sent, never by a path."""

from __future__ import annotations

import hashlib
import json
import re
import tempfile
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from freecool.core.errors import FreecoolError, WeatherError

if TYPE_CHECKING:
    from freecool.weather import Weather

MOST_LINES = 300_000
"""Of an upload: 30 years of hours (our own choice)."""
MOST_HOURS_HELD = 2_000_000
"""Of all weather held; 48 bytes each (our own choice). [h]"""
MOST_HELD = 32
HELD_S = 6 * 3600.0
"""How long weather is held after its last use (our own choice). [s]"""
UPLOADED_NAME = "your-file"
"""What an upload is called while it is read, so that messages name it and no client's name is ever a path."""
SPOKEN = re.compile(r"demo:[a-z-]{1,40}|station:[A-Za-z0-9]{1,10}|near:[-+0-9A-Za-zÀ-ÿ.,' ]{1,60}|upload:[0-9a-f]{32}")


class NotHeld(WeatherError):
    """An uploaded file that the server no longer holds."""


class _Held(NamedTuple):
    weather: Weather
    used: float


class WeatherStore:
    """Holds uploaded and fetched weather for a while: bounded in number, hours and age."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._held: OrderedDict[str, _Held] = OrderedDict()
        self._lock = threading.Lock()

    def add(self, content: bytes, name: str = "", **place: Any) -> tuple[str, Weather]:
        """("upload:HASH", weather), given the content of a file, the name to show, and the place of a plain CSV.

        Raises
        ------
        WeatherError
            As `freecool.weather.open_weather`, or more lines than are taken.
        """
        lines = content.count(b"\n") + 1
        if lines > MOST_LINES:
            raise WeatherError(
                f"The file holds {lines:,} lines, expected at most {MOST_LINES:,}: keep the years needed."
            )
        place = {key: value for key, value in place.items() if value is not None}
        digest = hashlib.sha256(content)
        digest.update(json.dumps(place, sort_keys=True).encode())
        key = f"upload:{digest.hexdigest()[:32]}"
        held = self._find(key)
        if held is None:
            held = replace(_read(content, name, place), source=key)
            self._keep(key, held)
        return key, held

    def check(self, text: str | None) -> None:
        """Refuse what names no weather, or an upload that is not held any more.

        Raises
        ------
        WeatherError
            Not one of the schemes.
        NotHeld
            The upload is gone.
        """
        if text is None:
            return
        if not SPOKEN.fullmatch(text):
            raise WeatherError(
                f"weather is {text[:100]!r}, expected demo:NAME, station:ID, near:PLACE, or upload:HASH as "
                "/api/weather answered: a client's path is never opened, send the file"
            )
        if text.startswith("upload:") and self._find(text) is None:
            raise NotHeld("The weather file is not held here any more: choose the file again.")

    def is_slow(self, text: str | None, years: str | None) -> bool:
        """Whether opening this weather may wait for a network."""
        return (text or "").startswith(("station:", "near:")) and self._find(_key(text, years)) is None

    def open(self, text: str | None, years: str | None = None) -> Weather:
        """Weather, given its name (None: the invented default) and the years wanted, such as "2015-2024".

        Raises
        ------
        WeatherError, NotHeld
            As `check` and `freecool.weather.open_weather`.
        """
        from freecool.weather import open_weather
        from freecool.weather.years import only_years, year_span

        self.check(text)
        key = _key(text, years)
        found = self._find(key)
        if found is None:
            span = year_span(years)
            if text is not None and text.startswith("upload:"):
                whole = self._find(text)
                if whole is None:
                    raise NotHeld("The weather file is not held here any more: choose the file again.")
                return whole if span is None else only_years(whole, *span)
            found = open_weather(text, years=span)
            self._keep(key, found)
        return found

    def words(self, text: str, years: str | None) -> str:
        """How a person calls this weather."""
        scheme, _, rest = text.partition(":")
        held = self._find(_key(text, years)) or self._find(text)
        if scheme == "upload":
            return f"Your file: {held.location.name}" if held else "Your file: choose it again"
        return f"Station: {held.location.name}" if held else f"{'Station' if scheme == 'station' else 'Near'}: {rest}"

    def _find(self, key: str) -> Weather | None:
        with self._lock:
            self._forget_old()
            held = self._held.get(key)
            if held is None:
                return None
            self._held[key] = _Held(held.weather, self._clock())
            self._held.move_to_end(key)
            return held.weather

    def _keep(self, key: str, weather: Weather) -> None:
        with self._lock:
            self._held[key] = _Held(weather, self._clock())
            self._held.move_to_end(key)
            self._forget_old()
            while len(self._held) > 1 and (
                len(self._held) > MOST_HELD or sum(held.weather.hours for held in self._held.values()) > MOST_HOURS_HELD
            ):
                self._held.popitem(last=False)

    def _forget_old(self) -> None:
        oldest = self._clock() - HELD_S
        while self._held and next(iter(self._held.values())).used < oldest:
            self._held.popitem(last=False)


def _key(text: str | None, years: str | None) -> str:
    return f"{text or 'demo'} {years}" if years else text or "demo"


def _read(content: bytes, name: str, place: Mapping[str, Any]) -> Weather:
    from freecool.weather import open_weather

    with tempfile.TemporaryDirectory(prefix="freecool-upload-") as folder:
        path = Path(folder) / UPLOADED_NAME
        try:
            path.write_bytes(content)
        except OSError as error:
            raise FreecoolError(
                f"The upload cannot be kept ({error.strerror or error}): free space on the server and try again."
            ) from None
        weather = open_weather(path, **place)
    if weather.location.name == UPLOADED_NAME:
        shown = re.sub(r"[^\w .,()-]", "", Path(name.replace("\\", "/")).stem)[:60].strip()
        weather = replace(weather, location=replace(weather.location, name=shown or "uploaded file"))
    return weather
