#!/usr/bin/env python3
"""What `--out` writes is what its name says, and holds the numbers of `--json`: read by Python's csv and json and by NumPy.

usage: results_test.py PROGRAM DATA_FOLDER
"""
import csv
import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

import numpy
import scipy.io

PROGRAM = sys.argv[1]
DATA = pathlib.Path(sys.argv[2])
SPINS = ["00-as-found.flac", "01-trial-a.flac", "02-trial-b.flac"]


def run(folder, *arguments, exit_code=0):
    ran = subprocess.run([PROGRAM, *map(str, arguments)], cwd=folder, capture_output=True, text=True, timeout=200, check=False)
    assert exit_code in (None, ran.returncode), (arguments, ran.returncode, ran.stdout, ran.stderr)
    return ran


def refused(folder, *arguments, words):
    ran = run(folder, *arguments, exit_code=2)
    assert ran.stdout == "", ran.stdout
    error, mend = ran.stderr.splitlines()
    assert error.startswith("error: ") and mend.startswith(" mend: "), ran.stderr
    assert all(word in ran.stderr for word in words), ran.stderr


def table(file):
    with open(file, newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines, strict=True))


def documents(text):
    return [json.loads(line) for line in text.splitlines()]


def one(rows, **cells):
    found = [row for row in rows if all(row[name] == value for name, value in cells.items())]
    assert len(found) == 1, (cells, found)
    return found[0]


def check_orders(rows, sensors):
    """A row for each sensor and order, with the document's numbers to the last digit."""
    count = 0
    for sensor in sensors:
        for order in sensor["orders"]:
            row = one(rows, sensor=sensor["name"], order=str(order["order"]))
            unit = sensor["unit"]
            assert float(row[f"amplitude ({unit})"]) == order["amplitude"], row
            assert float(row["phase_lag (deg)"]) == order["phase_lag_deg"], row
            assert float(row[f"u_amplitude ({unit})"]) == order["u_amplitude"], row
            assert float(row["u_phase_lag (deg)"]) == order["u_phase_lag_deg"], row
            assert row["amplitude_kind"] == sensor["amplitude_kind"], row
            count += 1
    assert len(rows) == count, (rows, count)


def a_track_is_a_row_for_each_recording_sensor_and_order(shop):
    asked = ["track", *SPINS, "--rig", "rig.toml", "--orders", "1,2", "--as", "velocity-rms"]
    said = documents(run(shop, *asked, "--json", "--out", "spins.csv").stdout)
    rows = table(shop / "spins.csv")
    assert len(rows) == 3 * 2 * 2
    for document in said:
        of_file = [row for row in rows if row["file"] == document["file"]]
        check_orders(of_file, document["sensors"])
        assert all(float(row["speed (rpm)"]) == document["speed_rpm"] for row in of_file)
    run(shop, *asked, "--out", "spins.json")
    assert json.loads((shop / "spins.json").read_text()) == said
    run(shop, *asked, "--out", "spins.JSONL")
    assert documents((shop / "spins.JSONL").read_text()) == said


def numpy_reads_the_table_by_the_names_in_its_head(shop):
    read = numpy.genfromtxt(shop / "spins.csv", delimiter=",", names=True, dtype=None, encoding="utf-8", deletechars="")
    rows = table(shop / "spins.csv")
    assert read["amplitude_(mm/s)"].tolist() == [float(row["amplitude (mm/s)"]) for row in rows]
    assert read["phase_lag_(deg)"].tolist() == [float(row["phase_lag (deg)"]) for row in rows]


def one_of_several_recordings_that_cannot_be_used_has_its_error_in_its_row(shop):
    (shop / "broken.wav").write_text("RIFF")
    run(shop, "track", SPINS[0], "broken.wav", "--rig", "rig.toml", "--out", "some.csv", exit_code=3)
    rows = table(shop / "some.csv")
    assert len(rows) == 3 and one(rows, file="broken.wav")["error"] != "" and rows[0]["error"] == ""
    run(shop, "track", "broken.wav", "--rig", "rig.toml", "--out", "none.csv", exit_code=3)
    assert not (shop / "none.csv").exists()
    (shop / "broken.wav").unlink()


