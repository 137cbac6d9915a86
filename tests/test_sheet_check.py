"""What readings say: faults are made by the mixing equation and have to come back among the causes named.

Shares and temperatures of each fault are worked by hand from mixed = return − share × (return − outdoor); the damper's
faults are as common practice knows them (no source).
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stress import amount
from test_cli import freecool

from freecool.answers.mixing import POSITIONS, Position, commanded_shares, fan_rise_k
from freecool.answers.readings import READABLE_C, Cause, Finding, Reading, SheetCheck, Unseen, check_readings
from freecool.cases.model import Case, make_case
from freecool.core.errors import CaseError
from freecool.core.record import names_of
from freecool.core.units import parse

SEA_LEVEL_PA = 101_325.0


def f(degrees: float) -> float:
    return parse(f"{degrees} F", "temperature")


def house(share: float = 1.0, **more: Any) -> Case:
    return make_case({"damper": {"outdoor_share": share, **more}})


def read(rows: dict[Position, Any], outdoor_f: float = 55, return_f: float = 75) -> list[Reading]:
    """Mixed air [°F] by position, outdoor and return air the same at all."""
    return [
        Reading(position=position, outdoor_c=f(outdoor_f), return_c=f(return_f), mixed_c=f(mixed))
        for position, mixed in rows.items()
    ]


def named(check: SheetCheck) -> list[str]:
    """Causes by code, with the sensors meant."""
    return [" ".join((cause.code, *cause.sensors)) for cause in check.causes]


# Fault: what it is named, outdoor share asked at each position -> true, and what it does to a set of readings [°F].
Shares = dict[Position, float]
Faults = dict[str, tuple[str, Callable[[Shares], Shares], Callable[[dict[str, float]], None]]]


def _as_asked(asked: Shares) -> Shares:
    return dict(asked)


def _leak(asked: Shares) -> Shares:
    return {"closed": 0.3, "half": max(asked["half"], 0.5 * (0.3 + asked["full"])), "full": asked["full"]}


def _stuck(place: Position) -> Callable[[Shares], Shares]:
    return lambda asked: dict.fromkeys(POSITIONS, asked[place])


def _reversed(asked: Shares) -> Shares:
    return {"closed": asked["full"], "half": asked["half"], "full": asked["closed"]}


def _swap(one: str, other: str) -> Callable[[dict[str, float]], None]:
    def swap(air: dict[str, float]) -> None:
        air[one], air[other] = air[other], air[one]

    return swap


def _off(stream: str, degrees: float) -> Callable[[dict[str, float]], None]:
    def off(air: dict[str, float]) -> None:
        air[stream] += degrees

    return off


def _nothing(air: dict[str, float]) -> None:
    pass


FAULTS: Faults = {
    "none": ("", _as_asked, _nothing),
    "leak of 30 %": ("leaks", _leak, _nothing),
    "stuck shut": ("stuck", _stuck("closed"), _nothing),
    "stuck open": ("stuck", _stuck("full"), _nothing),
    "stuck half": ("stuck", _stuck("half"), _nothing),
    "reversed": ("reversed", _reversed, _nothing),
    "outdoor and return swapped": ("swapped outdoor return", _as_asked, _swap("outdoor", "return")),
    "outdoor and mixed swapped": ("swapped outdoor mixed", _as_asked, _swap("outdoor", "mixed")),
    "return and mixed swapped": ("swapped return mixed", _as_asked, _swap("return", "mixed")),
    **{
        f"{stream} {degrees:+}": (f"sensor_off {stream}", _as_asked, _off(stream, degrees))
        for stream, degrees in product(("outdoor", "return", "mixed"), (5.0, -5.0))
    },
}
AIRS_F = ((35, 75), (50, 72), (55, 75), (60, 78), (95, 75), (110, 76))


def made(case: Case, fault: str, outdoor_f: float, return_f: float, errors_f: dict[str, float] | None = None) -> Any:
    """Four readings a position of an installation with a fault, each sensor off by its own error besides."""
    _, shares, spoil = FAULTS[fault]
    rise = 1.8 * fan_rise_k(case, f(return_f), SEA_LEVEL_PA)
    sheet = []
    for position, share in shares(commanded_shares(case)).items():
        mixed = return_f + share * (outdoor_f - return_f)
        air = {"outdoor": outdoor_f, "return": return_f, "mixed": mixed, "supply": mixed + rise}
        air = {stream: value + (errors_f or {}).get(stream, 0.0) for stream, value in air.items()}
        spoil(air)
        sheet.append(Reading(position=position, **{f"{stream}_c": f(value) for stream, value in air.items()}))
    return sheet


def without(sheet: list[Reading], stream: str) -> list[Reading]:
    return [
        Reading(**{name: getattr(one, name) for name in one.__dataclass_fields__ if name != f"{stream}_c"})
        for one in sheet
    ]


def right(check: SheetCheck, fault: str) -> bool:
    """Whether a fault is named, or was said to be too small to show here."""
    wanted = FAULTS[fault][0]
    if not wanted:
        return check.word == "in order" and not check.causes
    if wanted in named(check):
        return True
    stream = wanted.rpartition(" ")[2]
    unseen = getattr(check.unseen, f"{stream}_k", None)
    return check.word == "in order" and unseen is not None and unseen * 1.8 >= 5.0 - 1e-6


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("share", [1.0, 0.85])
@pytest.mark.parametrize("left_out", ["", "supply"])
def test_the_true_fault_is_among_the_causes(fault: str, share: float, left_out: str) -> None:
    case = house(share)
    for outdoor_f, return_f in AIRS_F:
        sheet = made(case, fault, outdoor_f, return_f)
        check = check_readings(case, without(sheet, left_out) if left_out else sheet)
        assert right(check, fault), (outdoor_f, return_f, check.text, named(check))
        if fault.startswith(("stuck", "reversed")) or "swapped" in fault:
            assert named(check)[0] == FAULTS[fault][0]


def test_sensors_that_err_within_half_their_tolerance_hide_no_fault_of_the_damper() -> None:
    """Seeded: sensors off by up to 1 °F of 2 °F; a damper's fault is named every time, health is never doubted."""
    draw, case = random.Random(7), house(0.85)
    for fault in ("none", "leak of 30 %", "stuck shut", "stuck open", "stuck half", "reversed"):
        for outdoor_f, return_f in AIRS_F:
            for _ in range(amount(2, 8)):
                errors = {stream: draw.uniform(-1.0, 1.0) for stream in ("outdoor", "return", "mixed", "supply")}
                check = check_readings(case, made(case, fault, outdoor_f, return_f, errors))
                assert right(check, fault), (fault, outdoor_f, return_f, errors, named(check))


