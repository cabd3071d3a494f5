"""Makes cases.json and one CSV a case beside it: the plant's motion by scipy's solve_ivp.

Run: python3 make_vectors.py (made with scipy 1.17.1, numpy 2.4.6; about ten seconds).

The equations are written here from the description of the plant, not from its source:

* seat frame and the body's base mass move together; support spring, viscous friction, end bumpers
  (Hunt and Crossley 1975: k x^1.5 (1 + c v), never pulling), motor and the feet of the body's
  springs act on it; the preload carries all weight;
* friction: breakaway force while at rest relative to the floor, Stribeck curve
  Fc + (Fs - Fc) exp(-|v|/vs) while sliding;
* winding: L di/dt = U - R i - K v, K = K0 (1 - droop (r/travel)^2) both for force and back-EMF; the
  current loop asks for the voltage that makes di/dt = omega (command - i) and gets at most the bus
  voltage; shorted means U = 0, open means the current dies at rate omega;
* bus capacitor, source that takes nothing back, a resistor behind a chopper that conducts in proportion to how far
  the bus is within the band above its threshold;
* copper 0.393 %/K at 20 degrees Celsius (IEC 60028), winding - case - ambient as two heat capacities.
  Heat is integrated here with everything else; the plant updates it once a period.

The floor's acceleration is linear between the ends of every period, the command is held.
Method: DOP853 from knot to knot at rtol 1e-11, friction reversals, breakaway and bumper contact
located as events. All numbers of the cases are invented.
"""

import csv
import json
import math
import pathlib

import numpy as np
import scipy
from scipy.integrate import solve_ivp

HERE = pathlib.Path(__file__).parent
G = 9.80665
R, W, Q1, P1, Q2, P2, I, U, TW, TC = range(10)

BASE = dict(seat_kg=30.0, travel_m=0.045, spring_npm=3000.0, viscous_nspm=170.0, coulomb_n=42.0,
            stiction_n=55.0, stribeck_mps=0.005, bumper_npm15=2.5e6, bumper_spm=1.1,
            force_constant_npa=33.0, droop=0.06, resistance_20c_ohm=0.4, inductance_h=0.0011,
            current_loop_radps=1500.0, supply_v=48.0, source_ohm=0.05, capacitance_f=0.04,
            chopper_v=54.0, chopper_band_v=2.0, chopper_ohm=0.5, level_rate_nps=100.0, preload_max_n=2000.0,
            heat_jpk=[500.0, 4000.0], thermal_kpw=[0.4, 0.8], ambient_c=25.0)
RIGID = dict(base_kg=60.0, sprung=[])
ONE = dict(base_kg=9.0, sprung=[[50.0, 52000.0, 1700.0]])
TWO = dict(base_kg=8.0, sprung=[[40.0, 43000.0, 900.0], [13.0, 46000.0, 550.0]])
SMOOTH = dict(coulomb_n=0.0, stiction_n=0.0)
IDLE = [[1e9, "none", []]]


def case(name, seconds, body, config=None, travel_m=0.0, rate_mps=0.0, surplus_n=0.0, floor=(),
         drive=None, temperature_c=(25.0, 25.0), what=""):
    """floor: [amplitude m/s2, Hz, phase] summed. drive: [until s, mode, the same for the command in A]."""
    return dict(name=name, what=what, seconds=seconds, period_s=0.001, body=body,
                config=BASE | (config or {}), travel_m=travel_m, rate_mps=rate_mps,
                surplus_n=surplus_n, floor=[list(f) for f in floor], drive=drive or IDLE,
                temperature_c=list(temperature_c))


