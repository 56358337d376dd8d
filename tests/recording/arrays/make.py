"""Writes the small files of arrays beside it: 200 frames of two sensors and a tach, each by the library of its format.
Run by Debian's Python, which has NumPy, SciPy and h5py; what it writes is kept in the tree."""
import pathlib

import h5py
import numpy as np
import scipy.io

here = pathlib.Path(__file__).parent
turns = np.arange(200) / 20.0
a = np.round(1000 * np.cos(2 * np.pi * turns - 1.0)) / 1000
b = np.round(1000 * np.cos(2 * np.pi * turns - 2.0)) / 1000
tach = 5.0 * (turns % 1.0 < 0.3)
table = np.column_stack([a, b, tach])
np.save(here / "frames.npy", table)
np.save(here / "rows.npy", table.T.astype("f4"))
np.save(here / "fortran.npy", np.asfortranarray(table))
records = np.zeros(200, dtype=[("time", "<f8"), ("note", "S3"), ("a", ">f4"), ("b", "<f8"), ("tach", "i1")])
records["time"], records["a"], records["b"], records["tach"] = turns / 25, a, b, tach
np.save(here / "records.npy", records)
np.savez(here / "arrays.npz", a=a, b=b, tach=tach, fs=500.0)
np.savez_compressed(here / "packed.npz", table=table.T, time=turns / 25)
scipy.io.savemat(here / "variables.mat", {"a": a, "b": b, "tach": tach, "fs": 500.0, "who": "us"})
scipy.io.savemat(here / "packed.mat", {"run": {"a": a, "b": b, "dt": 0.002}, "edges": np.arange(10) / 25.0,
                                    "levels": np.array([3.0, 1.0, 2.0]), "cells": np.array([1, "x"], dtype=object)}, do_compression=True)
with h5py.File(here / "groups.h5", "w", libver="latest") as file:
    dataset = file.create_dataset("run/a", data=a, chunks=(64,), compression="gzip")
    dataset.attrs["units"] = "g"
    dataset.attrs["sample_rate"] = 500.0
    file["run/b"], file["run/tach"], file["words"] = b.astype("f4"), tach, "none"


def universal(path, binary):
    """Three records over time by dataset 58 of universal files, see tests/reference/arrays.py."""
    out = b"    -1\n   164\n         1SI: Meter (newton)          2\n    -1\n"
    for number, (name, label, values) in enumerate((("left", "g", a), ("NONE", "NONE", b), ("tach", "V", tach)), 1):
        head = f"    58b{1:6d}{2:6d}{11:12d}{values.nbytes:12d}     0     0           0           0" if binary else "    58"
        lines = ["    -1", head, name, "NONE", "NONE", "NONE", "NONE",
                 f"{1:5d}{number:10d}{0:5d}{0:10d} {'NONE':<10}{number:10d}{-3:4d} {'NONE':<10}{0:10d}{0:4d}",
                 f"{4:10d}{len(values):10d}{1:10d}{0:13.5E}{0.002:13.5E}{0:13.5E}",
                 f"{17:10d}{0:5d}{0:5d}{0:5d} {'Time':<20} {'s':<20}", f"{12:10d}{0:5d}{0:5d}{0:5d} {'Level':<20} {label:<20}",
                 f"{0:10d}{0:5d}{0:5d}{0:5d} {'NONE':<20} {'NONE':<20}", f"{0:10d}{0:5d}{0:5d}{0:5d} {'NONE':<20} {'NONE':<20}"]
        out += "\n".join(lines).encode() + b"\n"
        out += values.tobytes() + b"\n" if binary else b"".join(
            "".join(f"{value:20.12E}" for value in values[at:at + 4]).encode() + b"\n" for at in range(0, len(values), 4))
        out += b"    -1\n"
    path.write_bytes(out)


universal(here / "text.uff", False)
universal(here / "binary.uff", True)
