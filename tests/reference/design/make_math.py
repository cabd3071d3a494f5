"""Makes math.json beside it: horizon programs, autoregressions and a lag, by numpy and scipy.

Run: python3 make_math.py (made with scipy 1.17.1, numpy 2.4.6). All signals are invented.
"""

import json
import pathlib

import numpy as np
import scipy
from scipy import signal
from scipy.optimize import minimize, nnls

HERE = pathlib.Path(__file__).parent
N, H = 12, 0.05


def positions():
    """Position at (j + 1) h of a point at rest that is accelerated by 1 over interval i."""
    g = np.zeros((N, N))
    for i in range(N):
        x = v = 0.0
        for j in range(N):
            u = 1.0 if i == j else 0.0
            x, v = x + v * H + u * H * H / 2, v + u * H
            g[j, i] = x
    return g


G = positions()


def program(error, limit, softness):
    """min 1/2 int u^2 + 1/(2 s) sum over^2, over what |error + G u| exceeds the limits by; s is the
    softness times the largest diagonal entry of G G' / h. Solved twice: the primal with slacks by
    SLSQP and the dual as a non-negative least squares problem; both must agree."""
    gram = G @ G.T / H
    s = softness * gram[-1, -1]
    # Dual: min 1/2 y'(gram + s) y - error'y + limit |y|_1. With y = p - q, p, q >= 0, and C C' the
    # Hessian it is the non-negative z of least |C'z + C^-1 linear|.
    hessian = gram + s * np.eye(N)
    big = np.block([[hessian, -hessian], [-hessian, hessian]])
    linear = np.concatenate([limit - error, limit + error])
    # p and q are never both positive; a little on the diagonal makes the form strictly convex.
    c = np.linalg.cholesky(big + 1e-13 * np.trace(big) * np.eye(2 * N))
    z, _ = nnls(c.T, -np.linalg.solve(c, linear), maxiter=10000)
    y = z[:N] - z[N:]
    u_dual = -G.T @ y / H
    # Primal in scaled slacks.
    scale = np.sqrt(s)

    def cost(x):
        u, over = x[:N], x[N:]
        return 0.5 * H * u @ u + 0.5 * over @ over

    def gradient(x):
        return np.concatenate([H * x[:N], x[N:]])

    constraints = [
        dict(type="ineq", fun=lambda x, k=k: (limit - k * (error + G @ x[:N]) + scale * x[N:]) / limit[0],
             jac=lambda x, k=k: np.hstack([-k * G, scale * np.eye(N)]) / limit[0]) for k in (1, -1)]
    best = minimize(cost, np.concatenate([u_dual, np.maximum(0, np.abs(error + G @ u_dual) - limit) / scale]) * 0.9,
                    jac=gradient, constraints=constraints, method="SLSQP",
                    options=dict(maxiter=1000, ftol=1e-15))
    # A line search that can go no lower is as good as an end; what counts is the agreement below.
    assert best.success or "linesearch" in best.message, best.message
    # Karush-Kuhn-Tucker: u = -G'y/h; y of the sign of a broken or touched limit, zero inside.
    x = error + G @ u_dual
    for xj, yj, lj in zip(x, y, limit):
        over = max(abs(xj) - lj, 0.0)
        assert abs(abs(yj) * s - over) < 1e-7 * lj, (xj, yj, s)
        assert yj * xj >= -1e-9
    difference = abs(best.x[0] - u_dual[0])
    assert difference < 2e-5 * max(1.0, abs(u_dual[0])), (best.x[0], u_dual[0])
    return float(u_dual[0]), float(difference), int((abs(y) > 1e-9).sum())


def horizons():
    tau = H * (np.arange(N) + 1)
    cases = []
    for softness in (1e-5, 1e-3):
        for near, far, error in [
            (0.04, 0.04, 0.10 * tau / tau[-1]),
            (0.04, 0.02, 0.02 + 0.3 * tau),
            (0.04, 0.04, -0.01 - 0.5 * tau + 0.9 * tau**2),
            (0.042, 0.02, 0.07 * np.sin(2 * np.pi * 2.0 * tau)),
            (0.042, 0.02, 0.12 * np.sin(2 * np.pi * 1.5 * tau + 0.5)),
            (0.03, 0.03, 0.05 * np.ones(N)),
            (0.04, 0.04, 0.039 * np.ones(N)),
            (0.04, 0.01, 0.3 * tau - 1.2 * tau**3),
        ]:
            # At no time near, at the last time far, straight between.
            limit = np.interp(tau, [0, tau[-1]], [near, far])
            u, difference, active = program(error, limit, softness)
            cases.append(dict(near=near, far=far, softness=softness, error=error.tolist(), first=u, active=active))
            print(f"horizon u {u:.6f} primal-dual {difference:.1e} active {active}")
    return dict(h=H, cases=cases)


def burg(x, order):
    """Block Burg (J. P. Burg 1967), written from the textbook."""
    a = np.array([1.0])
    f, b = x[1:].copy(), x[:-1].copy()
    for _ in range(order):
        k = -2 * (f @ b) / (f @ f + b @ b)
        a = np.concatenate([a, [0]]) + k * np.concatenate([a, [0]])[::-1]
        f, b = (f + k * b)[1:], (b + k * f)[:-1]
    return -a[1:]


def yule_walker(x, order):
    r = np.array([x[: len(x) - k] @ x[k:] for k in range(order + 1)]) / len(x)
    return scipy.linalg.solve_toeplitz(r[:-1], r[1:])


def autoregressions(rng):
    out = []
    for poles in ([0.9 * np.exp(1j * 0.7)], [0.95 * np.exp(1j * 0.4), 0.8 * np.exp(1j * 1.5)]):
        roots = np.concatenate([[p, p.conjugate()] for p in poles])
        truth = -np.real(np.poly(roots))[1:]
        noise = rng.normal(size=3500)
        x = signal.lfilter([1.0], np.concatenate([[1.0], -truth]), noise)[1000:]
        x = np.round(0.25 * x / np.std(x), 6)
        order = len(truth)
        out.append(dict(truth=truth.tolist(), burg=burg(x, order).tolist(),
                        yule_walker=yule_walker(x, order).tolist(), series=x.tolist()))
        print("truth", truth, "burg", burg(x, order), "yule-walker", yule_walker(x, order))
    return out


def lag():
    tau, dt = 1 / (2 * np.pi * 10), 1e-3
    system = signal.cont2discrete(([1.0], [tau, 1.0]), dt, method="zoh")
    f = [1.0, 5.0, 10.0, 50.0]
    # y[n] follows x[n] at once: the held-input system advanced by one sample.
    _, h = signal.freqz(np.append(np.atleast_1d(np.squeeze(system[0]))[-1], 0.0), system[1],
                        worN=2 * np.pi * np.array(f) * dt)
    b, a = signal.butter(1, 10, fs=1000)
    _, low = signal.freqz(b, a, worN=2 * np.pi * np.array(f) * dt)
    return dict(time_constant_s=tau, dt_s=dt, pole=float(-system[1][1]), f_hz=f,
                gain=abs(h).tolist(), low_pass_gain=abs(low).tolist())


out = dict(made_with=f"scipy {scipy.__version__}, numpy {np.__version__}", horizon=horizons(),
           autoregression=autoregressions(np.random.default_rng(5)), lag=lag())
(HERE / "math.json").write_text(json.dumps(out) + "\n")
