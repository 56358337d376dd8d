"""Holds the rig model's influence coefficients against a finite-element shaft on its pedestals, solved by NumPy at the
one speed, without modes: Euler–Bernoulli beam elements with consistent mass (any textbook of finite elements; here
K. J. Bathe's matrices, from memory), pedestals, base coupling and sensors as the header's equation states them; on half
of the rigs the pedestals stand on a plate with two unknowns of its own, and on two thirds one or two masses hang on
springs; none of these are condensed here.

Usage: rig_model.py RIG_MODEL_CASES
"""

import json
import subprocess
import sys

import numpy as np

# Two modes instead of all, beams without shear (the program's have it), lines between the nodes of a mode's shape.
# Beside a pedestal's resonance a small difference is magnified, so the bound is on the middle of all and on the worst.
MEDIAN = 0.002  # of the sensor's largest coefficient
WORST = 0.02
E, RHO = 206.8e9, 7850.0  # Pa, kg/m³: as `material = "steel"` in the manual


def beam(nodes, bending, mass):
    """K and M over (deflection, slope) of the nodes; bending stiffness and mass per length of each element."""
    size = 2 * len(nodes)
    k, m = np.zeros((size, size)), np.zeros((size, size))
    for i, (ei, mu) in enumerate(zip(bending, mass)):
        l = nodes[i + 1] - nodes[i]
        ke = ei / l**3 * np.array([[12, 6 * l, -12, 6 * l], [6 * l, 4 * l * l, -6 * l, 2 * l * l],
                                   [-12, -6 * l, 12, -6 * l], [6 * l, 2 * l * l, -6 * l, 4 * l * l]])
        me = mu * l / 420 * np.array([[156, 22 * l, 54, -13 * l], [22 * l, 4 * l * l, 13 * l, -3 * l * l],
                                      [54, 13 * l, 156, -22 * l], [-13 * l, -3 * l * l, -22 * l, 4 * l * l]])
        at = slice(2 * i, 2 * i + 4)
        k[at, at] += ke
        m[at, at] += me
    return k, m


def shapes(nodes, z):
    """Deflection at z from all unknowns: Hermite's cubics."""
    i = min(max(np.searchsorted(nodes, z) - 1, 0), len(nodes) - 2)
    l = nodes[i + 1] - nodes[i]
    x = (z - nodes[i]) / l
    row = np.zeros(2 * len(nodes))
    row[2 * i:2 * i + 4] = [1 - 3 * x**2 + 2 * x**3, l * (x - 2 * x**2 + x**3), 3 * x**2 - 2 * x**3, l * (x**3 - x**2)]
    return row


def on_bed(dynamic, force, rows, springs, span, bed, w):
    """Two more unknowns, a plate's movement and tilt: the springs end on it, and it stands on its feet."""
    weight, move, tilt, loss, radius = np.exp(bed[:5])
    places = np.array([[1, bed[5] - span / 2], [1, bed[5] + span / 2]])
    inert = np.array([weight, weight * radius**2])
    feet = inert * ((2 * np.pi * np.array([move, tilt]))**2 * (1 + 1j * loss) - w**2)
    to_bed = -rows.T @ springs @ places
    whole = np.block([[dynamic, to_bed], [to_bed.T, places.T @ springs @ places + np.diag(feet)]])
    return whole, np.vstack([force, np.zeros((2, force.shape[1]))])


def with_attached(dynamic, force, rows, body, w):
    """One more unknown: a unit of mass on a spring whose other end moves as c_A and c_B times the supports."""
    spring = (2 * np.pi * np.exp(body[2]))**2 * (1 + 1j * np.exp(body[3]))
    end = rows.T @ np.array(body[:2])
    whole = np.block([[dynamic + spring * np.outer(end, end), -spring * end[:, None]],
                      [-spring * end[None, :], np.array([[spring - w**2]])]])
    return whole, np.vstack([force, np.zeros((1, force.shape[1]))]), np.hstack([rows, np.zeros((2, 1))])


