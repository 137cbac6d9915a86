"""Bills are read as they stand, from CSV and from the open Green Button format, and what is no bill is refused."""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_bills import CLOCK, DENVER, green_button, quarter_hours, reading
from stress import amount

from freecool import read_bills
from freecool.bills import read
from freecool.bills.espi_clock import Changeover, EspiClock
from freecool.core.errors import BillsError

Write = Callable[[str, str], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def written(name: str, text: str) -> Path:
        (tmp_path / name).write_text(text, encoding="utf-8")
        return tmp_path / name

    return written


def periods(path: Path) -> list[tuple[str, str, float]]:
    return [(str(bill.start), str(bill.end), round(bill.kwh, 9)) for bill in read_bills(path).periods]


@pytest.mark.parametrize(
    "rows",
    [
        "2024-01-05,2024-02-06,500\n2024-02-06,2024-03-05,400.5",
        "2024-02-06,2024-03-05,400.5\n2024-01-05,2024-02-06,500\n\n",
        # The last day in place of the day of the reading.
        "2024-01-05,2024-02-05,500\n2024-02-06,2024-03-04,400.5",
    ],
    ids=["dates of readings", "any order", "last days"],
)
def test_a_csv_is_read(rows: str, write: Write) -> None:
    path = write("bills.csv", f"# invented\nstart,end,kWh\n{rows}\n")
    assert periods(path) == [("2024-01-05", "2024-02-06", 500.0), ("2024-02-06", "2024-03-05", 400.5)]


@pytest.mark.parametrize("last", [0, 1], ids=["last days", "dates of readings"])
def test_days_are_read_with_one_missing(last: int, write: Write) -> None:
    rows = [f"2024-01-{day:02d},2024-01-{day + last:02d},{day}" for day in (1, 2, 4, 5)]
    path = write("days.csv", "\n".join(["start,end,kwh", *rows]))
    assert periods(path) == [(f"2024-01-0{day}", f"2024-01-0{day + 1}", float(day)) for day in (1, 2, 4, 5)]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "is empty"),
        ("begin,end,kwh\n", "start is not there"),
        ("start;end;kwh\n", "separated by commas"),
        ("start,end,kwh\n", "holds no billing period"),
        ("start,end,kwh\n1/5/2024,2024-02-06,500\n", "row 2: start is '1/5/2024', expected a date such as 2024-07-15"),
        ("start,end,kwh\n2024-01-05,2024-02-06,much\n", "row 2: kwh is 'much', expected a number"),
        ("start,end,kwh\n2024-01-05,2024-02-06,nan\n", "expected a number"),
        ("start,end,kwh\n2024-01-05,2024-02-06\n", "row 2: kwh is ''"),
        ("start,end,kwh\n2024-01-05,2024-02-06,1,500\n", "row 2: 4 fields, expected 3"),
        ("start,end,kwh,estimated\n2024-01-05,2024-02-06,1,maybe\n", "expected yes, no or nothing"),
        ("start,end,kwh\n2024-02-06,2024-01-05,500\n", "expected a first day and a later last one"),
        ("start,end,kwh\n2024-01-05,2024-07-05,500\n", "lasts 182 days, expected at most 100"),
        ("start,end,kwh\n2024-01-05,2024-02-06,1\n2024-02-01,2024-03-01,1\n", "2024-01-05 and from 2024-02-01 overlap"),
        ("<html/>", "is no Green Button file"),
        ("<feed", "is no readable XML"),
    ],
)
def test_what_is_wrong_is_told(text: str, told: str, write: Write) -> None:
    with pytest.raises(BillsError) as caught:
        read_bills(write("bills.csv", text))
    assert told in str(caught.value)


def test_files_that_are_none_or_too_large_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for path in (tmp_path, tmp_path / "none.csv"):
        with pytest.raises(BillsError, match="cannot be read"):
            read_bills(path)
    (tmp_path / "large.csv").write_bytes(b"x" * 101)
    monkeypatch.setattr(read, "LARGEST_FILE_BYTES", 100)
    with pytest.raises(BillsError, match="more than 100 bytes"):
        read_bills(tmp_path / "large.csv")


def watt_hours(day: date) -> int:
    return 9_600 + 100 * day.day


def test_a_green_button_file_reads_as_its_csv(write: Write) -> None:
    # Ten days with a day of 23 hours and, in autumn, one of 25, in quarters of an hour with two tiers, in tenths of Wh.
    spans = [date(2024, 3, 6), date(2024, 10, 30)]
    readings = [text for first in spans for text in quarter_hours(first, 10, lambda day: 10 * watt_hours(day))]
    xml = write("bills.xml", green_button([(readings, {"power": -1})]))
    days = [first + timedelta(days=number) for first in spans for number in range(10)]
    rows = [f"{day},{day + timedelta(days=1)},{watt_hours(day) / 1000}" for day in days]
    assert periods(xml) == periods(write("bills.csv", "start,end,kwh\n" + "\n".join(rows)))
    assert len(periods(xml)) == 20


def test_no_name_and_no_account_is_read(write: Write) -> None:
    bills = read_bills(write("bills.xml", green_button([(quarter_hours(date(2024, 3, 6), 2, watt_hours), {})])))
    assert not any(text in repr(bills) for text in ("Nonymous", "4711"))


MONTHS_S = [int(datetime(2024, month, 1, tzinfo=DENVER).timestamp()) for month in (1, 2, 3)]
MONTHLY = [
    reading(MONTHS_S[0], MONTHS_S[1] - MONTHS_S[0], 500, quality=8),
    reading(MONTHS_S[1], MONTHS_S[2] - MONTHS_S[1], 400, quality=17),
]


