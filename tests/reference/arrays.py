"""Recordings in files of arrays, against the libraries that wrote them: NumPy, SciPy and h5py, sample for sample.

    arrays.py COUNTERSPOT SAMPLES
"""
import json
import pathlib
import struct
import subprocess
import sys
import tempfile

import h5py
import numpy as np
import scipy.io

program, samples = sys.argv[1:3]
folder = pathlib.Path(tempfile.mkdtemp())
rate_Hz = 5000.0
failures = []


def check(fact, true):
    print(("ok      " if true else "NOT SO  ") + fact)
    if not true:
        failures.append(fact)


def read(path, *rate):
    """Frames x channels, and the channels' names."""
    ran = subprocess.run([samples, path, *map(str, rate)], capture_output=True, timeout=120)
    names = ran.stderr.decode().split("\n")[:-1]
    if ran.returncode:
        return None, names
    return np.frombuffer(ran.stdout, "<f8").reshape(-1, len(names)), names


def same(path, expected, names=None):
    got, got_names = read(path, rate_Hz)
    told = f"{path.name}: {expected.shape[1]} channels of {expected.shape[0]}"
    check(told, got is not None and np.array_equal(got, expected.astype(float)) and (names is None or got_names == names))


def spin(frames=20000, speed_Hz=25.3, seed=1):
    """Two sensors and a tach in volts, and the times of the tach's rising edges."""
    noise = np.random.default_rng(seed).standard_normal((2, frames))
    time_s = np.arange(frames) / rate_Hz
    turns = speed_Hz * time_s + 0.37
    a = 0.3 * np.cos(2 * np.pi * turns - 1.0) + 0.02 * noise[0]
    b = 0.2 * np.cos(2 * np.pi * turns - 2.0) + 0.02 * noise[1]
    tach = 5.0 * np.clip(np.minimum(turns % 1.0, 0.3 - turns % 1.0) * 60 + 0.5, 0, 1)
    edges_s = (np.arange(1, int(turns[-1]) + 1) - 0.37) / speed_Hz
    return time_s, a, b, tach, edges_s


def every_type_and_order():
    draw = np.random.default_rng(7)
    for code in ["<f8", ">f8", "<f4", ">f4", "i1", "<i2", ">i2", "<i4", ">i8", "u1", "<u2", ">u4", "<u8"]:
        table = (draw.standard_normal((3000, 3)) * 50).astype(np.dtype(code))
        for order, array in (("frames", np.ascontiguousarray(table)), ("fortran", np.asfortranarray(table)),
                             ("rows", np.ascontiguousarray(table.T)), ("rows_fortran", np.asfortranarray(table.T))):
            name = f"{order}_{np.dtype(code).name}_{'big' if code[0] == '>' else 'little'}"
            path = folder / f"{name}.npy"
            np.save(path, array)
            same(path, table, ["1", "2", "3"])
            path = folder / f"{name}_of_one.npy"
            np.save(path, array[None])
            same(path, table, ["1", "2", "3"])
            path = folder / f"{name}.npz"
            (np.savez_compressed if order == "rows" else np.savez)(path, m=array)
            same(path, table, ["m 1", "m 2", "m 3"])
            if order.endswith("fortran"):
                continue
            path = folder / f"{name}.h5"
            with h5py.File(path, "w") as file:
                file.create_dataset("m", data=array, chunks=True, compression="gzip" if order == "rows" else None)
            same(path, table, ["m 1", "m 2", "m 3"])
            if code[0] == ">":
                continue
            path = folder / f"{name}.mat"
            scipy.io.savemat(path, {"m": array}, do_compression=order == "rows")
            check(f"{path.name}: SciPy reads what it was given", np.array_equal(scipy.io.loadmat(path)["m"], array))
            same(path, table, ["m 1", "m 2", "m 3"])


def mat_element(order, kind, data):
    """Up to four bytes stand in the tag itself, which then begins with their number."""
    if len(data) <= 4:
        return struct.pack(order + "I", len(data) << 16 | kind) + data.ljust(4, b"\0")
    return struct.pack(order + "II", kind, len(data)) + data + bytes(-len(data) % 8)


def mat_file(order, variables):
    """Level 5, by the printed description of the format (from memory; SciPy reads each file below as meant). A variable:
    name, class, dimensions, type of the stored values, these."""
    out = b"made for a test".ljust(124) + struct.pack(order + "HH", 0x0100, 0x4D49)
    for name, number_class, dimensions, kind, values in variables:
        parts = (mat_element(order, 6, struct.pack(order + "II", number_class, 0))
                 + mat_element(order, 5, struct.pack(f"{order}{len(dimensions)}i", *dimensions))
                 + mat_element(order, 1, name.encode()) + mat_element(order, kind, values.tobytes()))
        out += struct.pack(order + "II", 14, len(parts)) + parts
    return out


