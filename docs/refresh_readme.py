#!/usr/bin/env python3
"""Puts measured figures into the README: the table of the default ride and the target table.

Run from anywhere: docs/refresh_readme.py [TARGETS.txt]
With a file name it takes the output of the targets example from there instead of running it.
Needs Python 3.9 or newer and nothing else.
"""

import pathlib
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent
README = ROOT / "README.md"
EVENTS = {
    "edge": "edge: 60 mm, flanks of 0.12 s",
    "bump": "bump: 90 mm in 0.5 s",
    "edge:flank=0.08": "edge, flanks of 0.08 s",
    "bump:time=0.3": "bump in 0.3 s",
}


def cargo(*arguments):
    command = ["cargo", "run", "--release", "--locked", *arguments]
    return subprocess.run(command, cwd=ROOT, check=True, text=True, stdout=subprocess.PIPE).stdout


def ride():
    with tempfile.TemporaryDirectory() as folder:
        text = cargo("--", "ride", "--out", f"{folder}/ride")
    # Where the files went is of no interest there.
    return "```text\n" + text.split("\nWritten:")[0].rstrip() + "\n```"


def judged(value, digits, missed):
    return f"{value:.{digits}f}" + (" (missed)" if missed else "")


def table(head, rows):
    return ["| " + " | ".join(cells) + " |" for cells in [head, ["---"] * len(head), *rows]]


def floors(text):
    pattern = r"^(\w+) +([\d.]+) +([\d.]+) +([\d.]+) +([\d.]+)([ !]) +([\d.]+) +([\d.]+) +(\d+) "
    rows = []
    for name, level, mean, worst, target, mark, passive, peak, stops in re.findall(pattern, text, re.M):
        level, mean, worst, target, passive, peak = map(float, (level, mean, worst, target, passive, peak))
        rows.append([name, f"{level:g}", f"{target:g}", judged(mean, 3, mark == "!"), f"{worst:.3f}",
                     f"{passive:.2f}", f"{peak:.1f}", stops])
    assert len(rows) == 12, f"{len(rows)} rows of floors, not 12"
    return table(["floor (invented)", "level", "SEAT aimed at", "mean", "worst", "passive seat",
                  "seat peak, m/s2", "stop contacts"], rows)


def events(text):
    pattern = r"^([\w:=.]+) +(two-mass|rigid) +\d+ +([\d.]+) +(\d+)([ !]) +([\d.]+) +(\d+) +([\d.]+) +[\d.]+$"
    found = re.findall(pattern, text, re.M)
    rows = []
    for name, words in EVENTS.items():
        cases = [case for case in found if case[0] == name]
        assert len(cases) == 6, f"{len(cases)} rows of {name}, not 6"
        peaks = []
        for body in ("two-mass", "rigid"):
            own = [case for case in cases if case[1] == body]
            peaks.append(judged(max(float(c[2]) for c in own), 1, any(c[4] == "!" for c in own)))
        rows.append([words, cases[0][5], cases[0][3], *peaks, str(max(int(c[6]) for c in cases)),
                     f"{max(float(c[7]) for c in cases):.2f}"])
    return table(["event", "floor peak", "seat peak aimed at", "two-mass body", "rigid body",
                  "stop contacts", "at, m/s"], rows)


def levels(text):
    pattern = r"^(two-mass|rigid) +(\d+) kg level ([\d.]+) +(\d+) +([\d.]+) +([\d.]+)$"
    found = re.findall(pattern, text, re.M)
    assert len(found) == 18, f"{len(found)} rows of levels, not 18"
    rows = []
    for level in ("1.0", "2.5", "4.0"):
        for body in ("two-mass", "rigid"):
            cases = [case for case in found if (case[0], case[2]) == (body, level)]
            rows.append([f"{float(level):g}", body, str(max(int(c[3]) for c in cases)),
                         f"{max(float(c[4]) for c in cases):.2f}",
                         f"{max(float(c[5]) for c in cases):.1f}"])
    return table(["level", "body", "stop contacts", "at, m/s", "seat peak, m/s2"], rows)


def targets(text):
    return "\n".join([
        *floors(text), "",
        "Single events, worst over the seeds and over 40, 80 and 130 kg; peaks in m/s2:", "",
        *events(text), "",
        "All six floors, worst over the seeds and over 40, 80 and 130 kg (aim: no contact at any",
        "level, at most 15 m/s2 at level 2.5):", "",
        *levels(text),
    ])


def put(readme, name, body):
    pattern = rf"(<!-- {name}: made by docs/refresh_readme.py -->\n).*?(<!-- end -->)"
    readme, count = re.subn(pattern, lambda m: f"{m[1]}\n{body}\n\n{m[2]}", readme, flags=re.S)
    assert count == 1, f"README.md: expected one place for {name}"
    return readme


def main():
    measured = pathlib.Path(sys.argv[1]).read_text() if len(sys.argv) > 1 else cargo("--example", "targets")
    readme = put(README.read_text(), "ride", ride())
    README.write_text(put(readme, "targets", targets(measured)))


main()
