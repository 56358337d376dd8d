"""Holds what `counterspot` says against main_job.py, on recordings that `rigsim` makes and on typed vectors.

Usage: compare.py COUNTERSPOT RIGSIM
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from main_job import main_job

AMPLITUDE = 1e-6      # relative: both sum the same samples, in another order and with another solver
PHASE_DEG = 1e-4      # the tach edge is interpolated from the same two samples
CORRECTION = 1e-5     # relative, of the vector: what the above may grow to through the coefficients
MEMORY_DIGITS = 1e-3  # Rao's answer as printed, to 4 digits

failures = []


def expect(what, difference, tolerance):
    good = difference <= tolerance
    print(f"{'ok  ' if good else 'FAIL'} {what}: {difference:.2e} (at most {tolerance:.0e})")
    if not good:
        failures.append(what)


def program(*arguments):
    # --plain: main_job.py fits no neighbours along
    done = subprocess.run([sys.argv[1], *map(str, arguments), "--plain", "--json"], capture_output=True, text=True)
    if done.returncode not in (0, 1):  # 1: done, and the shaft is not within its limit
        raise SystemExit(f"counterspot {' '.join(map(str, arguments))}: {done.stderr}")
    return [json.loads(line) for line in done.stdout.splitlines()] if arguments[0] == "track" else json.loads(done.stdout)


def rigsim(*arguments):
    subprocess.run([sys.argv[2], *map(str, arguments)], check=True)


def turned(a_deg, b_deg):
    return abs((a_deg - b_deg + 180) % 360 - 180)


def at(fit):
    return fit["mass_g"] * np.exp(1j * np.radians(fit["angle_deg"]))


DISPLAY = {"acceleration": 1.0, "velocity": 1e3, "displacement": 1e6}


def compare_tracks(name, ours, reference):
    for mine, other in zip(ours, reference["tracks"], strict=True):
        expect(f"{name} {other['file']} speed", abs(mine["speed_rpm"] / other["speed_rpm"] - 1), AMPLITUDE)
        for sensor, wanted in zip(mine["sensors"], other["sensors"], strict=True):
            got = sensor["orders"][0]
            label = f"{name} {other['file']} sensor {sensor['name']}"
            expect(label + " amplitude",
                   abs(got["amplitude"] / (wanted["amplitude"] * DISPLAY[wanted["motion"]]) - 1), AMPLITUDE)
            expect(label + " phase lag", turned(got["phase_lag_deg"], wanted["phase_lag_deg"]), PHASE_DEG)


def compare_corrections(name, ours, reference):
    for mine, wanted in zip(ours["planes"], reference["planes"], strict=True):
        expect(f"{name} correction at {wanted['name']}", abs(at(mine["correction"]) - at(wanted)) / abs(at(wanted)),
               CORRECTION)


SPINS = """rig = "rig.toml"
shaft = "shaft.toml"
[[spin]]
label = "as found"
recording = "found.wav"
[[spin]]
label = "trial at A"
recording = "a.wav"
fitted = [ { plane = "A", mass = "15 g", angle = "20 deg" } ]
[[spin]]
label = "trial at B"
recording = "b.wav"
fitted = [ { plane = "A", mass = "5 g", angle = "200 deg" }, { plane = "B", mass = "15 g", angle = "75 deg" } ]
"""


def recorded(name, folder, case, bits, level):
    scenario = ["--case", case]
    rigsim("files", *scenario, "--out", folder)
    common = ["spin", *scenario, "--bits", bits, "--seconds", "4"]
    rigsim(*common, "--seed", 11, "--out", folder / "found.wav")
    rigsim(*common, "--seed", 12, "--fitted", "A: 15 g @ 20 deg", "--out", folder / "a.wav")
    rigsim(*common, "--seed", 13, "--fitted", "A: 5 g @ 200 deg", "--fitted", "B: 15 g @ 75 deg", "--out",
           folder / "b.wav")
    if level:
        rig = folder / "rig.toml"
        rig.write_text(rig.read_text().replace("[tach]\n", f'[tach]\nlevel = "{level}"\n'))
    (folder / "spins.toml").write_text(SPINS)
    reference = main_job(folder / "spins.toml")
    files = [folder / spin for spin in ("found.wav", "a.wav", "b.wav")]
    compare_tracks(name, program("track", *files, "--rig", folder / "rig.toml", "--orders", "1,2"), reference)
    compare_corrections(name, program("solve", folder / "spins.toml"), reference)


RIG_TYPED = """[rig]
name = "typed"
rotation = "counter-clockwise"
viewing_end = "A"
[tach]
channel = 3
[[sensor]]
name = "A"
channel = 1
sensitivity = "20 mV/(mm/s)"
full_scale = "1 V"
[[sensor]]
name = "B"
channel = 2
sensitivity = "20 mV/(mm/s)"
full_scale = "1 V"
"""
SHAFT_TYPED = """[shaft]
id = "typed"
limit = { A = "400 g·mm", B = "400 g·mm" }
[[plane]]
name = "A"
position = "0 mm"
radius = "100 mm"
[[plane]]
name = "B"
position = "900 mm"
radius = "100 mm"
"""


def typed_spins(rows):
    text = 'rig = "rig.toml"\nshaft = "shaft.toml"\n'
    for i, (a, b, fitted) in enumerate(rows):
        vectors = ", ".join(f'{name} = "{abs(z)!r} mm/s @ {np.degrees(np.angle(z)) % 360!r} deg"'
                            for name, z in (("A", a), ("B", b)))
        pieces = ", ".join(f'{{ plane = "{p}", mass = "{m!r} g", angle = "{d!r} deg" }}' for p, m, d in fitted)
        text += f'[[spin]]\nlabel = "{i}"\nvector = {{ {vectors} }}\nfitted = [ {pieces} ]\n'
    return text.replace("np.float64", "")


def typed(name, folder, rows):
    (folder / "rig.toml").write_text(RIG_TYPED)
    (folder / "shaft.toml").write_text(SHAFT_TYPED, encoding="utf-8")
    (folder / "spins.toml").write_text(typed_spins(rows))
    ours, reference = program("solve", folder / "spins.toml"), main_job(folder / "spins.toml")
    compare_corrections(name, ours, reference)
    return ours


def polar(size, lag_deg):
    return size * np.exp(1j * np.radians(lag_deg))


def over_determined(folder):
    """Seven spins, readings that contradict one another by about 5 %: only least squares has an answer."""
    random = np.random.default_rng(20240229)
    alpha = np.array([[polar(0.8, 287), polar(0.33, 99)], [polar(0.31, 77), polar(0.62, 302)]])
    found = np.array([polar(8.5, 60), polar(6.5, 205)])
    rows = [(*found, [])]
    for _ in range(6):
        fitted = [(p, float(random.uniform(3, 12)), float(random.uniform(0, 360))) for p in ("A", "B")]
        weights = np.array([polar(m, d) for _, m, d in fitted])
        noise = 0.3 * (random.normal(size=2) + 1j * random.normal(size=2))
        rows.append((*(found + alpha @ weights + noise), fitted))
    typed("over-determined", folder, rows)


def rao(folder):
    """S. S. Rao, Mechanical Vibrations, two-plane balancing of a turbine rotor (data and answer from memory, the answer
    recomputed). The last row repeats the rotor as found, so that the correction is the one of the book."""
    rows = [(polar(8.5, 60), polar(6.5, 205), []),
            (polar(6.0, 125), polar(4.5, 230), [("A", 10.0, 270.0)]),
            (polar(6.0, 35), polar(10.5, 160), [("B", 12.0, 180.0)]),
            (polar(8.5, 60), polar(6.5, 205), [])]
    ours = typed("Rao", folder, rows)
    for plane, mass_g, angle_deg in ((0, 10.0561, 325.5548), (1, 5.8774, 68.2559)):
        fit = ours["planes"][plane]["correction"]
        expect(f"Rao's printed correction {plane + 1}", abs(fit["mass_g"] - mass_g), MEMORY_DIGITS)
        expect(f"Rao's printed angle {plane + 1} (deg)", turned(fit["angle_deg"], angle_deg), MEMORY_DIGITS)


def main():
    cases = [lambda folder: recorded("24-bit WAV", folder, "marrow-creek", 24, "2.5 V"),
             lambda folder: recorded("16-bit WAV", folder, "marrow-creek", 16, "1.9 V"),
             lambda folder: recorded("double WAV, random rig", folder, "7", 0, "2.5 V"),
             lambda folder: recorded("level found", folder, "marrow-creek", 24, None),
             over_determined, rao]
    for case in cases:
        with tempfile.TemporaryDirectory() as folder:
            case(Path(folder))
    if failures:
        raise SystemExit(f"{len(failures)} comparisons failed")


main()
