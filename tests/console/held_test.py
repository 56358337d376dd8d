#!/usr/bin/env python3
"""A job that is open at the page, whose shaft is within its limit, while the rig is checked elsewhere, on the command line: a check that
fails holds the verdict back at once, without an entry in the job, and one that is within gives it back. Screens that look on are told.

usage: held_test.py PROGRAM DATA_FOLDER
"""
import cmath
import json
import math
import sys
import tempfile

from console_program import Console
from typed_rig import ALPHA, SPEED_RPM, TypedRig

PROGRAM, DATA = sys.argv[1:3]
# What the shaft shows as found, m/s²; the rest follows from the rig's own coefficients. A correction that leaves a twentieth of it.
FOUND = (cmath.rect(3.0, 2.0), cmath.rect(2.5, -1.0))
RADIUS_M = 0.039


def left_by(weights):
    """@param weights kg·m, of either plane"""
    return [found + sum(alpha * weight for alpha, weight in zip(row, weights)) for found, row in zip(FOUND, ALPHA)]


def correction():
    (a, b), (c, d) = ALPHA
    whole = a * d - b * c
    return [-0.95 * (d * FOUND[0] - b * FOUND[1]) / whole, -0.95 * (a * FOUND[1] - c * FOUND[0]) / whole]


def a_job_within_limit(rig):
    rig.run("job", "open", f"{rig.files}/shaft.toml", "--rig", f"{rig.files}/rig.toml")
    trial = 0.015 * RADIUS_M
    for weights in ((0, 0), (trial, 0), (0, trial), correction()):
        pieces = [f"{plane} {1e3 * abs(weight) / RADIUS_M:.6f} g @ {math.degrees(cmath.phase(weight)) % 360:.4f} deg"
                  for plane, weight in zip("AB", weights) if weight]
        if pieces:
            rig.run("job", "fit", "--as-typed", "--only", *pieces)
        vectors = [part for name, value in zip("AB", left_by(weights)) for part in
                   ("--vector", f"{name}={abs(value):.9g} m/s2 @ {math.degrees(cmath.phase(value)):.9g} deg ± 0.001 m/s2")]
        rig.run("job", "spin", "--speed", f"{SPEED_RPM} rpm", *vectors)


def main():
    with tempfile.TemporaryDirectory() as folder:
        rig = TypedRig(PROGRAM, DATA, folder)
        assert rig.make("qualify")["passed"]
        a_job_within_limit(rig)
        with Console(PROGRAM, rig.files, folder) as console:
            def now():
                return json.loads(console.ask("GET", "/api/now")[2])

            def verdicts():
                return [each["verdict"] for each in now()["result"]]

            before = now()
            assert before["job"] == "MC-0417/1" and before["step"].startswith("close") and before["held_back"] == [], before
            assert verdicts() == ["within"] * 4, verdicts()  # planes and supports
            assert not rig.make("check", 1.3)["within"]
            held = now()
            assert "within" not in verdicts() and held["entries"] == before["entries"], held["result"]
            assert any("daily check" in each["message"] for each in held["held_back"]), held["held_back"]
            assert held["serial"] != before["serial"], "a screen that looks on would not ask again"
            assert held["title"] != before["title"] and held["step"] != before["step"], (held["title"], held["step"])
            line = json.loads(rig.run("job", "next", "--job", "MC-0417/1", "--json"))
            assert line["step"] == held["step"], (line["step"], held["step"])
            assert rig.make("check")["within"]
            assert verdicts() == ["within"] * 4 and now()["held_back"] == [], now()["held_back"]
            assert now()["title"] == before["title"]
            print("held back by a check elsewhere, and given back by another")


main()
