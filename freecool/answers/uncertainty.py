"""How sure an answer is: buildings like the case's, drawn from what it does not tell, on both building models."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from freecool.answers.blocks import answer_blocks, cooling_kwh
from freecool.answers.prepare import prepare
from freecool.answers.real_years import count_years
from freecool.answers.results import LikelyBand, Mover, Reach
from freecool.answers.runs import run_pair
from freecool.answers.scenarios import run_jobs
from freecool.answers.sensors import SensorError
from freecool.cases.model import Case, make_case
from freecool.cases.sections import ground_of, layers
from freecool.physics.cooling_unit import CoolingUnit

if TYPE_CHECKING:
    from freecool.weather import Weather

FloatArray = NDArray[np.float64]
Use = Literal["dwelling", "commercial", "equipment"]

# Buildings drawn; fewer of a record of many years, each of which is run. 8 of 10 lie between the percentiles; our own.
DRAWS, LEAST_DRAWS, SEED = 64, 24, 0
PERCENTILES = (10.0, 50.0, 90.0)
EVERY_USE: tuple[Use, ...] = ("dwelling", "commercial", "equipment")
PRACTICE = "common practice, no source"
SOILS = ("clay", "sand", "rock")


@dataclass(frozen=True, kw_only=True)
class Unknown:
    """A value that a case may leave to its preset, and how far buildings like it differ in it.

    Attributes
    ----------
    key : str
        Of the case; what else moves with it is told beside.
    words : str
        What it is, as one asks for it.
    low, high : float
        Every value between is taken as equally likely: shares of the case's, or values themselves [SI].
    relative : bool
        Whether they are shares of the case's.
    source : str
    uses : tuple of str
        Of buildings that it holds for.
    """

    key: str
    words: str
    low: float
    high: float
    relative: bool = True
    source: str = PRACTICE
    uses: tuple[Use, ...] = EVERY_USE


INPUTS: tuple[Unknown, ...] = (
    Unknown(key="gains.occupied", words="heat from people and equipment", low=0.7, high=1.3, uses=("dwelling",)),
    Unknown(
        key="gains.occupied",
        words="heat from lights, equipment and people",
        low=0.55,
        high=1.15,
        source="of an office 1.0 to 2.1 W/ft²: lights of ASHRAE 90.1-2019 to those of 1989, and plugs (from memory)",
        uses=("commercial",),
    ),
    Unknown(key="gains.occupied", words="heat from the equipment", low=0.5, high=1.5, uses=("equipment",)),
    Unknown(key="gains.moisture", words="moisture from people and things", low=0.6, high=1.5),
    Unknown(key="building.infiltration_ach", words="leakage of the building", low=0.5, high=2.0),
    Unknown(key="building.shading", words="shading of the windows", low=0.7, high=1.3),
    Unknown(
        key="building.window_g",
        words="sun that the glass lets through",
        low=0.7,
        high=1.4,
        source="of low-e double 0.28 to 0.56, from solar control to clear: ASHRAE Fundamentals (2017) ch. 15 table 10 "
        "(from memory)",
    ),
    Unknown(key="building.wall", words="insulation of walls and roof", low=0.6, high=1.5),
    Unknown(key="building.inside_faces", words="partitions and furniture", low=0.5, high=1.4),
    Unknown(
        key="building.edge_insulation",
        words="insulation around the slab's edge",
        low=0.0,
        high=1.76,
        relative=False,
        source="none, or 10 hft²F/Btu as IECC 2021 asks from zone 4 on (from memory)",
    ),
    Unknown(
        key="building.soil",
        words="soil under the building",
        low=0.0,
        high=1.0,
        relative=False,
        source="clay, sand and rock of ISO 13370:2017 table 7 (from memory)",
    ),
    Unknown(
        key="humidity.capacity_multiplier",
        words="moisture that the contents hold",
        low=10.0,
        high=25.0,
        relative=False,
        source="building simulation practice, no source",
    ),
    Unknown(
        key="unit.capacity",
        words="size of the unit with its fan",
        low=0.6,
        high=1.1,
        source="from what design hours ask for, docs/cooling.md, to what is found; common practice, no source",
    ),
    Unknown(key="unit.eer", words="efficiency of the unit", low=0.85, high=1.2),
    Unknown(key="fan.power", words="power of the fan", low=0.75, high=1.3),
    Unknown(
        key="damper.outdoor_share",
        words="outdoor share of the open damper",
        low=0.6,
        high=1.0,
        relative=False,
        uses=("dwelling",),
    ),
    Unknown(
        key="damper.outdoor_share",
        words="outdoor share of the open damper",
        low=0.75,
        high=1.0,
        relative=False,
        uses=("commercial", "equipment"),
    ),
    Unknown(key="damper.leakage", words="leakage of the shut damper", low=0.0, high=0.04, relative=False),
)
"""What the likely band draws where the case does not tell it; two more are in it always: which of the two building
models, and the errors of the sensors."""


@lru_cache(16)
def _preset_case(preset: str) -> Case:
    return make_case(preset=preset)


def not_told(case: Case) -> tuple[Unknown, ...]:
    """The inputs that a case leaves to its preset, given the case.

    Parameters
    ----------
    case : Case
        A value equal to its preset's counts as not told.

    Returns
    -------
    tuple of Unknown
        In the order of `INPUTS`.
    """
    start, use = _preset_case(case.preset), case.building.use
    return tuple(
        one
        for one in INPUTS
        if use in one.uses and _value(case, one.key) == _value(start, one.key) and _matters(case, one.key)
    )


def _matters(case: Case, key: str) -> bool:
    on_ground = key not in ("building.soil", "building.edge_insulation") or ground_of(case.building) == "slab"
    return on_ground and (key not in ("unit.eer", "unit.capacity") or not case.unit.map)


def _value(case: Case, key: str) -> Any:
    section, name = key.split(".")
    if key == "unit.capacity":
        return case.unit.capacity, case.unit.low_capacity, case.fan.flow
    if key == "building.wall":
        return case.building.wall, case.building.roof, case.building.construction
    return getattr(getattr(case, section), name)


def varied(case: Case, unknowns: Sequence[Unknown], places: Sequence[float] | FloatArray) -> Case:
    """A building like the case's, given which inputs differ and where in their ranges they lie.

    Parameters
    ----------
    case : Case
        Left as it is.
    unknowns : sequence of Unknown
        From `not_told`.
    places : sequence of float or ndarray
        From 0, its low end, to 1, its high end, one an input.

    Returns
    -------
    Case
        All else as told.
    """
    sections: dict[str, dict[str, Any]] = {}
    for one, place in zip(unknowns, places, strict=True):
        for section, changes in _changes(case, one, float(place)).items():
            sections.setdefault(section, {}).update(changes)
    update = {name: getattr(case, name).model_copy(update=changes) for name, changes in sections.items()}
    return case.model_copy(update=update)


def _changes(case: Case, one: Unknown, place: float) -> dict[str, dict[str, Any]]:
    """What one input changes, by section."""
    section, name = one.key.split(".")
    part, level = getattr(case, section), one.low + (one.high - one.low) * place
    if one.key == "building.wall":
        return {section: {side: _thicker(case, side, level) for side in ("wall", "roof")}}
    if one.key == "building.soil":
        return {section: {name: SOILS[min(int(place * len(SOILS)), len(SOILS) - 1)]}}
    if section == "unit":
        points = (f"{point}{name}" for point in ("", "mild_", "low_", "middle_"))
        changes = {point: level * value for point in points if (value := getattr(part, point)) is not None}
        return {section: changes} | ({"fan": {"flow": level * case.fan.flow}} if name == "capacity" else {})
    if not one.relative:
        return {section: {name: level}}
    value = level * getattr(part, name)
    return {section: {name: min(value, 1.0) if name in ("shading", "window_g") else value}}


def _thicker(case: Case, part: Literal["wall", "roof"], factor: float) -> Any:
    layer = layers(case.building, part)
    return layer.model_copy(update={"resistance": factor * layer.resistance})


def latin_hypercube(draws: int, dimensions: int, seed: int) -> FloatArray:
    """Points that fill a cube evenly along every axis, given how many, of how many dimensions, and a seed.

    Parameters
    ----------
    draws, dimensions : int
        At least one.
    seed : int
        The same seed gives the same points.

    Returns
    -------
    ndarray
        (draws, dimensions), one in each of `draws` equal parts of every axis [0-1].

    Notes
    -----
    McKay, Beckman and Conover, Technometrics 21(2), 1979.
    """
    random = np.random.default_rng(seed)
    ranks = np.argsort(random.random((draws, dimensions)), axis=0)
    points: FloatArray = (ranks + random.random((draws, dimensions))) / draws
    return points


class Doubt(NamedTuple):
    """How sure an answer is, and what would make it surer."""

    band: LikelyBand
    movers: tuple[Mover, ...]
    """What moves it most first."""


class Drawn(NamedTuple):
    """What the damper brings to one building like the case's, and what that takes."""

    net_kwh: float
    saved: float
    cooling_kwh: float
    """Electricity of cooling without the damper [kWh/year]."""


