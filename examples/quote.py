"""A quote for an invented customer in an invented climate: the answer, then month by month.

Pell & Daughters, a contractor of two vans in Quillon Ferry, is asked by the Larkspur Bakery what an
outdoor-air damper is worth. Contractor, town, customer and weather are all invented.

Run it from anywhere: ``python examples/quote.py``, or with a weather file of your own:
``python examples/quote.py path/to/weather.epw``.
"""

import sys
from pathlib import Path

from freecool import estimate, make_case, open_weather, read_case_file

CUSTOMER = Path(__file__).with_name("larkspur-bakery.toml")
COLUMNS = {
    "permitted_hours": "permitted h",
    "cooling_hours": "cooling h",
    "free_cooling_hours": "free h",
    "compressor_kwh_avoided": "avoided kWh",
    "fan_kwh_added": "fan kWh",
    "net_kwh_saved": "net kWh",
}


def main(weather: str = "demo:high-desert") -> None:
    """Print the answer and the monthly table, given where the weather comes from."""
    case = make_case(read_case_file(CUSTOMER), where=CUSTOMER.name)
    answer = estimate(case, open_weather(weather))
    print(answer)
    print("\nMonth by month, mean of the years")
    # Adding zero turns a rounded -0 into 0.
    print((answer.monthly[list(COLUMNS)].round() + 0.0).astype(int).rename(columns=COLUMNS).to_string())


if __name__ == "__main__":
    main(*sys.argv[1:2])
