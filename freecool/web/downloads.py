"""What a page lets one keep, as the command line writes it."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from fastapi.responses import Response

from freecool.core.units import System
from freecool.show.files import write_table


def sheet_text(sweep: Any, outdoor_c: float, return_c: float, units: System) -> str:
    """The commissioning sheet of a pick, given the outdoor and return air of its day [degC] and the unit system."""
    from freecool.answers.commissioning import commissioning
    from freecool.show.sheet import sheet_html

    pressure = float(sweep.weather.frame["pressure_pa"].mean())
    return sheet_html(sweep, commissioning(sweep.picked_case(), outdoor_c, return_c, pressure), units)


def table_text(table: Any) -> str:
    """A table as the command line writes it."""
    with tempfile.TemporaryDirectory(prefix="freecool-table-") as folder:
        path = Path(folder) / "table.csv"
        write_table(table, path)
        return path.read_text("utf-8")


def attached(content: str | bytes, file: str) -> Response:
    """A content as a file to keep, given its name, whose ending tells its kind."""
    kinds = {"html": "text/html", "csv": "text/csv", "toml": "application/toml", "pdf": "application/pdf"}
    kind = f"{kinds[file.rpartition('.')[2]]}{'; charset=utf-8' if isinstance(content, str) else ''}"
    return Response(
        content, media_type=kind, headers={"content-disposition": f'attachment; filename="freecool-{file}"'}
    )
