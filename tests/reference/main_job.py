"""The whole main job a second time, in NumPy and SciPy, sharing nothing with the program but the files it reads.

From a spins.toml: WAV (scipy.io.wavfile) or plain CSV (numpy.loadtxt) → tach edges → shaft angle → order 1 by least squares
(numpy.linalg.lstsq) → Z = Z_0 + αW by least squares over complex numbers (scipy.linalg.lstsq) → the correction. Prints one JSON
document.

Conventions held to (DEVELOPERS.md): x(t) = A cos(θ − φ), θ = 0 where the tach crosses its level in the direction of its
edge, θ linear from edge to edge; whole turns only; shaft angles against the rotation; spins at slightly different speeds
brought to the last one's by Z·(Ω₀/Ω)ⁿ, n = 1, 2, 3 for displacement, velocity, acceleration.
"""

import json
import re
import sys
import tomllib
import warnings
from pathlib import Path

import numpy as np
import scipy.io.wavfile
import scipy.linalg

UNITS = {"kg": 1.0, "g": 1e-3, "m": 1.0, "mm": 1e-3, "deg": np.pi / 180, "rpm": np.pi / 30, "V": 1.0, "mV": 1e-3}
GRAVITY = 9.80665  # m/s², NIST SP 811
MOTIONS = {"g": ("acceleration", GRAVITY), "(m/s2)": ("acceleration", 1.0), "(mm/s)": ("velocity", 1e-3),
           "um": ("displacement", 1e-6)}
GROWTH = {"displacement": 1, "velocity": 2, "acceleration": 3}


def quantity(text):
    value, unit = re.fullmatch(r"\s*([-+.\deE]+)\s*(\S+)\s*", text).groups()
    return float(value) * UNITS[unit]


def sensitivity(text):
    """'100 mV/g' → the kind of motion and volts per SI unit."""
    value, volts, per = re.fullmatch(r"\s*([-+.\deE]+)\s*(m?V)/(\S+)\s*", text).groups()
    motion, si = MOTIONS[per]
    return motion, float(value) * UNITS[volts] / si


def typed_vector(text):
    """'6.0 mm/s @ 35 deg' → complex, m/s."""
    value, lag = re.fullmatch(r"\s*([.\deE+-]+)\s*mm/s\s*@\s*([.\deE+-]+)\s*deg\s*", text).groups()
    return 1e-3 * float(value) * np.exp(1j * np.radians(float(lag)))


def read_wav(path):
    """Rate and samples as fractions of full scale; SciPy gives 24-bit samples in the upper bytes of 32."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", scipy.io.wavfile.WavFileWarning)  # chunks that are not samples
        rate, samples = scipy.io.wavfile.read(path)
    if samples.dtype == np.int16:
        return rate, samples / 2.0**15
    if samples.dtype == np.int32:
        return rate, samples / 2.0**31
    return rate, samples.astype(float)


def read_csv(path):
    """Rate, volts and the columns' names, of a table with a column of times and names like 'A (V)'."""
    with open(path, encoding="utf-8") as file:
        names = [cell.split(" (")[0].strip() for cell in file.readline().split(",")]
    table = np.loadtxt(path, delimiter=",", skiprows=1)
    return (len(table) - 1) / (table[-1, 0] - table[0, 0]), table, names


def read_recording(path):
    if path.suffix == ".csv":
        return read_csv(path)
    rate, samples = read_wav(path)
    return rate, samples, list(range(1, 1 + samples.shape[1]))