def a_sweep_is_a_row_for_each_turn_sensor_and_order(shop):
    said = json.loads(run(shop, "sweep", SPINS[0], "--rig", "rig.toml", "--orders", "1,2", "--json", "--out", "sweep.csv").stdout)
    rows = iter(table(shop / "sweep.csv"))
    for point in said["points"]:
        for vector in point["vectors"]:
            row = next(rows)
            assert float(row["time (s)"]) == point["time_s"] and float(row["speed (rpm)"]) == point["speed_rpm"]
            assert row["sensor"] == vector["sensor"] and float(row["order"]) == vector["order"]
            assert float(row["amplitude (m/s2)"]) == vector["amplitude"]
            assert float(row["phase_lag (deg)"]) == vector["phase_lag_deg"]
    assert next(rows, None) is None
    said = json.loads(run(shop, "sweep", SPINS[0], "--rig", "rig.toml", "--order-spectrum", "--json", "--out", "orders.csv").stdout)
    amplitudes = [float(row["amplitude (m/s2)"]) for row in table(shop / "orders.csv")]
    assert amplitudes == [a for sensor in said["sensors"] for a in sensor["amplitudes"]]
    said = json.loads(run(shop, "sweep", SPINS[0], "--rig", "rig.toml", "--map", "--json", "--out", "map.csv").stdout)
    amplitudes = [float(row["amplitude (m/s2)"]) for row in table(shop / "map.csv")]
    assert amplitudes == [a for sensor in said["sensors"] for row in sensor["amplitudes"] for a in row]


def a_solution_has_the_residual_of_each_plane_beside_its_spin(shop):
    said = json.loads(run(shop, "solve", "spins.toml", "--json", "--out", "solution.csv", exit_code=1).stdout)
    rows = table(shop / "solution.csv")
    assert [spin["label"] for spin in said["spins"]] == ["as found", "trial at A", "trial at B"]
    for spin in said["spins"]:
        of_spin = [row for row in rows if row["spin"] == spin["label"]]
        check_orders(of_spin, spin["sensors"])
        assert all(row["recording"] == spin["recording"] for row in of_spin)
        last = spin is said["spins"][-1]
        for row in of_spin:
            assert row["verdict"] == (said["verdict"] if last else "")
            for plane in said["planes"]:
                for column, key in ((f"residual {plane['name']} (g-mm)", "residual_gmm"),
                                    (f"residual_angle {plane['name']} (deg)", "residual_angle_deg"),
                                    (f"u_residual {plane['name']} (g-mm)", "u_residual_gmm"),
                                    (f"limit {plane['name']} (g-mm)", "limit_gmm")):
                    assert float(row[column]) == plane[key] if last else row[column] == "", (column, row)
    run(shop, "solve", "spins.toml", "--out", "solution.json", exit_code=1)
    assert json.loads((shop / "solution.json").read_text()) == {"file": "spins.toml", **said}


