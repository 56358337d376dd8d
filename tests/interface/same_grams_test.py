#!/usr/bin/env python3
"""same_grams_test.py PROGRAM LIBRARY SOURCE-TREE: the same three spins through `solve`, `job`, the page and the C interface ask for the
same grams at the same places, on top of the trial weight and without it, and no more than a plane may carry, to which `place` keeps too;
`shaft`, `job` and the page ask for the same trial weight, of any mass or of a stock; and `job show` and the page tell each entry in the
same words."""
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


def begun_job(files, log):
    """A job with its as-found spin."""
    at = ["--log", log]
    printed("job", "open", files / "shaft.toml", "--rig", files / "rig.toml", *at)
    printed("job", "spin", files / "00-as-found.flac", *at)
    return at


def step_after_trials(files, at):
    printed("job", "fit", "A 15 g @ 0 deg", "--as-typed", *at)
    printed("job", "spin", files / "01-trial-a.flac", *at)
    printed("job", "fit", "B 15 g @ 0 deg", "--only", "--as-typed", *at)
    printed("job", "spin", files / "02-trial-b.flac", *at)
    return printed("job", "next", *at)


def same_words(folder):
    with Console(program, str(data), folder) as console:
        now = json.loads(console.ask("GET", "/api/now")[2])
        history = json.loads(console.ask("GET", "/api/job?job=" + now["job"].replace("/", "%2F"))[2])
    told = subprocess.run([program, "job", "show", "--log", f"{folder}/log.db"], capture_output=True, text=True, check=True).stdout
    lines = [line.strip() for line in told.splitlines()]
    assert len(history["entries"]) == 5, history
    for entry in history["entries"]:
        assert any(line.endswith(entry["heading"]) for line in lines), (entry, told)
        read = [line for line in entry["lines"] if not line.startswith(("note: ", "warning: "))]
        assert all(line in lines for line in read), (entry, told)
        noticed = [line.split(": ", 1)[1] for line in entry["lines"] if line not in read]  # which 'job show' gathers over the spins
        assert all(each in told for each in noticed), (noticed, told)


def page_now(files, folder):
    with Console(program, str(files), folder) as console:
        return json.loads(console.ask("GET", "/api/now")[2])


def with_at_most(folder, mass):
    """The demo's files with a shaft whose planes may carry so much."""
    files = pathlib.Path(folder) / "files"
    files.mkdir()
    for file in [*data.glob("*.toml"), *data.glob("*.flac")]:
        (files / file.name).symlink_to(file)
    shaft = (data / "shaft.toml").read_text(encoding="utf-8").replace("[[plane]]", f'[[plane]]\nat_most = "{mass}"')
    (files / "shaft.toml").unlink()
    (files / "shaft.toml").write_text(shaft, encoding="utf-8")
    return files


def same_corrections(files, folder, at):
    """On top of the trial weight and without it, as all that solve say."""
    solved = printed("solve", files / "spins.toml", may_fail=True)  # 1: not within limit, which is so
    on_top, bare = by_solution(solved, "correction"), by_solution(solved, "correction_bare")
    assert not alike(on_top, bare) and all(mass > 1.0 for _, mass, _ in on_top + bare), (on_top, bare)

    through_c = solve.Counterspot(library).solve(str(files / "spins.toml"))
    assert alike(by_solution(through_c, "correction"), on_top), "C interface"
    assert alike(by_solution(through_c, "correction_bare"), bare), "C interface"

    step = step_after_trials(files, at)
    assert alike(by_step(step["pieces"]), on_top), (step["pieces"], on_top)
    assert alike(by_step(step["instead"]["pieces"]), bare), (step["instead"], bare)

    choices = {choice["base"]: choice["fit"] for choice in page_now(files, folder)["choices"]}
    assert shown(choices["as_spun"]) == rounded(on_top), (choices, on_top)
    assert shown(choices["bare"]) == rounded(bare), (choices, bare)
    return on_top, bare


def same_trial(files, folder, at):
    step = printed("job", "next", *at)
    (asked,) = by_step(step["pieces"])
    speed = printed("track", files / "00-as-found.flac", "--rig", files / "rig.toml")["speed_rpm"]
    for stock in ([], ["--stock", files / "stock.toml"]):
        planned = printed("shaft", files / "shaft.toml", "--balancing-speed", f"{speed!r} rpm", *stock)["trial_weights"]
        (asked,) = by_step(printed("job", "next", *at, *stock)["pieces"])
        (same,) = [trial for trial in planned if trial["name"] == asked[0]]
        assert abs(same["mass_g"] - asked[1]) <= SAME * asked[1], (same, asked)
        assert same.get("angle_deg", 0.0) == asked[2], (same, asked)
        if not stock:
            fits = page_now(files, folder)["fit"]
            assert shown(fits) == rounded([asked]), (fits, asked)


with tempfile.TemporaryDirectory() as folder:
    at = begun_job(data, f"{folder}/log.db")
    same_trial(data, folder, at)
    same_corrections(data, folder, at)
    same_words(folder)

AT_MOST_G = 30.0  # 35.7 g are missing at A, and of B's 15 g are on
with tempfile.TemporaryDirectory() as folder:
    files = with_at_most(folder, f"{AT_MOST_G} g")
    at = begun_job(files, f"{folder}/log.db")
    same_trial(files, folder, at)
    on_top, bare = same_corrections(files, folder, at)
    (at_a, at_b), room = (mass for _, mass, _ in on_top), {"A": AT_MOST_G, "B": AT_MOST_G - 15.0}
    assert abs(at_a - room["A"]) < 1e-4 * AT_MOST_G and abs(at_b - room["B"]) < 1e-4 * AT_MOST_G, on_top
    assert all(mass <= AT_MOST_G * (1 + 1e-6) for _, mass, _ in bare), bare
    placed = printed("place", files / "spins.toml", "--stock", files / "stock.toml", may_fail=True)
    for plane, most_g in room.items():
        acting_g = sum(piece["acting_g"] for piece in placed["pieces"] if piece["plane"] == plane)
        assert 0.5 * most_g < acting_g <= most_g, (plane, placed["pieces"])
