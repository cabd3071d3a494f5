"""Makes bound.json beside it: least r.m.s. and least peak of small programs by OSQP and scipy, and a linear
regulator by scipy.

Run: python3 make_bound.py (needs numpy, scipy, osqp; the versions used stand in the file). The floors are
invented. The formulation is not that of the project: one unknown for each knot of the seat acceleration,
travel and felt acceleration as dense linear functions of these; the weighting is Wk of ISO 8041-1:2017
(corners as in its Table 3) without the low-pass, made discrete by scipy.signal.cont2discrete for a linear
input at the sample rate.
"""

import json
import pathlib

import numpy as np
import osqp
import scipy
from scipy import optimize, signal, sparse
from scipy.linalg import solve_discrete_are

HERE = pathlib.Path(__file__).parent
SAMPLE_S, KNOT = 0.002, 10  # 20 ms from knot to knot
INTERVALS, CHECKS, SKIP = 150, 2, 250


def wk():
    """High-pass 0.4 Hz, transition 12.5 Hz, step 2.37 to 3.35 Hz."""
    w1, w34, w5, w6 = 2 * np.pi * np.array([0.4, 12.5, 2.37, 3.35])
    sections = [
        ([1, 0, 0], [1, w1 * np.sqrt(2), w1**2]),
        ([w34, w34**2], [1, w34 / 0.63, w34**2]),
        ([1, w5 / 0.91, w5**2], [1, w6 / 0.91, w6**2]),
    ]
    num, den = [1.0], [1.0]
    for n, d in sections:
        num, den = np.polymul(num, n), np.polymul(den, d)
    return signal.tf2ss(num, den)


def hat_inputs(count, knots):
    """Acceleration at each sample for a unit acceleration at each knot."""
    t = np.arange(count) / KNOT
    return np.maximum(0.0, 1.0 - abs(t[:, None] - np.arange(knots)[None, :]))


def twice(accel):
    """Displacement at each sample of accelerations that run linearly between samples, from rest."""
    out = np.zeros_like(accel)
    rate = np.zeros(accel.shape[1:])
    for k in range(1, len(accel)):
        a, b = accel[k - 1], accel[k]
        out[k] = out[k - 1] + SAMPLE_S * rate + SAMPLE_S**2 * (a / 3 + b / 6)
        rate = rate + SAMPLE_S * (a + b) / 2
    return out


def case(rng, limit, kind):
    count = INTERVALS * KNOT + 1
    b, a = signal.butter(2, [1.0, 6.0], "bandpass", fs=1 / SAMPLE_S)
    floor = signal.lfilter(b, a, rng.normal(size=count + 2000))[2000:] * 8.0
    floor *= np.minimum(1.0, np.arange(count) / 200)
    floor = np.round(floor, 6)
    hats = hat_inputs(count, INTERVALS + 1)
    travel = twice(hats)
    ground = twice(floor[:, None])[:, 0]
    checks = np.arange(KNOT // CHECKS, count, KNOT // CHECKS)
    idle = np.arange(KNOT, SKIP + 1, 1)  # every sample of the intervals in which nothing counts
    rows = np.unique(np.concatenate([checks, idle]))
    lower, upper = ground[rows] - limit, ground[rows] + limit
    if kind == "rms":
        system = signal.cont2discrete(wk(), SAMPLE_S, method="foh")
        felt = np.column_stack(
            [signal.dlsim((*system[:4], SAMPLE_S), hats[:, j])[1][:, 0] for j in range(hats.shape[1])]
        )
        counted = felt[SKIP : count - 1]
        p = counted.T @ counted / len(counted)
        # A weight on the plain acceleration makes the solution unique, as in the project.
        weights = np.where((np.arange(INTERVALS + 1) * KNOT >= SKIP) & (np.arange(INTERVALS + 1) < INTERVALS), 1e-7, 1e-5)
        p += np.diag(weights) * KNOT / len(counted)
        solver = osqp.OSQP()
        solver.setup(sparse.csc_matrix(p), np.zeros(p.shape[0]), sparse.csc_matrix(travel[rows] / limit),
                     lower / limit, upper / limit, eps_abs=1e-9, eps_rel=1e-9, max_iter=2_000_000, polishing=True,
                     verbose=False, time_limit=120.0)
        x = solver.solve().x
        value = np.sqrt(np.mean((counted @ x) ** 2))
    else:
        n = INTERVALS + 1
        peak_rows = [j for j in range(n) if j * KNOT >= SKIP]
        eye = np.eye(n)[peak_rows]
        ones = np.ones((len(peak_rows), 1))
        a_ub = np.block([
            [travel[rows], np.zeros((len(rows), 1))],
            [-travel[rows], np.zeros((len(rows), 1))],
            [eye, -ones],
            [-eye, -ones],
        ])
        b_ub = np.concatenate([upper, -lower, np.zeros(2 * len(peak_rows))])
        cost = np.zeros(n + 1)
        cost[-1] = 1.0
        found = optimize.linprog(cost, a_ub, b_ub, bounds=[(None, None)] * (n + 1), method="highs")
        assert found.status == 0, found.message
        x, value = found.x[:-1], found.fun
    over = max(0.0, (abs(travel[rows] @ x - ground[rows]) / limit).max() - 1)
    print(kind, limit, value, "over", over)
    return dict(kind=kind, limit_m=limit, value_mps2=float(value), floor_mps2=floor.tolist())


def regulator():
    """A floor of white velocity: travel and seat velocity, cost a^2 + q r^2."""
    t, q = 0.001, 900.0
    a, b = np.array([[1, t], [0, 1.0]]), np.array([[t * t / 2], [t]])
    x = solve_discrete_are(a, b, np.diag([q, 0.0]), np.eye(1))
    gain = np.linalg.solve(1 + b.T @ x @ b, b.T @ x @ a)[0]
    return dict(step_s=t, penalty=q, gains=gain.tolist())


def main():
    rng = np.random.default_rng(20)
    cases = [case(rng, limit, "rms") for limit in (0.001, 0.003, 0.01)]
    cases += [case(rng, limit, "peak") for limit in (0.001, 0.003, 0.01)]
    versions = f"numpy {np.__version__}, scipy {scipy.__version__}, osqp {osqp.__version__}"
    data = dict(made_with=versions, sample_s=SAMPLE_S, knot_samples=KNOT, checks=CHECKS, skip=SKIP,
                cases=cases, regulator=regulator())
    (HERE / "bound.json").write_text(json.dumps(data) + "\n")


main()
