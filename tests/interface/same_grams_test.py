#!/usr/bin/env python3
"""same_grams_test.py PROGRAM LIBRARY SOURCE-TREE: the same three spins through `solve`, `job`, the page and the C interface ask for the
same grams at the same places, on top of the trial weight and without it; and `job show` and the page tell each entry in the same words."""
import json
import os
import pathlib
import subprocess
import sys
import tempfile

program, library, tree = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2]), pathlib.Path(sys.argv[3])
data = tree / "data"
sys.path[:0] = [str(tree / "tests/console"), str(tree / "tools/examples")]
import solve  # noqa: E402
from console_program import Console  # noqa: E402

SAME = 1e-9  # relative: one calculation, through text with all digits


def printed(*arguments, may_fail=False):
    ran = subprocess.run([program, *map(str, arguments), "--json"], capture_output=True, text=True, check=False)
    assert may_fail or ran.returncode == 0, ran.stderr
    return json.loads(ran.stdout)


def by_solution(document, which):
    """Plane, grams, degrees of a `solve` document."""
    return [(plane["name"], plane[which]["mass_g"], plane[which]["angle_deg"]) for plane in document["planes"]]


def by_step(pieces):
    return [(piece["plane"], piece["mass_g"], piece["angle_deg"]) for piece in pieces]


def alike(one, other):
    return len(one) == len(other) and all(
        a[0] == b[0] and abs(a[1] - b[1]) <= SAME * a[1] and abs(a[2] - b[2]) <= SAME * 360.0 for a, b in zip(one, other))


def shown(pieces):
    """Plane and grams as the page shows them, "35.7 g"."""
    return [(piece["plane"], piece["mass"].split()[0]) for piece in pieces]


def rounded(pieces):
    return [(plane, f"{mass_g:.1f}") for plane, mass_g, _ in pieces]


def step_of_job(log):
    at = ["--log", log]
    printed("job", "open", data / "shaft.toml", "--rig", data / "rig.toml", *at)
    printed("job", "spin", data / "00-as-found.flac", *at)
    printed("job", "fit", "A 15 g @ 0 deg", "--as-typed", *at)
    printed("job", "spin", data / "01-trial-a.flac", *at)
    printed("job", "fit", "B 15 g @ 0 deg", "--only", "--as-typed", *at)
    printed("job", "spin", data / "02-trial-b.flac", *at)
    return printed("job", "next", *at)


with tempfile.TemporaryDirectory() as folder:
    solved = printed("solve", data / "spins.toml", may_fail=True)  # 1: not within limit, which is so
    on_top, bare = by_solution(solved, "correction"), by_solution(solved, "correction_bare")
    assert not alike(on_top, bare) and all(mass > 1.0 for _, mass, _ in on_top + bare), (on_top, bare)

    through_c = solve.Counterspot(library).solve(str(data / "spins.toml"))
    assert alike(by_solution(through_c, "correction"), on_top), "C interface"
    assert alike(by_solution(through_c, "correction_bare"), bare), "C interface"

    step = step_of_job(f"{folder}/log.db")
    assert alike(by_step(step["pieces"]), on_top), (step["pieces"], on_top)
    assert alike(by_step(step["instead"]["pieces"]), bare), (step["instead"], bare)

    with Console(program, str(data), folder) as console:
        now = json.loads(console.ask("GET", "/api/now")[2])
        history = json.loads(console.ask("GET", "/api/job?job=" + now["job"].replace("/", "%2F"))[2])
    choices = {choice["base"]: choice["fit"] for choice in now["choices"]}
    assert shown(choices["as_spun"]) == rounded(on_top), (choices, on_top)
    assert shown(choices["bare"]) == rounded(bare), (choices, bare)

    told = subprocess.run([program, "job", "show", "--log", f"{folder}/log.db"], capture_output=True, text=True, check=True).stdout
    lines = [line.strip() for line in told.splitlines()]
    assert len(history["entries"]) == 5, history
    for entry in history["entries"]:
        assert any(line.endswith(entry["heading"]) for line in lines), (entry, told)
        assert all(line in lines for line in entry["lines"]), (entry, told)