def test_how_often_a_healthy_set_is_doubted() -> None:
    """Seeded, as docs/command-line.md tells: three thermometers anywhere within 2 °F, or one for all."""
    draw, case, sets = random.Random(11), house(0.85), amount(50, 200)
    kept = {"three": 0, "one": 0}
    for outdoor_f, return_f in AIRS_F:
        for _ in range(sets):
            errors = {stream: draw.uniform(-2.0, 2.0) for stream in ("outdoor", "return", "mixed")}
            alike = dict.fromkeys(errors, errors["outdoor"])
            for name, one in (("three", errors), ("one", alike)):
                sheet = without(made(case, "none", outdoor_f, return_f, one), "supply")
                kept[name] += check_readings(case, sheet).word == "in order"
    assert kept["one"] == sets * len(AIRS_F)
    assert 0.84 <= kept["three"] / (sets * len(AIRS_F)) <= 0.94


@given(
    st.sampled_from(sorted(FAULTS)), st.floats(-10.0, 62.0), st.floats(70.0, 80.0), st.sampled_from([1.0, 0.85, 0.6])
)
@settings(max_examples=amount(40, 150), deadline=None)
def test_whatever_the_air_the_true_fault_is_named_or_told_too_small(
    fault: str, outdoor_f: float, return_f: float, share: float
) -> None:
    """A sensor read 5 °F nearer may leave too little between outdoor and return air: then nothing is claimed."""
    case = house(share)
    check = check_readings(case, made(case, fault, outdoor_f, return_f))
    assert check.word == "cannot be told" or right(check, fault), (check.text, named(check))


# Coarse ones too, of which two are often the same.
ANY_AIR = st.none() | st.floats(*READABLE_C) | st.sampled_from([12.0, 18.0, 24.0])