CASES = [
    case("free_decay", 2.0, RIGID, SMOOTH, travel_m=0.03, what="released off mid travel, no friction"),
    case("floor_sine", 3.0, RIGID, SMOOTH, floor=[(0.9, 1.3, 0.4)], what="floor sine, no friction"),
    case("coulomb_sine", 3.0, RIGID, dict(stiction_n=42.0), floor=[(2.0, 1.7, 0.0)],
         what="floor sine, sliding friction equal to breakaway"),
    case("stick_slip", 4.0, RIGID, floor=[(0.75, 1.1, 0.0), (0.25, 3.7, 1.0)],
         what="a floor that moves the seat only now and then"),
    case("one_mass", 3.0, ONE, SMOOTH, floor=[(1.5, 2.3, 0.0), (1.0, 4.7, 0.5)],
         what="one-mass body, no friction"),
    case("two_mass", 3.0, TWO, floor=[(1.6, 2.3, 0.0), (1.5, 6.1, 0.5)],
         what="two-mass body with friction"),
    case("saturating_motor", 2.0, RIGID, SMOOTH, temperature_c=(60.0, 40.0),
         drive=[[1e9, "current", [(40.0, 9.0, 1.6), (45.0, 60.0, 0.7)]]],
         what="command that the bus voltage cannot follow; bus sags"),
    case("regenerating", 0.5, RIGID, SMOOTH | dict(travel_m=0.3, chopper_ohm=5.0), rate_mps=2.0,
         drive=[[0.13, "current", [(-40.0, 0.0, math.pi / 2)]], [1e9, "current", [(5.0, 4.0, 0.0)]]],
         what="the motor brakes: the bus rises into the chopper's band, beyond it and back"),
    case("shorted", 2.0, RIGID, SMOOTH, floor=[(2.0, 1.5, 0.0)], rate_mps=0.4,
         drive=[[1e9, "shorted", []]], what="shorted windings damp"),
    case("drop", 1.0, RIGID, SMOOTH, travel_m=0.03, surplus_n=-900.0,
         what="the seat falls on its lower bumper and bounces"),
    case("combined", 4.0, TWO, travel_m=-0.01, surplus_n=-40.0, temperature_c=(90.0, 50.0),
         floor=[(2.2, 1.9, 0.3), (1.0, 7.3, 0.0)],
         drive=[[1.5, "current", [(8.0, 1.9, 2.0), (6.0, 11.0, 0.0)]], [2.0, "open", []],
                [3.0, "shorted", []], [1e9, "current", [(10.0, 2.3, 0.0)]]],
         what="everything at once, the drive changing"),
]


class Machine:
    def __init__(self, spec):
        self.c = spec["config"]
        body = spec["body"]
        self.m = self.c["seat_kg"] + body["base_kg"]
        self.sprung = body["sprung"]
        total = self.m + sum(s[0] for s in self.sprung)
        self.surplus = spec["surplus_n"]
        self.preload = total * G + self.surplus
        self.friction = 0  # 0 stuck, else the sign of sliding
        self.mode, self.command = "none", 0.0
        self.floor0, self.slope, self.t0 = 0.0, 0.0, 0.0

    def floor(self, t):
        return self.floor0 + self.slope * (t - self.t0)

    def k(self, r):
        return self.c["force_constant_npa"] * (1 - self.c["droop"] * (r / self.c["travel_m"]) ** 2)

    def bumper(self, r, w):
        c = self.c
        if r > c["travel_m"]:
            return -max(0.0, c["bumper_npm15"] * (r - c["travel_m"]) ** 1.5 * (1 + c["bumper_spm"] * w))
        if r < -c["travel_m"]:
            return max(0.0, c["bumper_npm15"] * (-r - c["travel_m"]) ** 1.5 * (1 - c["bumper_spm"] * w))
        return 0.0

    def push(self, y):
        """Sum of forces on the frame less friction; weight and its preload cancel but for the surplus."""
        c = self.c
        f = self.surplus - c["spring_npm"] * y[R] - c["viscous_nspm"] * y[W] + self.bumper(y[R], y[W])
        for n, (_, stiffness, damper) in enumerate(self.sprung):
            f += stiffness * y[Q1 + 2 * n] + damper * y[P1 + 2 * n]
        if self.mode != "none":
            f += self.k(y[R]) * y[I]
        return f

    def held_by(self, t, y):
        """Friction force that keeps the seat at rest relative to the floor."""
        return self.m * self.floor(t) - self.push(y)

    def seat_accel(self, t, y):
        if self.friction == 0:
            return self.floor(t)
        c = self.c
        drag = c["coulomb_n"] + (c["stiction_n"] - c["coulomb_n"]) * math.exp(-abs(y[W]) / c["stribeck_mps"])
        return (self.push(y) - self.friction * drag) / self.m

    def resistance(self, y):
        return self.c["resistance_20c_ohm"] * (1 + 0.00393 * (y[TW] - 20.0))

    def voltage(self, y):
        c = self.c
        if self.mode == "shorted":
            return 0.0
        ask = (self.resistance(y) * y[I] + self.k(y[R]) * y[W]
               + c["inductance_h"] * c["current_loop_radps"] * (self.command - y[I]))
        return min(max(ask, -y[U]), y[U])

    def rates(self, t, y):
        c = self.c
        a = self.seat_accel(t, y)
        d = np.zeros(10)
        d[R], d[W] = y[W], a - self.floor(t)
        for n, (mass, stiffness, damper) in enumerate(self.sprung):
            q, p = y[Q1 + 2 * n], y[P1 + 2 * n]
            d[Q1 + 2 * n], d[P1 + 2 * n] = p, -(stiffness * q + damper * p) / mass - a
        copper = y[I] ** 2 * self.resistance(y)
        if self.mode != "none":
            source = max(0.0, c["supply_v"] - y[U]) / c["source_ohm"]
            duty = min(1.0, max(0.0, y[U] - c["chopper_v"]) / c["chopper_band_v"])
            chopper = duty * y[U] / c["chopper_ohm"]
            if self.mode == "open":
                d[I], power = -c["current_loop_radps"] * y[I], 0.0
            else:
                v = self.voltage(y)
                d[I] = (v - self.resistance(y) * y[I] - self.k(y[R]) * y[W]) / c["inductance_h"]
                power = v * y[I]
            d[U] = (source - chopper - power / y[U]) / c["capacitance_f"]
        across = (y[TW] - y[TC]) / c["thermal_kpw"][0]
        away = (y[TC] - c["ambient_c"]) / c["thermal_kpw"][1]
        d[TW] = (copper - across) / c["heat_jpk"][0]
        d[TC] = (across - away) / c["heat_jpk"][1]
        return d


