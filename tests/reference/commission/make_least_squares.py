"""Makes least_squares.json beside it: overdetermined systems with four unknowns, by numpy.linalg.lstsq.

Run: python3 make_least_squares.py (made with numpy 2.4.6). All numbers are invented and rounded to
single precision before they are solved in double precision, so that both sides solve the same system.
"""

import json
import pathlib

import numpy as np

HERE = pathlib.Path(__file__).parent
UNKNOWNS = 4


def case(name, a, b):
    a = np.asarray(a, dtype=np.float32).astype(float)
    b = np.asarray(b, dtype=np.float32).astype(float)
    x, *_ = np.linalg.lstsq(a, b, rcond=None)
    miss = float(np.sqrt(np.mean((a @ x - b) ** 2)))
    singular = np.linalg.svd(a, compute_uv=False)
    return {
        "name": name,
        "a": a.tolist(),
        "b": b.tolist(),
        "x": x.tolist(),
        "miss": miss,
        "condition": float(singular[0] / singular[-1]),
        "norm": float(singular[0]),
    }


def conditioned(rng, rows, condition, noise):
    u, _ = np.linalg.qr(rng.normal(size=(rows, UNKNOWNS)))
    v, _ = np.linalg.qr(rng.normal(size=(UNKNOWNS, UNKNOWNS)))
    a = u @ np.diag(np.geomspace(1.0, 1.0 / condition, UNKNOWNS)) @ v.T
    return a, a @ rng.normal(size=UNKNOWNS) + noise * rng.normal(size=rows)


def machine(rng, noise):
    """Rows of a commissioning test: a machine told right but for 5 % of its force constant."""
    k, m, c, dry, told = 2200.0, 28.0, 160.0, 45.0, 35.0
    kf = 1.05 * told
    a, b = [], []
    for hz, r, slow in [(4.5, 0.0065, 0), (6, 0.004, 0), (6, 0.008, 0), (0.5, 0.008, 1)]:
        w = 2 * np.pi * hz
        re = (k - m * w * w) * r / kf * (1 + noise * rng.normal())
        im = (c * w * r + 4 / np.pi * dry) / kf * (1 + noise * rng.normal())
        per = 1 / (told * np.hypot(re, im))
        a.append([told * re * per, m * w * w * r * per, 0, 0])
        b.append(k * r * per)
        if not slow:
            a.append([told * im * per, 0, -c * w * r * per, -4 / np.pi * 42 * per])
            b.append(0)
    return a, b


def main():
    rng = np.random.default_rng(11)
    cases = [
        case("square", rng.normal(size=(4, 4)), rng.normal(size=4)),
        case("diagonal", np.diag([1.0, -2.0, 4.0, 0.5]), [1, 1, 1, 1]),
    ]
    for condition in (3.0, 30.0, 300.0):
        for rows in (5, 7, 40):
            a, b = conditioned(rng, rows, condition, 0.01)
            cases.append(case(f"condition {condition:.0f}, {rows} rows", a, b))
    for noise in (0.0, 0.002):
        cases.append(case(f"machine, noise {noise}", *machine(rng, noise)))
    out = {"made_with": f"numpy {np.__version__}", "cases": cases}
    (HERE / "least_squares.json").write_text(json.dumps(out, indent=None) + "\n")


main()
