"""The zone as a linear network: two builders, one form.

Every builder returns a `Network`: with states x (air last), inputs u and heat to
the air node Q, an hour is ``y = F x + G u + c Q`` and ``x' = x + (y - x) / implicitness``
(1: implicit Euler; 1/2: Crank-Nicolson, y being the hour's mean).
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from freecool.physics.ground import FLOOR_FILM, OUTSIDE_FILM, Beneath

FloatArray = NDArray[np.float64]
MassClass = Literal["I", "E", "IE", "D", "M", "none"]

# ISO 52016-1:2017 table 25 and annex B (B.17, B.19): films and sky, [W/m2K], [K].
OUTSIDE_CONVECTION = 20.0
OUTSIDE_RADIATION = 4.14
INSIDE_RADIATION = 5.13
SKY_DEPRESSION_K = 11.0
STEFAN_BOLTZMANN = 5.670374e-8
"""CODATA 2018 [W/m2K4]."""
ZERO_CELSIUS_K = 273.15
# ISO 52016-1:2017 annex B: what 4.14 W/m2K stands for at 0 degC.
EMITTANCE = 0.9
# ISO 52016-1:2017 table B.11: where an areal heat capacity sits, node 1 outside ... 5 inside.
CAPACITY_PLACES: dict[str, tuple[float, ...]] = {
    "I": (0, 0, 0, 0, 1),
    "E": (1, 0, 0, 0, 0),
    "IE": (1 / 2, 0, 0, 0, 1 / 2),
    "D": (1 / 8, 1 / 4, 1 / 4, 1 / 4, 1 / 8),
    "M": (0, 0, 1, 0, 0),
}
# ISO 52016-1:2017 6.5.8.2: the same of a floor above its soil, nodes 3 to 5.
FLOOR_PLACES: dict[str, tuple[float, ...]] = {
    "I": (0, 0, 1),
    "E": (1, 0, 0),
    "IE": (1 / 2, 0, 1 / 2),
    "D": (1 / 4, 1 / 2, 1 / 4),
    "M": (0, 1, 0),
}
# ISO 52016-1:2017 eq. (43)-(45): conductances between the five nodes, times R.
PART_CONDUCTANCES = (6.0, 3.0, 3.0, 6.0)
# ISO 13790:2008 7.2.2 and C.2: couplings [W/m2K] and ratio of inside faces to floor area.
ISO13790_MASS_SURFACE = 9.1
ISO13790_SURFACE_AIR = 3.45
ISO13790_FACES_PER_FLOOR = 4.5
# ISO 6946:2017 table 7: surface resistance of upright faces inside [m2K/W].
INSIDE_FILM = 0.13

# The columns of u before the absorbed sun of each element.
INPUTS = ("outdoor_c", "ground_c", "internal_gain_w", "window_gain_w")


class Element(NamedTuple):
    """An opaque part or a window of the envelope."""

    area_m2: float
    resistance_m2k_w: float
    """Between its faces, films apart."""
    capacity_j_m2k: float
    mass_class: MassClass
    """Where the capacity sits; "none" is a window: two nodes, no capacity."""
    inside_convection_w_m2k: float
    sky_share: float
    boundary: Literal["air", "ground", "none"] = "air"
    """What is beyond its outside face; "none" where no heat passes, as in the middle of a partition."""
    absorbing: tuple[tuple[float, float, float], ...] = ()
    """Sun it absorbs: (tilt [deg], azimuth [deg], area times absorptance [m2]) each."""
    outside_film_w_m2k: float = OUTSIDE_CONVECTION + OUTSIDE_RADIATION
    emittance: float = EMITTANCE
    """Outside."""
    beneath: Beneath | None = None
    """Of a floor on the ground: what is beneath its layers."""


class Splits(NamedTuple):
    """Shares of heat gains that reach the air at once; the rest goes to the surfaces by area."""

    internal_to_air: float = 0.4
    window_to_air: float = 0.1


DEFAULT_SPLITS = Splits()


class Network(NamedTuple):
    """A zone's constant matrices for one time step."""

    F: FloatArray
    """State to state, (s, s)."""
    G: FloatArray
    """Inputs to state, (s, len(INPUTS) + elements)."""
    c: FloatArray
    """Heat to the air node [W] to state [K], (s,)."""
    implicitness: float
    capacity_j_k: FloatArray
    """Of the states (s,), for balances."""


