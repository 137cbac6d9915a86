"""How fast ten station-years are answered once fetched, as ratios: no limit is asserted, machines differ.

Run with ``pytest tests/benchmarks/test_station_speed.py -s``.
"""

from __future__ import annotations

import os
import subprocess
import sys
from time import perf_counter
from typing import Any

import pytest
from station_server import StationServer

from freecool import estimate, make_case, open_weather
from freecool.answers.prepare import prepare
from freecool.physics.year import simulate

NEAR = "near:36.07,-79.79"
YEARS = (2015, 2024)


def test_ten_station_years(station_server: StationServer, capsys: pytest.CaptureFixture[str]) -> None:
    """Reading, answering and the whole command, over one run of the ten years."""
    case, weather = make_case(), open_weather(NEAR, years=YEARS)
    assert len(weather.years) == 10
    estimate(case, weather)
    command = [sys.executable, "-m", "freecool", "value", NEAR, "--years", "2015-2024", "--offline"]
    # The kept years are the test's, compiled code comes into the same folder at the first call.
    environment = os.environ | station_server.environment

    def whole_command() -> None:
        subprocess.run(command, env=environment, capture_output=True, check=True)

    def seconds(run: Any) -> float:
        start = perf_counter()
        run()
        return perf_counter() - start

    whole_command()
    p = prepare(case, weather)
    run = min(seconds(lambda: simulate(p.zone, p.unit, p.fan, p.damper, p.limits)) for _ in range(5))
    times = {
        "one run of ten years, with warm-up": run,
        "reading ten kept station-years": min(seconds(lambda: open_weather(NEAR, years=YEARS)) for _ in range(3)),
        "their answer, both networks": min(seconds(lambda: estimate(case, weather)) for _ in range(3)),
        "the whole command, offline": min(seconds(whole_command) for _ in range(3)),
    }
    with capsys.disabled():
        print()
        for name, taken in times.items():
            print(f"{name:<68} {1e3 * taken:10.2f} ms {taken / run:10.1f} x")
