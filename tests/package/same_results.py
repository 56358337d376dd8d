#!/usr/bin/env python3
"""Whether two machines come to the same: all that results.sh wrote there and here, numbers within a part in 10^12 of each other,
those of a smoothed sweep within one in 10^8.

usage: same_results.py FOLDER OTHER

Another processor fuses multiplications with additions, and has other sines: the last digits differ (IEEE 754-2019, 10.4), and no more.
A number is held against the largest under the same name in its document: a component beside its vector, a turn's vector beside the
sweep. A few are what is left where large numbers cancel, and rounding leaves of it what it leaves of those: MADE_OF names them.
"""
import json
import pathlib
import sys

NEAR = 1e-12
# Of a sweep that is smoothed: rounding grows by the condition of the smoothing's equations (Golub & Van Loan, Matrix Computations,
# 2.6.2), some 10^5 for an amplitude, more for the u of what is left beside it. Between amd64 and arm64 1.9e-11 and 1.1e-9 were seen.
NEAR_SMOOTHED = 1e-8
# What is the difference of larger numbers, and how large those are, by the largest under each name in the document.
MADE_OF = {
    "predicted_gmm": lambda of: of["present_gmm"],  # what is there, less what is to be fitted
    "worst_ratio": lambda of: 1.0,  # the same beside its limit, in limits
    "expected_amplitude": lambda of: of["amplitude"],  # a reading, less what was read
    "discretisation_percent": lambda of: 100.0,  # a speed, less the speed by coarser pieces, in parts of it
    "speed_scatter_percent": lambda of: 100.0,  # speeds of turns, less their mean, in parts of it
    "timing_uncertainty_us": lambda of: 60e6 / of["speed_rpm"],  # lengths of turns, less their neighbours'
}
OF_THIS_RUN = {"at", "opened", "closed", "time", "seal", "head", "sha256", "folder", "file", "recording"}


def leaves(value, name=()):
    if isinstance(value, dict):
        for key, each in value.items():
            yield from leaves(each, (*name, key))
    elif isinstance(value, list):
        for number, each in enumerate(value):
            yield from leaves(each, (*name, number))
    else:
        yield name, value


def is_number(value):
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def kind_of(name):
    return tuple(each for each in name if isinstance(each, str))


def sizes_in(leaves_of_document):
    """By the kind of a number, what it is held against."""
    sizes, of = {}, {}
    for name, value in leaves_of_document.items():
        if is_number(value):
            kind = kind_of(name)
            sizes[kind] = max(sizes.get(kind, 0.0), abs(value))
            of[kind[-1]] = max(of.get(kind[-1], 0.0), abs(value))
    return {kind: max(size, MADE_OF[kind[-1]](of)) if kind[-1] in MADE_OF else size for kind, size in sizes.items()}


def differences(one, other):
    """Of two documents: how many numbers there are, and each leaf that is not the same, with how far it is off."""
    one, other = dict(leaves(one)), dict(leaves(other))
    yield from ((name, "only in one", None) for name in one.keys() ^ other.keys())
    sizes = sizes_in(one)
    for name in one.keys() & other.keys():
        a, b = one[name], other[name]
        if is_number(a) and is_number(b):
            size = sizes[kind_of(name)]
            yield name, "number", 0.0 if a == b else abs(a - b) / size if size else float("inf")
        elif a != b and not OF_THIS_RUN & set(name):
            yield name, f"{a!r} and {b!r}", None


def main():
    folder, other = map(pathlib.Path, sys.argv[1:3])
    names = sorted(each.name for each in folder.glob("*.json"))
    assert names and names == sorted(each.name for each in other.glob("*.json")), "other documents"
    numbers, equal, worst, wrong = 0, 0, (0.0, "none"), []
    for name in names:
        for leaf, what, off in differences(json.loads((folder / name).read_text()), json.loads((other / name).read_text())):
            where = f"{name}: {'.'.join(map(str, leaf))}"
            if off is None:
                wrong.append(f"{where}: {what}")
                continue
            numbers, equal = numbers + 1, equal + (off == 0.0)
            worst = (off, where) if off > worst[0] else worst
            if off > (NEAR_SMOOTHED if name.startswith("sweep-") else NEAR):
                wrong.append(f"{where}: {off:.2g}")
    print(f"{len(names)} documents, {numbers} numbers, {equal} of them equal to the last digit; the farthest off by {worst[0]:.2g}, {worst[1]}")
    if wrong:
        sys.exit("\n".join([f"{len(wrong)} are not the same:", *wrong[:40]]))


main()
