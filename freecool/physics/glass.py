"""Sun through glass by angle of incidence, relative to sun that falls straight on it."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class Glass(NamedTuple):
    """How much less a kind of glass admits of light that does not fall straight on it."""

    angles_deg: FloatArray
    """Of incidence, 0 to 90, rising (angles,) [degrees]."""
    by_angle: FloatArray
    """Solar heat gain over that at normal incidence (angles,) [0-1]."""
    diffuse: float
    """The same of light that comes evenly from a half of the sky [0-1]."""

    def at(self, incidence_deg: FloatArray) -> FloatArray:
        """Solar heat gain over that at normal incidence, given angles of incidence.

        Parameters
        ----------
        incidence_deg : ndarray
            Any shape; nothing is admitted beyond 90 [degrees].

        Returns
        -------
        ndarray
            Of the same shape [0-1].
        """
        return np.interp(incidence_deg, self.angles_deg, self.by_angle)

    def admitted(self, near_sun: FloatArray, elsewhere: FloatArray, incidence_deg: FloatArray) -> FloatArray:
        """Irradiance at normal incidence that would bring as much, given what falls on the glass.

        Parameters
        ----------
        near_sun, elsewhere : ndarray
            Irradiance of the plane from the sun and close around it, and from the rest of sky and ground (hours,)
            [W/m2].
        incidence_deg : ndarray
            Angle of incidence of the sun (hours,) [degrees].

        Returns
        -------
        ndarray
            To be multiplied by area and solar heat gain coefficient at normal incidence (hours,) [W/m2].
        """
        return self.at(incidence_deg) * near_sun + self.diffuse * elsewhere


def over_half_sky(angles_deg: FloatArray, by_angle: FloatArray) -> float:
    """Mean of an angular factor for light that comes evenly from a half of the sky, given the factor by angle.

    Parameters
    ----------
    angles_deg : ndarray
        Of incidence, 0 to 90, rising (angles,) [degrees].
    by_angle : ndarray
        The factor there (angles,) [0-1].

    Returns
    -------
    float
        The integral of f sin(2 theta) over theta, on steps of a quarter of a degree [0-1].
    """
    edges = np.linspace(0.0, 90.0, 361)
    weights = np.diff(np.sin(np.radians(edges)) ** 2)
    return float(weights @ np.interp((edges[:-1] + edges[1:]) / 2.0, angles_deg, by_angle))


def karlsson_roos(panes: int, coating: float) -> Glass:
    """Glass by the curve of Karlsson and Roos, given its panes and the kind of its coating.

    Parameters
    ----------
    panes : int
        Of glass, 1 to 3.
    coating : float
        Their category q; 4 for a clear pane, 3 for two, 2 where one has a low-emittance coating.

    Returns
    -------
    Glass
        On steps of one degree.

    Notes
    -----
    Karlsson and Roos, Solar Energy 68 (2000), p. 493, from memory: with z = angle / 90,
    f = 1 - a z^alpha - b z^2 - c z^gamma.
    """
    a, b = 8.0, 0.25 / coating
    c = 1.0 - a - b
    alpha = 5.2 + 0.7 * coating
    gamma = 5.26 + 0.06 * panes + (0.73 + 0.04 * panes) * coating
    angles = np.linspace(0.0, 90.0, 91)
    z = angles / 90.0
    factor = 1.0 - a * z**alpha - b * z**2 - c * z**gamma
    return Glass(angles, factor, over_half_sky(angles, factor))


def tabulated(by_ten_degrees: FloatArray, hemispherical: float) -> Glass:
    """Glass by a table, given what it admits at 0, 10 ... 90 degrees and of light from a half of the sky.

    Parameters
    ----------
    by_ten_degrees : ndarray
        Solar heat gain coefficient or transmittance, shape (10,) [0-1].
    hemispherical : float
        The same of light that comes evenly from a half of the sky [0-1].

    Returns
    -------
    Glass
        Relative to 0 degrees, on steps of one degree.

    Notes
    -----
    Between the rows a monotone cubic: straight lines cut off the bend of the curve, 0.4 % of the light from a half of
    the sky.
    """
    # scipy.interpolate is slow to load.
    from scipy.interpolate import PchipInterpolator

    angles = np.linspace(0.0, 90.0, 91)
    factor = PchipInterpolator(np.linspace(0.0, 90.0, 10), by_ten_degrees / by_ten_degrees[0])(angles)
    return Glass(angles, factor, hemispherical / float(by_ten_degrees[0]))


# ASHRAE 140-2020, two clear panes of 3.048 mm: solar heat gain coefficient at 0, 10 ... 90 degrees and hemispherical,
# as transcribed by users of the standard.
_CLEAR_DOUBLE = np.array([0.769, 0.768, 0.766, 0.761, 0.748, 0.718, 0.651, 0.509, 0.267, 0.0])
_CLEAR_DOUBLE_HEMISPHERICAL = 0.670
# Panes and coating of the others; the coating of three panes as that of the low-emittance double ones.
_CURVES = {"single": (1, 4.0), "low-e-double": (2, 2.0), "triple": (3, 2.0)}


@cache
def glass_of(kind: str) -> Glass:
    """Glass, given its kind.

    Parameters
    ----------
    kind : {"single", "clear-double", "low-e-double", "triple"}
        Of glass.

    Returns
    -------
    Glass
        Two clear panes by their table, the others by the curve of Karlsson and Roos.
    """
    if kind == "clear-double":
        return tabulated(_CLEAR_DOUBLE, _CLEAR_DOUBLE_HEMISPHERICAL)
    return karlsson_roos(*_CURVES[kind])
