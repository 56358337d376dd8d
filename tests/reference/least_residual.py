"""Holds the least-residual solver against SciPy's SLSQP (D. Kraft 1988) on 200 random problems.

Usage: least_residual.py LEAST_RESIDUAL_CASES
"""

import json
import subprocess
import sys

import numpy as np
from scipy.optimize import minimize

TOLERANCE = 1e-6  # of the largest |present|: SLSQP stops when its objective changes by less than about this


def complex_of(pairs):
    return np.array([complex(*pair) for pair in pairs])


def best(case):
    """What SciPy leaves, from several starts; the problem is convex, so the least of them is the answer."""
    response = np.array([complex_of(row) for row in case["response"]])
    present = complex_of(case["present"])
    planes = response.shape[1]
    most = np.array([np.inf if m is None else m for m in case["most"]] or [np.inf] * planes)
    real = np.block([[response.real, -response.imag], [response.imag, response.real]])
    flat = np.concatenate([present.real, present.imag])
    rows = len(present)

    def squares(x):
        r = flat + real @ x[:2 * planes]
        return r[:rows] ** 2 + r[rows:] ** 2

    def squares_slope(x):
        r = flat + real @ x[:2 * planes]
        return 2 * (r[:rows, None] * real[:rows] + r[rows:, None] * real[rows:])

    limited = np.flatnonzero(np.isfinite(most))

    def room(x):
        return most[limited] ** 2 - x[limited] ** 2 - x[planes + limited] ** 2

    def room_slope(x):
        slope = np.zeros((len(limited), len(x)))
        slope[np.arange(len(limited)), limited] = -2 * x[limited]
        slope[np.arange(len(limited)), planes + limited] = -2 * x[planes + limited]
        return slope

    constraints = [{"type": "ineq", "fun": room, "jac": room_slope}] if len(limited) else []
    if case["worst"]:
        def under(x):
            return x[-1] ** 2 - squares(x)

        def under_slope(x):
            return np.hstack([-squares_slope(x), np.full((rows, 1), 2 * x[-1])])

        constraints.append({"type": "ineq", "fun": under, "jac": under_slope})
        objective = (lambda x: x[-1], lambda x: np.eye(len(x))[-1])
    else:
        objective = (lambda x: squares(x).sum(), lambda x: squares_slope(x).sum(axis=0))
    random = np.random.default_rng(1)
    found = []
    for start in range(6):
        x = 0.3 * start * random.standard_normal(2 * planes)
        x = np.clip(x, -0.5 * np.tile(most, 2), 0.5 * np.tile(most, 2))
        if case["worst"]:
            x = np.append(x, 1.1 * np.sqrt(squares(x).max()))
        done = minimize(objective[0], x, jac=objective[1], method="SLSQP", constraints=constraints,
                        bounds=[(None, None)] * (2 * planes) + [(0, None)] * bool(case["worst"]),
                        options={"ftol": 1e-15, "maxiter": 2000})
        w = done.x[:planes] + 1j * done.x[planes:2 * planes]
        w *= np.minimum(1, most / np.maximum(np.abs(w), 1e-300))  # exactly within the limits
        found.append(left(response, present, w, case["worst"]))
    return min(found)


def left(response, present, w, worst):
    r = np.abs(present + response @ w)
    return r.max() if worst else np.sqrt((r ** 2).sum())


def main():
    lines = subprocess.run([sys.argv[1]], capture_output=True, text=True, check=True).stdout.splitlines()
    farthest = 0.0
    bound = 0
    for number, line in enumerate(lines):
        case = json.loads(line)
        response = np.array([complex_of(row) for row in case["response"]])
        present, w = complex_of(case["present"]), complex_of(case["added"])
        most = np.array([np.inf if m is None else m for m in case["most"]] or [np.inf] * len(w))
        ours = left(response, present, w, case["worst"])
        unit = np.abs(present).max()
        difference = abs(ours - best(case)) / unit
        farthest = max(farthest, difference)
        bound += bool((np.abs(w) > 0.999 * most).any())
        good = (case["converged"] and difference <= TOLERANCE and (np.abs(w) <= most * (1 + 1e-12)).all()
                and abs(ours - case["left"]) <= 1e-9 * unit and case["gap"] <= 1e-8 * unit)
        if not good:
            print(f"FAIL case {number}: {difference:.2e} {case['gap'] / unit:.2e}")
            return 1
    print(f"{len(lines)} cases, {bound} at a limit, farthest {farthest:.1e} of the largest reading")
    return 0 if len(lines) == 200 and bound > 40 else 1


if __name__ == "__main__":
    sys.exit(main())
