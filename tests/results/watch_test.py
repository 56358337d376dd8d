#!/usr/bin/env python3
"""`batch track --watch` takes recordings as a logger leaves them in a folder: each once, and only when it is whole.

usage: watch_test.py PROGRAM DATA_FOLDER
"""
import csv
import json
import os
import pathlib
import shutil
import signal
import subprocess
import sys
import tempfile
import time

PROGRAM = sys.argv[1]
DATA = pathlib.Path(sys.argv[2])
SPIN = (DATA / "00-as-found.flac").read_bytes()


class Watch:
    """The program at work over a folder."""

    def __init__(self, shop, out, still="0.6 s", *more):
        self.shop, self.out = shop, shop / out
        self.process = subprocess.Popen(
            [PROGRAM, "batch", "track", "logger", "--rig", "rig.toml", "--out", out, "--watch", "--still", still, *more],
            cwd=shop, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)

    def files(self):
        """In the results now, as another program sees them while the watch goes on."""
        if not self.out.exists() or not self.out.read_bytes():
            return []
        if self.out.suffix == ".csv":
            with open(self.out, newline="", encoding="utf-8") as lines:
                return [row["file"] for row in csv.DictReader(lines, strict=True) if row["sensor"] != "B"]
        text = self.out.read_text()
        documents = json.loads(text) if self.out.suffix == ".json" else [json.loads(line) for line in text.splitlines()]
        return [document["file"] for document in documents]

    def until(self, files, within_s=20):
        end = time.monotonic() + within_s
        while sorted(self.files()) != sorted(files):
            assert time.monotonic() < end and self.process.poll() is None, (self.files(), files)
            time.sleep(0.05)

    def end(self, number):
        self.process.send_signal(number)
        out, err = self.process.communicate(timeout=20)
        assert self.process.returncode == 0, (self.process.returncode, err)
        return out, err


