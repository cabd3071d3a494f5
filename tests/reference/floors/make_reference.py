"""Makes reference.json and the invented recordings beside it, with numpy and scipy.

Run: python3 make_reference.py (made with scipy 1.17.1, numpy 2.4.6). Nothing here is measured: the
recordings are invented.
"""

import json
import pathlib

import numpy as np
import scipy
from scipy import signal, stats

HERE = pathlib.Path(__file__).parent
RECORDINGS = HERE.parent / "recordings"
FS = 1000.0
out = {"made_with": f"scipy {scipy.__version__}, numpy {np.__version__}"}

# --- Butterworth coefficients ------------------------------------------------------------------
out["butterworth"] = []
for order, side, corner in [
    (2, "low", 100.0), (2, "low", 30.0), (2, "high", 0.4), (4, "low", 75.0),
    (4, "high", 1.4), (4, "low", 2.4), (4, "high", 8.0), (4, "low", 32.0), (2, "high", 0.05),
]:
    b, a = signal.butter(order, corner, side, fs=FS)
    sos = signal.butter(order, corner, side, fs=FS, output="sos")
    f = corner * np.array([0.1, 0.5, 1.0, 2.0, 5.0])
    _, h = signal.sosfreqz(sos, f, fs=FS)
    out["butterworth"].append(dict(order=order, side=side, corner_hz=corner, b=list(b), a=list(a),
                                   f_hz=list(f), gain=list(np.abs(h))))

# --- r.m.s. of the random floors ---------------------------------------------------------------
spectra = dict(hauler=(1.4, 2.4, 4.5), loader=(1.6, 3.2, 2.0), grader=(1.2, 2.2, 1.0),
               compact=(2.8, 3.8, 5.0), crawler=(6.0, 9.0, 2.5), ballast=(8.0, 32.0, 0.25))
grid = np.concatenate([[0.0], np.geomspace(1e-3, FS / 2, 400001)])


def digital_gain2(filters, f):
    gain2 = np.ones_like(f)
    for order, side, corner in filters:
        sos = signal.butter(order, corner, side, fs=FS, output="sos")
        gain2 *= np.abs(signal.sosfreqz(sos, f, fs=FS)[1]) ** 2
    return gain2


def analogue_gain2(filters, f):
    gain2 = np.ones_like(f)
    for order, side, corner in filters:
        b, a = signal.butter(order, 2 * np.pi * corner, side, analog=True)
        gain2 *= np.abs(signal.freqs(b, a, 2 * np.pi * f)[1]) ** 2
    return gain2


def summary(density):
    area = np.trapezoid(density, grid)
    return dict(rms=float(np.sqrt(area)),
                # Relative variance of a mean square over T seconds is this over T.
                variance_s=float(np.trapezoid(density**2, grid) / area**2))


out["rms"] = {}
for name, (low, high, density) in spectra.items():
    filters = [(4, "high", low), (4, "low", high), (2, "high", 0.05)]
    digital = summary(density * digital_gain2(filters, grid))
    digital["analogue_rms"] = summary(density * analogue_gain2(filters, grid))["rms"]
    out["rms"][name] = digital

# Quarter car: Sayers' parameters; state [body velocity, body accel, axle velocity, axle accel].
k1, k2, mu, c = 653.0, 63.3, 0.15, 6.0
A = np.array([[0, 1, 0, 0], [-k2, -c, k2, c], [0, 0, 0, 1], [k2 / mu, c / mu, -(k1 + k2) / mu, -c / mu]])
B = np.array([[0], [0], [0], [k1 / mu]])
Ad, Bd, *_ = signal.cont2discrete((A, B, np.eye(4), np.zeros((4, 1))), 1 / FS)
speed = 10.0
filters = [(4, "high", 0.011 * speed), (4, "low", 2.83 * speed), (2, "high", 0.05)]
z = np.exp(2j * np.pi * grid / FS)
car = np.array([np.linalg.solve(zz * np.eye(4) - Ad, Bd)[1, 0] for zz in z])
s = 2j * np.pi * grid
car_analogue = np.array([np.linalg.solve(ss * np.eye(4) - A, B)[1, 0] for ss in s])
for i, letter in enumerate("abcdefgh"):
    gv = speed * (2 * np.pi * 0.1) ** 2 * 16e-6 * 4**i
    digital = summary(gv * digital_gain2(filters, grid) * np.abs(car) ** 2)
    digital["analogue_rms"] = summary(
        gv * analogue_gain2(filters, grid) * np.abs(car_analogue) ** 2)["rms"]
    out["rms"][f"road-{letter}"] = digital

