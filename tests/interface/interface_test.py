#!/usr/bin/env python3
"""interface_test.py PROGRAM LIBRARY SOURCE-TREE: what the C interface gives is what the program prints."""
import json
import os
import pathlib
import subprocess
import sys

program, library, tree = sys.argv[1], sys.argv[2], pathlib.Path(sys.argv[3])
data, example = tree / "data", tree / "tools/examples/solve.py"
sys.path.insert(0, str(example.parent))
import solve  # noqa: E402  the example itself

counterspot = solve.Counterspot(library)
os.chdir(data)


def printed(*arguments):
    ran = subprocess.run([program, *arguments, "--json"], capture_output=True, check=False)
    return json.loads(ran.stdout)


for spins in ("spins.toml", "spins-verify.toml"):
    assert counterspot.solve(spins) == printed("solve", spins), spins
assert counterspot.limit("shaft.toml") == printed("limit", "--shaft", "shaft.toml")
tracked = counterspot.track("00-as-found.flac", "rig.toml", (1.0, 2.0))
assert tracked == printed("track", "00-as-found.flac", "--rig", "rig.toml", "--orders", "1,2")
assert len(tracked["sensors"][0]["orders"]) == 2

try:
    counterspot.solve("rig.toml")
    raise AssertionError("a rig file was taken for spins")
except solve.CounterspotError as error:
    assert error.status == 2 and "mend:" in str(error) and "rig.toml" in str(error), error

environment = dict(os.environ, COUNTERSPOT_LIBRARY=library)
ran = subprocess.run([sys.executable, str(example), "spins.toml"], capture_output=True, text=True, env=environment, check=False)
assert ran.returncode == 1 and "verdict: outside" in ran.stdout and "Guard closed" in ran.stdout, ran
assert "plane A: 1393 g·mm now; fit 35.7 g at 8:55" in ran.stdout, ran.stdout  # the README's first example

# Nothing but the interface is shown to the outside.
names = subprocess.run(["nm", "--dynamic", "--defined-only", "--extern-only", library], capture_output=True, text=True, check=True)
functions = [line.split()[2] for line in names.stdout.splitlines() if line.split()[1] in "TW"]
strangers = [name for name in functions if not name.startswith("counterspot_")]
assert len(functions) - len(strangers) == 17, functions
assert not [name for name in strangers if "counterspot" in name], strangers
