"""The published JSON schema is true of every kind of answer, at every door."""

from __future__ import annotations

import copy
import dataclasses
import json
from collections.abc import Iterator
from functools import cache
from typing import Any

import jsonschema
import pandas as pd
import pytest
from made_weather import made_weather
from test_cli import freecool

from freecool import compare_rules, estimate, make_case, open_weather, sweep_differential
from freecool.answers import contract, results
from freecool.answers.contract import ANSWERS, json_schema
from freecool.batch.columns import COLUMNS, values_of
from freecool.core.record import Record
from freecool.weather import Weather

TREE = pytest.mark.parametrize("job", ANSWERS)


def real_years(count: int) -> Weather:
    """So many real years, made of one invented year a degree warmer each."""
    once = open_weather("demo:high-desert")
    frames = []
    for place in range(count):
        frame = once.frame.copy()
        frame[["dry_bulb_c", "dew_point_c"]] += place
        start = pd.Timestamp(f"{2001 + place}-01-01", tz=once.frame.index.tz)  # type: ignore[attr-defined]
        frame.index = pd.date_range(start, periods=len(frame), freq="h", name="time")
        frames.append(frame)
    whole = pd.concat(frames)
    return dataclasses.replace(
        once, frame=whole, typical=False, years=tuple(range(2001, 2001 + count)), kind="CSV", invented=False
    )


@cache
def answers() -> dict[str, tuple[str, dict[str, Any]]]:
    """(job, JSON) of every kind of answer, by what makes it one of its own."""
    desert, damp = open_weather("demo:high-desert"), open_weather("demo:humid-coast")
    office = make_case({"site": {"climate_zone": "2A"}}, preset="small-office")
    # Dried by its coil, and so wetted by damp outdoor air.
    dry_coil = make_case({"unit": {"re_evaporation": False}}, preset="small-office")
    priced = make_case(
        {
            "money": {"installed_cost": 900.0, "fuel_price": 0.06, "emission_factor": 0.4},
            "sensors": {"humidity_sensor_cost": 200.0},
            "rule": {"dew_point_limit": "55F"},
        }
    )
    frozen = made_weather(-10.0, -15.0)
    few = [0.0, 3.0, 6.0]
    found = {
        "typical year": ("value", estimate(make_case(), desert)),
        "money told": ("value", estimate(priced, desert)),
        "never cools": ("value", estimate(make_case(), frozen)),
        "one real year": ("value", estimate(make_case(), real_years(1))),
        "two real years": ("value", estimate(make_case(), real_years(2))),
        "six real years": ("value", estimate(make_case(), real_years(6))),
        "picked": ("pick", sweep_differential(make_case(), desert, few, draws=3)),
        "picked, real years": ("pick", sweep_differential(make_case(), real_years(6), few, draws=0)),
        "left off": ("pick", sweep_differential(make_case(), frozen, few, draws=1)),
        "damp, with a proposal": ("pick", sweep_differential(dry_coil, damp, few, draws=1)),
        "compared": ("compare", compare_rules(office, damp, draws=1)),
        "compared, no zone": ("compare", compare_rules(priced, real_years(2), draws=0)),
    }
    return {name: (job, json.loads(json.dumps(answer.to_dict()))) for name, (job, answer) in found.items()}  # type: ignore[attr-defined]


KINDS = (
    "typical year", "money told", "never cools", "one real year", "two real years", "six real years", "picked",
    "picked, real years", "left off", "damp, with a proposal", "compared", "compared, no zone",
)  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_answer_is_as_the_schema_says(kind: str) -> None:
    job, answer = answers()[kind]
    jsonschema.Draft202012Validator(json_schema(job)).validate(answer)


def test_the_kinds_are_what_they_are_called() -> None:
    by_kind = {name: answer for name, (_, answer) in answers().items()}
    assert set(by_kind) == set(KINDS)
    assert "spread" not in by_kind["typical year"]
    assert "spread" not in by_kind["one real year"]
    assert by_kind["two real years"]["spread"]["most_years"] is None
    assert by_kind["six real years"]["spread"]["most_years"]["of"] == 6
    assert by_kind["left off"]["best"] == {"differential_k": None}
    assert by_kind["picked"]["best"]["differential_k"] > 0.0
    assert by_kind["damp, with a proposal"]["proposal"]["dew_point_limit_c"] == pytest.approx(18.33, abs=0.01)
    assert by_kind["money told"]["money"]["co2_kg_avoided"] is not None
    assert by_kind["compared"]["rules"][0]["code_changeover"] is not None
    assert by_kind["compared, no zone"]["rules"][0]["code_changeover"] is None
    picked = by_kind["picked"]
    assert picked["best_ignoring_humidity_differential_k"] == picked["keenest_differential_k"]


