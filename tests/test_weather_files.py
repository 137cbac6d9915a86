"""Reading weather files: published figures, the reference library, every known oddity, and every refusal."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from freecool.core.errors import WeatherError
from freecool.weather import Weather, open_weather
from freecool.weather.readers import text

COLUMNS = ["dry_bulb_c", "dew_point_c", "pressure_pa", "ghi_w_m2", "dni_w_m2", "dhi_w_m2"]
PLACE = "# name: Testing\n# latitude: 40\n# longitude: -90\n# elevation_m: 200\n# utc_offset_h: -6\n"
Find = Callable[[str], Path]


@pytest.fixture(scope="module")
def greensboro(pvlib_weather: Find) -> Weather:
    return open_weather(pvlib_weather("723170TYA.CSV"))


@pytest.fixture(scope="module")
def tmy3_text(pvlib_weather: Find) -> str:
    return pvlib_weather("723170TYA.CSV").read_text()


@pytest.fixture
def save(tmp_path: Path) -> Callable[..., Path]:
    def write(text: str | bytes, name: str = "weather.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def epw_rows(weather: Weather, years: tuple[int, ...] = (1988, 1995)) -> list[list[str]]:
    frame = weather.frame
    rows = []
    for i, (time, values) in enumerate(zip(frame.index, frame.to_numpy(), strict=True)):
        dry_bulb, dew_point, pressure, ghi, dni, dhi = (repr(float(value)) for value in values)
        row = [
            str(years[i // 24 % len(years)]),
            str(time.month),
            str(time.day),
            str(time.hour + 1),
            "60",
            "A7",
        ]
        row += [dry_bulb, dew_point, "50", pressure, "0", "0", "9999", ghi, dni, dhi]
        rows.append(row + ["0"] * 6 + ["5", "5"] + ["0"] * 11)
    return rows


def epw_text(rows: list[list[str]], header_lines: int = 8, city: str = "Greensboro") -> str:
    head = [f"LOCATION,{city},NC,USA,TMY3,723170,36.1,-79.95,-5.0,273.0", "DESIGN CONDITIONS,0"]
    head += ["TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0", "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0"]
    head += ["COMMENTS 1,2 rows of comment", "COMMENTS 2,", "COMMENTS 3,"][: header_lines - 6]
    head += ["DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31"]
    assert len(head) == header_lines
    return "\n".join([*head, *(",".join(row) for row in rows)]) + "\n"


# Mean dry bulb and dew point [degC], hours at 45-70 degF dry bulb and above 60 degF dew point, counted with
# pvlib's own readers from the files that pvlib 0.16.1 carries.
@pytest.mark.parametrize(
    ("file", "dry_bulb", "dew_point", "mild_hours", "damp_hours"),
    [
        ("723170TYA.CSV", 14.42, 8.18, 4_067, 3_010),
        ("703165TY.csv", 4.42, 0.13, 2_562, 0),
        ("12839.tm2", 24.31, 18.78, 1_686, 6_919),
    ],
)
def test_typical_years_that_pvlib_carries(
    file: str,
    dry_bulb: float,
    dew_point: float,
    mild_hours: int,
    damp_hours: int,
    pvlib_weather: Find,
    outside: Callable[..., None],
) -> None:
    weather = open_weather(pvlib_weather(file))
    frame = weather.frame
    fahrenheit = frame["dry_bulb_c"] * 1.8 + 32
    source = f"{file} as pvlib reads it"
    outside(f"mean dry bulb [°C], {file}", source, dry_bulb, frame["dry_bulb_c"].mean(), 0.005)
    outside(f"mean dew point [°C], {file}", source, dew_point, frame["dew_point_c"].mean(), 0.005)
    outside(f"hours at 45–70 °F, {file}", source, mild_hours, int(fahrenheit.between(45, 70).sum()), 0)
    damp = int((frame["dew_point_c"] * 1.8 + 32 > 60).sum())
    outside(f"hours above 60 °F dew point, {file}", source, damp_hours, damp, 0)
    assert weather.typical
    assert weather.years == ()
    assert weather.quality.filled_hours == 0


@pytest.mark.parametrize("file", ["723170TYA.CSV", "703165TY.csv", "12839.tm2"])
def test_every_hour_is_the_reference_readers(file: str, pvlib_weather: Find) -> None:
    # Source: pvlib's readers, row by row; TMY2 temperatures are in tenths, pressures in mbar.
    from pvlib.iotools import read_tmy2, read_tmy3

    path = pvlib_weather(file)
    frame = open_weather(path).frame
    if file.endswith("tm2"):
        data, meta = read_tmy2(path)
        temperatures, names = 0.1, ["DryBulb", "DewPoint", "Pressure", "GHI", "DNI", "DHI"]
    else:
        data, meta = read_tmy3(path, map_variables=True)
        temperatures, names = 1.0, ["temp_air", "temp_dew", "pressure", "ghi", "dni", "dhi"]
    scales = [temperatures, temperatures, 100.0, 1.0, 1.0, 1.0]
    expected = np.column_stack([data[name] * scale for name, scale in zip(names, scales, strict=True)])
    expected[:, 1] = np.minimum(expected[:, 1], expected[:, 0])
    np.testing.assert_allclose(frame[COLUMNS].to_numpy(), expected, rtol=0, atol=1e-9)
    location = open_weather(path).location
    assert (location.latitude, location.longitude) == pytest.approx((meta["latitude"], meta["longitude"]))
    assert (location.elevation_m, location.utc_offset_h) == pytest.approx((meta["altitude"], meta["TZ"]))


@pytest.mark.parametrize("place", ["CO_Golden-NREL.724666", "IL_Chicago.OHare.Intl.AP.725300"])
def test_epw_is_the_reference_readers(place: str, shared_weather: Find) -> None:
    # Source: pvlib.iotools.read_epw, row by row.
    from pvlib.iotools import read_epw

    path = shared_weather(f"USA_{place}_TMY3.epw")
    data, _ = read_epw(path)
    expected = data[["temp_air", "temp_dew", "atmospheric_pressure", "ghi", "dni", "dhi"]].to_numpy(float)
    expected[:, 1] = np.minimum(expected[:, 1], expected[:, 0])
    np.testing.assert_allclose(open_weather(path).frame[COLUMNS].to_numpy(), expected, rtol=0, atol=1e-9)


def test_one_station_in_two_formats(shared_weather: Find, outside: Callable[..., None]) -> None:
    tmy3 = open_weather(shared_weather("724666TYA_GoldenNREL_TMY3.csv"))
    epw = open_weather(shared_weather("USA_CO_Golden-NREL.724666_TMY3.epw"))
    source = "the same station's TMY3 file"
    for column, tolerance in (("dry_bulb_c", 0.05), ("dew_point_c", 0.15), ("pressure_pa", 60.0)):
        apart = (tmy3.frame[column] - epw.frame[column]).abs()
        outside(
            f"Golden EPW, share of hours with equal {column}",
            source,
            1.0,
            float((apart <= tolerance).mean()),
            0.02,
        )
    assert tmy3.frame.index.equals(epw.frame.index)
    assert tmy3.location.utc_offset_h == epw.location.utc_offset_h
    for column in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2"):
        assert tmy3.frame[column].corr(epw.frame[column]) > 0.999


def test_typical_year_lies_on_2018_by_row(greensboro: Weather) -> None:
    index = pd.DatetimeIndex(greensboro.frame.index)
    assert index.name == "time"
    assert index[0].isoformat() == "2018-01-01T00:00:00-05:00"
    assert index[-1].isoformat() == "2018-12-31T23:00:00-05:00"
    assert index[0].day_name() == "Monday"
    assert "typical year" in repr(greensboro)


def test_epw_round_trip(greensboro: Weather, save: Callable[..., Path]) -> None:
    weather = open_weather(save(epw_text(epw_rows(greensboro)), "a.epw"))
    assert weather.kind == "EPW"
    pd.testing.assert_frame_equal(weather.frame, greensboro.frame)


@pytest.mark.parametrize("header_lines", [7, 8, 9])
def test_epw_with_other_header_lengths(header_lines: int, greensboro: Weather, save: Callable[..., Path]) -> None:
    weather = open_weather(save(epw_text(epw_rows(greensboro), header_lines), "a.epw"))
    pd.testing.assert_frame_equal(weather.frame, greensboro.frame)


@pytest.mark.parametrize("city", ["Greensboro, Piedmont", '"Greensboro, Piedmont"'])
def test_epw_with_comma_in_city(city: str, greensboro: Weather, save: Callable[..., Path]) -> None:
    weather = open_weather(save(epw_text(epw_rows(greensboro), city=city), "a.epw"))
    assert weather.location.name == "Greensboro, Piedmont"
    assert weather.location.latitude == 36.1


@pytest.mark.parametrize("encoding", ["latin-1", "utf-8", "utf-8-sig", "utf-16"])
def test_epw_in_any_encoding(encoding: str, greensboro: Weather, save: Callable[..., Path]) -> None:
    content = epw_text(epw_rows(greensboro), city="Besançon").encode(encoding)
    assert open_weather(save(content, "a.epw")).location.name == "Besançon"


@pytest.mark.parametrize("width", [33, 36])
def test_epw_with_other_widths(width: int, greensboro: Weather, save: Callable[..., Path]) -> None:
    rows = [[*row, "0"][:width] for row in epw_rows(greensboro)]
    pd.testing.assert_frame_equal(open_weather(save(epw_text(rows), "a.epw")).frame, greensboro.frame)


def test_epw_with_hours_from_zero(greensboro: Weather, save: Callable[..., Path]) -> None:
    rows = [[*row[:3], str(int(row[3]) - 1), *row[4:]] for row in epw_rows(greensboro)]
    pd.testing.assert_frame_equal(open_weather(save(epw_text(rows), "a.epw")).frame, greensboro.frame)


def test_epw_of_one_year_is_that_year(greensboro: Weather, save: Callable[..., Path]) -> None:
    weather = open_weather(save(epw_text(epw_rows(greensboro, (2019,))), "a.epw"))
    assert weather.years == (2019,)
    assert not weather.typical
    assert weather.frame.index[0].isoformat() == "2019-01-01T00:00:00-05:00"


def test_epw_sentinels_are_filled_and_counted(greensboro: Weather, save: Callable[..., Path]) -> None:
    rows = epw_rows(greensboro)
    rows[100][6], rows[200][7], rows[300][9], rows[412][13] = "99.9", "99.9", "999999", "9999"
    weather = open_weather(save(epw_text(rows), "a.epw"))
    assert weather.quality.filled_hours == 4
    assert [notice.code for notice in weather.notices] == ["filled_weather"]
    expected = (greensboro.frame["dry_bulb_c"].iloc[99] + greensboro.frame["dry_bulb_c"].iloc[101]) / 2
    assert weather.frame["dry_bulb_c"].iloc[100] == pytest.approx(expected)
    assert weather.frame["pressure_pa"].max() < 110_000


@pytest.mark.parametrize(
    ("what", "change"),
    [
        ("cut off", lambda text: text[: len(text) // 2]),
        ("holds 8,000 hourly rows", lambda text: "\n".join(text.split("\n")[:8_008])),
        ("expected LOCATION, city", lambda text: text.replace(",36.1,-79.95,-5.0,273.0", "")),
        ("latitude is 361", lambda text: text.replace(",36.1,", ",361,")),
        ("expected a whole number", lambda text: text.replace("1995,1,2,5,60", "1995,1,x,5,60")),
        (
            "expected the hour from 2 January 04:00",
            lambda text: text.replace("1995,1,2,5,60", "1995,1,2,6,60"),
        ),
    ],
)
def test_epw_refusals(what: str, change: Callable[[str], str], greensboro: Weather, save: Callable[..., Path]) -> None:
    with pytest.raises(WeatherError, match=what) as caught:
        open_weather(save(change(epw_text(epw_rows(greensboro))), "a.epw"))
    assert str(caught.value).startswith("a.epw ")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "header",
    [
        '\ufeff723170,"GREENSBORO PIEDMONT TRIAD INT",NC,-5.0,36.100,-79.950,273',
        'A12X70,"GREENSBORO PIEDMONT TRIAD INT",NC,-5.0,36.100,-79.950,273',
        '723170,"GREENSBORO, PIEDMONT",NC,-5.0,36.100,-79.950,273',
        "723170,GREENSBORO, PIEDMONT,NC,-5.0,36.100,-79.950,273",
    ],
)
def test_tmy3_header_oddities(header: str, tmy3_text: str, greensboro: Weather, save: Callable[..., Path]) -> None:
    weather = open_weather(save(header + tmy3_text[tmy3_text.index("\n") :]))
    assert weather.kind == "TMY3"
    assert weather.location.name.startswith("GREENSBORO")
    assert (weather.location.latitude, weather.location.elevation_m) == (36.1, 273.0)
    pd.testing.assert_frame_equal(weather.frame, greensboro.frame)


def test_tmy3_midnight_as_zero_of_the_next_day(tmy3_text: str, greensboro: Weather, save: Callable[..., Path]) -> None:
    lines = tmy3_text.splitlines()
    times = pd.date_range("1988-01-01 01:00", periods=8_760, freq="h")
    times = times.where(times < "1988-02-29", times + pd.Timedelta(days=1))  # type: ignore[operator]
    for row, time in enumerate(times, start=2):
        lines[row] = f"{time:%m/%d/%Y,%H:%M}," + lines[row].split(",", 2)[2]
    pd.testing.assert_frame_equal(open_weather(save("\n".join(lines))).frame, greensboro.frame)


def test_tmy3_missing_mark_is_filled(tmy3_text: str, save: Callable[..., Path]) -> None:
    lines = tmy3_text.splitlines()
    place = lines[1].split(",").index("Dew-point (C)")
    for row in range(1_000, 1_010):
        fields = lines[row].split(",")
        fields[place] = "-9900"
        lines[row] = ",".join(fields)
    weather = open_weather(save("\n".join(lines)))
    assert weather.quality.filled_hours == 10
    assert "outdoor dew point 10 h from adjacent days" in weather.quality.notes


def test_sources_that_are_no_weather(save: Callable[..., Path], tmp_path: Path) -> None:
    save("time,x\n", "other.txt")
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "link.csv").symlink_to(tmp_path / "pipe.csv")
    for source, expected in (
        (save("", "empty.csv"), "is empty"),
        (save("hello\nworld\n", "prose.txt"), "no weather file that is known"),
        (save(b"\x00\x01\x02" * 99, "noise.csv"), "binary"),
        (save(b"PK\x03\x04" + b"a" * 99, "packed.epw"), "zip archive, .* unpack"),
        (save("a;time;dry_bulb_c\n1;2;3\n", "semi.csv"), "separated by ';'"),
        (tmp_path, "is a folder"),
        (tmp_path / "pipe.csv", "is a device or a pipe"),
        (tmp_path / "link.csv", "is a device or a pipe"),
        (tmp_path / "otter.txt", r"no such file; did you mean other\.txt\?"),
        (tmp_path / "nowhere" / "a.epw", "no such folder"),
        ("demo:moon", "expected one of high-desert, humid-coast, mixed-inland"),
        ("", "no weather source was given"),
    ):
        with pytest.raises(WeatherError, match=expected) as caught:
            open_weather(source)
        assert "\n" not in str(caught.value)


def test_a_file_is_read_up_to_its_bound_and_no_further(
    save: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(text, "LARGEST_FILE_BYTES", 1_000_000)
    with pytest.raises(WeatherError, match=r"long\.csv holds 3 MB, expected at most 1 MB: keep the columns and years"):
        open_weather(save("# a line\n" * 300_000, "long.csv"))


def test_nothing_asked_is_the_default_demo() -> None:
    assert open_weather().source == "demo:mixed-inland"
    assert open_weather("demo:humid-coast").invented


def test_place_given_twice_is_refused(pvlib_weather: Find) -> None:
    with pytest.raises(WeatherError, match="states its own place: leave out latitude"):
        open_weather(pvlib_weather("723170TYA.CSV"), latitude=40.0)


def test_reading_and_nine_planes(benchmark: Callable[..., Weather], pvlib_weather: Find) -> None:
    from freecool.weather import Sun

    def read() -> Weather:
        weather = open_weather(pvlib_weather("723170TYA.CSV"))
        sun = Sun(weather)
        for azimuth in range(0, 360, 40):
            sun.on_plane(90.0, azimuth)
        return weather

    assert benchmark(read).hours == 8_760


def test_negative_light_at_night_is_zero(greensboro: Weather, save: Callable[..., Path]) -> None:
    rows = epw_rows(greensboro)
    rows[0][13], rows[1][15] = "-3", "-1.5"
    weather = open_weather(save(epw_text(rows), "a.epw"))
    assert (weather.frame[["ghi_w_m2", "dhi_w_m2"]].iloc[:2] == 0.0).all().all()