@given(
    st.lists(st.tuples(ANY_AIR, ANY_AIR, ANY_AIR, ANY_AIR), min_size=3, max_size=3),
    st.sampled_from(["0F", "2F", "10F"]),
    st.sampled_from([0.0, 0.5]),
)
@settings(max_examples=amount(80, 300), deadline=None)
def test_any_readings_get_one_plain_answer(rows: Any, sensor: str, leakage: float) -> None:
    streams = ("outdoor_c", "return_c", "mixed_c", "supply_c")
    sheet = [
        Reading(position=p, **dict(zip(streams, row, strict=True))) for p, row in zip(POSITIONS, rows, strict=True)
    ]
    case = make_case({"sensors": {"dry_bulb_error": sensor}, "damper": {"leakage": leakage}})
    enough = any(row[0] is not None for row in rows) and any(row[1] is not None for row in rows)
    if not enough or all(row[2] is None and row[3] is None for row in rows):
        with pytest.raises(CaseError, match=r"air was read: it is needed|air was read: one of them"):
            check_readings(case, sheet)
        return
    check = check_readings(case, sheet)
    json.dumps(check.to_dict(), allow_nan=False)
    assert check.text.endswith(".")
    assert "-0 %" not in check.text + "".join(finding.text for finding in check.positions)
    assert (check.word == "not in order") <= bool(check.causes)


@pytest.mark.parametrize(
    ("read_f", "word", "causes", "codes"),
    [
        ((75, 65, 55), "in order", [], ["as_expected"] * 3),
        # A quarter of outdoor air when shut; a return sensor 5 °F high reads alike.
        ((70, 65, 56), "not in order", ["leaks", "sensor_off return"], ["more", "as_expected", "as_expected"]),
        ((66, 65, 65), "not in order", ["stuck"], ["more", "as_expected", "less"]),
        # A third of outdoor air fully open; an outdoor sensor 13 °F low reads alike.
        ((75, 72, 68), "not in order", ["opens_short", "sensor_off outdoor"], ["as_expected", "less", "less"]),
        ((80, 70, 60), "not in order", ["sensor_off mixed"], ["outside", "less", "less"]),
        ((70, 65, 60), "not in order", ["moves_in_part"], ["more", "as_expected", "less"]),
        ((55, 65, 75), "not in order", ["reversed", "swapped outdoor return"], ["more", "as_expected", "less"]),
        # 45 °F fully open: outdoor air is not 55 °F. Too warm shut, too cold open: no single fault.
        ((75, 65, 45), "not in order", ["sensor_off outdoor"], ["as_expected", "as_expected", "outside"]),
        ((85, 65, 45), "not in order", ["unexplained"], ["outside", "as_expected", "outside"]),
    ],
)  # fmt: skip
def test_what_readings_of_55_and_75_degrees_say(read_f: Any, word: str, causes: Any, codes: Any) -> None:
    check = check_readings(house(), read(dict(zip(POSITIONS, read_f, strict=True))))
    assert (check.word, named(check)) == (word, causes)
    assert [finding.code for finding in check.positions] == codes


def test_return_air_tells_a_reversed_actuator_from_swapped_sensors() -> None:
    """The same mirrored pattern: 55 °F return air is no room's, 75 °F is."""
    mirrored: dict[Position, int] = {"closed": 55, "half": 65, "full": 75}
    assert named(check_readings(house(), read(mirrored)))[0] == "reversed"
    straight: dict[Position, int] = {"closed": 75, "half": 65, "full": 55}
    assert named(check_readings(house(), read(straight, outdoor_f=75, return_f=55)))[0] == "swapped outdoor return"


def test_supply_air_far_off_is_compressor_or_heat() -> None:
    case = house()
    for degrees, word in ((-18.0, "compressor"), (25.0, "heat")):
        sheet = made(case, "none", 55, 75, {"supply": degrees})
        cause = check_readings(case, sheet).causes[0]
        assert (cause.code, cause.sensors) == ("sensor_off", ("supply",))
        assert cause.text.startswith(f"The {word} ran")
        assert cause.off_k is not None
        assert cause.off_k * 1.8 == pytest.approx(degrees, abs=0.3)


def test_supply_air_stands_for_mixed_air_that_was_not_read() -> None:
    case = house(0.85)
    for fault in ("none", "stuck shut", "reversed"):
        assert right(check_readings(case, without(made(case, fault, 55, 75), "mixed")), fault)


def test_what_is_read_once_holds_for_every_position() -> None:
    told = read({"closed": 75, "full": 55})
    once = [told[0], Reading(position="full", mixed_c=f(55))]
    assert check_readings(house(), once) == check_readings(house(), told)


def test_a_damper_that_brings_more_than_was_told_is_in_order() -> None:
    """Worked by hand: (75 − 35.8) / 40 = 98 % fully open, where the house's 85 % were told, give or take 10 %."""
    check = check_readings(make_case(), read({"closed": 75, "full": 35.8}, outdoor_f=35))
    assert (check.word, named(check)[0]) == ("in order", "brings_more")
    assert "98 % by the mixing equation, 85 % asked" in check.positions[1].text
    assert "Or: the outdoor sensor reads" in check.text


