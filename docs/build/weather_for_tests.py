"""The weather that the tests use, cut to its figures: ``python docs/build/weather_for_tests.py FOLDER``.

FOLDER holds the original files. Each is written to ``tests/weather/NAME.gz`` as a file of its own format in which the
columns that no test uses carry the format's mark of a missing value; the table of `README.md` there is printed.
"""

from __future__ import annotations

import gzip
import hashlib
import sys
from collections.abc import Iterator
from pathlib import Path

KEPT = Path(__file__).parents[2] / "tests" / "weather"
# By the data dictionary of the format (EPW): what stands in a column that is not kept, by its place. Kept are
# time, dry bulb, dew point, relative humidity, pressure, horizontal infrared, sun, wind, and cloud cover.
EPW_MISSING = {
    5: "?", 10: "9999", 11: "9999", 16: "999999", 17: "999999", 18: "999999", 19: "9999", 24: "9999", 25: "99999",
    26: "9", 27: "999999999", 28: "999", 29: ".999", 30: "999", 31: "99", 32: "999", 33: "999", 34: "99",
}  # fmt: skip
TMY3_KEPT = (
    "Date (MM/DD/YYYY)", "Time (HH:MM)", "GHI (W/m^2)", "DNI (W/m^2)", "DHI (W/m^2)", "TotCld (tenths)",
    "OpqCld (tenths)", "Dry-bulb (C)", "Dew-point (C)", "RHum (%)", "Pressure (mbar)", "Wdir (degrees)", "Wspd (m/s)",
)  # fmt: skip
TMY3_MISSING = "-9900"
# TMY1, "Typical Meteorological Year User's Manual", TD-9734, from memory: station and time, standard time of the solar
# hour, direct and global irradiation, pressure, dry bulb and dew point. The rest are 9s.
TMY1_KEPT = (slice(0, 19), slice(24, 28), slice(54, 58), slice(98, 111))


def cut_epw(lines: list[str]) -> Iterator[str]:
    """Lines of an EPW file with only the columns kept; its eight header lines stay."""
    yield from lines[:8]
    for line in lines[8:]:
        yield ",".join(EPW_MISSING.get(place, field) for place, field in enumerate(line.split(",")))


def cut_tmy3(lines: list[str]) -> Iterator[str]:
    """Lines of a TMY3 file with only the columns kept; its two header lines stay."""
    yield from lines[:2]
    kept = [title in TMY3_KEPT for title in lines[1].split(",")]
    for line in lines[2:]:
        yield ",".join(field if keep else TMY3_MISSING for field, keep in zip(line.split(","), kept, strict=True))


def cut_tmy1(lines: list[str]) -> Iterator[str]:
    """Lines of a TMY1 file with only the columns kept."""
    for line in lines:
        cut = ["9"] * len(line)
        for part in TMY1_KEPT:
            cut[part] = line[part]
        yield "".join(cut)


CUTS = {".epw": cut_epw, ".csv": cut_tmy3, ".TMY": cut_tmy1}


def main(folder: Path) -> None:
    """Write each file of a folder of originals, and print the row that names its original."""
    for path in sorted(path for path in folder.iterdir() if path.suffix in CUTS):
        lines = path.read_text(encoding="ascii").splitlines()
        text = "".join(f"{line}\n" for line in CUTS[path.suffix](lines))
        # Without a time in its head, the same figures are the same file.
        (KEPT / f"{path.name}.gz").write_bytes(gzip.compress(text.encode("ascii"), mtime=0))
        print(f"| `{path.name}` | `{hashlib.sha256(path.read_bytes()).hexdigest()}` |")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