def coefficients(case):
    d, wall, length = case["diameter_m"], case["wall_m"], case["length_m"]
    a, b = case["supports_m"]
    begin = 0.5 * (a + b) - 0.5 * length
    bore = d - 2 * wall
    area, inertia = np.pi / 4 * (d**2 - bore**2), np.pi / 64 * (d**4 - bore**4)
    nodes = np.unique(np.round(np.concatenate([[a, b], np.linspace(begin, begin + length, 61)]), 9))
    middle = 0.5 * (nodes[1:] + nodes[:-1])
    on_tube = (middle > begin) & (middle < begin + length)
    k, m = beam(nodes, np.full(len(middle), E * inertia), np.where(on_tube, RHO * area, 1e-6 * RHO * area))
    tube = RHO * area * length
    ends = case["mass_kg"] - tube
    right = (case["mass_kg"] * case["center_of_mass_m"] - tube * 0.5 * (a + b) - ends * begin) / length
    for z, weight in ((begin, ends - right), (begin + length, right)):
        row = shapes(nodes, z)
        m += weight * np.outer(row, row)
    w = case["speed_rad_s"]
    theta = case["theta"]
    p = [dict(zip(("m", "k", "c", "g", "angle", "corner"), theta[6 * i:6 * i + 6])) for i in (0, 1)]
    kappa, mu, gamma = theta[12:15]
    mass, stiff, damp = ([np.exp(q[n]) for q in p] for n in "mkc")
    rows = np.array([shapes(nodes, a), shapes(nodes, b)])
    springs = np.diag([stiff[i] + 1j * w * damp[i] for i in (0, 1)])
    springs[0, 1] = springs[1, 0] = np.sqrt(stiff[0] * stiff[1]) * (kappa + 1j * w / 160 * gamma)
    weights = np.diag(mass)
    weights[0, 1] = weights[1, 0] = np.sqrt(mass[0] * mass[1]) * mu
    dynamic = (k - w**2 * m + rows.T @ (springs - w**2 * weights) @ rows).astype(complex)
    force = w**2 * np.array([shapes(nodes, z) for z in case["planes_m"]]).T
    bodies = theta[15:]
    if case["on_bed"]:
        dynamic, force = on_bed(dynamic, force, rows, springs, b - a, bodies[:6], w)
        rows = np.hstack([rows, np.zeros((2, 2))])
        bodies = bodies[6:]
    while bodies:
        dynamic, force, rows = with_attached(dynamic, force, rows, bodies[:4], w)
        bodies = bodies[4:]
    moved = rows @ np.linalg.solve(dynamic, force)
    alpha = np.conj(moved)  # lag phasors
    for i in (0, 1):
        corner = 2 * np.pi * np.exp(p[i]["corner"])
        alpha[i] *= np.exp(p[i]["g"] + 1j * p[i]["angle"]) * np.conj(1j * w / (corner + 1j * w))
        alpha[i] *= {0: 1, 1: -1j * w, 2: -w**2}[case["motions"][i]]
    return alpha


def main():
    lines = subprocess.run([sys.argv[1]], capture_output=True, text=True, check=True).stdout.splitlines()
    off = []
    for line in lines:
        case = json.loads(line)
        ours = np.array(case["alpha"][::2]) + 1j * np.array(case["alpha"][1::2])
        theirs = coefficients(case)
        ours = ours.reshape(theirs.shape)
        off.append((np.abs(ours - theirs) / np.abs(theirs).max(axis=1, keepdims=True)).max())
    print(f"{len(off)} rigs: our coefficients differ by {np.median(off):.2e} in the middle, {max(off):.2e} at most")
    if len(off) < 200 or np.median(off) > MEDIAN or max(off) > WORST:
        sys.exit("FAIL")


if __name__ == "__main__":
    main()
