"""A rule is one entry of one table: what is added there every answer, table, form and page takes."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from freecool.answers.rules import is_code_changeover, limits_of
from freecool.cases.model import make_case
from freecool.cases.rules import CODE_RULE, FIXED_DRY_BULB_F, RULES
from freecool.cases.sections import RuleCase

DOCS = Path(__file__).parents[1] / "docs"
# Run by itself: the table is read where classes are made, at the first import.
ADDED = """
import json
from freecool.cases.rules import RULES, RuleSpec, tuned_setting

RULES["cool-and-dry"] = RuleSpec(
    name="cool-and-dry",
    words="outdoor air below 60 °F and {differential} of nothing",
    limits=lambda rule, pressure_pa, zone: {"dry_bulb_max_c": 15.0, "dew_point_max_c": 10.0},
    tuned=tuned_setting("dry bulb at most", "dry_bulb_max_c", "temperature", 40, 1, "F"),
    reads_humidity=True,
    listed=lambda limits, zone: zone == "2A" and limits["dew_point_max_c"] <= 10.0,
)

from typer.main import get_command

from freecool import compare_rules, estimate, make_case, open_weather
from freecool.answers.rules import is_code_changeover, limits_of
from freecool.batch.columns import COLUMNS, values_of
from freecool.cli.app import app
from freecool.web.form import case_fields

weather = open_weather("demo:high-desert")
case = make_case({"rule": {"name": "cool-and-dry"}, "site": {"climate_zone": "2A"}})
answer, compared = estimate(case, weather), compare_rules(case, weather, draws=0)
row = dict(zip((c.name for c in COLUMNS["compare"]), values_of("compare", "a", "b", compared.to_dict()), strict=True))
limits = limits_of(case.rule, 101325.0)
print(json.dumps({
    "limits": [limits.dry_bulb_max_c, limits.dew_point_max_c],
    "permitted": answer.hours.permitted,
    "in words": repr(answer),
    "compared": compared.to_dict()["rules"][-1],
    "table": repr(compared),
    "column": row["rules.cool-and-dry.hours.permitted"],
    "listed": [is_code_changeover(limits._replace(dry_bulb_max_c=40.0), zone) for zone in ("2A", "1A")],
    "form": case_fields()["rule.name"].choices,
    "help": next(p.help for p in get_command(app).commands["value"].params if p.name == "rule"),
}))
"""


def test_a_rule_added_to_the_table_is_a_rule_everywhere() -> None:
    run = subprocess.run([sys.executable, "-c", ADDED], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    said = json.loads(run.stdout)
    assert said["limits"] == [15.0, 10.0]
    assert "outdoor air below 60 °F and 5 °F of nothing" in said["in words"]
    assert said["compared"]["name"] == "cool-and-dry"
    assert said["compared"]["hours"]["permitted"] == said["permitted"] == said["column"] > 0.0
    assert said["compared"]["tuned"]["setting"] == "dry bulb at most"
    assert "cool-and-dry" in said["table"]
    assert said["listed"] == [True, False]
    assert said["form"][-1] == "cool-and-dry"
    assert said["help"].endswith("cool-and-dry.")


def test_the_pages_tell_every_rule() -> None:
    for page, least in (("how-it-works.md", 2), ("command-line.md", 1)):
        rows = [line for line in (DOCS / page).read_text("utf-8").splitlines() if line.startswith("|")]
        for name in RULES:
            assert sum(bool(re.search(rf"`{name}`", row)) for row in rows) >= least, (page, name)


def test_the_table_is_by_name() -> None:
    assert [rule.name for rule in RULES.values()] == list(RULES)
    assert all(len(set(rule.tuned.values)) == 21 for rule in RULES.values())


@pytest.mark.parametrize(
    ("told", "name"),
    [
        ({"site": {"climate_zone": "5A"}}, "fixed-dry-bulb"),
        ({"site": {"climate_zone": "1A"}}, "fixed-dry-bulb"),
        ({}, "differential"),
        ({"site": {"climate_zone": "5A"}, "rule": {"differential": "8F"}}, "differential"),
        ({"site": {"climate_zone": "5A"}, "rule": {"name": "differential"}}, "differential"),
        ({"site": {"climate_zone": "5A"}, "rule": {"high_limit": "65F"}}, "fixed-dry-bulb"),
        ({"site": {"climate_zone": "5A"}, "building": {"use": "dwelling"}}, "differential"),
    ],
)
def test_a_commercial_building_in_a_zone_starts_from_the_codes_rule(told: dict[str, Any], name: str) -> None:
    assert make_case(told, preset="small-office").rule.name == name
    assert make_case({}, told, preset="small-office").rule.name == name


def test_the_codes_rule_is_listed_in_every_zone() -> None:
    for zone in FIXED_DRY_BULB_F:
        limits = limits_of(RuleCase(name=CODE_RULE), 101_325.0, zone)
        assert is_code_changeover(limits, zone)
