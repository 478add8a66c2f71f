"""Shapes of fade of the lithium cells beside the repository, for the prior of the fade forecast. Prints a table; writes nothing.

    TAFFRAIL_SHARED=../shared target/reference-venv/bin/python tests/reference/generator/fade_shapes.py

Each cell's whole life (median of five cycles, 120 of them, up to just beyond 80 % of nominal) is fitted by least squares with
soft outliers to the family of `src/health/fade/shape.rs`; the table gives the median of each quantity over a set of cells, and
1.4826 times the median deviation from it. Weak pulls keep what a cell does not tell from running away."""

import csv
import gzip
import os
from collections import defaultdict
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

SETS = {"Severson 2019": "severson_2019_lfp_all_cycles.csv.gz", "Attia 2020": "attia_2020_lfp_all_cycles.csv.gz"}
END = 0.80
LOSSES = np.linspace(0.0, 0.45, 361)
KNEE_WIDTH = 0.01
NAMES = ("m", "ln s", "K", "ln r")
# Middle and width of the weak pulls.
PULL = np.array([[0.5, 2.0], [np.log(0.01), 1.5], [0.1, 0.1], [1.0, 1.0]])


def _cells(path):
    """Cycles and capacities (ratio) of each cell."""
    rows = defaultdict(list)
    with gzip.open(path, "rt") as file:
        for row in csv.DictReader(file):
            rows[row["cell"]].append((float(row["cycle"]), float(row["capacity_pct_of_1p1Ah"]) / 100))
    for cell in rows.values():
        x, y = np.array(cell).T
        padded = np.concatenate([y[:1], y[:1], y, y[-1:], y[-1:]])
        yield x, np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)


def _course(shape, x):
    m, ln_s, knee, ln_r, ln_pace, begun = shape
    rate = (1 + LOSSES / np.exp(ln_s)) ** m * (1 + np.expm1(ln_r) / (1 + np.exp((knee - LOSSES) / KNEE_WIDTH)))
    times = np.concatenate([[0.0], np.cumsum(0.5 * (1 / rate[1:] + 1 / rate[:-1]) * np.diff(LOSSES))])
    return begun - np.interp(np.exp(ln_pace) * x, times, LOSSES)


def _fit(x, y):
    """The shape, and what it leaves (RMS)."""
    end = x[np.argmax(y < END)]
    kept = np.flatnonzero(x <= 1.02 * end)
    kept = kept[np.linspace(0, len(kept) - 1, 120).astype(int)]
    x, y = x[kept] / end, y[kept]

    def residuals(shape):
        return np.concatenate([(_course(shape, x) - y) / 0.001, (shape[:4] - PULL[:, 0]) / PULL[:, 1]])

    starts = [(m, np.log(0.01), knee, 1.0, np.log(0.03), y[0]) for m in (0.0, 1.0) for knee in (0.04, 0.1)]
    best = min((least_squares(residuals, start, loss="soft_l1") for start in starts), key=lambda fit: fit.cost)
    return best.x, np.sqrt(np.mean((_course(best.x, x) - y) ** 2))


def main() -> None:
    """Prints the table."""
    folder = Path(os.environ.get("TAFFRAIL_SHARED", "../shared")) / "data" / "lfp_fade_a123_severson_attia"
    fits = {name: [_fit(*cell) for cell in _cells(folder / file)] for name, file in SETS.items()}
    fits["both"] = [fit for found in fits.values() for fit in found]
    for name, found in fits.items():
        shapes = np.array([shape[:4] for shape, _ in found])
        middle = np.median(shapes, axis=0)
        spread = 1.4826 * np.median(np.abs(shapes - middle), axis=0)
        said = ", ".join(f"{n} {a:.3f} ± {b:.3f}" for n, a, b in zip(NAMES, middle, spread))
        print(f"{name}: {len(found)} cells, {said}; RMS {np.median([rms for _, rms in found]):.5f}")


if __name__ == "__main__":
    main()
