"""Runs a cell through a schedule of bank currents."""

from dataclasses import dataclass

import numpy as np
import pybamm

from cells import RESOLUTION_S, Cell, charge_transfer_v, side_reaction_a

# Amperes of bank current for each volt that a bank's cell lies below the charger's limit, per Ah: a stiff charger.
DROOP_PER_AH = 25.0
# Relative and absolute. With a charger the current is itself solved for, and the solver gives up on the tighter ones.
GIVEN_TOLERANCES = (1e-6, 1e-8)
CHARGER_TOLERANCES = (1e-5, 1e-6)


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


def _solve(model, values, times, t_end, tolerances):
    solver = pybamm.IDAKLUSolver(rtol=tolerances[0], atol=tolerances[1])
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
    solution, fresh = _solve(model, values, times, t_end, GIVEN_TOLERANCES)
    removed_ah = solution["Discharge capacity [A.h]"].entries[fresh]
    return Trace(
        t_s=solution.t[fresh],
        voltage_v=solution["Voltage [V]"].entries[fresh] * cell.cells_in_series,
        current_a=-solution["Current [A]"].entries[fresh] * cell.scale,
        soc=1.0 - removed_ah / cell.own_ah,
        side_a=None,
        ended_at_cutoff="Minimum voltage" in solution.termination,
    )


def charged(cell: Cell, load, source, limit_v: float, t_end, tail=None) -> Trace:
    """Loads as they are and sources cut back where a charger holds the voltage at `limit_v` a cell, until `t_end`.
    Both are (times, bank current), linear between points; a load is negative, a source positive. With `tail`, a
    (time, bank current), it ends early: once the current is down to that, after that time."""
    own = cell.own_ah
    load_a, source_a = (_interpolant(times, current_a / cell.scale) for times, current_a in (load, source))
    lead = cell.kind == "lead"
    terminals = {}

    def residual(variables):
        stored_a = -variables["Current [A]"]
        voltage_v = variables["Voltage [V]"]
        if lead:
            voltage_v = voltage_v + charge_transfer_v(stored_a, variables["Discharge capacity [A.h]"], own)
        side_a = side_reaction_a(voltage_v, own) if lead else pybamm.Scalar(0.0)
        terminals.update({"Terminal voltage [V]": voltage_v, "Side reaction [A]": side_a})
        allowed_a = pybamm.maximum(DROOP_PER_AH * own * (limit_v - voltage_v), 0.0)
        return (stored_a + side_a - load_a - _lesser(source_a, allowed_a, own)) / own

    model, values = cell.model(residual)
    model.variables.update(terminals)
    if tail is not None:
        after_s, tail_a = tail
        current_a = terminals["Side reaction [A]"] - model.variables["Current [A]"]
        too_early = 1e3 * pybamm.sigmoid(pybamm.t, after_s, 1.0)
        model.events.append(pybamm.Event("Tail current", current_a - tail_a / cell.scale + too_early))
    solution, fresh = _solve(model, values, np.union1d(load[0], source[0]), t_end, CHARGER_TOLERANCES)
    side_a = solution["Side reaction [A]"].entries[fresh] * cell.scale
    return Trace(
        t_s=solution.t[fresh],
        voltage_v=solution["Terminal voltage [V]"].entries[fresh] * cell.cells_in_series,
        current_a=-solution["Current [A]"].entries[fresh] * cell.scale + side_a,
        soc=1.0 - solution["Discharge capacity [A.h]"].entries[fresh] / own,
        side_a=side_a if lead else None,
        ended_at_cutoff="Minimum voltage" in solution.termination,
    )


def _lesser(source_a, allowed_a, own_ah):
    """The lesser of two that are not negative, rounded by a fiftieth of the first where they meet: the solver fails
    on a sharp bend. No source gives nothing."""
    width = (0.02 * source_a) ** 2 + (1e-6 * own_ah) ** 2
    return 0.5 * (source_a + allowed_a - ((source_a - allowed_a) ** 2 + width) ** 0.5)