@pytest.mark.parametrize("clock", [CLOCK, ""], ids=["with its clock", "without"])
def test_monthly_readings_are_periods(clock: str, write: Write) -> None:
    path = write("bills.xml", green_button([(MONTHLY, {"power": 3})], clock))
    assert periods(path) == [("2024-01-01", "2024-02-01", 500.0), ("2024-02-01", "2024-03-01", 400.0)]
    assert [bill.estimated for bill in read_bills(path).periods] == [True, False]


def test_of_several_series_the_finest_counts_and_what_goes_back_is_told(write: Write) -> None:
    day = date(2024, 1, 10)
    power, back = reading(MONTHS_S[0], 900, 5), reading(MONTHS_S[0], 900, 3)
    series: list[tuple[list[str], dict[str, object]]] = [
        (quarter_hours(day, 3, watt_hours), {}),
        (MONTHLY, {"power": 3}),
        ([power], {"uom": 38}),
    ]
    bills = read_bills(write("bills.xml", green_button(series)))
    assert [bill.kwh for bill in bills.periods] == pytest.approx([10.6, 10.7, 10.8])
    assert (bills.exports, [notice.code for notice in bills.notices]) == (False, ["series_left_out"])
    assert read_bills(write("bills.xml", green_button([*series, ([back], {"flow": 19})]))).exports


def test_days_that_lack_readings_are_left_out_and_repeats_count_once(write: Write) -> None:
    readings = quarter_hours(date(2024, 1, 10), 3, watt_hours)
    bills = read_bills(write("bills.xml", green_button([([*readings[2:], readings[-1]], {})])))
    assert [str(bill.start) for bill in bills.periods] == ["2024-01-11", "2024-01-12"]
    assert [notice.code for notice in bills.notices] == ["repeated_readings", "days_left_out"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (green_button([(MONTHLY, {})], services=(0, 0)), "holds 2 electricity meters, expected one"),
        (green_button([(MONTHLY, {"uom": 38})]), "holds no electricity from the grid in watt hours"),
        (green_button([]), "has no readings"),
        (green_button([(MONTHLY, {"power": 40})]), "powerOfTenMultiplier is '40'"),
        (green_button([([reading(0, -5, 1)], {})]), "an IntervalReading holds"),
        (green_button([([reading(10**18, 900, 1)], {})]), "an IntervalReading holds"),
        (green_button([([reading(0, 900, 1)], {})], ""), "does not tell its clock"),
        (green_button([(MONTHLY, {})], CLOCK.replace("B40E2000", "zz")), "LocalTimeParameters are no clock"),
        (green_button([([MONTHLY[0], MONTHLY[0].replace("500", "501")], {})]), "of one interval"),
        (
            '<!DOCTYPE feed [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]>' + green_button([(MONTHLY, {})])[21:],
            "declares a document type",
        ),
        ('<!DOCTYPE feed SYSTEM "file:///etc/hostname">' + green_button([(MONTHLY, {})])[21:], "a document type"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_green_button_file_is_told(text: str, told: str, write: Write) -> None:
    with pytest.raises(BillsError) as caught:
        read_bills(write("bills.xml", text))
    assert told in str(caught.value)


def test_a_clock_may_be_given(write: Write) -> None:
    path = write("bills.xml", green_button([(quarter_hours(date(2024, 3, 9), 3, watt_hours), {})], ""))
    given = read_bills(path, time_zone="America/Denver")
    assert [bill.kwh for bill in given.periods] == pytest.approx([10.5, 10.6, 10.7])
    with pytest.raises(BillsError, match="expected an IANA name"):
        read_bills(path, time_zone="Denver")


@pytest.mark.parametrize(
    ("zone", "told"),
    [
        ("America/Denver", (-25_200, 3_600, "360E2000", "B40E2000")),
        # The last Sundays of March and October; in Sydney the first ones of October and April.
        ("Europe/Berlin", (3_600, 3_600, "3E0E2000", "AE0E3000")),
        ("Australia/Sydney", (36_000, 3_600, "A40E2000", "440E3000")),
    ],
)
def test_the_clock_is_that_of_the_time_zone_database(zone: str, told: tuple[int, int, str, str]) -> None:
    offset, saving, start, end = told
    clock = EspiClock(timedelta(seconds=offset), timedelta(seconds=saving), Changeover.of(start), Changeover.of(end))
    first = int(datetime(2024, 1, 1, tzinfo=UTC).timestamp())
    for second in range(first, first + 366 * 86_400, 1_800):
        ours, theirs = (datetime.fromtimestamp(second, one) for one in (clock, ZoneInfo(zone)))
        assert (ours.replace(tzinfo=None), ours.fold) == (theirs.replace(tzinfo=None), theirs.fold)
        assert ours.timestamp() == second


@pytest.mark.parametrize("text", ["00000000", "D40E2000", "36002000", "30002000", "x"])
def test_a_changeover_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        Changeover.of(text)


SEEDS = (green_button([(MONTHLY, {"power": 3})]).encode(), b"start,end,kwh\n2024-01-05,2024-02-06,500\n")


@given(st.sampled_from(SEEDS), st.data())
@settings(max_examples=amount(60, 300))
def test_damaged_files_are_read_or_refused_in_a_sentence(seed: bytes, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(seed) - 1))
    cut = data.draw(st.integers(0, 30))
    put = data.draw(st.sampled_from((b"", b"\0", b"-", b"9" * 25, b"1e999", b"nan", b"<a>", b"&x;", b",,", b"\xff")))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bills"
        path.write_bytes(seed[:place] + put + seed[place + cut :])
        with contextlib.suppress(BillsError):
            assert read_bills(path).days > 0
