"""The calls: recordings and files in, results out."""

from __future__ import annotations

import ctypes
import os
from typing import Any, Sequence, TypeAlias

import numpy as np
from numpy.typing import NDArray

from . import results
from ._library import Answer, Error, ask
from .results import filled, notices

File: TypeAlias = str | os.PathLike[str]
Recording: TypeAlias = File | NDArray[np.floating[Any]]


def _doubles(values: NDArray[np.float64]) -> Any:
    return values.ctypes.data_as(ctypes.POINTER(ctypes.c_double))


def _bad(message: str, remedy: str) -> Error:
    return Error("bad_argument", message, remedy)


def _samples(recording: NDArray[Any]) -> NDArray[np.float64]:
    """Counts of a converter are no volts, and what is masked is no sample: the library refuses what is not a number."""
    if recording.ndim != 2:
        raise _bad(f"the samples have {recording.ndim} dimension(s)", "pass an array of frames x channels")
    if recording.dtype.kind != "f":
        raise _bad(f"the samples are of type {recording.dtype}, not volts", "multiply them by volts per count first")
    return np.ascontiguousarray(np.ma.filled(recording, np.nan), dtype=np.float64)


def _ask_of(function: str, recording: Recording, rig: File, sample_rate_Hz: float | None,
            orders: Sequence[float]) -> tuple[dict[str, Any], Answer]:
    wanted = np.ascontiguousarray(orders, dtype=np.float64)
    behind = (os.fsencode(rig), _doubles(wanted), wanted.size)
    if not isinstance(recording, np.ndarray):
        if sample_rate_Hz is not None:
            raise _bad("a sample rate is given for a file", "leave sample_rate_Hz out; the file or the rig file says it")
        return ask(function, os.fsencode(recording), *behind)
    if sample_rate_Hz is None:
        raise _bad("samples are given without their rate", "pass sample_rate_Hz=...")
    samples = _samples(recording)
    return ask(f"{function}_samples", _doubles(samples), *samples.shape, sample_rate_Hz, *behind)


def _common(document: dict[str, Any], answer: Answer) -> dict[str, Any]:
    return {"json": document, "answer": answer, "warnings": notices(document["warnings"])}


def track(recording: Recording, rig: File, *, sample_rate_Hz: float | None = None,
          orders: Sequence[float] = (1.0,)) -> results.Track:
    """Amplitude (m/s2, mm/s or um, V without a sensitivity; peak) and phase lag (deg) of each order at each sensor, with u.

    recording: a file, or an array of frames x channels in volts as the sensors gave them, with `sample_rate_Hz` (samples a second);
    its channels are 1, 2, … in the rig file. orders: multiples of the speed, 0.1 to 100.
    Raises Error if the recording cannot be used.
    """
    document, answer = _ask_of("track", recording, rig, sample_rate_Hz, orders)
    vectors = {(sensor["name"], order["order"]): filled(results.Vector, order, unit=sensor["unit"],
                                                        covariance=np.array(order["covariance"]))
               for sensor in document["sensors"] for order in sensor["orders"]}
    return filled(results.Track, document, **_common(document, answer), vectors=vectors)


def sweep(recording: Recording, rig: File, *, sample_rate_Hz: float | None = None,
          orders: Sequence[float] = (1.0,)) -> results.Sweep:
    """A run-up or coast-down: vectors (m/s2, mm/s, um or V, peak; deg) over speed (rpm), resonances with u. Arguments as of track."""
    document, answer = _ask_of("sweep", recording, rig, sample_rate_Hz, orders)
    points, sensors = document["points"], document["sensors"]
    polar = np.array([[v["amplitude"], v["phase_lag_deg"]] for point in points for v in point["vectors"]], dtype=float)
    by_turn = results.phasor(polar[:, 0], polar[:, 1]).reshape(len(points), len(sensors), -1)
    return filled(
        results.Sweep, document, **_common(document, answer), z=by_turn.transpose(1, 2, 0),
        time_s=np.array([point["time_s"] for point in points]), speed_rpm=np.array([point["speed_rpm"] for point in points]),
        sensors=tuple(sensor["name"] for sensor in sensors), units=tuple(sensor["unit"] for sensor in sensors),
        orders=tuple(document["orders"]), advice=tuple(document["advice"]),
        resonances=tuple(filled(results.Resonance, each) for each in document["resonances"]))


def _plane(plane: dict[str, Any]) -> results.PlaneSolution:
    covariance, fits = plane["u_residual_vector"], ("correction", "correction_bare")
    return filled(results.PlaneSolution, plane,
                  covariance_gmm2=None if covariance is None else np.array(covariance),
                  **{key: filled(results.Fit, plane[key]) for key in fits})


def solve(spins: File) -> results.Solution:
    """From a file of spins to residual unbalance (g·mm, with u), verdict and correction (g, deg, mm) for each plane.

    What is to be fitted can kill if it comes off: whoever shows it shows `counterspot.cautions()` with it.
    """
    document, answer = ask("solve", os.fsencode(spins))
    return filled(
        results.Solution, document, **_common(document, answer), held_back=notices(document["held_back"]),
        planes={plane["name"]: _plane(plane) for plane in document["planes"]},
        coefficients=tuple(filled(results.Coefficient, each) for each in document["coefficients"]),
        trial_weights_on=tuple(filled(results.TrialWeight, each) for each in document["trial_weights_on"]))


def place(spins: File, stock: File, *, patience_s: float = 2.0) -> results.Placement:
    """From a file of spins and a stock file to pieces (g, mm) and places (deg, clock), with what they should leave (g·mm).

    patience_s: after so many seconds the best so far is given. Show `counterspot.cautions()` with the pieces.
    """
    document, answer = ask("place", os.fsencode(spins), os.fsencode(stock), patience_s)
    return filled(results.Placement, document, **_common(document, answer),
                  pieces=tuple(filled(results.Piece, each) for each in document["pieces"]),
                  held=tuple(filled(results.Held, each) for each in document["held"]))


def limit(shaft: File) -> results.Limits:
    """Permissible residual unbalance of a shaft file, in all and for each plane and support, g·mm (ISO 21940-11)."""
    document, answer = ask("limit", os.fsencode(shaft))
    parts = {f"{part}_gmm": {each["name"]: each["limit_gmm"] for each in document[part]} for part in ("planes", "supports")}
    return filled(results.Limits, document, **_common(document, answer), **parts)