class Modes(NamedTuple):
    """A network in its own modes, each of which fades by itself; a state is the mode's part of the air temperature.

    With parts p [K] and inputs u, the air at an hour's end is ``a = sum(p) + G[-1] u + response Q`` and the next
    parts are ``keep p + G[:-1] u + push Q``: a tenth of the work of the full matrix, and the same temperatures.
    """

    keep: FloatArray
    """What is left of a part after one step (modes,)."""
    push: FloatArray
    """Heat to the air [W] to part [K], (modes,)."""
    response: float
    """Heat to the air [W] to the air [K] in the same step."""
    G: FloatArray
    """Inputs to parts, and in the last row to the air (modes + 1, inputs)."""
    uniform: FloatArray
    """The parts of a zone in which every state is at 1 degC."""


def modes_of(network: Network) -> Modes:
    """The modes of a network, given its matrices.

    Parameters
    ----------
    network : Network
        From a builder of this file.

    Returns
    -------
    Modes
        Exact: the same air temperatures.

    Notes
    -----
    Scaled by the roots of its capacities, F is symmetric: a conductance joins two nodes both ways alike.
    """
    stored = network.capacity_j_k > 0.0
    root = np.sqrt(network.capacity_j_k[stored])
    inside = network.F[np.ix_(stored, stored)]
    fade, vectors = np.linalg.eigh(root[:, None] * inside / root)
    to_modes = vectors.T * root
    to_air = network.F[-1, stored] / root @ vectors
    step = to_air[:, None] * to_modes / network.implicitness
    return Modes(
        1.0 + (fade - 1.0) / network.implicitness,
        step @ network.c[stored],
        float(network.c[-1]),
        np.vstack((step @ network.G[stored], network.G[-1])),
        to_air * to_modes.sum(axis=1),
    )


def merge(elements: list[Element]) -> list[Element]:
    """The elements with equal layers, class, films and boundary joined: exact, areas and absorbed sun add.

    Parameters
    ----------
    elements : list of Element
        Of the envelope.

    Returns
    -------
    list of Element
        In the order of their first.
    """
    joined: dict[Element, Element] = {}
    for element in elements:
        key = element._replace(area_m2=0.0, absorbing=())
        if key in joined:
            before = joined[key]
            element = element._replace(
                area_m2=before.area_m2 + element.area_m2, absorbing=before.absorbing + element.absorbing
            )
        joined[key] = element
    return list(joined.values())


def sky_loss_w(
    element: Element, outdoor_c: FloatArray, horizontal_infrared_w_m2: FloatArray | None = None
) -> FloatArray:
    """Extra radiation of an element to a sky colder than the air, given the element, dry bulb and the sky's heat.

    Parameters
    ----------
    element : Element
        Opaque or a window.
    outdoor_c : ndarray
        Outdoor dry bulb (hours,) [degC].
    horizontal_infrared_w_m2 : ndarray, optional
        What the sky sends down as heat on a horizontal plane (hours,), NaN where unknown [W/m2].

    Returns
    -------
    ndarray
        Loss (hours,), 0 for what does not stand in outdoor air [W].

    Notes
    -----
    Where the sky's heat is not told, ISO 52016-1:2017, eq. (39), with 11 K as in the mid-latitudes. Where it is told,
    what a black body as warm as the air would send above it, by the law of Stefan and Boltzmann. The sky near the
    horizon is about as warm as the air, so that a plane that sees a share F of the sky feels sqrt(F) of the
    difference: Walton, NBSIR 83-2655 (1983), from memory.
    """
    seeing_m2 = element.area_m2 * element.sky_share if element.boundary == "air" else 0.0
    usual = np.full(outdoor_c.size, seeing_m2 * element.emittance / EMITTANCE * OUTSIDE_RADIATION * SKY_DEPRESSION_K)
    if horizontal_infrared_w_m2 is None or seeing_m2 == 0.0:
        return usual
    deficit_w_m2 = STEFAN_BOLTZMANN * np.square(np.square(outdoor_c + ZERO_CELSIUS_K)) - horizontal_infrared_w_m2
    told = seeing_m2 * np.sqrt(element.sky_share) * element.emittance * deficit_w_m2
    return np.where(np.isnan(told), usual, told)


