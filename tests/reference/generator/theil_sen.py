"""Theil-Sen lines with the range of their slope by scipy: even and uneven x, ties, outliers, several confidences."""

import json
from importlib.metadata import version

import numpy as np
from scipy.stats import theilslopes

from fixture import write_text

SEED = 1968


def _series(random):
    """(what, x, y, confidence), in short decimals."""
    fade = 1.0 - 0.018 * np.arange(24) / 4 + random.normal(0, 0.01, 24)
    wild = fade.copy()
    wild[[3, 11, 17]] += [0.3, -0.4, 0.5]
    uneven = np.cumsum(random.exponential(20.0, 41))
    yield "fade by quarters", np.arange(24) / 4, fade, 0.95
    yield "three of them wild", np.arange(24) / 4, wild, 0.95
    yield "uneven days", uneven, 0.0021 + 3e-7 * uneven + random.normal(0, 4e-5, 41), 0.90
    yield "ties in x and y", np.repeat(np.arange(8), 3), np.round(random.normal(0, 1, 24)), 0.95
    yield "no trend", np.arange(60), random.normal(5, 2, 60), 0.99
    yield "three points", np.array([0.0, 1.0, 3.0]), np.array([2.0, 2.5, 2.2]), 0.80


def write() -> None:
    """Writes `theil_sen.json`, one series a line."""
    lines = []
    for what, x, y, confidence in _series(np.random.default_rng(SEED)):
        x, y = np.round(x, 4), np.round(y, 8)
        found = theilslopes(y, x, alpha=confidence)
        row = {"what": what, "confidence": confidence, "x": x.tolist(), "y": y.tolist()}
        row |= {name: float(getattr(found, name)) for name in ("slope", "intercept", "low_slope", "high_slope")}
        lines.append(json.dumps(row))
    head = {
        "generator": "tests/reference/generator (tests/run --regenerate-references)",
        "versions": {"scipy": version("scipy"), "numpy": version("numpy")},
        "seed": SEED,
        "scenario": "scipy.stats.theilslopes, method 'separate'",
    }
    write_text("theil_sen.json", json.dumps(head, indent=1)[:-2] + ',\n "series": [\n' + ",\n".join(lines) + "\n ]\n}\n")