def variables_as_stored():
    """In either order of bytes, with values stored as another type than the variable's, and names of any length."""
    draw = np.random.default_rng(11)
    classes = {"double": 6, "single": 7, "int32": 12}
    kinds = {"i1": 1, "u1": 2, "i2": 3, "u2": 4, "i4": 5, "u4": 6, "f4": 7, "f8": 9, "i8": 12, "u8": 13}
    for order in "<>":
        for of_class, codes in (("double", kinds), ("single", ["i1", "u2", "f4"]), ("int32", ["i1", "u2", "i4"])):
            for code in codes:
                table = (draw.standard_normal((3001, 2)) * 50 + (100 if code[0] == "u" else 0)).astype(order + code)
                path = folder / f"{of_class}_of_{code}_{'big' if order == '>' else 'little'}.mat"
                path.write_bytes(mat_file(order, [("m", classes[of_class], (3001, 1), kinds[code], table[:, 0]),
                                                  ("long_name", classes[of_class], (3001, 1), kinds[code], table[:, 1])]))
                loaded = scipy.io.loadmat(path)
                check(f"{path.name}: SciPy reads it as meant", np.array_equal(np.hstack([loaded["m"], loaded["long_name"]]), table))
                same(path, table, ["m", "long_name"])


def other_values_than_stated():
    """What stands behind a variable in the file is never taken for its values."""
    values = np.arange(1.0, 501.0)
    for stated in (499, 501, 5000, 2**31 - 1):
        path = folder / f"stated_{stated}.mat"
        path.write_bytes(mat_file("<", [("m", 6, (stated, 1), 9, values), ("n", 6, (500, 1), 9, -values)]))
        got, said = read(path, rate_Hz)
        check(f"{path.name}: refused ({said[-1] if said else 'silently'})", got is None and "'m' is damaged" in said[-1])
    scipy.io.savemat(folder / "field.mat", {"run": {"a": values, "b": -values}})
    whole = (folder / "field.mat").read_bytes()
    dimensions = struct.pack("<ii", 1, 500)
    check("SciPy writes the dimensions of two fields", whole.count(dimensions) == 2)
    (folder / "field.mat").write_bytes(whole.replace(dimensions, struct.pack("<ii", 1, 501), 1))
    got, said = read(folder / "field.mat", rate_Hz)
    check(f"field.mat: refused ({said[-1] if said else 'silently'})", got is None and "'run.a' is damaged" in said[-1])


def damaged_piece():
    """A packed piece that cannot be unpacked is refused, and at once: the process that reads HDF5 says no, and lives."""
    path = folder / "damaged.h5"
    values = np.random.default_rng(7).standard_normal((8000, 2))
    with h5py.File(path, "w") as file:
        pieces = file.create_dataset("m", data=values, chunks=(1000, 2), compression="gzip")
        at = [pieces.id.get_chunk_info(piece).byte_offset for piece in range(pieces.id.get_num_chunks())]
    same(path, values)
    whole = bytearray(path.read_bytes())
    whole[at[5] + 100 : at[5] + 400] = b"\xff" * 300
    path.write_bytes(whole)
    got, said = read(path, rate_Hz)
    check(f"{path.name}: refused ({said[-1] if said else 'silently'})", got is None and "'m' is damaged" in said[-1])


def large():
    """More than the readers take at once."""
    table = np.random.default_rng(3).standard_normal((1_000_000, 2))
    for name, write in {"large.npy": lambda p: np.save(p, table),
                        "large_rows.npy": lambda p: np.save(p, table.T.copy()),
                        "large.npz": lambda p: np.savez(p, m=table),
                        "large_packed.npz": lambda p: np.savez_compressed(p, a=table[:, 0], b=table[:, 1]),
                        "large.mat": lambda p: scipy.io.savemat(p, {"m": table}),
                        "large_packed.mat": lambda p: scipy.io.savemat(p, {"a": table[:, 0], "b": table[:, 1]}, do_compression=True)}.items():
        write(folder / name)
        same(folder / name, table)
        (folder / name).unlink()
    long = np.tile(np.arange(1000.0), 4600)  # in two pieces, which the reader of compressed variables goes through twice
    scipy.io.savemat(folder / "long_packed.mat", {"a": long, "b": -long}, do_compression=True)
    same(folder / "long_packed.mat", np.column_stack([long, -long]))
    with h5py.File(folder / "large.h5", "w") as file:
        file.create_dataset("m", data=table.T, chunks=(2, 4096), compression="gzip", compression_opts=1)
    same(folder / "large.h5", table)