def assemble(
    capacity: FloatArray, conductance: FloatArray, inputs: FloatArray, implicitness: float, step_s: float
) -> Network:
    """A network's matrices, given capacities, conductances and inputs of its nodes.

    Parameters
    ----------
    capacity : ndarray
        Of the nodes, the air last (nodes,) [J/K].
    conductance : ndarray
        Between the nodes (nodes, nodes) [W/K].
    inputs : ndarray
        Heat to the nodes by input (nodes, inputs) [W by unit of the input].
    implicitness : float
        1 for implicit Euler, 1/2 for Crank-Nicolson.
    step_s : float
        Time step [s].

    Returns
    -------
    Network
        Nodes without capacity are eliminated; the air stays, with or without.
    """
    storage = capacity / (implicitness * step_s)
    inverse = np.linalg.inv(np.diag(storage) + conductance)
    kept = np.flatnonzero(capacity > 0)
    air = capacity.size - 1
    if air not in kept:
        kept = np.append(kept, air)
    rows = inverse[kept]
    return Network(
        np.ascontiguousarray(rows[:, kept] * storage[kept]),
        np.ascontiguousarray(rows @ inputs),
        np.ascontiguousarray(rows[:, air]),
        implicitness,
        capacity[kept],
    )


def element_network(
    elements: list[Element], air_capacity_j_k: float, splits: Splits = DEFAULT_SPLITS, step_s: float = 3600.0
) -> Network:
    """The ISO 52016-1:2017 hourly network, given elements and the capacity of air and furniture [J/K].

    Parameters
    ----------
    elements : list of Element
        Merged; the order sets the columns of absorbed sun.
    air_capacity_j_k : float
        Of the air and what follows it at once [J/K].
    splits : Splits
        Shares of gains to the air.
    step_s : float
        Time step [s].

    Returns
    -------
    Network
        Implicit Euler; inputs are `INPUTS` and then, for each element, its absorbed sun less sky loss [W].

    Notes
    -----
    ISO 52016-1:2017 6.5.6 to 6.5.8: five nodes an opaque element, two a window; radiation between inside
    faces by area weighting; areal capacity the sum of the real layers instead of the class table.
    """
    sizes = [2 if element.mass_class == "none" else 5 for element in elements]
    air = sum(sizes)
    capacity = np.zeros(air + 1)
    conductance = np.zeros((air + 1, air + 1))
    inputs = np.zeros((air + 1, len(INPUTS) + len(elements)))
    capacity[air] = air_capacity_j_k
    faces = np.cumsum(sizes) - 1
    areas = np.array([element.area_m2 for element in elements])
    shares = areas / areas.sum()

    def _join(i: int, j: int, value: float) -> None:
        conductance[i, i] += value
        conductance[j, j] += value
        conductance[i, j] -= value
        conductance[j, i] -= value

    for index, (element, size) in enumerate(zip(elements, sizes, strict=True)):
        outside, inside = faces[index] - size + 1, faces[index]
        for offset, part in enumerate(_part_conductances(element)):
            _join(outside + offset, outside + offset + 1, part * element.area_m2)
        if size == 5:
            capacity[outside : inside + 1] = _part_capacities(element) * element.area_m2
        film = _outside_film(element)
        column = INPUTS.index("ground_c" if element.boundary == "ground" else "outdoor_c")
        conductance[outside, outside] += film * element.area_m2
        inputs[outside, column] += film * element.area_m2
        inputs[outside, len(INPUTS) + index] = 1.0
        _join(inside, air, element.inside_convection_w_m2k * element.area_m2)
        for other in range(index):
            _join(inside, faces[other], INSIDE_RADIATION * element.area_m2 * shares[other])
    for name, to_air in (("internal_gain_w", splits.internal_to_air), ("window_gain_w", splits.window_to_air)):
        column = INPUTS.index(name)
        inputs[air, column] = to_air
        inputs[faces, column] = (1.0 - to_air) * shares
    return assemble(capacity, conductance, inputs, 1.0, step_s)


def _part_conductances(element: Element) -> tuple[float, ...]:
    """Conductances between an element's nodes [W/m2K]. ISO 52016-1:2017 6.5.7.3; on the ground 6.5.8.2."""
    resistance = element.resistance_m2k_w
    if element.mass_class == "none":
        return (1.0 / resistance,)
    if element.beneath is None or element.beneath.soil_m2k_w == 0.0:
        return tuple(part / resistance for part in PART_CONDUCTANCES)
    soil = element.beneath.soil_m2k_w
    return 2.0 / soil, 1.0 / (resistance / 4.0 + soil / 2.0), 2.0 / resistance, 4.0 / resistance


