"""Work on a rig typed on the command line, of a rig that obeys Z = Z_0 + α W exactly: what must come out follows from that, by hand."""
import cmath
import json
import math
import pathlib
import re
import subprocess

# m/s² per kg·m; made up, of the size of the demo's rig. And what the reference shaft shows as it is, m/s².
ALPHA = ((cmath.rect(4000, 0.7), cmath.rect(900, 2.9)), (cmath.rect(800, 2.4), cmath.rect(3600, 0.4)))
BARE = (cmath.rect(2.0, 1.1), cmath.rect(1.5, -0.6))
SPEED_RPM = 1620.0
# What another shaft shows as found, m/s², and where its weights sit.
FOUND = (cmath.rect(3.0, 2.0), cmath.rect(2.5, -1.0))
RADIUS_M = 0.039


class TypedRig:
    """A rig whose file says what it is to reach, and a reference shaft, both in a folder of their own."""

    def __init__(self, program, data, folder):
        self.program, self.log = program, f"{folder}/log.db"
        self.files = pathlib.Path(folder, "shop")
        self.files.mkdir()
        rig = pathlib.Path(data, "rig.toml").read_text(encoding="utf-8")
        (self.files / "rig.toml").write_text(rig + '\n[qualification]\nsmallest_residual = "80 g·mm"\n', encoding="utf-8")
        shaft = pathlib.Path(data, "shaft.toml").read_text(encoding="utf-8")
        (self.files / "shaft.toml").write_text(shaft, encoding="utf-8")
        (self.files / "reference.toml").write_text(re.sub(r'id = "[^"]*"', 'id = "RS-1"', shaft, count=1), encoding="utf-8")

    def run(self, *arguments):
        done = subprocess.run([self.program, *arguments, "--log", self.log], check=False, capture_output=True, text=True)
        assert done.returncode in (0, 1), (arguments, done.stderr)
        return done.stdout

    def begin(self, verb):
        return json.loads(self.run("rig", verb, "--rig", f"{self.files}/rig.toml", "--shaft", f"{self.files}/reference.toml", "--json"))

    def next(self):
        return json.loads(self.run("rig", "next", "--json"))

    def spin(self, step, gain_of_a=1.0):
        """What is asked for next. Far below its resonance an acceleration grows with the fourth power of the speed (rotating-unbalance
        response, any vibrations textbook)."""
        on = {"A": 0j, "B": 0j}
        for mass in step["test_masses"]:
            on[mass["plane"]] += cmath.rect(mass["mass_g"] * mass["radius_mm"] * 1e-6, math.radians(mass["angle_deg"]))
        speed_rpm = step["speed_rpm"] or SPEED_RPM
        said = ["--speed", f"{speed_rpm:.6f} rpm"]
        for name, bare, row, gain in zip("AB", BARE, ALPHA, (gain_of_a, 1.0)):
            value = gain * (speed_rpm / SPEED_RPM) ** 4 * (bare + row[0] * on["A"] + row[1] * on["B"])
            said += ["--vector", f"{name}={abs(value):.9g} m/s2 @ {math.degrees(cmath.phase(value)):.9g} deg ± 0.001 m/s2"]
        return json.loads(self.run("rig", "spin", "--json", *said))

    def make(self, verb, gain_of_a=1.0):
        """The whole of it. @return what it came to"""
        step = self.begin(verb)
        while step["step"] > 0:
            step = self.spin(step, gain_of_a)
        return step["result"]

    def balance(self, left):
        """A job of the other shaft: as found, a trial weight in each plane, and a correction that leaves so much of what was found."""
        (a, b), (c, d) = ALPHA
        part = (left - 1.0) / (a * d - b * c)
        trial = 0.015 * RADIUS_M
        self.run("job", "open", f"{self.files}/shaft.toml", "--rig", f"{self.files}/rig.toml")
        for weights in ((0, 0), (trial, 0), (0, trial), (part * (d * FOUND[0] - b * FOUND[1]), part * (a * FOUND[1] - c * FOUND[0]))):
            pieces = [f"{plane} {1e3 * abs(weight) / RADIUS_M:.6f} g @ {math.degrees(cmath.phase(weight)) % 360:.4f} deg"
                      for plane, weight in zip("AB", weights) if weight]
            if pieces:
                self.run("job", "fit", "--as-typed", "--only", *pieces)
            read = [found + row[0] * weights[0] + row[1] * weights[1] for found, row in zip(FOUND, ALPHA)]
            vectors = [text for name, value in zip("AB", read) for text in
                       ("--vector", f"{name}={abs(value):.9g} m/s2 @ {math.degrees(cmath.phase(value)):.9g} deg ± 0.001 m/s2")]
            self.run("job", "spin", "--speed", f"{SPEED_RPM} rpm", *vectors)