def names_and_records():
    time_s, a, b, tach, _ = spin(2000)
    records = np.zeros(2000, dtype=[("time", "<f8"), ("note", "S5"), ("a", ">f4"), ("b", "<f8"), ("tach", "<i2")])
    records["time"], records["a"], records["b"], records["tach"] = time_s, a, b, tach
    np.save(folder / "records.npy", records)
    loaded = np.load(folder / "records.npy")
    same(folder / "records.npy", np.column_stack([loaded[name].astype(float) for name in ("time", "a", "b", "tach")]),
         ["time", "a", "b", "tach"])
    scipy.io.savemat(folder / "structure.mat", {"run": {"a": a, "b": b, "fs": rate_Hz, "who": "us"}, "other": np.arange(7.0)})
    same(folder / "structure.mat", np.column_stack([a, b]), ["run.a", "run.b"])
    with h5py.File(folder / "groups.h5", "w") as file:
        file["left/bearing"], file["right/bearing"], file["words"] = a, b, "none"
    same(folder / "groups.h5", np.column_stack([a, b]), ["left/bearing", "right/bearing"])


RIG = """
[rig]
name = "Arrays"
rotation = "counter-clockwise"
viewing_end = "A"
{rate}
[tach]
channel = "{tach}"
pulses_per_revolution = 1
[[sensor]]
name = "A"
channel = "{a}"
sensitivity = "100 mV/g"
[[sensor]]
name = "B"
channel = "{b}"
sensitivity = "100 mV/g"
{more}
"""


def track(path, tach="tach", a="a", b="b", rate="", more=""):
    rig = folder / f"{path.stem}.rig.toml"
    rig.write_text(RIG.format(tach=tach, a=a, b=b, rate=rate, more=more))
    ran = subprocess.run([program, "track", path, "--rig", rig, "--json"], capture_output=True, text=True)
    if ran.returncode:
        return ran.stderr
    said = json.loads(ran.stdout)
    said.pop("file", None)
    return said


def universal(path, channels, interval_s, binary=False, double=True, label="NONE", big=False, newline="\n"):
    """Dataset 58 by its printed table of formats (from memory): record 7 is (3I10, 3E13.5), records 8 to 11
    (I10, 3I5, 2(1X, 20A1)), values 6E13.5 or 4E20.12."""
    out = b""

    def line(text):
        nonlocal out
        out += (text + newline).encode()

    line("    -1")
    line("   151")
    line("made for a test")
    line("    -1")
    for number, (name, values) in enumerate(channels.items(), 1):
        stored = values.astype((">" if big else "<") + ("f8" if double else "f4"))
        line("    -1")
        line(f"    58b{2 if big else 1:6d}{2:6d}{11:12d}{stored.nbytes:12d}     0     0           0           0" if binary else "    58")
        for text in (name, "NONE", "29-NOV-26 12:00:00", "NONE", "NONE"):
            line(f"{text:<80}")
        line(f"{1:5d}{number:10d}{0:5d}{0:10d} {'NONE':<10}{number:10d}{3:4d} {'NONE':<10}{0:10d}{0:4d}")
        line(f"{4 if double else 2:10d}{len(values):10d}{1:10d}{0:13.5E}{interval_s:13.5E}{0:13.5E}")
        line(f"{17:10d}{0:5d}{0:5d}{0:5d} {'Time':<20} {'s':<20}")
        line(f"{12:10d}{0:5d}{0:5d}{0:5d} {'Acceleration':<20} {label:<20}")
        for _ in range(2):
            line(f"{0:10d}{0:5d}{0:5d}{0:5d} {'NONE':<20} {'NONE':<20}")
        if binary:
            out += stored.tobytes()
            line("")
        else:
            per_line, form = (4, "{:20.12E}") if double else (6, "{:13.5E}")
            for begin in range(0, len(values), per_line):
                line("".join(form.format(value) for value in values[begin:begin + per_line]))
        line("    -1")
    path.write_bytes(out)