def a_batch_is_the_same_table_in_any_form_and_goes_on_where_it_was_cut(shop):
    runs = shop / "runs" / "monday"
    runs.mkdir(parents=True)
    for spin in SPINS:
        shutil.copy(shop / spin, runs)
    (runs / "x, \"broken\"\n.wav").write_text("RIFF")
    batch = ["batch", "track", "runs", "--rig", "rig.toml", "--threads", "1"]
    run(shop, *batch, "--out", "batch.jsonl", exit_code=3)
    said = documents((shop / "batch.jsonl").read_text())
    run(shop, *batch, "--out", "batch.csv", exit_code=3)
    rows = table(shop / "batch.csv")
    assert len(rows) == 3 * 2 + 1
    for document in said:
        of_file = [row for row in rows if row["file"] == document["file"]]
        if "error" in document:
            assert len(of_file) == 1 and of_file[0]["error"] == document["error"]["code"]
        else:
            check_orders(of_file, document["sensors"])
    run(shop, *batch, "--out", "batch.json", exit_code=3)
    assert json.loads((shop / "batch.json").read_text()) == said
    for name in ("batch.csv", "batch.json", "batch.jsonl"):
        whole = (shop / name).read_bytes()
        assert " 4 done before, 0 now" in run(shop, *batch, "--out", name).stdout
        assert (shop / name).read_bytes() == whole
        end_of_first = whole.index(b"01-trial")
        for cut in (1, 3, 40, end_of_first, end_of_first + 30, len(whole) // 2, len(whole) - 60, len(whole) - 2, len(whole) - 1):
            (shop / name).write_bytes(whole[:cut])
            run(shop, *batch, "--out", name, exit_code=None)
            if name == "batch.csv":
                key = lambda row: (row["file"], row["sensor"])
                assert sorted(table(shop / name), key=key) == sorted(rows, key=key), (name, cut)
            else:
                text = (shop / name).read_text()
                found = json.loads(text) if name == "batch.json" else documents(text)
                assert sorted(map(json.dumps, found)) == sorted(map(json.dumps, said)), (name, cut)


def a_recording_in_another_unit_gets_columns_of_its_own(shop):
    folder = shop / "units"
    folder.mkdir()
    t = numpy.arange(4000) / 1000.0
    turns = 20.0 * t + 0.013
    tach = numpy.where(turns % 1.0 < 0.1, 5.0, 0.0)
    for name, unit in (("a.csv", "g"), ("b.csv", "mm/s"), ("c.csv", "g")):
        with open(folder / name, "w", encoding="utf-8") as file:
            file.write(f"time (s),a ({unit}),tach (V)\n")
            file.writelines(f"{at:.4f},{numpy.cos(2 * numpy.pi * turn - 1.0):.6f},{pulse}\n" for at, turn, pulse in zip(t, turns, tach))
    (shop / "table-rig.toml").write_text(
        '[rig]\nname = "bay 2"\nrotation = "counter-clockwise"\nviewing_end = "A"\n[tach]\nchannel = "tach"\n'
        '[[sensor]]\nname = "A"\nchannel = "a"\nsensitivity = "100 mV/g"\n')
    run(shop, "batch", "track", "units", "--rig", "table-rig.toml", "--threads", "1", "--out", "units.csv")
    rows = table(shop / "units.csv")
    assert [bool(row["amplitude (m/s2)"]) for row in rows] == [True, False, True]
    assert [bool(row["amplitude (mm/s)"]) for row in rows] == [False, True, False]
    assert abs(float(rows[1]["amplitude (mm/s)"]) - 1.0) < 1e-3


def a_log_is_a_table_that_can_be_taken_in_again(shop):
    log = ["--log", "log.db"]
    run(shop, "job", "open", "shaft.toml", "--rig", "rig.toml", *log)
    run(shop, "job", "spin", SPINS[0], "--label", "=1+1", *log)
    run(shop, "job", "fit", "A 15 g @ 0 deg", "--as-typed", *log)
    run(shop, "job", "spin", SPINS[1], "--label", "-12", *log)
    run(shop, "job", "fit", "--none", *log)
    run(shop, "job", "fit", "B 15 g @ 0 deg", "--as-typed", *log)
    run(shop, "job", "spin", SPINS[2], *log)
    lines = run(shop, "log", "export", *log).stdout
    run(shop, "log", "export", "--out", "log.csv", *log)
    rows = table(shop / "log.csv")
    assert run(shop, "log", "export", "--csv", *log).stdout == (shop / "log.csv").read_text()
    assert {row["label"] for row in rows} >= {"'=1+1", "-12"}  # no formula; a number is none
    seen = 0
    for entry in json.loads(lines)["entries"]:
        of_entry = [row for row in rows if row["number"] == str(entry["number"])]
        assert all(json.loads(row["details"]) == entry for row in of_entry)
        if entry["kind"] != "spin":
            assert len(of_entry) == 1
            continue
        assert [row["sensor"] for row in of_entry] == ["A", "B"]
        for row, reading in zip(of_entry, entry["details"]["readings"]):
            amplitude = numpy.hypot(*reading["value_si"])
            assert abs(float(row["amplitude (m/s2)"]) / amplitude - 1) < 1e-15
        for plane in (entry["details"]["finding"] or {"planes": []})["planes"]:
            residual = 1e6 * numpy.hypot(*plane["residual_kg_m"])
            assert all(abs(float(row[f"residual {plane['plane']} (g-mm)"]) / residual - 1) < 1e-15 for row in of_entry)
            seen += 1
    assert seen == 2
    run(shop, "log", "export", "--out", "log.json", *log)
    assert json.loads((shop / "log.json").read_text()) == documents(lines)
    for name in ("log.csv", "log.json"):
        run(shop, "log", "import", name, "--log", name + ".db")
        assert run(shop, "log", "export", "--log", name + ".db").stdout == lines


def arrays_hold_the_columns_of_the_table(shop):
    """Read back by NumPy and by SciPy. A MATLAB variable cannot be called 'amplitude (m/s2)'."""
    for asked in (["track", *SPINS, "--rig", "rig.toml"], ["sweep", SPINS[1], "--rig", "rig.toml"], ["solve", "spins.toml"]):
        stem = f"arrays-{asked[0]}"
        for ending in ("csv", "npz", "mat"):
            run(shop, *asked, "--out", f"{stem}.{ending}", exit_code=None)  # 1: the shaft is outside its limit
        rows = table(shop / f"{stem}.csv")
        arrays = numpy.load(shop / f"{stem}.npz")
        variables = scipy.io.loadmat(shop / f"{stem}.mat")
        assert set(arrays.files) == set(rows[0]), (arrays.files, list(rows[0]))
        for name in rows[0]:
            cells = [row[name] for row in rows]
            matlab = variables[re.sub("[^A-Za-z0-9]+", "_", name).strip("_")].ravel()
            if arrays[name].dtype.kind == "f":
                expected = [float(cell) if cell else numpy.nan for cell in cells]
                numpy.testing.assert_array_equal(arrays[name], expected)
                numpy.testing.assert_array_equal(matlab, expected)
            else:
                assert list(arrays[name]) == cells, name
                assert [text[0] if text.size else "" for text in matlab] == cells, name
    refused(shop, "batch", "track", ".", "--rig", "rig.toml", "--out", "x.npz", words=["'.npz' is none of them", ".jsonl"])


def a_universal_file_holds_vectors_over_speed(shop):
    """By the columns of dataset 58 (from memory), read here on their own."""
    run(shop, "sweep", SPINS[1], "--rig", "rig.toml", "--orders", "1,2", "--out", "over-speed.uff")
    run(shop, "sweep", SPINS[1], "--rig", "rig.toml", "--orders", "1,2", "--out", "over-speed.csv")
    rows = table(shop / "over-speed.csv")
    datasets = (shop / "over-speed.uff").read_text().split("    -1\n")[1::2]
    assert len(datasets) == 4, len(datasets)
    for dataset in datasets:
        lines = dataset.splitlines()
        assert lines[0] == "    58"
        sensor, order = re.match(r"sensor (\w+), order (\d+)", lines[1]).groups()
        mine = [row for row in rows if row["sensor"] == sensor and row["order"] == order]
        kind, count, even = (int(lines[7][at:at + 10]) for at in (0, 10, 20))
        assert (kind, count, even) == (6, len(mine), 0), lines[7]
        assert int(lines[8][:10]) == 18 and lines[9][47:67].strip() == "m/s2", lines[8:10]
        for line, row in zip(lines[12:], mine, strict=True):
            frequency, real, imaginary = float(line[:13]), float(line[13:33]), float(line[33:53])
            assert abs(frequency * 60 - float(row["speed (rpm)"])) < 1e-5 * 60 * frequency
            vector = float(row["amplitude (m/s2)"]) * numpy.exp(-1j * numpy.radians(float(row["phase_lag (deg)"])))
            assert abs(vector - complex(real, imaginary)) < 1e-11, (vector, line)


def other_endings_are_refused_before_any_work(shop):
    there_is = sorted(shop.iterdir())
    for asked in (["track", "nowhere.wav", "--rig", "rig.toml"], ["sweep", "nowhere.wav", "--rig", "rig.toml"], ["solve", "spins.toml"],
                  ["batch", "track", "runs", "--rig", "rig.toml"], ["batch", "solve", "runs"], ["log", "export", "--log", "log.db"]):
        no_ending = [] if asked[0] == "log" else ["results"]  # which there means what it always meant, JSON Lines
        for name in (*no_ending, "results.xlsx", "results.txt"):
            refused(shop, *asked, "--out", name, words=["results", ".csv", ".json", ".jsonl"])
    refused(shop, "log", "export", "--log", "log.db", "--csv", "--out", "jobs.jsonl", words=["--csv"])
    assert sorted(shop.iterdir()) == there_is


def what_is_there_is_not_written_over_unless_asked(shop):
    (shop / "kept.csv").write_text("precious")
    for asked in (["track", SPINS[0], "--rig", "rig.toml"], ["sweep", SPINS[0], "--rig", "rig.toml"], ["solve", "spins.toml"]):
        refused(shop, *asked, "--out", "kept.csv", words=["there is such a file already"])
    refused(shop, "batch", "track", "runs", "--rig", "rig.toml", "--out", "kept.csv", words=["does not hold results"])
    refused(shop, "batch", "track", "units", "--rig", "table-rig.toml", "--out", "units/a.csv", words=["does not hold results"])
    for replace in ([], ["--replace"]):
        refused(shop, "track", "units/a.csv", "--rig", "table-rig.toml", "--out", "units/a.csv", *replace, words=["would be written over"])
    assert (shop / "kept.csv").read_text() == "precious"
    run(shop, "track", SPINS[0], "--rig", "rig.toml", "--out", "kept.csv", "--replace")
    assert len(table(shop / "kept.csv")) == 2


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        here = pathlib.Path(place)
        for file in [*SPINS, "rig.toml", "shaft.toml", "spins.toml"]:
            shutil.copy(DATA / file, here)
        a_track_is_a_row_for_each_recording_sensor_and_order(here)
        numpy_reads_the_table_by_the_names_in_its_head(here)
        one_of_several_recordings_that_cannot_be_used_has_its_error_in_its_row(here)
        a_sweep_is_a_row_for_each_turn_sensor_and_order(here)
        a_solution_has_the_residual_of_each_plane_beside_its_spin(here)
        a_batch_is_the_same_table_in_any_form_and_goes_on_where_it_was_cut(here)
        a_recording_in_another_unit_gets_columns_of_its_own(here)
        a_log_is_a_table_that_can_be_taken_in_again(here)
        arrays_hold_the_columns_of_the_table(here)
        a_universal_file_holds_vectors_over_speed(here)
        other_endings_are_refused_before_any_work(here)
        what_is_there_is_not_written_over_unless_asked(here)