def objects(tree: Any) -> Iterator[dict[str, Any]]:
    """Every object in an answer, the case apart: it has a page of its own."""
    if isinstance(tree, dict):
        yield tree
        for name, part in tree.items():
            if name != "case":
                yield from objects(part)
    elif isinstance(tree, list):
        for part in tree:
            yield from objects(part)


@pytest.mark.parametrize("kind", ["six real years", "damp, with a proposal", "left off", "compared"])
def test_a_key_too_many_or_too_few_is_refused(kind: str) -> None:
    job, answer = answers()[kind]
    validator = jsonschema.Draft202012Validator(json_schema(job))
    for place in range(len(list(objects(answer)))):
        changed = copy.deepcopy(answer)
        list(objects(changed))[place]["a_key_that_nobody_told"] = 1.0
        assert not validator.is_valid(changed)
    for name in answer:
        if name not in ("spread", "open_windows"):
            assert not validator.is_valid({key: value for key, value in answer.items() if key != name}), name


def test_the_web_publishes_the_same_schema() -> None:
    pytest.importorskip("fastapi")
    from freecool.web.app import create_app
    from freecool.web.services import AnswerService

    told = create_app(AnswerService(), hosts=None)._app.openapi()  # type: ignore[attr-defined]
    for job, (_, answer) in {job: (job, answer) for job, answer in answers().values()}.items():
        content = told["paths"][f"/api/{job}"]["post"]["responses"]["200"]["content"]["application/json"]
        schema = {**content["schema"], "components": told["components"]}
        jsonschema.Draft202012Validator(schema).validate(answer)
        name = content["schema"]["$ref"].rsplit("/", 1)[1]
        assert told["components"]["schemas"][name]["properties"].keys() == json_schema(job)["properties"].keys()


def test_the_command_prints_what_the_schema_says() -> None:
    run = freecool("value", "demo:mixed-inland", "--json")
    jsonschema.Draft202012Validator(json_schema("value")).validate(json.loads(run.output))


@TREE
def test_every_figure_of_a_batch_row_stands_in_the_schema(job: str) -> None:
    """A row's columns are places in the answer: what the schema does not know no row could hold."""
    rules = [name for name in COLUMNS[job] if name.name.startswith("rules.")]  # type: ignore[index]
    for column in COLUMNS[job]:  # type: ignore[index]
        if column.name in ("name", "weather", "error") or column in rules or column.name.endswith("_f"):
            continue
        assert _known(json_schema(job), column.name.split(".")), column.name
    kind = {"value": "six real years", "pick": "damp, with a proposal", "compare": "compared"}[job]
    values = values_of(job, "a", "b", copy.deepcopy(answers()[kind][1]))  # type: ignore[arg-type]
    names = [column.name for column in COLUMNS[job]]  # type: ignore[index]
    empty = {name for name, value in zip(names, values, strict=True) if value is None}
    assert len(empty) < 0.2 * len(names), empty


def _known(schema: dict[str, Any], pieces: list[str]) -> bool:
    """Whether a dotted place stands in a schema; the last piece of a band is its low or high end."""
    found: list[dict[str, Any]] = [schema]
    for piece in pieces:
        step: list[dict[str, Any]] = []
        for part in found:
            for choice in (part, *part.get("anyOf", ())):
                target = schema["$defs"][choice["$ref"].rsplit("/", 1)[1]] if "$ref" in choice else choice
                if piece in target.get("properties", {}):
                    step.append(target["properties"][piece])
                elif piece in ("low", "high") and target.get("prefixItems"):
                    step.append(target["prefixItems"][0])
        found = step
    return bool(found)


def records(module: Any) -> list[type[Record]]:
    return [kind for kind in vars(module).values() if isinstance(kind, type) and issubclass(kind, Record)]


@pytest.mark.parametrize("kind", [*records(results), *records(contract)], ids=lambda kind: kind.__name__)
def test_every_record_is_frozen_and_tells_what_its_fields_mean(kind: type[Record]) -> None:
    if kind is Record:
        return
    assert kind.__dataclass_params__.frozen  # type: ignore[attr-defined]
    for item in dataclasses.fields(kind):  # type: ignore[arg-type]
        assert item.metadata.get("description"), item.name
        number = item.type in ("float", "float | None")
        if number and item.name.endswith(("_k", "_kwh", "_hours", "_c", "_m", "_percent")):
            assert "[" in item.metadata["description"], item.name


def test_no_two_kinds_of_record_are_equal() -> None:
    one = results.MostYears(years=1, of=2, net_kwh_saved=3.0, saving=1)
    assert one == results.MostYears(years=1, of=2, net_kwh_saved=3.0, saving=1)
    assert one != (1, 2, 3.0, 1)  # type: ignore[comparison-overlap]
    assert contract.Sentence(text="a") != contract.ValueVerdict(text="a", answer="no")
    with pytest.raises(TypeError):
        contract.Sentence("a")  # type: ignore[call-arg]
    with pytest.raises(dataclasses.FrozenInstanceError):
        one.of = 3  # type: ignore[misc]