# --- Welch -------------------------------------------------------------------------------------
rng = np.random.default_rng(20240607)
x = np.round(rng.standard_normal(1100) + 0.3, 4)
y = np.round(signal.lfilter([0.2, 0.3], [1, -0.6], x) + 0.5 * rng.standard_normal(1100) - 0.1, 4)
args = dict(fs=200.0, window="hann", nperseg=128, noverlap=64)
f, pxx = signal.welch(x, **args)
_, pyy = signal.welch(y, **args)
_, pxy = signal.csd(x, y, **args)
_, coh = signal.coherence(x, y, **args)
out["welch"] = dict(fs=200.0, segment=128, x=list(x), y=list(y), f=list(f), pxx=list(pxx), pyy=list(pyy),
                    pxy_re=list(pxy.real), pxy_im=list(pxy.imag), coherence=list(coh))
out["chi2"] = [dict(freedom=n, low=float(n / stats.chi2.ppf(0.975, n)), high=float(n / stats.chi2.ppf(0.025, n)))
               for n in (10.0, 37.0, 400.0)]
w = signal.get_window("hann", 128)
out["hann_half_overlap_correlation"] = float(np.sum(w[:64] * w[64:]) / np.sum(w**2))

# --- Resampling --------------------------------------------------------------------------------
low = signal.butter(4, 0.4 * 100.0, "low", fs=250.0, output="sos")
v = np.round(np.cumsum(rng.standard_normal(120)) + rng.standard_normal(120), 4)
out["filtfilt"] = dict(from_hz=250.0, to_hz=100.0, values=list(v), filtered=list(signal.sosfiltfilt(low, v)))


def ramp(t, length):
    u = np.clip(t / length, 0, 1)
    return 35 * u**4 - 84 * u**5 + 70 * u**6 - 20 * u**7


def floor(t, a, fade=0.5, corner=0.05):
    """The documented path from stamps and values to the floor at 1 kHz."""
    t = t - t[0]
    rate = (len(t) - 1) / t[-1]
    even_t = np.arange(len(t)) / rate
    even = np.all(np.abs(t - even_t) <= 0.01 / rate)
    if even or rate > 1.01 * FS:
        a = a if even else np.interp(even_t, t, a)
        t = even_t
    mean = np.trapezoid(a, t) / t[-1]
    if rate > 1.01 * FS:
        a = signal.sosfiltfilt(signal.butter(4, 0.4 * FS, "low", fs=rate, output="sos"), a)
    grid = np.arange(int(np.floor(t[-1] * FS + 1e-6)) + 1) / FS
    u = (np.interp(grid, t, a) - mean) * np.minimum(ramp(grid, fade), ramp(t[-1] - grid, fade))
    u = np.concatenate([u, np.zeros(200)])
    return mean, signal.sosfilt(signal.butter(2, corner, "high", fs=FS, output="sos"), u)


def invented(t):
    return (0.8 * np.sin(2 * np.pi * 1.7 * t) + 0.5 * np.sin(2 * np.pi * 3.1 * t + 0.4)
            + 0.2 * np.sin(2 * np.pi * 11 * t + 1.0))


def write(name, header, columns, digits):
    lines = ["# Invented signal, made by reference/floors/make_reference.py; not a measurement."]
    lines.append(",".join(header))
    for row in zip(*columns):
        lines.append(",".join(f"{v:.{d}f}" for v, d in zip(row, digits)))
    (RECORDINGS / name).write_text("\n".join(lines) + "\n")
    return [np.round(c, d) for c, d in zip(columns, digits)]


out["recordings"] = []


def case(name, options, t, a):
    mean, floor_accel = floor(t, a)
    out["recordings"].append(dict(file=name, options=options, mean=float(mean), every=7,
                                  accel=list(floor_accel[::7])))


t = np.arange(400) / 100.0
t, a = write("even_100hz.csv", ["time", "accel"], [t, invented(t) + 0.3], [3, 4])
case("even_100hz.csv", "", t, a)

t = np.cumsum(rng.uniform(0.5, 1.5, 360)) / 120.0 + 12.0
t, ax, az = write("uneven_120hz.csv", ["time [s]", "ax [m/s2]", "az [m/s2]"],
                  [t, 0.1 * invented(t + 1), invented(t) + 9.81], [6, 4, 4])
case("uneven_120hz.csv", "accel=az", t, az)

t = np.arange(2600) / 2500.0
t, a = write("fast_2500hz.csv", ["t", "a [g]"],
             [t, (invented(t) + 2 * np.sin(2 * np.pi * 900 * t)) / 9.80665], [5, 6])
case("fast_2500hz.csv", "unit=g", t, a * 9.80665)

t = (np.arange(1800) + rng.uniform(-0.3, 0.3, 1800)) / 1500.0
t, a = write("fast_uneven_1500hz.csv", ["t", "a"], [t, invented(t)], [6, 4])
case("fast_uneven_1500hz.csv", "time=1,accel=2", t, a)

(HERE / "reference.json").write_text(
    json.dumps(out, default=float).replace("], ", "],\n").replace("}, ", "},\n") + "\n")
