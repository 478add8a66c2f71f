"""Bank currents over time, as a sum of blocks and curves; every edge lies on the grid of samples and ramps over one
of its steps, so that counting by trapezoids is exact."""

import numpy as np

from cells import RESOLUTION_S


def _on_grid(t_s: float) -> float:
    return round(t_s / RESOLUTION_S) * RESOLUTION_S


class Schedule:
    """A sum of parts, each a broken line of (seconds, amperes of the bank)."""

    def __init__(self):
        self._parts: list[tuple[np.ndarray, np.ndarray]] = []

    def block(self, start_s: float, end_s: float, current_a: float) -> None:
        """A constant current from `start_s` to `end_s`."""
        start, end = _on_grid(start_s), _on_grid(end_s)
        self.curve([start, start + RESOLUTION_S, end, end + RESOLUTION_S], [0.0, current_a, current_a, 0.0])

    def curve(self, times_s, currents_a) -> None:
        """A broken line, held beyond its ends."""
        self._parts.append((np.array([_on_grid(t) for t in times_s]), np.array(currents_a, float)))

    def points(self, t_end_s: float) -> tuple[np.ndarray, np.ndarray]:
        """All breakpoints from 0 to `t_end_s` and the current at each."""
        every = np.concatenate([[0.0, t_end_s], *(times for times, _ in self._parts)])
        times = np.unique(every[(every >= 0.0) & (every <= t_end_s)])
        return times, sum(np.interp(times, *part) for part in self._parts)
