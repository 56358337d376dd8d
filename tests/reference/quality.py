"""Holds `log trend` and `log quality` against NumPy, on a log of made-up jobs that is imported.

Usage: quality.py COUNTERSPOT
"""

import datetime
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

SAME_SUM = 1e-9  # relative: the same sums in another order
D2 = 1.128       # of moving ranges of two, ISO 7870-2:2013, Table 1 (four digits)
LIMIT = 348e-6   # kg·m, of both planes

RIG = """[rig]
name = "%s"
rotation = "counter-clockwise"
viewing_end = "A"
[tach]
channel = 3
[[sensor]]
name = "A"
channel = 1
sensitivity = "100 mV/g"
[[sensor]]
name = "B"
channel = 2
sensitivity = "100 mV/g"
"""
SHAFT = """[shaft]
id = "%s"
mass = "%s kg"
grade = "G16"
service_speed = "3200 rpm"
[supports]
A = "0 mm"
B = "1500 mm"
[[plane]]
name = "A"
position = "70 mm"
radius = "39 mm"
[[plane]]
name = "B"
position = "1430 mm"
radius = "39 mm"
"""

failures = []


def expect(what, got, wanted):
    good = np.allclose(got, wanted, rtol=SAME_SUM, atol=0)
    print(f"{'ok  ' if good else 'FAIL'} {what}: {got} for {wanted}")
    if not good:
        failures.append(what)


def program(*arguments):
    done = subprocess.run([sys.argv[1], *map(str, arguments)], capture_output=True, text=True)
    if done.returncode != 0:
        raise SystemExit(f"counterspot {' '.join(map(str, arguments))}: {done.stderr}")
    return [json.loads(line) for line in done.stdout.splitlines()] if "--json" in arguments else None


def pair(z):
    return [float(z.real), float(z.imag)]


def finding(verdict, residuals):
    planes = [{"plane": name, "residual_kg_m": pair(z), "covariance_kg2_m2": [1e-14, 0.0, 1e-14], "correction_kg": 0.001,
               "radius_m": 0.039, "angle_rad": 1.0, "predicted_residual_kg_m": 1e-6} for name, z in zip("AB", residuals)]
    held = [{"place": name, "residual_kg_m": float(abs(z)), "u_residual_kg_m": 1e-7, "limit_kg_m": LIMIT,
             "verdict": verdict} for name, z in zip("AB", residuals)]
    return {"verdict": verdict, "used_prior": False, "planes": planes, "held": held}


def spin(vectors, found=None):
    readings = [{"sensor": name, "motion": "acceleration", "value_si": pair(z), "covariance_si2": [1e-8, 0.0, 1e-8]}
                for name, z in zip("AB", vectors)]
    return "spin", {"label": "spin", "readings": readings, "speed_rad_s": 188.5, "speed_drift_fraction": 0.0,
                    "revolutions": 100, "duration_s": 4.0, "recording": "x.wav", "sha256": "0" * 64, "warnings": [],
                    "finding": found}


def fit(mass_kg):
    return "fit", {"pieces": [{"plane": 0, "mass_kg": mass_kg, "radius_m": 0.039, "angle_rad": 0.5}]}


def line_of(number, shaft, rig, mass, opened, what):
    at = opened
    entries = []
    for i, (kind, details) in enumerate(what):
        at += datetime.timedelta(minutes=7)
        entries.append({"number": i + 1, "kind": kind, "at": at.strftime("%Y-%m-%dT%H:%M:%SZ"), "program": "test",
                        "details": details})
    job = {"format": "counterspot job", "version": 1, "uid": f"{number:032d}", "job": f"{shaft}/{number}", "shaft": shaft,
           "rig": rig, "opened": opened.strftime("%Y-%m-%dT%H:%M:%SZ"), "program": "test", "rig_file": "rig.toml",
           "rig_definition": RIG % rig, "shaft_file": "shaft.toml", "shaft_definition": SHAFT % (shaft, mass),
           "entries": entries}
    return json.dumps(job), at


class Shop:
    """Jobs as they were put in, for NumPy to count."""

    def __init__(self):
        self.random = np.random.default_rng(20261125)
        self.lines, self.closed, self.repeats, self.mountings = [], [], {"A": [], "B": []}, []
        self.opened = datetime.datetime(2025, 11, 3, 8)

    def vectors(self, size):
        return self.random.normal(size=(2, 2)) @ np.array([1, 1j]) * size

    def job(self, number):
        rig = ["bay 2", "bay 3"][number % 2]
        mass = ["14.6", "9.1"][number % 3 == 0]
        what = []
        for weights in range(self.random.integers(1, 4)):  # as found, and changes of weights
            if weights:
                what.append(fit(0.01 * weights))
            centre = self.vectors(3.0)
            group = [centre + self.vectors(0.01) for _ in range(self.random.integers(1, 4))]
            what += [spin(z) for z in group]
            for s, name in enumerate("AB"):
                self.repeats[name].append(np.array([z[s] for z in group]))
        residuals = LIMIT * np.exp(1j * self.random.uniform(0, 6, 2)) * self.random.uniform(0.05, 1.2, 2)
        verdict = ["within", "outside"][int(max(abs(residuals)) > LIMIT)]
        what[-1][1]["finding"] = finding(verdict, residuals)
        spins = sum(kind == "spin" for kind, _ in what)
        given_up = number % 9 == 4
        what.append(("close", {"final_spin": None, "finding": None, "reason": "a dent"} if given_up else
                     {"final_spin": len(what), "finding": finding(verdict, residuals), "reason": ""}))
        line, at = line_of(number, f"PS-{number}", rig, mass, self.opened, what)
        self.lines.append(line)
        ratio = None if given_up else max(abs(residuals)) / LIMIT
        self.closed.append((at, rig, mass, spins, None if given_up else verdict, ratio))
        self.opened += datetime.timedelta(hours=31)

    def mounting(self, number):
        centre = self.vectors(20e-6)
        group = [centre + self.vectors(4e-6) for _ in range(self.random.integers(2, 6))]
        what = [spin(z * 1e4, finding("within", z)) for z in group]
        what.append(("close", {"final_spin": None, "finding": None, "reason": "gauge study"}))
        self.lines.append(line_of(number, "MASTER", "bay 2", "14.6", self.opened, what)[0])
        self.mountings.append(np.array(group))
        self.opened += datetime.timedelta(hours=1)


