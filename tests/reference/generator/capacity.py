"""Capacity of a cell at several rates, from full and at 25 °C."""

from cells import Cell
from run import given_current

HOURS = (20.0, 10.0, 5.0, 2.0, 1.0)


def _hours_to_cutoff(cell: Cell, current_a: float) -> float:
    trace = given_current(cell, [0.0], [-current_a], 3600.0 * 1.3 * cell.rated_ah / current_a)
    assert trace.ended_at_cutoff, "a discharge at a constant current ends at the cut-off"
    return float(trace.t_s[-1]) / 3600.0


def at_twenty_hours(cell: Cell) -> Cell:
    """The cell with its own capacity at the 20-hour rate: the current at which it lasts twenty hours."""
    for _ in range(30):
        hours = _hours_to_cutoff(cell, cell.rated_ah / 20.0)
        cell = cell.with_own_ah(cell.own_ah * hours / 20.0)
        if abs(hours - 20.0) < 1e-6:
            return cell
    raise RuntimeError(f"{cell.kind}: no capacity at the 20-hour rate")


def by_rate(cell: Cell) -> list[tuple[float, float, float]]:
    """Rows of current (A of the bank), hours and capacity (Ah) at C/20, C/10, C/5, C/2 and 1C."""
    rows = []
    for hours in HOURS:
        current_a = cell.rated_ah / hours
        lasted = _hours_to_cutoff(cell, current_a)
        rows.append((current_a, lasted, current_a * lasted))
    return rows
