#!/usr/bin/env python3
"""Margins of the exported loops by python-control.

Reads the loops beside this script (written by `becalm margins --export`, see the README's command) and
writes reference.json: gain margins up and down, phase margin, delay margin, disk margin and poles, with
the loop broken at the actuator, the seat accelerometer and the travel sensor.

Made with python-control 0.10.2, numpy 2.4.6, scipy 1.17.1.
"""

import json
import pathlib
import sys

import control
import numpy as np

HERE = pathlib.Path(__file__).parent
LOOPS = ["isolating", "one_mass", "braking"]


def system(part, dt):
    return control.ss(*(np.array(part[k]) for k in "abcd"), dt)


def broken_at(law, plant, place):
    """Loop gain (negative feedback) with the loop broken at one place, the others closed."""
    if place == "actuator":
        return -law * plant
    index = {"seat accelerometer": 1, "travel sensor": 2}[place]
    others = np.eye(3)
    others[index, index] = 0.0
    pick = np.zeros((1, 3))
    pick[0, index] = 1.0
    # Command from the broken reading, the other readings fed back.
    inner = control.feedback(plant, law * control.ss([], [], [], others, law.dt), sign=1)
    return -(control.ss([], [], [], pick, law.dt) * inner * law * control.ss([], [], [], pick.T, law.dt))


def margins(loop, dt):
    # python-control's stability_margins finds crossings as roots of polynomials, which a loop of this
    # many states does not give well. So its own evaluation on a grid ("frd") is used.
    grid = np.unique(np.concatenate([np.logspace(-2, np.log10(np.pi / dt), 60001)[:-1]]))
    response = control.frd(loop, grid, smooth=True)
    gm, pm, _, _, wp, _ = control.stability_margins(response, returnall=True)
    gm, pm, wp = np.array(gm), np.array(pm), np.array(wp)
    up, down = gm[gm > 1.0], gm[gm < 1.0]
    # At half the control rate the gain is real.
    edge = np.real(loop(-1.0 + 0.0j))
    if edge < 0.0:
        (up, down) = (np.append(up, -1.0 / edge), down) if edge > -1.0 else (up, np.append(down, -1.0 / edge))
    delay = np.deg2rad(np.mod(pm, 360.0)) / wp
    near = np.abs(np.mod(pm + 180.0, 360.0) - 180.0)
    dm, _, _ = control.disk_margins(loop, grid, skew=0.0)
    return {
        "gain_margin_up_db": float(20 * np.log10(up.min())) if up.size else None,
        "gain_margin_down_db": float(-20 * np.log10(down.max())) if down.size else None,
        "phase_margin_deg": float(near.min()),
        "delay_margin_s": float(delay.min()),
        "disk_margin": float(dm),
    }


def main():
    result = {"made_with": f"python-control {control.__version__}, numpy {np.__version__}"}
    for name in LOOPS:
        data = json.loads((HERE / f"{name}.json").read_text())
        assert data["periods"] == 1
        dt = data["sample_time_s"]
        law, plant = system(data["law"], dt), system(data["plant"], dt)
        closed = control.feedback(plant, law, sign=1)
        entry = {"largest_pole": float(np.abs(closed.poles()).max())}
        for place in ["actuator", "seat accelerometer", "travel sensor"]:
            entry[place] = margins(broken_at(law, plant, place), dt)
            ours = data["margins"][data["places"].index(place)]
            print(name, place, entry[place], {k: ours[k] for k in entry[place]}, file=sys.stderr)
        result[name] = entry
    (HERE / "reference.json").write_text(json.dumps(result, indent=1) + "\n")


main()
