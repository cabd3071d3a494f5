"""Makes design.json beside it: Riccati solutions and observer gains by scipy.

Run: python3 make_design.py (made with scipy 1.17.1, numpy 2.4.6). The random cases are invented.
"""

import json
import math
import pathlib
import tomllib

import numpy as np
import scipy
from scipy.linalg import solve_discrete_are

HERE = pathlib.Path(__file__).parent
RIG = HERE.parents[2] / "host-sim" / "rigs" / "default.toml"


def riccati_cases(rng):
    cases = []
    while len(cases) < 24:
        n, m = int(rng.integers(1, 9)), int(rng.integers(1, 4))
        a = rng.normal(size=(n, n))
        a *= rng.uniform(0.6, 1.6) / max(abs(np.linalg.eigvals(a)))
        b = rng.normal(size=(n, m))
        c = rng.normal(size=(int(rng.integers(1, n + 1)), n))
        q = c.T @ c  # often singular
        s = rng.normal(size=(m, m))
        r = s @ s.T + 0.1 * np.eye(m)
        x = solve_discrete_are(a, b, q, r)
        gain = np.linalg.solve(r + b.T @ x @ b, b.T @ x @ a)
        residual = a.T @ x @ a - a.T @ x @ b @ gain + q - x
        # Only well-posed cases serve as a reference.
        if abs(residual).max() > 1e-11 * abs(x).max() or max(abs(np.linalg.eigvals(a - b @ gain))) > 0.98:
            continue
        cases.append(dict(n=n, m=m, a=a.tolist(), b=b.tolist(), q=q.tolist(), r=r.tolist(), x=x.tolist()))
    return cases


def observer(rig):
    """The observer of a rig, built from its description.

    Two double integrators share a clock: the floor (displacement, velocity) and the travel
    (travel, rate). Each accelerometer reads its truth plus a bias plus white noise held over a
    step. Pseudo-measurement: floor displacement 0, as noise of an r.m.s. s correlated over tau,
    white variance 2 s^2 tau / T a sample. Rounding to counts adds per_count^2 / 12.
    """
    t, o, sensors = rig["timing"]["step_s"], rig["observer"], rig["sensors"]
    move, push = np.array([[1, t], [0, 1]]), np.array([t * t / 2, t])
    a = np.eye(6)  # floor z, v, bias; travel r, w, bias
    a[0:2, 0:2] = a[3:5, 3:5] = move
    a[0:2, 2] = -push  # floor = reading - floor bias
    a[3:5, 2] = push  # relative = seat - floor
    a[3:5, 5] = -push

    def accel(s):
        return s["noise_rms"] ** 2 + o["unmodelled_mps2"] ** 2 + s["per_count"] ** 2 / 12

    floor_noise = np.concatenate([push, [0], -push, [0]])
    seat_noise = np.concatenate([[0, 0, 0], push, [0]])
    c = np.zeros((2, 6))
    c[0, 0] = c[1, 3] = 1
    travel = sensors["travel"]
    r = np.diag([o["floor_displacement_rms_m"] ** 2 * 2 * o["floor_correlation_s"] / t,
                 travel["noise_rms"] ** 2 + o["unmodelled_travel_m"] ** 2 + travel["per_count"] ** 2 / 12])

    def gains(drift_per_root_s):
        q = (np.outer(floor_noise, floor_noise) * accel(sensors["floor_accel"])
             + np.outer(seat_noise, seat_noise) * accel(sensors["seat_accel"]))
        q[2, 2] = q[5, 5] = drift_per_root_s**2 * t
        p = solve_discrete_are(a.T, c.T, q, r)
        k = np.linalg.solve(c @ p @ c.T + r, c @ p).T
        residual = a @ (p - k @ c @ p) @ a.T + q - p
        poles = np.linalg.eigvals((np.eye(6) - k @ c) @ a)
        print("residual", abs(residual).max() / abs(p).max(), "largest pole", abs(poles).max())
        return k.tolist()

    return dict(
        # What was read, so that the check holds when the rig is tuned.
        timing=dict(step_s=t), observer=o,
        floor_accel=sensors["floor_accel"], seat_accel=sensors["seat_accel"], travel=travel,
        gains=gains(o["bias_wander_mps2_psqrts"]),
        # The first set after a reset: a bias that wanders as far as that at switch-on within start_s.
        start_gains=gains(o["start_bias_mps2"] / math.sqrt(o["start_s"])))


rig = tomllib.loads(RIG.read_text())
out = dict(made_with=f"scipy {scipy.__version__}, numpy {np.__version__}",
           riccati=riccati_cases(np.random.default_rng(2)), observer=observer(rig))
(HERE / "design.json").write_text(json.dumps(out) + "\n")
