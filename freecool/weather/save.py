"""A Weather written as a plain CSV that reads back the same."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from freecool.core.atomic_file import atomic_file
from freecool.weather.model import Weather


def save_weather(weather: Weather, path: str | Path) -> None:
    """Write a plain CSV, whole or not at all, given a weather and a path.

    The lines before the header tell place, attribution and every caution; times are local standard time.

    Parameters
    ----------
    weather : Weather
        What to write.
    path : str or Path
        Where; an existing file is replaced.

    Raises
    ------
    FreecoolError
        The file cannot be written.
    """
    text = "".join(f"# {key}: {value}\n" for key, value in _head(weather)) + _rows(weather)
    with atomic_file(path) as whole:
        whole.write_text(text, encoding="utf-8")


def _head(weather: Weather) -> list[tuple[str, str]]:
    location = weather.location
    head = [
        ("name", location.name),
        ("latitude", f"{location.latitude!r}"),
        ("longitude", f"{location.longitude!r}"),
        ("elevation_m", f"{location.elevation_m!r}"),
        ("utc_offset_h", f"{location.utc_offset_h!r}"),
        ("attribution", weather.attribution),
        ("source", f"{weather.source} ({weather.kind})"),
        ("typical", "yes" if weather.typical else "no"),
        ("air_at", weather.air_at),
        *(("notice", f"{notice.code}: {notice.text}") for notice in weather.notices),
    ]
    return [(key, " ".join(value.split())) for key, value in head if value]


def _rows(weather: Weather) -> str:
    index = pd.DatetimeIndex(weather.frame.index)
    table = weather.frame.set_axis(index.tz_localize(None).strftime("%Y-%m-%d %H:%M"))
    return table.to_csv(float_format="%.7f", index_label="time", lineterminator="\n")
