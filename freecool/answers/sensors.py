"""What sensors get wrong: errors drawn once for each installation, and what-ifs."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from freecool.cases.sections import Sensors
from freecool.core.units import parse
from freecool.physics.rule import Limits

# What-ifs: an outdoor sensor in the sun, a humidity element that has drifted; common practice, no source.
SUN_ERROR_K = parse("6F", "difference")
DRIFT_ERROR_RH = 0.10


class SensorError(NamedTuple):
    """Reading less true value of an installation's four sensors."""

    outdoor_k: float = 0.0
    outdoor_rh: float = 0.0
    return_k: float = 0.0
    return_rh: float = 0.0

    def on(self, limits: Limits) -> Limits:
        """The same limits as these sensors would apply them.

        Parameters
        ----------
        limits : Limits
            As exact sensors apply them.

        Returns
        -------
        Limits
            With these errors in place of any that it held.
        """
        return limits._replace(
            outdoor_error_k=self.outdoor_k,
            outdoor_error_rh=self.outdoor_rh,
            return_error_k=self.return_k,
            return_error_rh=self.return_rh,
        )


NO_ERROR = SensorError()
IN_THE_SUN = SensorError(outdoor_k=SUN_ERROR_K)
DRIFTED_HUMIDITY = SensorError(outdoor_rh=DRIFT_ERROR_RH)


def draw_errors(sensors: Sensors, draws: int, seed: int) -> list[SensorError]:
    """Sensor errors of many installations, given tolerances, how many, and a seed.

    Parameters
    ----------
    sensors : Sensors
        Tolerances; every error within them is taken as equally likely, each sensor by itself.
    draws : int
        How many installations.
    seed : int
        The same seed gives the same errors.

    Returns
    -------
    list of SensorError
        One an installation.
    """
    reach = np.array([sensors.dry_bulb_error, sensors.humidity_error_percent / 100.0] * 2)
    errors = np.random.default_rng(seed).uniform(-reach, reach, (draws, 4))
    return [SensorError(*map(float, row)) for row in errors]
