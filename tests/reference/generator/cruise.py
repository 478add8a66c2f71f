"""A cruise of four days: full at dawn, a long motoring leg at once, sailing by day and night, a day at anchor, a short
leg into harbour and a full recharge. Invented; currents are ratios of rated capacity (C). Time 0 is six in the morning."""

import numpy as np

from cells import Cell
from fixture import write_trace
from run import Trace, charged
from schedule import Schedule

SEED = 1852
HOUR_S = 3600.0
START_CLOCK_H = 6.0
# Long enough for the charger; the trace ends an hour after it stops.
END_H = 102.0
SHORE_FROM_H = 90.0
SHORE_C = 0.18
AFTER_H = 1.0
# Charger's limit (V a cell), tail current (C) and how long the charger holds on after the tail.
LIMIT = {"lead": (2.40, 0.02, 0.5), "lfp": (3.55, 0.04, 0.25)}

# Share of the sun that reaches the panels and how broken the clouds are, for each day.
SKY = ((0.9, 0.3), (0.7, 0.8), (0.45, 0.9), (0.5, 0.7))
SUN_PEAK_C = 0.075
# Nights under way, in hours from the start: the watch has autopilot, lights and radar running.
WATCHES_H = ((14.0, 24.0), (38.0, 47.0))


def _clock(day: int, hour: float) -> float:
    """Seconds from the start to a clock time."""
    return (day * 24.0 + hour - START_CLOCK_H) * HOUR_S


def _house(load: Schedule, random) -> None:
    """Instruments all the time, and a refrigerator that comes and goes."""
    load.curve([0.0, END_H * HOUR_S], [-0.004, -0.004])
    t = 900.0
    while t < END_H * HOUR_S - HOUR_S:
        on, off = random.uniform(800.0, 1300.0), random.uniform(1400.0, 2300.0)
        load.block(t, t + on, -0.013)
        t += on + off


def _galley(load: Schedule, random) -> None:
    """Three meals a day; the hob switches within each."""
    meals = ((7.4, 0.10, 2), (12.6, 0.16, 3), (19.2, 0.30, 5))
    for day in range(4):
        for hour, peak_c, pulses in meals:
            t = _clock(day, hour + random.uniform(-0.4, 0.4))
            if t < 3 * HOUR_S or t > SHORE_FROM_H * HOUR_S:
                continue
            for _ in range(pulses):
                on = random.uniform(150.0, 420.0)
                load.block(t, t + on, -peak_c * random.uniform(0.7, 1.0))
                t += on + random.uniform(60.0, 240.0)


def _watches(load: Schedule) -> None:
    for start_h, end_h in WATCHES_H:
        load.block(start_h * HOUR_S, end_h * HOUR_S, -0.011)
        for hour in np.arange(start_h + 0.5, end_h - 0.5):
            load.block(hour * HOUR_S, hour * HOUR_S + 480.0, -0.02)


def _drive(load: Schedule, random) -> None:
    """Two hours at 0.4 C on average out of the first harbour, half an hour at 0.2 C into the last."""
    throttles = random.uniform(0.8, 1.2, 12)
    throttles *= 0.4 / throttles.mean()
    for piece, throttle in enumerate(throttles):
        load.block(HOUR_S + piece * 600.0, HOUR_S + (piece + 1) * 600.0, -throttle)
    load.block(88.5 * HOUR_S, 89.0 * HOUR_S, -0.2)


def _sun(source: Schedule, random) -> None:
    """A bell between eight and twenty o'clock with clouds before it, a value every ten minutes."""
    for day, (share, broken) in enumerate(SKY):
        hours = np.arange(8.0, 20.01, 1 / 6)
        bell = np.sin(np.pi * (hours - 8.0) / 12.0) ** 2
        clouds = 1.0 - broken * random.uniform(0.0, 0.9, len(hours))
        source.curve([_clock(day, hour) for hour in hours], SUN_PEAK_C * share * bell * clouds)


def _sailing(source: Schedule, random) -> None:
    """Regeneration in fair wind, gusts every five minutes; a generator twice."""
    for start_h, end_h in ((17.0, 22.0), (27.0, 35.0)):
        times = np.arange(start_h, end_h, 1 / 12) * HOUR_S
        gusts = 0.022 * random.uniform(0.3, 1.7, len(times))
        gusts[0] = gusts[-1] = 0.0
        source.curve(times, gusts)
    source.block(10.5 * HOUR_S, 12.5 * HOUR_S, 0.2)
    source.block(60.0 * HOUR_S, 61.0 * HOUR_S, 0.15)


def _schedules(cell: Cell, shore_until_s: float):
    random = np.random.default_rng([SEED, cell.cells_in_series])
    load, source = Schedule(), Schedule()
    _house(load, random)
    _galley(load, random)
    _watches(load)
    _drive(load, random)
    _sun(source, random)
    _sailing(source, random)
    source.block(SHORE_FROM_H * HOUR_S, shore_until_s, SHORE_C)
    load_times, loads = load.points(END_H * HOUR_S)
    source_times, sources = source.points(END_H * HOUR_S)
    return (load_times, loads * cell.rated_ah), (source_times, sources * cell.rated_ah)


def _run(cell: Cell) -> tuple[Trace, float, float]:
    """The trace, when the tail current was reached and when the charger stopped, s."""
    limit_v, tail_c, hold_h = LIMIT[cell.kind]
    load, source = _schedules(cell, END_H * HOUR_S)
    tail = (SHORE_FROM_H * HOUR_S + 60.0, tail_c * cell.rated_ah)
    to_tail = charged(cell, load, source, limit_v, END_H * HOUR_S, tail)
    tail_s = float(to_tail.t_s[-1])
    shore_until_s = np.ceil(tail_s / 60.0) * 60.0 + hold_h * HOUR_S
    load, source = _schedules(cell, shore_until_s)
    return charged(cell, load, source, limit_v, shore_until_s + AFTER_H * HOUR_S), tail_s, shore_until_s


def write(cells: list[Cell]) -> None:
    """One cruise for each cell."""
    for cell in cells:
        trace, tail_s, stop_s = _run(cell)
        assert not trace.ended_at_cutoff, f"{cell.kind}: the cruise empties the bank"
        limit_v, tail_c, hold_h = LIMIT[cell.kind]
        facts = [
            f"bank {cell.kind}, {cell.cells_in_series} cells, {cell.rated_ah:g} Ah at 20 h, "
            f"cut-off {cell.cutoff_v * cell.cells_in_series:g} V",
            f"charger holds {limit_v * cell.cells_in_series:g} V; tail {tail_c * cell.rated_ah:g} A at t_s {tail_s:.0f}, "
            f"then {hold_h:g} h more to a state of charge of {trace.soc[trace.t_s <= stop_s + 1.0][-1]:.4f}",
        ]
        write_trace(f"cruise_{cell.kind}.csv.gz", trace, SEED, "cruise of four days, full to full", facts)
