"""Endurance: from full by a gentle house load to 70, 50 or 30 %, an hour's rest, then a constant load to the cut-off."""

import numpy as np

from cells import Cell
from fixture import write_trace
from run import given_current
from schedule import Schedule

SEED = 4711
LEVELS = (0.70, 0.50, 0.30)
LOAD_HOURS = (20, 10, 5, 2)
HOUSE_HOURS = 20.0
PIECE_S = 1200.0
REST_S = 3600.0


def _house(cell: Cell, level: float, schedule: Schedule) -> float:
    """Pieces of twenty minutes between about 0.3 and 1.7 of the 20-hour current, with the level reached at the end;
    gives the end, in seconds. A bank's pieces for one level are the same for every load that follows."""
    duration_s = (1.0 - level) * HOUSE_HOURS * 3600.0
    pieces = round(duration_s / PIECE_S)
    random = np.random.default_rng([SEED, round(level * 100), cell.cells_in_series])
    weights = random.uniform(0.3, 1.7, pieces)
    # A block with its two ramps counts for its length exactly, so that the weights alone set the level.
    weights *= pieces / weights.sum()
    for piece, weight in enumerate(weights):
        schedule.block(piece * PIECE_S, (piece + 1) * PIECE_S, -weight * cell.rated_ah / HOUSE_HOURS)
    return pieces * PIECE_S


def _run(cell: Cell, level: float, load_hours: int) -> None:
    schedule = Schedule()
    rest_from_s = _house(cell, level, schedule)
    load_from_s = rest_from_s + REST_S
    load_a = cell.rated_ah / load_hours
    t_end = load_from_s + load_hours * 3600.0 * 1.2
    schedule.block(load_from_s, t_end + 60.0, -load_a)
    trace = given_current(cell, *schedule.points(t_end), t_end)
    assert trace.ended_at_cutoff, f"{cell.kind} from {level} at C/{load_hours}: no cut-off"
    facts = [
        f"bank {cell.kind}, {cell.cells_in_series} cells, {cell.rated_ah:g} Ah at 20 h, "
        f"cut-off {cell.cutoff_v * cell.cells_in_series:g} V",
        f"load {load_a:g} A from t_s {load_from_s:.0f}; cut-off at t_s {trace.t_s[-1]:.3f}",
    ]
    name = f"endurance_{cell.kind}_{round(level * 100)}_c{load_hours}.csv.gz"
    scenario = f"endurance from {level:.2f} at C/{load_hours} to the cut-off"
    write_trace(name, trace, SEED, scenario, facts)


def write(cells: list[Cell]) -> None:
    """Twelve runs for each cell."""
    for cell in cells:
        for level in LEVELS:
            for load_hours in LOAD_HOURS:
                _run(cell, level, load_hours)
