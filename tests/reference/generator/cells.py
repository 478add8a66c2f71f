"""The two model cells, scaled to banks.

Assumptions, all ours and none of them evidence about real batteries:
- Lead: PyBaMM's porous-electrode model `lead_acid.Full` with its parameter set Sulzer2019, no hydrolysis. LFP: the
  single-particle model with electrolyte `lithium_ion.SPMe` with Prada2013. Both at 25 °C throughout: the stock
  parameters of the lead cell know no temperature.
- A bank is one cell many times over: voltage times the cells in series, current times rated capacity / the cell's
  own capacity at the 20-hour rate. No spread between cells, no cables, no ageing, no hysteresis, no stratification.
- True state of charge is 1 - charge removed from full / capacity at the 20-hour rate and 25 °C. Full is where the parameter
  set starts.
- A model of lead without hydrolysis has no end of charge. Two additions give it one (`Charger` only; a discharge at
  a given current is the stock model): see `charge_transfer_v` and `side_reaction_a`.
"""

from dataclasses import dataclass, replace

import numpy as np
import pybamm

pybamm.set_logging_level("ERROR")

KELVIN_AT_25_C = 298.15
RESOLUTION_S = 10.0
THERMAL_VOLT_V = 8.314462618 * KELVIN_AT_25_C / 96485.33212

# Assumed: the charge reaction's exchange current for each Ah of lead sulfate that is left, A.
EXCHANGE_PER_AH = 0.05
# Assumed: sulfate that charging never reaches, as a ratio of capacity; keeps the exchange current above zero at full.
SULFATE_FLOOR = 1e-4
# Assumed: side reaction at 2.27 V a cell, A for each Ah of capacity, and volts for ten times as much.
SIDE_AT_FLOAT = 0.0005
FLOAT_V = 2.27
TAFEL_V = 0.120


@dataclass(frozen=True)
class Cell:
    """A model cell and the bank that it stands for."""

    kind: str
    cells_in_series: int
    rated_ah: float
    cutoff_v: float
    # Capacity of the one model cell at the 20-hour rate, Ah; found by `capacity.py`.
    own_ah: float

    @property
    def scale(self) -> float:
        """Bank current / cell current."""
        return self.rated_ah / self.own_ah

    def with_own_ah(self, own_ah: float) -> "Cell":
        return replace(self, own_ah=own_ah)

    def model(self, control=None):
        """The PyBaMM model and its parameters; `control` is a residual for the current, or `None` for a given current."""
        options = {"calculate discharge energy": "true"}
        if control is not None:
            options["operating mode"] = control
        if self.kind == "lead":
            model = pybamm.lead_acid.Full(options)
            values = model.default_parameter_values.copy()
        else:
            model = pybamm.lithium_ion.SPMe(options)
            values = pybamm.ParameterValues("Prada2013")
        for key in ("Ambient temperature [K]", "Initial temperature [K]", "Reference temperature [K]"):
            values[key] = KELVIN_AT_25_C
        values["Upper voltage cut-off [V]"] = 5.0
        values["Lower voltage cut-off [V]"] = self.cutoff_v
        return model, values


LEAD = Cell("lead", 24, 120.0, 1.75, 21.6)
LFP = Cell("lfp", 16, 280.0, 2.5, 2.2)


def charge_transfer_v(charging_a, missing_ah, own_ah):
    """What the charge reaction of lead takes beyond the stock model, volts a cell: Butler-Volmer with an exchange
    current in proportion to the sulfate that is left, so that current fades at the charger's limit. None on discharge."""
    floor = SULFATE_FLOOR * own_ah
    sulfate_ah = 0.5 * (missing_ah + (missing_ah**2 + 4 * floor**2) ** 0.5)
    exchange_a = EXCHANGE_PER_AH * sulfate_ah
    return 2 * THERMAL_VOLT_V * pybamm.arcsinh(pybamm.maximum(charging_a, 0.0) / (2 * exchange_a))


def side_reaction_a(voltage_v, own_ah):
    """Current that stores nothing (gassing that recombines, self-discharge), amperes of the cell: a Tafel law."""
    exponential = pybamm.exp if isinstance(voltage_v, pybamm.Symbol) else np.exp
    return SIDE_AT_FLOAT * own_ah * exponential((voltage_v - FLOAT_V) * np.log(10) / TAFEL_V)
