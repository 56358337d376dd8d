#!/usr/bin/env python3
"""example_test.py PROGRAM SOURCE-TREE WORK: the numbers of the example are those of NumPy's least squares on the same samples.

The reference is tests/reference/main_job.py: tach edges, order 1 by numpy.linalg.lstsq and Z = Z_0 + αW by scipy.linalg.lstsq, from
the same files. It fits no neighbours along (here: 50 Hz, and a pump at 24 Hz), which the library does and counts in its ±.
"""
import contextlib
import io
import os
import pathlib
import runpy
import sys
import tempfile

import numpy as np

tree, work = pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3])
sys.path.insert(0, str(tree / "tests/reference"))
from main_job import main_job  # noqa: E402

SPEED = 1e-5       # relative: the same edges, but the library takes its steady turns and the reference all
VECTOR = 2e-3      # relative, of order 1: what the neighbours take from it in 80 turns
INFLUENCE = 15e-3  # relative, of a plane on its own sensor: the difference of two such vectors, a fifth to a third as long
FIT = 5e-3         # relative, of the correction: the neighbours are as strong in all spins, so most of them cancels

work.mkdir(parents=True, exist_ok=True)
tempfile.tempdir = str(work)
os.chdir(tree / "data")
with contextlib.redirect_stdout(io.StringIO()) as printed:
    example = runpy.run_path(str(tree / "tools/examples/notebook.py"))
text = printed.getvalue()
reference = main_job("csv/spins.toml")


def at(length, angle_deg):
    return length * np.exp(1j * np.radians(angle_deg))


for spin, wanted in zip(example["spins"].values(), reference["tracks"], strict=True):
    assert abs(spin.speed_rpm / wanted["speed_rpm"] - 1) < SPEED, (spin, wanted)
    for name, sensor in zip(("A", "B"), wanted["sensors"], strict=True):
        vector = spin.vector(name)
        difference = abs(vector.z - at(sensor["amplitude"], sensor["phase_lag_deg"]))
        assert vector.unit == "m/s2" and difference < VECTOR * vector.amplitude, (name, vector, sensor)
        assert difference < 3 * np.sqrt(np.trace(vector.covariance)), (name, vector, sensor)  # within what is stated

solution = example["solution"]
for coefficient, wanted in zip(solution.coefficients, reference["coefficients"], strict=True):
    if coefficient.sensor != coefficient.plane:
        continue  # fifty times less than on its own sensor, and lost in the ±
    alpha = at(wanted["magnitude_si"] * 1e-6, wanted["phase_lag_deg"])  # per kg·m to per g·mm
    assert coefficient.unit == "(m/s2)/(g·mm)" and abs(coefficient.z - alpha) < INFLUENCE * abs(alpha), (coefficient, wanted)
for plane, wanted in zip(solution.planes.values(), reference["planes"], strict=True):
    fit = at(plane.correction.mass_g, plane.correction.angle_deg)
    difference = abs(fit - at(wanted["mass_g"], wanted["angle_deg"]))
    assert plane.name == wanted["name"] and difference < FIT * wanted["mass_g"], (plane, wanted)
    assert difference * plane.correction.radius_mm < 2 * plane.u_residual_gmm, (plane, wanted)

# ISO 21940-11: 1000 · 16 mm/s · 14.6 kg / (3200 rpm) = 697.1 g·mm in all.
assert abs(sum(plane.limit_gmm for plane in solution.planes.values()) - 697.1) < 0.05
assert all(row.predicted_gmm < row.limit_gmm for row in example["pieces"].held)
assert text.count("CAUTION  Guard closed") == 2, text  # with the correction and with the pieces
assert "verdict: outside" in text and "first take off 15.0 g at 0 deg on B" in text, text
for name in ("counterspot-fit.svg", "counterspot-pieces.svg"):
    assert b"<svg" in (work / name).read_bytes(), name
