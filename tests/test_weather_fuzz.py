"""Damaged files of every kind: either one sentence, or a Weather that keeps its promises."""

from __future__ import annotations

import tempfile
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from stress import amount

from freecool.core.errors import WeatherError
from freecool.weather import Weather, open_weather
from freecool.weather.columns import WEATHER_COLUMNS

many = settings(max_examples=amount(10, 50), suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


@cache
def texts() -> dict[str, str]:
    folder = Path(pvlib.__file__).parent / "data"
    tmy3 = (folder / "723170TYA.CSV").read_text()
    frame = open_weather(folder / "723170TYA.CSV").frame
    plain = frame.set_axis(pd.DatetimeIndex(frame.index).tz_localize(None)).round(2)
    place = "# latitude: 36.1\n# longitude: -79.95\n# elevation_m: 273\n# utc_offset_h: -5\n"
    rows = [
        f"1988,{t.month},{t.day},{t.hour + 1},60,A,{v[0]},{v[1]},50,{v[2]},0,0,300,{v[3]},{v[4]},{v[5]}" + ",0" * 19
        for t, v in zip(plain.index, plain.to_numpy(), strict=True)
    ]
    head = ["LOCATION,Town,NC,USA,TMY3,723170,36.1,-79.95,-5.0,273.0", *["COMMENTS"] * 7]
    return {
        "a.csv": tmy3,
        "b.epw": "\n".join(head + rows),
        "c.csv": place + plain.to_csv(index_label="time"),
        "d.tm2": (folder / "12839.tm2").read_text(),
    }


def survives(content: bytes, name: str) -> None:
    """Open it: one plain sentence, or a Weather within its contract."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        try:
            weather = open_weather(path)
        except WeatherError as error:
            message = str(error)
            assert message.startswith(name)
            assert "\n" not in message
            assert len(message) < 2_000
            return
    check(weather)


def check(weather: Weather) -> None:
    frame = weather.frame
    index = pd.DatetimeIndex(frame.index)
    assert weather.hours >= 8_760
    assert (np.diff(index.asi8) == np.diff(index.asi8)[0]).all()
    told = list(WEATHER_COLUMNS)
    assert np.isfinite(frame[told].to_numpy()).all()
    assert not np.isinf(frame.drop(columns=told).to_numpy()).any()
    assert (frame["dew_point_c"] <= frame["dry_bulb_c"]).all()
    assert frame["dry_bulb_c"].between(-90, 60).all()
    assert frame["pressure_pa"].between(45_000, 110_000).all()
    assert (frame[["ghi_w_m2", "dni_w_m2", "dhi_w_m2"]] >= 0).all().all()
    assert weather.quality.hours == weather.hours
    assert bool(weather.quality.filled_hours) == any(notice.code == "filled_weather" for notice in weather.notices)


names = st.sampled_from(["a.csv", "b.epw", "c.csv", "d.tm2"])
fields = st.one_of(
    st.sampled_from(
        ["", "nan", "-9900", "9999", "99.9", "1e400", "-inf", "1_0", "²", "x" * 200_000, '"', "#", "24:00"]
    ),
    st.floats(allow_nan=False).map(str),
    st.text(max_size=12),
)


def test_undamaged_files_open() -> None:
    for name, text in texts().items():
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / name
            path.write_text(text)
            check(open_weather(path))


@many
@given(names, st.floats(0, 1))
def test_truncated(name: str, share: float) -> None:
    text = texts()[name]
    survives(text[: int(len(text) * share)].encode(), name)


@many
@given(names, st.lists(st.tuples(st.integers(0, 8_769), st.integers(0, 70), fields), min_size=1, max_size=6))
def test_fields_replaced(name: str, changes: list[tuple[int, int, str]]) -> None:
    lines = texts()[name].split("\n")
    for row, place, field in changes:
        row %= len(lines)
        parts = lines[row].split(",")
        parts[place % len(parts)] = field
        lines[row] = ",".join(parts)
    survives("\n".join(lines).encode("utf-8", "surrogatepass"), name)


@many
@given(names, st.integers(0, 12), st.lists(st.integers(0, 8_700), min_size=2, max_size=6), st.booleans())
def test_lines_dropped_doubled_or_swapped(name: str, head: int, rows: list[int], drop: bool) -> None:
    lines = texts()[name].split("\n")
    if drop:
        del lines[head]
    for first, second in pairwise(rows):
        first, second = first % len(lines), second % len(lines)
        if first % 3 == 0:
            lines[first], lines[second] = lines[second], lines[first]
        elif first % 3 == 1:
            lines.insert(second, lines[first])
        else:
            del lines[first]
    survives("\n".join(lines).encode(), name)


@many
@given(names, st.integers(0, 1_600_000), st.binary(min_size=1, max_size=200))
def test_bytes_overwritten(name: str, place: int, noise: bytes) -> None:
    content = bytearray(texts()[name].encode())
    place %= len(content)
    content[place : place + len(noise)] = noise
    survives(bytes(content), name)


@many
@given(st.binary(max_size=2_000), names)
def test_noise(noise: bytes, name: str) -> None:
    survives(noise, name)


@many
@given(
    st.text(max_size=500),
    st.sampled_from(["LOCATION,", "x\nDate (MM/DD/YYYY),", "time,dry_bulb_c,dew_point_c\n", ""]),
)
def test_any_text_behind_a_known_beginning(text: str, beginning: str) -> None:
    survives((beginning + text).encode("utf-8", "surrogatepass"), "a.csv")


@many
@given(
    st.sampled_from(["dry_bulb_c", "dew_point_c", "pressure_pa", "ghi_w_m2"]),
    st.floats(1e-3, 1e3),
    st.floats(-500, 500),
)
def test_any_unit_is_refused_or_within_range(column: str, scale: float, offset: float) -> None:
    head, _, body = texts()["c.csv"].partition("time,")
    lines = ("time," + body).strip().split("\n")
    place = lines[0].split(",").index(column)
    changed = [lines[0]]
    for line in lines[1:]:
        parts = line.split(",")
        parts[place] = repr(float(parts[place]) * scale + offset)
        changed.append(",".join(parts))
    survives((head + "\n".join(changed)).encode(), "c.csv")