def compare_trend(shop, log, by, key):
    lines = program("log", "trend", "--by", by, "--until", "2026-06-01", "--json", "--log", log)
    groups = {}
    for row in shop.closed:
        groups.setdefault(key(row), []).append(row)
    got = {line["group"]: line for line in lines if "group" in line}
    expect(f"groups by {by}", len(got), len(groups))
    for name, rows in groups.items():
        line = next(got[g] for g in got if name in g)
        ratios = [r[5] for r in rows if r[5] is not None]
        expect(f"{name} closed, within, outside, without",
               [line["closed"], line["within"], line["outside"], line["without_final_spin"]],
               [len(rows), sum(r[4] == "within" for r in rows), sum(r[4] == "outside" for r in rows),
                sum(r[4] is None for r in rows)])
        expect(f"{name} yield", line["yield_percent"], 100 * np.mean([r[4] == "within" for r in rows]))
        expect(f"{name} spins", line["median_spins"], np.median([r[3] for r in rows]))
        if ratios:
            expect(f"{name} ratio", [line["median_residual_over_limit"], line["highest_residual_over_limit"]],
                   [np.median(ratios), np.max(ratios)])
    return lines[-1]["control_chart"]


def compare_chart(shop, chart):
    ratios = np.array([row[5] for row in shop.closed if row[5] is not None])
    deviation = np.abs(np.diff(ratios)).mean() / D2
    expect("control chart", [chart["centre"], chart["lower"], chart["upper"]],
           [ratios.mean(), max(0.0, ratios.mean() - 3 * deviation), ratios.mean() + 3 * deviation])


def compare_repeatability(shop, log):
    lines = program("log", "quality", "--until", "2026-01-31", "--json", "--log", log)
    for name in "AB":
        line = next(x for x in lines if x.get("sensor") == name)
        groups = [g for g in shop.repeats[name] if len(g) > 1]
        freedom = 2 * sum(len(g) - 1 for g in groups)
        # np.var of complex numbers is that of both parts together.
        expect(f"repeatability of {name}", [line["repeatability"], line["degrees_of_freedom"]],
               [np.sqrt(sum(np.var(g) * len(g) for g in groups) / freedom), freedom])


def compare_gauge(shop, log):
    """ISO 5725-2, one factor with unequal numbers: s_r² within, (MS_between − s_r²)/n̄ between; each part of the vector."""
    lines = program("log", "quality", "--shaft", "MASTER", "--json", "--log", log)
    for plane, name in enumerate("AB"):
        line = next(x for x in lines if x.get("plane") == name)
        groups = [m[:, plane] * 1e6 for m in shop.mountings]  # g·mm
        n = np.array([len(g) for g in groups])
        means = np.array([g.mean() for g in groups])
        within = sum(np.var(g) * len(g) for g in groups) / (n.sum() - len(n)) / 2
        grand = (n * means).sum() / n.sum()
        between = (n * np.abs(means - grand) ** 2).sum() / (len(n) - 1) / 2
        usual = (n.sum() - (n ** 2).sum() / n.sum()) / (len(n) - 1)
        mount = max(0.0, (between - within) / usual)
        expect(f"gauge study of {name}", [line["repeat_gmm"], line["mount_gmm"], line["total_gmm"]],
               [np.sqrt(within), np.sqrt(mount), np.sqrt(within + mount)])


def main():
    shop = Shop()
    for number in range(60):
        shop.job(number)
    shop.opened = datetime.datetime(2026, 6, 1, 8)
    for number in range(100, 108):
        shop.mounting(number)
    with tempfile.TemporaryDirectory() as folder:
        jobs, log = Path(folder) / "jobs.jsonl", Path(folder) / "log.db"
        jobs.write_text("\n".join(shop.lines) + "\n")
        program("log", "import", jobs, "--log", log)
        chart = compare_trend(shop, log, "week", lambda row: "{0}-W{1:02d}".format(*row[0].isocalendar()))
        compare_trend(shop, log, "rig", lambda row: row[1])
        compare_trend(shop, log, "family", lambda row: {"14.6": "15 kg", "9.1": "9 kg"}[row[2]])
        compare_chart(shop, chart)
        compare_repeatability(shop, log)
        compare_gauge(shop, log)
    if failures:
        raise SystemExit(f"{len(failures)} comparisons failed")


main()
