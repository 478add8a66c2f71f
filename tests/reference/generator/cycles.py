"""Rainflow cycles by the package rainflow: (range, mean, count, first place, last place) in the order in which it finds them."""

import json
from importlib.metadata import version

import numpy as np
import rainflow

from fixture import write_text

SEED = 1049


def _series(random):
    """(what, values)."""
    t = np.arange(201) * 0.02
    yield "the standard's example", [-2, 1, -3, 5, -1, 3, -4, 4, -2]
    yield "states of charge", [100, 70, 85, 40, 60, 55, 95, 50, 100]
    yield "the package's example", (0.2 + 0.5 * np.sin(t) + 0.2 * np.cos(10 * t) + 0.2 * np.sin(4 * t)).tolist()
    yield "plateaus", [0.0, 0.0, 1.0, 1.0, 1.0, 0.4, 0.4, 0.8, 0.8, 0.2, 0.2, 1.0]
    yield "a random walk", np.round(np.cumsum(random.normal(0, 1, 400)), 4).tolist()
    yield "random states of charge", np.round(random.uniform(0, 1, 300), 4).tolist()


def write() -> None:
    """Writes `cycles.json`, one series a line."""
    lines = [
        json.dumps({"what": what, "values": values, "cycles": [list(map(float, c)) for c in rainflow.extract_cycles(values)]})
        for what, values in _series(np.random.default_rng(SEED))
    ]
    head = {
        "generator": "tests/reference/generator (tests/run --regenerate-references)",
        "versions": {"rainflow": version("rainflow"), "numpy": version("numpy")},
        "seed": SEED,
        "scenario": "rainflow.extract_cycles: range, mean, count, place of the first and of the second turning point",
    }
    write_text("cycles.json", json.dumps(head, indent=1)[:-2] + ',\n "series": [\n' + ",\n".join(lines) + "\n ]\n}\n")
