#!/usr/bin/env python3
"""Whether two machines come to the same: all that results.sh wrote there and here, numbers within a part in 10^12 of each other.

usage: same_results.py FOLDER OTHER

Another processor fuses multiplications with additions, and has other sines: the last digits differ (IEEE 754-2019, 10.4), and no more.
What is small only because two large ones cancel is held against the largest number under the same name in its document.
"""
import json
import pathlib
import sys

NEAR = 1e-12
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


def differences(one, other):
    """Of two documents: how many numbers there are, and each leaf that is not the same, with how far it is off."""
    one, other = dict(leaves(one)), dict(leaves(other))
    yield from ((name, "only in one", None) for name in one.keys() ^ other.keys())
    largest = {}
    for name, value in one.items():
        if is_number(value):
            largest[kind_of(name)] = max(largest.get(kind_of(name), 0.0), abs(value))
    for name in one.keys() & other.keys():
        a, b = one[name], other[name]
        if is_number(a) and is_number(b):
            off = 0.0 if a == b else abs(a - b) / largest[kind_of(name)] if largest[kind_of(name)] else float("inf")
            yield name, "number", off
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
            if off > NEAR:
                wrong.append(f"{where}: {off:.2g}")
    print(f"{len(names)} documents, {numbers} numbers, {equal} of them equal to the last digit; the farthest off by {worst[0]:.2g}, {worst[1]}")
    if wrong:
        sys.exit("\n".join([f"{len(wrong)} are not the same:", *wrong[:40]]))


main()
