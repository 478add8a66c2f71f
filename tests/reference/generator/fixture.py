"""Thins traces and writes them as fixtures."""

import gzip
from importlib.metadata import version
from pathlib import Path

import numpy as np

from run import Trace

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "reference"
TEMPERATURE_C = 25.0
# Longest distance between rows, s, and how far a left-out sample may lie from the line between its neighbours.
LONGEST_GAP_S = 30.0
VOLTAGE_TOLERANCE_V = 0.002
CURRENT_TOLERANCE_A = 0.001
SOC_TOLERANCE = 1e-5


def kept_rows(trace: Trace) -> list[int]:
    """Rows between which every column runs straight, within the tolerances; the first and the last are among them."""
    columns = [
        (trace.voltage_v, VOLTAGE_TOLERANCE_V),
        (trace.current_a, CURRENT_TOLERANCE_A),
        (trace.soc, SOC_TOLERANCE),
    ]
    t = trace.t_s
    kept, last = [0], len(t) - 1
    while kept[-1] < last:
        start, end = kept[-1], kept[-1] + 1
        while end < last and t[end + 1] - t[start] <= LONGEST_GAP_S + 1e-6 and _straight(t, columns, start, end + 1):
            end += 1
        kept.append(end)
    return kept


def _straight(t, columns, start: int, end: int) -> bool:
    inner = slice(start + 1, end)
    return all(
        np.all(np.abs(np.interp(t[inner], t[[start, end]], c[[start, end]]) - c[inner]) <= tolerance)
        for c, tolerance in columns
    )


def head(seed, scenario: str, facts: list[str]) -> str:
    """The comment lines that every fixture begins with."""
    lines = [
        "generator tests/reference/generator (tests/run --regenerate-references)",
        f"pybamm {version('pybamm')}, seed {seed}",
        f"scenario {scenario}",
        *facts,
    ]
    return "".join(f"# {line}\n" for line in lines)


def write_text(name: str, text: str) -> None:
    """Writes `text` as a fixture; packed if the name ends in .gz, with the same bytes on every run."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    content = text.encode()
    if name.endswith(".gz"):
        content = gzip.compress(content, compresslevel=9, mtime=0)
    (FOLDER / name).write_bytes(content)
    print(f"{name}: {len(content)} bytes", flush=True)


def write_trace(name: str, trace: Trace, seed, scenario: str, facts: list[str]) -> None:
    """Writes a trace; the last column, the part of the current that stores nothing, only where the model has one."""
    columns = "t_s,voltage_v,current_a,temperature_c,true_soc"
    lines = [head(seed, scenario, facts), columns + (",side_reaction_a" if trace.side_a is not None else "") + "\n"]
    for row in kept_rows(trace):
        t = f"{trace.t_s[row]:.3f}".rstrip("0").rstrip(".")
        soc = f"{round(trace.soc[row], 6) + 0.0:.6f}"
        line = f"{t},{trace.voltage_v[row]:.3f},{_short(trace.current_a[row])},{TEMPERATURE_C:g},{soc}"
        if trace.side_a is not None:
            line += f",{_short(trace.side_a[row])}"
        lines.append(line + "\n")
    write_text(name, "".join(lines))


def _short(current_a: float) -> str:
    """Tenths of a milliampere, without a minus before zero."""
    return f"{current_a:.4f}".rstrip("0").rstrip(".") if abs(current_a) >= 5e-5 else "0"