def test_too_close_to_tell() -> None:
    """With sensors of 5 °F, closed and open need 2 × 5 × sqrt(1.5) = 12.2 °F between outdoor and return air."""
    close = check_readings(house(), read({"full": 71}, outdoor_f=70))
    assert (close.word, close.causes, close.positions[0].code) == ("cannot be told", (), "too_close")
    assert close.text.endswith("within 5 °F; test with at least 10 °F between them.")
    coarse = make_case({"damper": {"outdoor_share": 1.0}, "sensors": {"dry_bulb_error": "5F"}})
    assert check_readings(coarse, read({"closed": 75, "full": 63}, outdoor_f=63)).text.endswith("13 °F between them.")


def test_sensors_told_as_perfect_still_round_what_they_show() -> None:
    """Shut, mixed air reads as return air: were it taken for outdoor air, nothing would be left to mix."""
    perfect = make_case({"damper": {"outdoor_share": 1.0}, "sensors": {"dry_bulb_error": "0F"}})
    assert named(check_readings(perfect, read({"closed": 75, "full": 65})))[0] == "opens_short"
    assert check_readings(perfect, read({"closed": 75, "full": 55})).word == "in order"


def test_what_is_too_small_to_show_is_said() -> None:
    """By hand, 20 °F apart: 2 °F × sqrt(2) = 2.8 °F shut and fully open, 2 °F × sqrt(1.5) = 2.4 °F half open."""
    unseen = check_readings(house(), read({"closed": 75, "half": 65, "full": 55})).unseen
    assert unseen.leak_share == pytest.approx(2 * 2**0.5 / 20)
    # Half open the mixed-air sensor alone counts whole.
    assert unseen.outdoor_k == pytest.approx(2 * 2**0.5 / 1.8)
    assert unseen.return_k == pytest.approx(2 * 2**0.5 / 1.8)
    assert unseen.mixed_k == pytest.approx(2 * 1.5**0.5 / 1.8)


@pytest.mark.parametrize(
    ("sheet", "words"),
    [
        (read({"closed": 850}), r"closed: mixed air was read as 850 °F \(454\.4 °C\), expected -40 °F"),
        (read({"closed": 75}) * 2, "The position closed was told twice"),
        ([Reading(position="full", mixed_c=20.0)], "No outdoor air was read"),
        ([Reading(position="full", outdoor_c=10.0, return_c=20.0)], "No mixed or supply air was read"),
    ],
)
def test_readings_that_tell_nothing_are_refused(sheet: Any, words: str) -> None:
    with pytest.raises(CaseError, match=words):
        check_readings(house(), sheet)


def test_sentences_are_in_the_case_s_units() -> None:
    si = make_case({"damper": {"outdoor_share": 1.0}}, units="si")
    for mixed in ((75, 65, 55), (80, 70, 60), (75, 65, 45)):
        check = check_readings(si, read(dict(zip(POSITIONS, mixed, strict=True))))
        said = json.dumps(check.to_dict(), ensure_ascii=False)
        assert "°F" not in said
        assert " K" in said


def test_every_key_of_a_check_is_documented() -> None:
    page = (Path(__file__).parents[1] / "docs" / "command-line.md").read_text("utf-8")
    page = page.partition("## Check a commissioning sheet")[2].partition("\n## ")[0]
    for record in (SheetCheck, Cause, Finding, Unseen):
        assert [name for name in names_of(record) if f"`{name}`" not in page] == []


def test_the_command_takes_the_sheet_s_columns_and_prints_json() -> None:
    rows = ("--closed", "55,75,70,71.2", "--half", ",,65,66.2", "--full", "55,75,56")
    run = freecool("sheet-check", *rows, "--set", "x=1")
    assert run.code == 2
    run = freecool("sheet-check", *rows, "--json")
    assert run.code == 1
    told = json.loads(run.output)
    sheet = [
        Reading(position="closed", outdoor_c=f(55), return_c=f(75), mixed_c=f(70), supply_c=f(71.2)),
        Reading(position="half", mixed_c=f(65), supply_c=f(66.2)),
        Reading(position="full", outdoor_c=f(55), return_c=f(75), mixed_c=f(56)),
    ]
    assert told == check_readings(make_case(), sheet).to_dict()
    assert freecool("sheet-check", "--outdoor", "55F", "--return", "75F", "--full", "58F").code == 0
    refused = freecool("sheet-check", "--closed", "55,75")
    assert (refused.code, "expected mixed air such as 74.5F, or outdoor,return,mixed,supply" in refused.errors) == (
        2,
        True,
    )
