"""Weather files as text: found, of a sane size, decoded."""

from __future__ import annotations

import codecs
import difflib
import os
from dataclasses import dataclass
from pathlib import Path

from freecool.core.errors import WeatherError
from freecool.core.regular_file import open_regular

LARGEST_FILE_BYTES = 200_000_000
ARCHIVE_SIGNATURES = {b"PK\x03\x04": "zip", b"\x1f\x8b": "gzip", b"7z\xbc\xaf": "7z", b"BZh": "bzip2"}
EXPECTED_FORMATS = "an EPW, TMY3 or TMY2 file, or a plain CSV with a 'time' column"


@dataclass(frozen=True, kw_only=True)
class TextFile:
    """A weather file, decoded once for every reader.

    Attributes
    ----------
    source : str
        The path as it was given.
    name : str
        The file's name, for messages.
    lines : list of str
        Its lines, without their ends.
    """

    source: str
    name: str
    lines: list[str]


def read_text_file(path: str | Path) -> TextFile:
    """A text file, given its path.

    Reads UTF-8 with or without a byte order mark, UTF-16 with one, and Windows Latin-1.

    Parameters
    ----------
    path : str or Path
        Where it lies.

    Returns
    -------
    TextFile
        The file as lines.

    Raises
    ------
    WeatherError
        The file is not there, a folder, empty, too large, packed or no text.
    """
    source, path = str(path), Path(path)
    name = path.name or source
    text = _decode(_content(path, name), name)
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return TextFile(source=source, name=name, lines=lines)


def _content(path: Path, name: str) -> bytes:
    try:
        if path.is_dir():
            raise WeatherError(f"{name} is a folder, expected {EXPECTED_FORMATS}: name a file in it")
        if path.exists() and not path.is_file():
            raise WeatherError(f"{name} is a device or a pipe, expected {EXPECTED_FORMATS}: save it as a file")
        with open_regular(path) as file:
            # It may grow while it is read.
            content = file.read(LARGEST_FILE_BYTES + 1)
            size = os.fstat(file.fileno()).st_size
    except FileNotFoundError:
        raise WeatherError(f"{name}: there is no such file{_did_you_mean(path)}") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise WeatherError(f"{name} cannot be read: {reason}: check the path and the permissions") from None
    if len(content) > LARGEST_FILE_BYTES:
        raise WeatherError(
            f"{name} holds {size / 1e6:,.0f} MB, expected at most {LARGEST_FILE_BYTES / 1e6:.0f} MB: "
            "keep the columns and years that are needed"
        )
    return content


def _decode(content: bytes, name: str) -> str:
    if not content.strip():
        raise WeatherError(f"{name} is empty, expected {EXPECTED_FORMATS}: download or export it again")
    for signature, packing in ARCHIVE_SIGNATURES.items():
        if content.startswith(signature):
            raise WeatherError(f"{name} is a {packing} archive, expected {EXPECTED_FORMATS}: unpack it first")
    wide = content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    for encoding in ("utf-16",) if wide else ("utf-8-sig", "cp1252", "latin-1"):
        try:
            text = content.decode(encoding)
            break
        except UnicodeDecodeError:
            continue
    else:
        raise WeatherError(f"{name} is not readable text, expected {EXPECTED_FORMATS}: save it as UTF-8")
    if any(character < " " and character not in "\t\r\n\f" for character in set(text[:65_536])):
        raise WeatherError(f"{name} holds binary data, expected {EXPECTED_FORMATS}: export it as text")
    return text


def _did_you_mean(path: Path) -> str:
    try:
        names = [entry.name for entry in path.parent.iterdir()]
    except OSError:
        return " and no such folder: check the path"
    close = difflib.get_close_matches(path.name, names, n=1)
    return f"; did you mean {close[0]}?" if close else ": check the path"