def two_states(signal):
    """The fullest histogram bin of each half of the range (IEEE Std 181-2011, 5.2), 0.05 % of the samples cut off at
    either end; a state is the (upper) median of the samples within two bins of the fullest."""
    ordered = np.sort(signal)
    cut = int(0.0005 * len(signal))
    bottom, top = ordered[cut], ordered[-1 - cut]
    counts, _ = np.histogram(signal, 256, (bottom, top))
    width = (top - bottom) / 256
    states = []
    for fullest in (np.argmax(counts[:128]), 128 + np.argmax(counts[128:])):
        near = ordered[np.abs(ordered - (bottom + (fullest + 0.5) * width)) <= 2 * width]
        states.append(near[len(near) // 2])
    return states


def found_level(signal, rate, sign):
    """Half way between the states of the shortest stretch of 0.25, 0.5, 1 … s from the start that shows 8 pulses."""
    look = round(0.25 * rate)
    while True:
        low, high = two_states(signal[:look])
        level, height = 0.5 * (low + high), high - low
        if look >= len(signal) or len(tach_edges(sign * signal[:look], sign * level, height)) >= 8:
            return level, height
        look *= 2


def tach_edges(signal, level, height):
    """Fractional sample numbers of upward crossings; a crossing counts once the signal has been a tenth of the height
    below the level before it and gets a tenth above after it."""
    edges = []
    ready = False
    crossing = None
    for n in range(1, len(signal)):
        if signal[n] < level - 0.1 * height:
            ready, crossing = True, None
        if ready and signal[n - 1] <= level < signal[n]:
            crossing = n - 1 + (level - signal[n - 1]) / (signal[n] - signal[n - 1])
        if ready and crossing is not None and signal[n] > level + 0.1 * height:
            edges.append(crossing)
            ready = False
    return np.array(edges)


def track(path, rig):
    rate, samples, channels = read_recording(path)
    tach = rig["tach"]
    full_scale = quantity(tach.get("full_scale", "1 V"))
    pulses = samples[:, channels.index(tach["channel"])] * full_scale
    sign = -1.0 if tach.get("edge") == "falling" else 1.0
    level, height = found_level(pulses, rate, sign)
    if "level" in tach:
        level = quantity(tach["level"])
    edges = tach_edges(sign * pulses, sign * level, height)
    whole = np.arange(int(np.ceil(edges[0])), int(np.ceil(edges[-1])))
    theta = np.interp(whole, edges, 2 * np.pi * np.arange(len(edges)))
    # Order 2 is fitted along, as the main job does to tell joints from unbalance.
    basis = np.column_stack([np.ones(len(whole)), np.cos(theta), np.sin(theta), np.cos(2 * theta), np.sin(2 * theta)])
    vectors, motions = [], []
    for sensor in rig["sensor"]:
        motion, volts_per_si = sensitivity(sensor["sensitivity"])
        signal = samples[whole, channels.index(sensor["channel"])] * quantity(sensor.get("full_scale", "1 V")) / volts_per_si
        _, cosine, sine, *_ = np.linalg.lstsq(basis, signal, rcond=None)[0]
        vectors.append(complex(cosine, sine))
        motions.append(motion)
    speed = 2 * np.pi * (len(edges) - 1) * rate / (edges[-1] - edges[0])
    return vectors, motions, speed


def weights_of(spin, planes):
    weights = np.zeros(len(planes), complex)
    for piece in spin.get("fitted", []):
        p = [plane["name"] for plane in planes].index(piece["plane"])
        radius = quantity(piece.get("radius", planes[p]["radius"]))
        weights[p] += quantity(piece["mass"]) * radius * np.exp(1j * quantity(piece["angle"]))
    return weights


def main_job(spins_path):
    folder = Path(spins_path).parent
    load = lambda name: tomllib.loads((folder / name).read_text(encoding="utf-8"))
    spins = load(Path(spins_path).name)
    rig, planes = load(spins["rig"]), load(spins["shaft"])["plane"]
    readings, speeds, motions, tracks = [], [], None, []
    for spin in spins["spin"]:
        if "recording" in spin:
            vectors, motions, speed = track(folder / spin["recording"], rig)
            speeds.append(speed)
            tracks.append({"file": spin["recording"], "speed_rpm": speed * 30 / np.pi,
                           "sensors": [{"amplitude": abs(z), "phase_lag_deg": np.degrees(np.angle(z)) % 360,
                                        "motion": m} for z, m in zip(vectors, motions)]})
        else:
            vectors = [typed_vector(spin["vector"][sensor["name"]]) for sensor in rig["sensor"]]
        readings.append(vectors)
    readings = np.array(readings)
    if speeds:
        growth = np.array([GROWTH[motion] for motion in motions])
        readings *= (speeds[-1] / np.array(speeds))[:, None] ** growth[None, :]
    design = np.column_stack([np.ones(len(spins["spin"])), [weights_of(spin, planes) for spin in spins["spin"]]])
    scale = np.linalg.norm(design, axis=0)
    unknowns = scipy.linalg.lstsq(design / scale, readings)[0] / scale[:, None]
    alpha = unknowns[1:].T  # sensors × planes
    correction = -scipy.linalg.lstsq(alpha, readings[-1])[0]
    return {"tracks": tracks,
            "coefficients": [{"magnitude_si": abs(a), "phase_lag_deg": np.degrees(np.angle(a)) % 360}
                             for a in alpha.ravel()],
            "planes": [{"name": plane["name"], "mass_g": 1e3 * abs(u) / quantity(plane["radius"]),
                        "angle_deg": np.degrees(np.angle(u)) % 360} for plane, u in zip(planes, correction)]}


if __name__ == "__main__":
    print(json.dumps(main_job(sys.argv[1]), indent=1))
