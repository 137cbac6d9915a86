"""The pages say what is so: recorded runs and Python blocks run, options and keys are all there, links lead somewhere.

``python tests/test_docs.py`` writes the true output into the pages.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import shlex
import subprocess
import sys
import tomllib
from functools import reduce
from html import unescape
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from stress import LONG
from test_cli import freecool
from typer.main import get_command

REPOSITORY = Path(__file__).parents[1]
PAGES = [REPOSITORY / "README.md", REPOSITORY / "DEVELOPERS.md", *sorted((REPOSITORY / "docs").rglob("*.md"))]
BLOCK = re.compile(r"^```(console|python)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def with_true_output(page: str) -> str:
    """A page whose recorded runs and Python prompts show what they really answer."""
    names: dict[str, object] = {}

    def answered(match: re.Match[str]) -> str:
        kind, body = match.groups()
        if kind == "python":
            body = played(body, names) if body.startswith(">>> ") else body
        else:
            commands = [line for line in body.splitlines() if line.startswith("$ ")]
            body = "".join(f"{command}\n{typed(command)}" for command in commands)
        return f"```{kind}\n{body}```"

    return BLOCK.sub(answered, page)


def typed(command: str) -> str:
    """What a command shows: its answer, or its complaint."""
    _, program, *arguments = shlex.split(command)
    assert program == "freecool"
    run = freecool(*arguments)
    # Code 1 is an answer too: that a sheet is not in order.
    return run.errors if run.code == 2 else run.output


def played(body: str, names: dict[str, object]) -> str:
    """A Python session with its true output, given one whose output is ignored."""
    shown = ""
    for statement in re.findall(r"^>>> .*\n(?:\.\.\. .*\n)*", body, re.MULTILINE):
        source = "".join(line[4:] for line in statement.splitlines(keepends=True))
        output = io.StringIO()
        with contextlib.redirect_stdout(output):
            # "single" shows the value of an expression, as a prompt does; a compound statement ends in a blank line.
            exec(compile(source + "\n", "<page>", "single"), names)
        shown += statement + output.getvalue()
    return shown


@pytest.fixture
def in_repository(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(REPOSITORY)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_recorded_runs_and_python_blocks_are_true(page: Any, in_repository: None) -> None:
    text = page.read_text("utf-8")
    assert with_true_output(text) == text


def test_the_readme_has_both_a_recorded_run_and_python() -> None:
    blocks = BLOCK.findall((REPOSITORY / "README.md").read_text("utf-8"))
    assert {kind for kind, _ in blocks} == {"console", "python"}
    assert all(body.startswith(("$ freecool value", ">>> ")) for _, body in blocks)


def test_readme_python_gives_the_numbers_of_the_readme_command(in_repository: None) -> None:
    blocks = dict(BLOCK.findall((REPOSITORY / "README.md").read_text("utf-8")))
    command = shlex.split(blocks["console"].splitlines()[0])[2:]
    names: dict[str, object] = {}
    played(blocks["python"], names)
    assert json.loads(freecool(*command, "--json").output) == json.loads(json.dumps(names["answer"].to_dict()))  # type: ignore[attr-defined]


def test_every_option_is_documented() -> None:
    page = (REPOSITORY / "docs" / "command-line.md").read_text("utf-8")
    from freecool.cli.app import app

    root = get_command(app)
    options = [
        name
        for command in (root, *root.commands.values())  # type: ignore[attr-defined]
        for parameter in command.params
        if parameter.param_type_name == "option"
        for name in parameter.opts
    ]
    assert len(options) > 20
    assert [name for name in options if not re.search(rf"`[^`]*{name}\b", page)] == []
    assert [name for name in root.commands if f"freecool {name}" not in page] == []  # type: ignore[attr-defined]


def test_every_key_of_the_json_answer_is_documented(in_repository: None) -> None:
    page = (REPOSITORY / "docs" / "command-line.md").read_text("utf-8")
    answer = json.loads(freecool("value", "--json").output)
    answer["inputs"]["case"] = None
    keys = [key for name, block in answer.items() for key in (name, *(block if isinstance(block, dict) else ()))]
    assert [key for key in keys if f"`{key}`" not in page] == []


@pytest.mark.parametrize("command", ["pick", "compare"])
def test_every_key_of_a_sweep_is_documented(command: str, in_repository: None) -> None:
    page = (REPOSITORY / "docs" / "command-line.md").read_text("utf-8")
    answer = json.loads(freecool(command, "--draws", "0", "--json").output)
    answer["inputs"]["case"] = None
    several = [
        block[0] for block in answer.values() if isinstance(block, list) and block and isinstance(block[0], dict)
    ]
    blocks = [answer, *several, *(block for part in (answer, *several) for block in part.values())]
    keys = {key for block in blocks if isinstance(block, dict) for key in block}
    assert {"verdict", "inputs", "net_kwh_p10", "net_kwh_saved"} <= keys
    assert sorted(key for key in keys if f"`{key}`" not in page) == []


def test_every_warning_code_in_the_code_is_documented() -> None:
    page = (REPOSITORY / "docs" / "command-line.md").read_text("utf-8")
    codes: set[str] = set()
    for source in (REPOSITORY / "freecool").rglob("*.py"):
        codes |= set(re.findall(r"""(?:Notice|warn)\(\s*"([a-z_]+)",""", source.read_text("utf-8")))
    assert len(codes) > 10
    assert sorted(code for code in codes if f"`{code}`" not in page) == []


def anchors(page: Path) -> set[str]:
    headings = re.findall(r"^#+ (.+)$", page.read_text("utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Any) -> None:
    broken = []
    for target in re.findall(r"\]\(([^)\s]+)\)", page.read_text("utf-8")):
        if re.match(r"[a-z]+:", target):
            continue
        name, _, anchor = target.partition("#")
        aim = (page.parent / name).resolve() if name else page
        if not aim.exists() or (anchor and anchor not in anchors(aim)):
            broken.append(target)
    assert broken == []


def test_case_file_page_is_what_the_classes_say() -> None:
    from case_reference import case_reference

    assert (REPOSITORY / "docs" / "case-file.md").read_text("utf-8") == case_reference()


def test_the_tables_of_json_keys_are_what_the_records_say() -> None:
    from json_keys import MARKED, with_tables

    from freecool.answers.contract import ANSWERS

    page = (REPOSITORY / "docs" / "command-line.md").read_text("utf-8")
    assert [match[2] for match in MARKED.finditer(page)] == list(ANSWERS)
    assert with_tables(page) == page
    # A meaning that was changed by hand is seen.
    assert with_tables(page.replace("| version |", "| number |")) == page


def test_the_page_of_names_is_what_its_command_prints() -> None:
    from names import names_page

    assert (REPOSITORY / "docs" / "names.md").read_text("utf-8") == names_page()


def test_the_page_of_terms_is_the_glossary_of_the_package() -> None:
    from glossary import glossary_page

    from freecool.cases.glossary import GLOSSARY

    assert (REPOSITORY / "docs" / "glossary.md").read_text("utf-8") == glossary_page()
    from freecool.cases.model import case_fields

    assert list(GLOSSARY) == sorted(GLOSSARY, key=str.lower)
    # A sentence each, and each term stands somewhere else that people read.
    assert [term for term, text in GLOSSARY.items() if not re.fullmatch(r"[A-Z0-9][^!?]+(\.|\])", text)] == []
    assert [term for term, text in GLOSSARY.items() if re.search(r"\. [A-Z]", text)] == []
    read = [page.read_text("utf-8").lower() for page in PAGES if page.name not in ("glossary.md", "changelog.md")]
    read.append(" ".join(field.description.lower() for field in case_fields().values()))
    words = [re.sub(r" \(.*\)$| hour$|[- ]", "", term.lower()) for term in GLOSSARY]
    plain = re.sub(r"[- \n]", "", " ".join(read))
    brought = {"balancepoint", "degreedays", "latentload", "staging"}  # By readers.
    assert [word for word in words if word not in plain and word not in brought] == []


def test_every_name_of_the_page_of_names_is_a_name_at_its_door(in_repository: None) -> None:
    from names import json_place, options_of

    from freecool.answers.jobs import JOBS
    from freecool.cases.model import case_fields
    from freecool.cases.vocabulary import RUN_QUANTITIES
    from freecool.cli.app import app
    from freecool.web.link import Link, case_of
    from freecool.web.models import PickRequest
    from freecool.web.pages import page_html
    from freecool.web.weather_store import WeatherStore

    options = {name for parameter in get_command(app).commands["pick"].params for name in parameter.opts}  # type: ignore[attr-defined]
    answer = json.loads(freecool("pick", "--draws", "0", "--to", "1F", "--json").output)
    page = unescape(page_html(JOBS["pick"], Link(weather="demo:humid-coast"), case_of(Link()), "", WeatherStore()))
    for field in case_fields().values():
        assert {f"--{option.replace('_', '-')}" for option in options_of(field.key)} <= options, field.key
        assert field.in_optional_part or told_at(answer, json_place(field)), field.key
        # The differential is what a pick looks for; a picture is not typed.
        assert field.key in ("rule.differential", "quote.logo") or f">{field.label}</label>" in page, field.key
    for name, quantity in RUN_QUANTITIES.items():
        assert quantity.option in {*options, "WEATHER"}, name
        assert not quantity.answer or told_at(answer, quantity.answer), name
        # Those of a plain CSV go with the file; those of the sheet's test are asked for beside the pick.
        own = {"latitude", "longitude", "elevation", "utc_offset", "allow_gaps", "outdoor", "return"}
        keys = {field.alias or key for key, field in PickRequest.model_fields.items()}
        assert (quantity.request in keys) is (name not in own), name
        assert name in ("outdoor", "return") or quantity.label in page, name


@pytest.mark.parametrize(("job", "items"), [("pick", "candidates"), ("compare", "rules")])
def test_columns_of_a_table_hold_what_the_page_of_names_says(job: str, items: str, tmp_path: Path) -> None:
    from names import COLUMNS

    few = ("--draws", "0", *(("--to", "1F") if job == "pick" else ()))
    file = tmp_path / "table.parquet"
    answer = json.loads(freecool(job, *few, "--json", "--table", str(file)).output)[items]
    table = pd.read_parquet(file).reset_index()
    assert set(table) <= {*COLUMNS.values(), "rh_over_60_hours_added", "clause_hours_added"}
    held = {place: column for place, column in COLUMNS.items() if column in table}
    assert len(held) >= 14
    for place, column in held.items():
        figures = [reduce(lambda part, name: part[name], place.split("."), item) for item in answer]
        assert list(table[column]) == figures, place


def told_at(answer: Any, place: str) -> bool:
    """Whether a JSON answer has a key at a place; a list is told by its first item."""
    for name in place.split("."):
        answer = answer[0] if isinstance(answer, list) else answer
        if not isinstance(answer, dict) or name not in answer:
            return False
        answer = answer[name]
    return True


def test_the_tariff_example_prices_hours() -> None:
    from case_reference import TARIFF

    from freecool import make_case

    page = (REPOSITORY / "docs" / "case-file.md").read_text("utf-8")
    assert f"```toml\n{TARIFF}```" in page
    evening, night = make_case(tomllib.loads(TARIFF)).money.tariff
    assert evening.when() == (frozenset({5, 6, 7, 8}), frozenset(range(5)), frozenset(range(16, 21)))
    assert night.when()[2] == frozenset({22, 23, 0, 1, 2, 3, 4, 5})


@pytest.mark.long
def test_the_page_of_climates_is_what_its_command_prints(tmp_path: Path) -> None:
    from climates import climates_page, default_files

    page = (REPOSITORY / "docs" / "climates.md").read_text("utf-8")
    assert climates_page(default_files(tmp_path)) == page


def test_the_page_of_cooling_is_what_its_command_prints(tmp_path: Path) -> None:
    from climates import default_files
    from cooling import cooling_page

    page = (REPOSITORY / "docs" / "cooling.md").read_text("utf-8")
    files = default_files(tmp_path)
    if LONG:
        assert cooling_page(files) == page
        return
    printed = cooling_page(files[:1])
    assert set(printed.splitlines()) <= set(page.splitlines())
    # Of three tables.
    assert len(page.splitlines()) - len(printed.splitlines()) == 3 * (len(files) - 1)


@pytest.mark.long
def test_the_page_of_compressors_is_what_its_command_prints(tmp_path: Path) -> None:
    from compressors import compressors_page, kept_weather

    page = (REPOSITORY / "docs" / "compressors.md").read_text("utf-8")
    assert compressors_page(kept_weather(tmp_path)) == page
    # What the page says in words holds for its figures.
    rows = [[cell.strip() for cell in line.split("|")] for line in page.splitlines() if line.startswith("| ")][2:]
    for building in ("house", "office"):
        staged = [row for row in rows if row[1] == building and "one speed" not in row[2]]
        for column, falls in ((3, True), (4, True), (8, building == "office")):
            figures = [float(re.sub(r"[^\d.]", "", row[column])) for row in staged]
            assert figures == sorted(figures, reverse=falls), (building, column)
            if column == 3:
                assert len(set(figures)) == 3
            if column == 4:
                # "By a tenth to a quarter", and in the house two stages avoid nearly as much as one.
                assert 0.75 < figures[2] / figures[0] < 0.9
                assert building == "office" or figures[1] >= 0.98 * figures[0]


@pytest.mark.long
def test_the_table_of_outdoor_shares_is_what_the_presets_give(tmp_path: Path) -> None:
    from climates import default_files

    from freecool import estimate, make_case, open_weather

    page = (REPOSITORY / "docs" / "how-it-works.md").read_text("utf-8")
    files = {file.name: file for file in default_files(tmp_path)}
    places = {"Sacramento CA": "724839TYA_Sacramento_TMY3.csv", "Greensboro NC": "723170TYA.CSV"}
    for place, name in places.items():
        weather = open_weather(files[name])
        for preset in ("detached-house-medium", "small-office"):
            cells = []
            for share in (1.0, 0.9, 0.8, 0.7):
                energy = estimate(make_case({"damper": {"outdoor_share": share}}, preset=preset), weather).energy
                avoided, fan, net = (
                    f"{round(kwh):d}".replace("-", "−")
                    for kwh in (energy.compressor_kwh_avoided, energy.fan_kwh_added, energy.net_kwh_saved)
                )
                cells.append(f"{avoided}, {fan}, **{net}**")
            assert f"| {place} | {preset} | {' | '.join(cells)} |" in page


def test_the_zones_of_the_page_of_climates_have_the_number_of_their_degree_days(tmp_path: Path) -> None:
    # Letters are ASHRAE 169's (from memory); their numbers must follow from the weather itself.
    from climates import PLACES, default_files

    from freecool import open_weather
    from freecool.weather.climate_zone import thermal_zone

    files = default_files(tmp_path)
    assert {file.name: thermal_zone(open_weather(file)) for file in files} == {
        file.name: PLACES[file.name].zone.rstrip("ABC") for file in files
    }


@pytest.mark.parametrize("before", ["", "import freecool.answers.estimate, freecool.cli.app"])
def test_the_public_face_gives_what_it_names_whatever_was_imported_before(before: str) -> None:
    program = f"{before}\nimport freecool\nfrom freecool import estimate\nprint(callable(estimate), *dir(freecool))"
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert run.stderr == ""
    assert run.stdout.startswith("True ")


def test_the_complete_case_file_is_the_default_preset() -> None:
    from case_reference import example_case

    from freecool import make_case

    written = make_case(tomllib.loads(example_case()))
    assert written == make_case({"name": "Example"})
    # A comment of the example may be uncommented: each names a key.
    keys = re.findall(r"^#? ?(\w+) =", example_case(), re.MULTILINE)
    assert len(keys) > 60


def test_the_quote_example_runs_and_says_it_is_invented() -> None:
    script = str(REPOSITORY / "examples" / "quote.py")
    run = subprocess.run([sys.executable, script], capture_output=True, text=True, encoding="utf-8", check=False)
    assert (run.returncode, run.stderr) == (0, "")
    text = run.stdout
    assert "INVENTED climate" in text
    assert "Larkspur Bakery (invented)" in text
    # Twelve months, as the last lines.
    assert [line.split()[0] for line in text.splitlines()[-12:]] == [str(month) for month in range(1, 13)]


def write_picture(path: Path) -> None:
    """The picture of the README: the months of the demo that it runs."""
    from freecool import estimate, make_case, open_weather
    from freecool.cases.demos import DEMOS
    from freecool.show.style import page_style

    house = DEMOS["house"]
    with page_style():
        months = estimate(make_case(house.case), open_weather(house.weather)).plot.months()
        months.figure.savefig(path, metadata={"Date": None}, facecolor="white")


if __name__ == "__main__":
    # As pytest finds them.
    sys.path.insert(0, str(REPOSITORY / "docs" / "build"))
    from case_reference import case_reference
    from glossary import glossary_page
    from json_keys import with_tables
    from names import names_page

    os.chdir(REPOSITORY)
    (REPOSITORY / "docs" / "case-file.md").write_text(case_reference(), encoding="utf-8")
    keys = REPOSITORY / "docs" / "command-line.md"
    keys.write_text(with_tables(keys.read_text("utf-8")), encoding="utf-8")
    (REPOSITORY / "docs" / "names.md").write_text(names_page(), encoding="utf-8")
    (REPOSITORY / "docs" / "glossary.md").write_text(glossary_page(), encoding="utf-8")
    write_picture(REPOSITORY / "docs" / "months.svg")
    for page in PAGES:
        page.write_text(with_true_output(page.read_text("utf-8")), encoding="utf-8")