def universal_files():
    draw = np.random.default_rng(5)
    channels = {"left": draw.standard_normal(5003), "right": draw.standard_normal(5003), "tach": 5.0 * (draw.random(5003) > 0.5)}
    table = np.column_stack(list(channels.values()))
    for big in (False, True):
        universal(folder / "binary.uff", channels, 2e-4, binary=True, big=big)
        same(folder / "binary.uff", table, list(channels))
        universal(folder / "single.unv", channels, 2e-4, binary=True, double=False, big=big)
        same(folder / "single.unv", table.astype("f4"), list(channels))
    universal(folder / "text.uff", channels, 2e-4, newline="\r\n")
    same(folder / "text.uff", np.array([[float(f"{value:.12E}") for value in row] for row in table]), list(channels))
    universal(folder / "text_single.uff", channels, 2e-4, double=False)
    same(folder / "text_single.uff", np.array([[float(f"{value:.5E}") for value in row] for row in table]), list(channels))


def one_spin_in_every_format():
    time_s, a, b, tach, _ = spin()
    columns = {"time": time_s, "a": a, "b": b, "tach": tach}
    table = np.column_stack(list(columns.values()))
    np.savetxt(folder / "one.csv", table, delimiter=",", header=",".join(columns), comments="", fmt="%.17g")
    expected = track(folder / "one.csv")
    check("the table is tracked", isinstance(expected, dict))
    np.savez(folder / "one.npz", **columns)
    np.savez_compressed(folder / "packed.npz", **columns)
    np.save(folder / "one.npy", np.core.records.fromarrays(list(columns.values()), names=list(columns)))
    scipy.io.savemat(folder / "one.mat", columns)
    scipy.io.savemat(folder / "packed.mat", columns, do_compression=True, oned_as="column")
    with h5py.File(folder / "one.h5", "w") as file:
        for name, values in columns.items():
            file[name] = values
    universal(folder / "one.uff", {name: values for name, values in columns.items() if name != "time"}, 1 / rate_Hz, binary=True, label="V")
    said = track(folder / "one.uff")
    check("one.uff, which has a rate in place of times: the same vectors but for roundings", isinstance(said, dict) and all(
        abs(x["orders"][0][part] - y["orders"][0][part]) < 1e-7 for x, y in zip(said["sensors"], expected["sensors"]) for part in ("amplitude", "phase_lag_deg")))
    for name in ("one.npz", "packed.npz", "one.npy", "one.mat", "packed.mat", "one.h5"):
        check(f"{name}: the same to the last digit as the table", track(folder / name) == expected)


def layout_of_measured_records():
    """Acceleration in g, N x 1, and edge times of the tach, M x 1, as the bearing records of a wind turbine are
    published (E. Bechhoefer, B. Van Hecke, D. He, PHM Society 2013); the numbers are ours. Order 1 by NumPy's least
    squares over whole turns, angle linear in time between edges."""
    time_s, a, b, _, edges_s = spin(seed=4)
    scipy.io.savemat(folder / "published.mat", {"X118_DE_time": a[:, None], "X118_FE_time": b[:, None], "tach": edges_s[:, None]})
    said = track(folder / "published.mat", a="DE_time", b="FE_time", rate='sample_rate = "5000 Hz"',
                 more='[recording]\nunits."X118_DE_time" = "g"\nunits."X118_FE_time" = "g"\n')
    check("two channels by the ends of their names, edge times as a variable", isinstance(said, dict))
    if not isinstance(said, dict):
        print(said)
        return
    inside = (time_s >= edges_s[0]) & (time_s < edges_s[-1])
    angle = 2 * np.pi * np.interp(time_s[inside], edges_s, np.arange(len(edges_s)))
    design = np.column_stack([np.ones(angle.size), *(f(k * angle) for k in (1, 2, 3) for f in (np.cos, np.sin))])
    for sensor, signal in zip(said["sensors"], (a, b)):
        fit, rest, *_ = np.linalg.lstsq(design, signal[inside], rcond=None)
        standard_error = np.sqrt(rest[0] / angle.size * 2 / angle.size)
        vector = sensor["orders"][0]
        amplitude_g = vector["amplitude"] / 9.80665 * {"m/s2": 1.0}[sensor["unit"]]
        lag = np.radians(vector["phase_lag_deg"])
        error = abs(amplitude_g * np.exp(1j * lag) - complex(fit[1], fit[2]))
        check(f"sensor {sensor['name']}: {error / standard_error:.3f} standard errors from NumPy's fit", error < 0.1 * standard_error)


for part in (every_type_and_order, variables_as_stored, other_values_than_stated, damaged_piece, large, names_and_records, universal_files, one_spin_in_every_format, layout_of_measured_records):
    part()
print(f"{len(failures)} of the facts do not hold")
sys.exit(bool(failures))