def doubt_of(case: Case, weather: Weather, workers: int | None = None) -> Doubt:
    """How sure the answer to a case is, given it and whole years of weather.

    Parameters
    ----------
    case : Case
        What it tells is kept; what it leaves to its preset differs from draw to draw.
    weather : Weather
        Whole years.
    workers : int, optional
        Threads; one a core unless given. The result does not depend on it.

    Returns
    -------
    Doubt
        Half of the draws on either building model, with sensor errors; every one two complete runs.
    """
    unknowns = not_told(case)
    points, found = draw_like(case, weather, DRAWS, workers)
    draws = len(found)
    net, saved, _ = (np.array(values) for values in zip(*found, strict=True))
    band = LikelyBand(
        net_kwh_saved=_reach(net),
        saved_per_year=_reach(saved),
        draws=draws,
        inputs=tuple(one.words for one in unknowns),
    )
    return Doubt(band, _movers(unknowns, points, net))


def draw_like(case: Case, weather: Weather, draws: int, workers: int | None = None) -> tuple[FloatArray, list[Drawn]]:
    """Buildings like a case's, given it, whole years of weather and how many.

    Parameters
    ----------
    case : Case
        What it tells is kept.
    weather : Weather
        Whole years.
    draws : int
        Of one year of weather; fewer of more years.
    workers : int, optional
        Threads; one a core unless given.

    Returns
    -------
    points : ndarray
        Places of the inputs in their ranges, of the model and of the sensors' errors, a row a building [0-1].
    found : list of Drawn
        In the order of the rows.
    """
    unknowns = not_told(case)
    count = max(draws // max(round(count_years(weather)), 1), LEAST_DRAWS)
    points = latin_hypercube(count, len(unknowns) + 5, SEED)
    return points, run_jobs([partial(_drawn, case, weather, unknowns, point) for point in points], workers=workers)


def _drawn(case: Case, weather: Weather, unknowns: Sequence[Unknown], point: FloatArray) -> Drawn:
    """What the damper brings to one building like the case's."""
    places, (model, *errors) = point[: len(unknowns)], point[len(unknowns) :]
    like = varied(case, unknowns, places)
    prepared = prepare(like, weather)
    zone = prepared.zone if model < 0.5 else prepared.second
    reach = (case.sensors.dry_bulb_error, case.sensors.humidity_error_percent / 100.0) * 2
    error = SensorError(*(most * (2.0 * place - 1.0) for most, place in zip(reach, errors, strict=True)))
    seen = prepared._replace(unit=_within_its_map(prepared.unit), limits=error.on(prepared.limits))
    pair = run_pair(seen, zone)
    blocks = answer_blocks(like, weather, pair.without.totals, pair.fitted.totals)
    cooling = cooling_kwh(blocks.energy, case.fan.mode == "continuous")
    return Drawn(blocks.energy.net_kwh_saved, blocks.money.saved_per_year, cooling)


def _within_its_map(unit: CoolingUnit) -> CoolingUnit:
    """The unit held to the edge of its map: what a building like the case's leaves is no fault of the case."""
    if unit.performance is None:
        return unit
    return unit._replace(performance=unit.performance._replace(refuses=False))


def _reach(values: FloatArray) -> Reach:
    low, middle, high = map(float, np.percentile(values, PERCENTILES))
    return Reach(low=low, middle=middle, high=high)


def _movers(unknowns: Sequence[Unknown], points: FloatArray, net_kwh: FloatArray) -> tuple[Mover, ...]:
    """Each input with the mean of the draws in its lowest and in its highest third, the widest apart first."""
    found = []
    for one, places in zip(unknowns, points.T[: len(unknowns)], strict=True):
        low, high = (float(net_kwh[third].mean()) for third in (places < 1.0 / 3.0, places > 2.0 / 3.0))
        found.append(Mover(input=one.key, words=one.words, net_kwh_low=low, net_kwh_high=high))
    return tuple(sorted(found, key=lambda mover: -abs(mover.net_kwh_high - mover.net_kwh_low)))
