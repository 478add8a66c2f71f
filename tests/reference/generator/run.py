"""Runs a cell through a schedule of bank currents."""

from dataclasses import dataclass

import numpy as np
import pybamm

from cells import RESOLUTION_S, Cell, charge_transfer_v, side_reaction_a

# Amperes of bank current for each volt that a bank's cell lies below the charger's limit, per Ah: a stiff charger.
DROOP_PER_AH = 25.0


@dataclass
class Trace:
    """What one run gave, for the bank: positive current charges."""

    t_s: np.ndarray
    voltage_v: np.ndarray
    current_a: np.ndarray
    soc: np.ndarray
    # Part of the current that stores nothing; `None` where the model has no such part.
    side_a: np.ndarray | None
    ended_at_cutoff: bool


def _interpolant(times, values):
    """Linear between the given points, held before the first and after the last."""
    times = np.concatenate([[times[0] - 10.0], times, [times[-1] + 1e6]])
    values = np.concatenate([[values[0]], values, [values[-1]]])
    return pybamm.Interpolant(times, values, pybamm.t, interpolator="linear")


def _solve(model, values, times, t_end):
    solver = pybamm.IDAKLUSolver(rtol=1e-6, atol=1e-8)
    simulation = pybamm.Simulation(model, parameter_values=values, solver=solver)
    stops = np.append(times[times < t_end], t_end)
    solution = simulation.solve(stops, t_interp=np.arange(0.0, t_end + RESOLUTION_S / 2, RESOLUTION_S))
    # Before and after each stop the solver reports the same moment twice.
    fresh = np.concatenate([[True], np.diff(solution.t) > 1e-6])
    return solution, fresh


def given_current(cell: Cell, times, current_a, t_end) -> Trace:
    """Bank current as given (linear between points), until `t_end` or the cut-off."""
    times = np.asarray(times, float)
    model, values = cell.model()
    values["Current function [A]"] = _interpolant(times, -np.asarray(current_a, float) / cell.scale)
    solution, fresh = _solve(model, values, times, t_end)
    removed_ah = solution["Discharge capacity [A.h]"].entries[fresh]
    return Trace(
        t_s=solution.t[fresh],
        voltage_v=solution["Voltage [V]"].entries[fresh] * cell.cells_in_series,
        current_a=-solution["Current [A]"].entries[fresh] * cell.scale,
        soc=1.0 - removed_ah / cell.own_ah,
        side_a=None,
        ended_at_cutoff="Minimum voltage" in solution.termination,
    )
