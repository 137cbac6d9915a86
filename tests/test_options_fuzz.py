"""Made-up options, case files and lists: each ends in an answer or one plain refusal, never in a traceback."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest
import stress
import tomli_w
from test_cli import freecool

from freecool.cases.fields import CaseField
from freecool.cases.model import case_fields
from freecool.core.errors import CONTROL, MOST_CHARACTERS

FIELDS = list(case_fields().values())
TEXTS = (
    "", " ", "0", "-0", "nan", "inf", "-inf", "1e308", "1e-308", "9" * 400, "none", "true", "False", "°F", "75", "75F",
    "24C", "1200 cfm", "12 EER", "3ton", "0x10", "１２", "1_000", "7-18", "0-24", "24", "mon-fri", "jun", "=1+1",
    "\ud800", "{}", "{years}", "%s", "a\nb", "\u202e", "🜁", "x" * 5000, ",", ";", "'", '"', "\\", "demo:", "near:0",
)  # fmt: skip
VALUES: tuple[Any, ...] = (
    *TEXTS,
    0,
    -1,
    1,
    5,
    75,
    1e9,
    -1e300,
    float("inf"),
    float("nan"),
    True,
    False,
    [],
    [1],
    [[]],
    {},
    {"a": 1},
)
# An option, and a word for it that is fit for most cases.
OPTIONS = {
    "--building": "shop", "--setpoint": "75F", "--differential": "3K", "--rule": "return-differential",
    "--flow": "1100cfm", "--fan": "0.4 W/cfm", "--price": "0.2", "--installed-cost": "900",
    "--enthalpy-limit": "28 Btu/lb", "--dew-point-limit": "55F", "--high-limit": "68F", "--precool": "2F",
    "--windows": "some", "--zone": "4A", "--set": "", "--years": "2015-2024", "--latitude": "40", "--longitude": "-100",
    "--elevation": "900ft", "--utc-offset": "-7", "--units": "si", "--case": "no.toml", "--hourly": "", "--report": "",
    "--demo": "office", "--offline": "", "--allow-gaps": "", "--json": "",
}  # fmt: skip
SWITCHES = ("--offline", "--allow-gaps", "--json")
SOURCES = (
    None,
    "demo:high-desert",
    "demo:humid-coast",
    "demo:x",
    "station:",
    "near:nowhere at all",
    ".",
    "missing.epw",
)
CASES = stress.amount(50, 300)
LISTS = stress.amount(2, 4)


def judged(seed: Any, *words: str) -> int:
    """The exit code of a command, whose words are as they must be whatever was given."""
    run = freecool(*words)
    told = f"seed {seed}: freecool {words!r}\n{run.errors[-2000:]}"
    assert run.code in (0, 2), told
    assert "Traceback" not in run.errors + run.output, told
    assert not CONTROL.search(run.errors + run.output), told
    assert "unforeseen" not in run.output, told
    if run.code == 2:
        lines = [line for line in run.errors.strip().splitlines() if not line.startswith("First run")]
        # What the parser of options refuses has its usage above it.
        assert len(lines) == 1 or lines[0].startswith("Usage: "), told
        assert len(run.errors) < MOST_CHARACTERS + 6_000, told
        assert run.output == "", told
    return int(run.code)


def a_value(rng: random.Random, field: CaseField) -> Any:
    """What somebody may write for a field: mostly what it takes, else anything."""
    kind = rng.random()
    if kind < 0.3 or (field.bounds is None and not field.choices):
        return rng.choice(VALUES)
    if field.choices:
        return rng.choice(field.choices)
    assert field.bounds is not None
    number = rng.uniform(field.bounds.least, field.bounds.most) * rng.choice((1.0, 1.0, 1.0, -1.0, 2.0, 1.0001))
    if field.dimension is None:
        return int(number) if field.kind == "integer" else number
    return f"{number:.6g} {field.unit('si')}" if field.dimension != "power" else f"{number:.6g} W"


def a_case(rng: random.Random) -> dict[str, Any]:
    tables: dict[str, Any] = {}
    for field in rng.sample(FIELDS, rng.choice((1, 1, 2, 4))):
        *sections, name = field.key.split(".")
        place = tables
        for section in sections:
            place = place.setdefault(section, {})
        place[name if rng.random() < 0.95 else f"{name}x"] = a_value(rng, field)
    if rng.random() < 0.1:
        tables[rng.choice(["unit", "money", "x", "building"])] = rng.choice(VALUES)
    return tables


def as_toml(tables: dict[str, Any], rng: random.Random) -> bytes:
    """The text of a case file, now and then cut, or with a letter changed."""
    content = bytearray(tomli_w.dumps(tables).encode("utf-8", "surrogatepass"))
    if content and rng.random() < 0.15:
        place = rng.randrange(len(content))
        if rng.random() < 0.5:
            del content[place:]
        else:
            content[place] = rng.randrange(256)
    return bytes(content)


def words_of(rng: random.Random, folder: Path) -> list[str]:
    words = [rng.choice(["value"] * 9 + ["pick"])]
    source = rng.choice(SOURCES)
    words += [source] if source else []
    if words[0] == "pick":
        words += ["--draws", "0", "--step", "10F"]
    for option in rng.sample(list(OPTIONS), rng.choice((0, 1, 1, 2, 3))):
        if option == "--hourly" and words[0] == "pick":
            option = "--table"
        if option in SWITCHES:
            words.append(option)
        elif option in ("--hourly", "--table", "--report"):
            words += [option, rng.choice([str(folder), str(folder / "out.csv"), str(folder / "no" / "out.csv"), ""])]
        elif option == "--set":
            field = rng.choice(FIELDS)
            words += [option, f"{field.key}={a_value(rng, field)}"]
        else:
            words += [option, OPTIONS[option] if rng.random() < 0.6 else rng.choice(TEXTS)]
    # No argument of a process holds what is no character.
    return [word.encode("utf-8", "replace").decode().replace("\0", "") for word in words]


def test_made_up_options_and_case_files_end_in_an_answer_or_one_sentence(tmp_path: Path) -> None:
    codes = []
    for seed in range(CASES):
        rng = random.Random(seed)
        words = words_of(rng, tmp_path)
        if rng.random() < 0.6:
            case = tmp_path / "case.toml"
            case.write_bytes(as_toml(a_case(rng), rng))
            words += ["--case", str(case)]
        codes.append(judged(seed, *words))
    # Neither is all refused, which would try nothing, nor all taken.
    assert 0.05 < codes.count(0) / len(codes) < 0.8


@pytest.mark.parametrize("seed", range(LISTS))
def test_a_made_up_list_ends_in_a_table_or_one_sentence(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    columns = rng.sample([field.key for field in FIELDS if field.kind != "list"], 3)
    rows = [",".join(["name", "weather", *columns])]
    by_key = {field.key: field for field in FIELDS}
    for number in range(12):
        cells = [str(a_value(rng, by_key[key])).replace('"', '""') for key in columns]
        rows.append(",".join(f'"{cell}"' for cell in (f"S{number}", rng.choice(SOURCES) or "", *cells)))
    sites = tmp_path / "sites.csv"
    sites.write_bytes("\n".join(rows).encode("utf-8", "surrogatepass"))
    judged(seed, "batch", str(sites), "--out", str(tmp_path / "out.csv"), "--workers", "1")
    if (tmp_path / "out.csv").exists():
        assert "unforeseen" not in (tmp_path / "out.csv").read_text("utf-8")