def a_recording_that_comes_in_two_halves_is_taken_once_when_it_is_whole(shop):
    (shop / "logger" / "monday").mkdir(parents=True)
    shutil.copy(DATA / "01-trial-a.flac", shop / "logger" / "there-before.flac")
    watch = Watch(shop, "live.csv")
    watch.until(["logger/there-before.flac"])
    late = shop / "logger" / "monday" / "late.flac"
    for k in range(12):  # a piece at a time, for longer than it must stand still
        with open(late, "ab") as file:
            file.write(SPIN[k * len(SPIN) // 12:(k + 1) * len(SPIN) // 12])
        time.sleep(0.2)
        assert watch.files() == ["logger/there-before.flac"]
    watch.until(["logger/there-before.flac", "logger/monday/late.flac"])
    time.sleep(1.5)
    assert len(watch.files()) == 2
    out, err = watch.end(signal.SIGTERM)
    assert "logger/monday/late.flac: measured" in out and "2 files taken, 0 of these with an error" in out, out
    assert err.count("late.flac: it is not complete yet") == 1, err
    alone = json.loads(subprocess.run([PROGRAM, "track", str(late), "--rig", "rig.toml", "--json"], cwd=shop, capture_output=True,
                                      check=True).stdout)
    with open(shop / "live.csv", newline="", encoding="utf-8") as lines:
        rows = [row for row in csv.DictReader(lines) if row["file"] == "logger/monday/late.flac"]
    assert [float(row["amplitude (m/s2)"]) for row in rows] == [s["orders"][0]["amplitude"] for s in alone["sensors"]]


def a_recording_that_breaks_is_reported_and_the_watch_goes_on(shop):
    watch = Watch(shop, "broken.jsonl")
    (shop / "logger" / "half.flac").write_bytes(SPIN[:len(SPIN) // 2])
    (shop / "logger" / "broken.wav").write_bytes(b"RIFF")
    (shop / "logger" / "empty.wav").write_bytes(b"")
    (shop / "logger" / "notes.txt").write_text("no recording")
    before = ["logger/there-before.flac", "logger/monday/late.flac", "logger/half.flac", "logger/broken.wav"]
    watch.until(before)
    (shop / "logger" / "after.flac").write_bytes(SPIN)
    watch.until(before + ["logger/after.flac"])
    with open(shop / "logger" / "half.flac", "ab") as file:
        file.write(SPIN[len(SPIN) // 2:])
    time.sleep(1.5)
    assert len(watch.files()) == 5
    out, err = watch.end(signal.SIGINT)
    half = next(json.loads(line) for line in watch.out.read_text().splitlines() if "half.flac" in line)
    assert "short_data" in [warning["code"] for warning in half["warnings"]]
    assert "error: logger/broken.wav" in err and "empty.wav: it is not complete yet" in err, err
    assert err.count("half.flac: it has changed since it was measured") == 1, err
    assert "5 files taken, 1 of these with an error" in out, out


def a_watch_that_was_ended_or_killed_goes_on_with_what_is_new(shop):
    for out in ("again.json", "again.csv"):
        for path in (shop / "logger").rglob("*"):
            if path.is_file():
                path.unlink()
        (shop / "logger" / "one.flac").write_bytes(SPIN)
        watch = Watch(shop, out)
        watch.until(["logger/one.flac"])
        watch.process.kill()
        watch.process.communicate()
        (shop / "logger" / "two.flac").write_bytes(SPIN)
        watch = Watch(shop, out)
        watch.until(["logger/one.flac", "logger/two.flac"])
        said, _ = watch.end(signal.SIGTERM)
        assert "1 files taken" in said, said
        assert watch.files() == ["logger/one.flac", "logger/two.flac"]


def a_folder_that_is_away_for_a_while_is_waited_for(shop):
    watch = Watch(shop, "away.csv")
    watch.until(["logger/one.flac", "logger/two.flac"])
    os.rename(shop / "logger", shop / "elsewhere")
    time.sleep(1.0)
    os.rename(shop / "elsewhere", shop / "logger")
    (shop / "logger" / "three.flac").write_bytes(SPIN)
    watch.until(["logger/one.flac", "logger/two.flac", "logger/three.flac"])
    _, err = watch.end(signal.SIGTERM)
    assert err.count("there is no such folder") == 1, err


def what_cannot_be_watched_is_refused(shop):
    for more in (["--still", "-1 s"], ["--still", "soon"], ["--part", "1/2"]):
        ran = subprocess.run([PROGRAM, "batch", "track", "logger", "--rig", "rig.toml", "--out", "x.csv", "--watch", *more], cwd=shop,
                             capture_output=True, text=True, check=False, timeout=20)
        assert ran.returncode == 2 and ran.stderr.startswith("error: "), ran
    for folder, out in (("nowhere", "x.csv"), ("logger", "rig.toml"), ("logger", "x.txt")):
        ran = subprocess.run([PROGRAM, "batch", "track", folder, "--rig", "rig.toml", "--out", out, "--watch"], cwd=shop,
                             capture_output=True, text=True, check=False, timeout=20)
        assert ran.returncode == 2 and ran.stderr.startswith("error: "), ran
    ran = subprocess.run([PROGRAM, "batch", "track", "logger", "--rig", "rig.toml", "--out", "x.csv", "--still", "1 s"], cwd=shop,
                         capture_output=True, text=True, check=False, timeout=20)
    assert ran.returncode == 2, ran
    assert not (shop / "x.csv").exists()


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        here = pathlib.Path(place)
        shutil.copy(DATA / "rig.toml", here)
        a_recording_that_comes_in_two_halves_is_taken_once_when_it_is_whole(here)
        a_recording_that_breaks_is_reported_and_the_watch_goes_on(here)
        a_watch_that_was_ended_or_killed_goes_on_with_what_is_new(here)
        a_folder_that_is_away_for_a_while_is_waited_for(here)
        what_cannot_be_watched_is_refused(here)
