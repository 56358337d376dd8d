#!/usr/bin/python3
"""What `counterspot sweep` is held against: the same run-up with NumPy and SciPy. Usage: sweep_scipy.py WAV

Reads a WAV of two sensors and a tach, finds the tach's edges, takes the mean of each sensor over equal angles (16 a turn)
and solves the normal equations of a two-pole Vold-Kalman filter (Vold & Leuridan 1993; Tuma 2005)
    minimise |y - C x|^2 + r^2 |D^2 x|^2
for order 1 with a sparse LU. Prints the order 1 vector of every turn as JSON, [sensor][turn][real, imaginary], in units of
full scale. Nothing here is slow on purpose: no loop runs over samples.
"""
import json
import sys

import numpy as np
import scipy.io.wavfile
import scipy.sparse
import scipy.sparse.linalg

BINS_PER_TURN, BANDWIDTH_ORDERS = 16, 0.1


def edges_of(tach):
    """Where the tach crosses half its height upwards, in fractional samples. (The recording has no noise worth a
    hysteresis on its tach.)"""
    level = 0.5 * (tach.min() + tach.max())
    before = np.flatnonzero((tach[:-1] <= level) & (tach[1:] > level))
    return before + (level - tach[before]) / (tach[before + 1] - tach[before])


def filter_matrix(carrier):
    n = len(carrier)
    width = np.pi * BANDWIDTH_ORDERS / (0.5 * BINS_PER_TURN)
    weight = (np.sqrt(2) - 1) / (6 - 8 * np.cos(width) + 2 * np.cos(2 * width))
    second_difference = scipy.sparse.diags([1.0, -2.0, 1.0], [0, 1, 2], shape=(n - 2, n))
    smooth = weight * (second_difference.T @ second_difference)
    return (scipy.sparse.diags(np.abs(carrier) ** 2) + smooth).astype(complex).tocsc()


def main(path):
    _, samples = scipy.io.wavfile.read(path)
    samples = samples.astype(float)
    edges = edges_of(samples[:, 2])
    frames = np.arange(int(np.ceil(edges[0])), int(np.ceil(edges[-1])))
    turns = np.interp(frames, edges, np.arange(len(edges)))
    bin_of = np.minimum((turns * BINS_PER_TURN).astype(int), (len(edges) - 1) * BINS_PER_TURN - 1)
    count = np.bincount(bin_of)
    theta = 2 * np.pi * turns
    carrier = (np.bincount(bin_of, np.cos(theta)) + 1j * np.bincount(bin_of, np.sin(theta))) / count
    lu = scipy.sparse.linalg.splu(filter_matrix(carrier))
    middles = np.arange(len(edges) - 1) * BINS_PER_TURN + BINS_PER_TURN // 2
    result = []
    for channel in (0, 1):
        signal = np.bincount(bin_of, samples[frames, channel]) / count
        turn_means = np.repeat(signal.reshape(-1, BINS_PER_TURN).mean(axis=1), BINS_PER_TURN)
        vectors = 2 * np.conj(lu.solve(np.conj(carrier) * (signal - turn_means))[middles])
        result.append([[z.real, z.imag] for z in vectors])
    print(json.dumps(result))


if __name__ == "__main__":
    main(sys.argv[1])
