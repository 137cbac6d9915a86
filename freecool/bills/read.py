"""Bills from a file of either form, which never leave this machine."""

from __future__ import annotations

from pathlib import Path

from freecool.bills.csv import read_csv
from freecool.bills.green_button import read_green_button
from freecool.bills.model import Bills
from freecool.core.errors import BillsError
from freecool.core.regular_file import read_regular

LARGEST_FILE_BYTES = 50_000_000
"""Some three years of quarter hours in Green Button; our own."""


def read_bills(path: str | Path, *, time_zone: str | None = None) -> Bills:
    """Electricity bills, given a file: a CSV with start, end and kwh, or the open Green Button format (NAESB ESPI XML).

    Names, addresses and account numbers in the file are not read. Readings finer than a day are summed by day.

    Parameters
    ----------
    path : str or Path
        Of the file.
    time_zone : str, optional
        IANA name such as "America/Denver", for a Green Button file with readings finer than a day that does not tell
        its own clock.

    Returns
    -------
    Bills
        In order of time.

    Raises
    ------
    BillsError
        The file cannot be read, is too large, or is not what it should be; all faults of its rows in one message.
    """
    name = Path(path).name
    try:
        content = read_regular(Path(path), LARGEST_FILE_BYTES)
    except OSError as error:
        raise BillsError(f"{name} cannot be read: {error.strerror or error}: check the path.") from None
    if content.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<") or content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return read_green_button(content, name, time_zone=time_zone)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BillsError(f"{name} is no text, expected CSV or Green Button XML: save it as UTF-8.") from None
    return read_csv(text, name)