def _part_capacities(element: Element) -> FloatArray:
    """Capacities of an opaque element's nodes [J/m2K]."""
    if element.beneath is None or element.beneath.soil_m2k_w == 0.0:
        return np.array(CAPACITY_PLACES[element.mass_class]) * element.capacity_j_m2k
    floor = np.array(FLOOR_PLACES[element.mass_class]) * element.capacity_j_m2k
    return np.concatenate(([0.0, element.beneath.soil_j_m2k], floor))


def _outside_film(element: Element) -> float:
    """Conductance from an element's outside face to what is beyond it [W/m2K]."""
    if element.boundary == "none":
        return 0.0
    if element.boundary == "ground":
        # Without more beneath, the outside face is at the ground temperature.
        return 1e3 if element.beneath is None else 1.0 / element.beneath.virtual_m2k_w
    return element.outside_film_w_m2k


def five_resistance_network(elements: list[Element], floor_m2: float, step_s: float = 3600.0) -> Network:
    """The ISO 13790:2008 annex C network (5R1C), given the same elements and the floor area [m2].

    Parameters
    ----------
    elements : list of Element
        Of the envelope.
    floor_m2 : float
        Conditioned floor area [m2].
    step_s : float
        Time step [s].

    Returns
    -------
    Network
        Crank-Nicolson, states mass and air; inputs as `element_network`.

    Notes
    -----
    ISO 13790:2008 eq. (C.1) to (C.12). The capacity is the sum of the layers, not the class table, which
    overstates light construction; soil beneath a floor is none of it, being behind the floor's resistance.
    """
    opaque = [element for element in elements if element.mass_class != "none"]
    mass = sum(e.area_m2 * e.capacity_j_m2k for e in opaque)
    mass_area = mass**2 / sum(e.area_m2 * e.capacity_j_m2k**2 for e in opaque)
    face_area = ISO13790_FACES_PER_FLOOR * floor_m2
    window = sum(_transmission(e) for e in elements if e.mass_class == "none")
    walls = np.array([_transmission(e) for e in opaque])
    mass_surface = ISO13790_MASS_SURFACE * mass_area
    outside_mass = 1.0 / (1.0 / walls.sum() - 1.0 / mass_surface)
    surface_air = ISO13790_SURFACE_AIR * face_area
    ground_share = sum(u for u, e in zip(walls, opaque, strict=True) if e.boundary == "ground") / walls.sum()

    conductance = np.array(
        [
            [outside_mass + mass_surface, -mass_surface, 0.0],
            [-mass_surface, mass_surface + window + surface_air, -surface_air],
            [0.0, -surface_air, surface_air],
        ]
    )
    inputs = np.zeros((3, len(INPUTS) + len(elements)))
    inputs[0, 0] = outside_mass * (1.0 - ground_share)
    inputs[0, 1] = outside_mass * ground_share
    inputs[1, 0] = window
    to_mass = mass_area / face_area
    to_surface = 1.0 - to_mass - window / (ISO13790_MASS_SURFACE * face_area)
    inputs[:, 2] = 0.5 * to_mass, 0.5 * to_surface, 0.5
    inputs[:, 3] = to_mass, to_surface, 0.0
    for index, element in enumerate(elements):
        # ISO 13790:2008 eq. (43): what an opaque face absorbs counts by its film and transmittance.
        entering = OUTSIDE_FILM * _transmission(element) / element.area_m2 if element.boundary == "air" else 0.0
        inputs[:2, len(INPUTS) + index] = to_mass * entering, to_surface * entering
    return assemble(np.array([mass, 0.0, 0.0]), conductance, inputs, 0.5, step_s)


def _transmission(element: Element) -> float:
    """Area times transmittance [W/K]. ISO 6946:2017; of a floor on the ground ISO 13370:2017."""
    if element.boundary == "none":
        return 0.0
    if element.beneath is not None:
        beneath = element.beneath.soil_m2k_w + element.beneath.virtual_m2k_w
        return element.area_m2 / (FLOOR_FILM + element.resistance_m2k_w + beneath)
    films = INSIDE_FILM + (OUTSIDE_FILM if element.boundary == "air" else 0.0)
    return element.area_m2 / (element.resistance_m2k_w + films)