def signal(sines, t):
    return sum(a * math.sin(2 * math.pi * f * t + phase) for a, f, phase in sines)


def solve(spec):
    m = Machine(spec)
    period = spec["period_s"]
    y = np.zeros(10)
    y[R], y[W], y[U] = spec["travel_m"], spec["rate_mps"], m.c["supply_v"]
    y[TW], y[TC] = spec["temperature_c"]
    contacts, rows = [], []
    gap = 1.0  # farthest from the face since the last meeting, m
    limit, breakaway = m.c["travel_m"], m.c["stiction_n"]
    count = round(spec["seconds"] / period)

    def from_rest(t):
        need = m.held_by(t, y)
        m.friction = 0 if abs(need) <= breakaway else (-1 if need > 0 else 1)

    for n in range(count):
        start, end = n * period, (n + 1) * period
        m.t0, m.floor0 = start, signal(spec["floor"], start)
        m.slope = (signal(spec["floor"], end) - m.floor0) / period
        until, m.mode, command = next(d for d in spec["drive"] if start < d[0] - 1e-9)
        m.command = signal(command, start)
        if n == 0:
            if y[W] != 0:
                m.friction = 1 if y[W] > 0 else -1
            else:
                from_rest(0.0)
        elif m.friction == 0:
            from_rest(start)  # command or drive may have jumped
        if n % 20 == 0:
            rows.append([start, *y, m.seat_accel(start, y)])
        t = start
        while t < end - 1e-13:
            events = []
            if m.friction != 0:
                reverse = lambda t, y: y[W]
                reverse.direction, reverse.terminal = -m.friction, True
                events.append(reverse)
            else:
                slip = lambda t, y: abs(m.held_by(t, y)) - breakaway
                slip.direction, slip.terminal = 1, True
                events.append(slip)
            meet = lambda t, y: abs(y[R]) - limit
            meet.direction, meet.terminal = 0, True
            events.append(meet)
            s = solve_ivp(m.rates, (t, end), y, method="DOP853", rtol=1e-11, atol=1e-13, events=events)
            assert s.success, s.message
            y, t_new = s.y[:, -1].copy(), s.t[-1]
            gap = max(gap, float(np.max(limit - np.abs(s.y[R]))))
            if len(s.t_events[1]) and y[R] * y[W] > 0 and not (contacts and t_new - contacts[-1][0] < 1e-9):
                contacts.append([t_new, abs(y[W]), gap])
                gap = 0.0
            if len(s.t_events[0]):
                if m.friction != 0:
                    y[W] = 0.0
                    from_rest(t_new)
                else:
                    m.friction = -1 if m.held_by(t_new, y) > 0 else 1
            if len(s.t_events[1]):  # step off the face, so that it is not met again at once
                hop = min(1e-9, end - t_new)
                y, t_new = y + hop * m.rates(t_new, y), t_new + hop
            t = t_new
    rows.append([count * period, *y, m.seat_accel(count * period, y)])
    return rows, contacts


def main():
    index = dict(made_with=f"scipy {scipy.__version__}, numpy {np.__version__}", cases=[])
    header = ["time_s", "travel_m", "rate_mps", "sprung1_m", "sprung1_mps", "sprung2_m", "sprung2_mps",
              "current_a", "bus_v", "winding_c", "case_c", "seat_accel_mps2"]
    for spec in CASES:
        rows, contacts = solve(spec)
        with open(HERE / f"{spec['name']}.csv", "w", newline="") as f:
            out = csv.writer(f, lineterminator="\n")
            out.writerow(header)
            out.writerows([[f"{x:.12g}" for x in row] for row in rows])
        index["cases"].append(spec | dict(contacts=[[float(x) for x in c] for c in contacts]))
        a = np.array(rows)
        print(f"{spec['name']:18} peaks", *(f"{h} {abs(v).max():.4g};" for h, v in zip(header[1:], a.T[1:])), contacts[:3])
    (HERE / "cases.json").write_text(json.dumps(index, indent=1) + "\n")


if __name__ == "__main__":
    main()
