"""A linear filter and its fixed-interval smoother by filterpy, checked against one joint solution of all moments.

Four states with unlike lives (an integral, its drift, a constant, a coloured error), steps of uneven length, and none,
one or two scalar measurements a step, taken in one after the other; some steps repeat one direction."""

import json
from importlib.metadata import version

import numpy as np
from filterpy.kalman import KalmanFilter

from fixture import write_text

SEED = 1960
STEPS = 200
STATES = 4
AGREEMENT = 1e-10


def _inputs(random):
    """Start, and for each step its F, Q and list of measurements (z, h, r); short decimals, so that they read alike."""
    start_x = np.array([0.5, -0.02, 0.1, 0.0])
    root = np.array([[0.3, 0, 0, 0], [0.02, 0.05, 0, 0], [-0.1, 0.01, 0.2, 0], [0.05, 0, 0.04, 0.25]])
    start_p = np.round(root @ root.T, 6)
    truth = random.multivariate_normal(start_x, start_p)
    steps = []
    for step in range(STEPS):
        length = round(random.uniform(0.1, 3.0), 3)
        fade = round(float(np.exp(-length / 8.0)), 6)
        f = np.eye(STATES)
        f[0, 1], f[3, 3], f[0, 3] = length, fade, round(0.01 * length, 6)
        # The third state has no noise of its own: Q is singular on purpose.
        q = np.diag(np.round([0.0004 * length, 0.00002 * length, 0.0, 0.09 * (1 - fade**2)], 9))
        q[0, 1] = q[1, 0] = round(0.00003 * length, 9)
        truth = random.multivariate_normal(f @ truth, q)
        rows = [np.round(random.normal(0.0, 1.0, STATES), 3) for _ in range((step * 7 + 3) % 3)]
        if len(rows) == 2 and step % 4 == 0:
            rows[1] = rows[0]
        measurements = []
        for h in rows:
            r = round(float(10 ** random.uniform(-3.0, 0.5)), 6)
            measurements.append((round(float(h @ truth + random.normal(0.0, np.sqrt(r))), 6), h, r))
        steps.append((f, q, measurements))
    return start_x, start_p, steps


def _by_filterpy(start_x, start_p, steps):
    """State and covariance before and after each step's measurements, and smoothed."""
    kalman = KalmanFilter(dim_x=STATES, dim_z=1)
    kalman.x, kalman.P = start_x.reshape(-1, 1).copy(), start_p.copy()
    before, after = [], []
    for f, q, measurements in steps:
        kalman.predict(F=f, Q=q)
        before.append((kalman.x.copy(), kalman.P.copy()))
        for z, h, r in measurements:
            kalman.update(np.array([[z]]), R=np.array([[r]]), H=h.reshape(1, -1))
        after.append((kalman.x.copy(), kalman.P.copy()))
    xs, ps = (np.array(list(column)) for column in zip(*after))
    smooth_x, smooth_p, _, _ = kalman.rts_smoother(xs, ps, Fs=[s[0] for s in steps], Qs=[s[1] for s in steps])
    return before, after, list(zip(smooth_x, smooth_p))


def _jointly(start_x, start_p, steps):
    """The same smoothed moments from the joint covariance of all states given all measurements at once."""
    mean, size = [], STATES * len(steps)
    cov = np.zeros((size, size))
    x, p = start_x, start_p
    for k, (f, q, _) in enumerate(steps):
        here, past = slice(STATES * k, STATES * (k + 1)), slice(0, STATES * k)
        x, p = f @ x, f @ p @ f.T + q
        mean.append(x)
        cov[here, here] = p
        if k:
            cov[here, past] = f @ cov[STATES * (k - 1) : STATES * k, past]
            cov[past, here] = cov[here, past].T
    mean = np.concatenate(mean)
    taken = [(k, m) for k, (_, _, measurements) in enumerate(steps) for m in measurements]
    h = np.zeros((len(taken), size))
    for row, (k, (_, direction, _)) in enumerate(taken):
        h[row, STATES * k : STATES * (k + 1)] = direction
    s = h @ cov @ h.T + np.diag([m[2] for _, m in taken])
    gain = np.linalg.solve(s, h @ cov).T
    mean = mean + gain @ (np.array([m[0] for _, m in taken]) - h @ mean)
    cov = cov - gain @ h @ cov
    return [
        (mean[i : i + STATES], cov[i : i + STATES, i : i + STATES]) for i in range(0, size, STATES)
    ]


def _flat(matrix) -> list[float]:
    """Row by row."""
    return [float(value) for value in np.asarray(matrix).reshape(-1)]


def write() -> None:
    """Writes `kalman.json`, one step a line."""
    start_x, start_p, steps = _inputs(np.random.default_rng(SEED))
    before, after, smoothed = _by_filterpy(start_x, start_p, steps)
    for (x, p), (joint_x, joint_p) in zip(smoothed, _jointly(start_x, start_p, steps)):
        off = max(np.abs(x.reshape(-1) - joint_x).max(), np.abs(p - joint_p).max())
        assert off < AGREEMENT, f"filterpy and the joint solution differ by {off}"
    lines = []
    for (f, q, measurements), prior, posterior, smooth in zip(steps, before, after, smoothed):
        step = {
            "f": _flat(f),
            "q": _flat(q),
            "measurements": [{"z": z, "h": _flat(h), "r": r} for z, h, r in measurements],
        }
        for name, (x, p) in (("predicted", prior), ("updated", posterior), ("smoothed", smooth)):
            step[f"{name}_x"], step[f"{name}_p"] = _flat(x), _flat(p)
        lines.append(json.dumps(step))
    head = {
        "generator": "tests/reference/generator (tests/run --regenerate-references)",
        "versions": {"filterpy": version("filterpy"), "numpy": version("numpy")},
        "seed": SEED,
        "scenario": "each step: predict by f and q, then take in its scalar measurements in order (Joseph form); "
        "smoothed: fixed interval over all steps. Matrices row by row.",
        "states": STATES,
        "x0": _flat(start_x),
        "p0": _flat(start_p),
    }
    text = json.dumps(head, indent=1)[:-2] + ',\n "steps": [\n' + ",\n".join(lines) + "\n ]\n}\n"
    json.loads(text)
    write_text("kalman.json", text)
