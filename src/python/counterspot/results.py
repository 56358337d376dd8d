"""What the calls give: values with their standard uncertainty u and their unit. In a text a ± is 2u, which holds about 95 %."""

from __future__ import annotations

import dataclasses
import math
import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Iterable

import numpy as np
from numpy.typing import NDArray

from ._library import Answer, ask, cautions

COVERAGE_FACTOR = 2.0  # of every ± that is shown: JCGM 100:2008 (GUM), 6.2


def plus_minus(value: float, u: float | None) -> str:
    """A value with ± 2u, both in the value's unit: the ± with two digits, the value to the same place; without u, no ±."""
    if not u:
        return f"{value:.4g}"
    expanded = float(f"{COVERAGE_FACTOR * u:.1e}")
    place = math.floor(math.log10(expanded)) - 1
    decimals = max(0, -place)
    return f"{round(value, -place):.{decimals}f} ± {expanded:.{decimals}f}"


def phasor(size: Any, lag_deg: Any) -> Any:
    """size·e^{+jφ} of numbers or arrays: so that Z = Z₀ + α·W with weights W = m·r·e^{+jβ} at shaft angle β."""
    return size * np.exp(1j * np.radians(lag_deg))


def filled(kind: Any, document: dict[str, Any], **more: Any) -> Any:
    """A dataclass from the keys of a document that bear its fields' names, and from what is given beside."""
    same = {f.name: document[f.name] for f in dataclasses.fields(kind) if f.name in document}
    return kind(**same | more)


def _lines(*parts: Iterable[Any]) -> str:
    return "\n".join(str(line) for part in parts for line in part)


@dataclass(frozen=True)
class Notice:
    """What was noticed in the readings: a stable `code`, a sentence, what to do where that is known, and how grave it is:
    'holds_back' a verdict, 'warning', or 'note', which asks for nothing."""

    code: str
    message: str
    remedy: str | None = None
    severity: str | None = None

    def __str__(self) -> str:
        return self.message + (f"; {self.remedy}" if self.remedy else "")


def notices(documents: list[dict[str, Any]]) -> tuple[Notice, ...]:
    return tuple(filled(Notice, document) for document in documents)


@dataclass(frozen=True, kw_only=True, eq=False)
class Result:
    """What all results have: `json`, the whole document of the command's --json, whose keys end in their unit."""

    json: dict[str, Any] = field(repr=False)
    answer: Answer = field(repr=False)
    warnings: tuple[Notice, ...]

    def picture(self, file: str | os.PathLike[str]) -> Path:
        """Draws a Sweep, Solution or Placement into a file that ends in .svg, .png or .pdf (lengths in it are mm).

        The file is written whole or not at all, and over nothing but an earlier drawing. A copy or unpickled result has no
        picture. A clock face has somebody fit a weight: show `counterspot.cautions()` beside it.
        """
        ask("answer_draw", self.answer.pointer, os.fsencode(file))
        return Path(file)

    def _warning_lines(self) -> list[str]:
        return [f"{'note' if warning.severity == 'note' else 'warning'}: {warning}" for warning in self.warnings]


@dataclass(frozen=True)
class Vector:
    """Amplitude (peak, in `unit`) and phase lag (deg) of an order at a sensor: x(t) = A cos(kθ − φ), θ = 0 at the tach edge.

    `u_…` are standard uncertainties; `covariance` is that of the real and the imaginary part of `z`, in unit².
    """

    amplitude: float
    phase_lag_deg: float
    u_amplitude: float
    u_phase_lag_deg: float
    unit: str
    covariance: NDArray[np.float64] = field(repr=False, compare=False)

    @property
    def z(self) -> complex:
        """A·e^{+jφ}, in `unit`."""
        return complex(phasor(self.amplitude, self.phase_lag_deg))

    def __str__(self) -> str:
        lag = plus_minus(self.phase_lag_deg, min(self.u_phase_lag_deg, 90.0))
        return f"{plus_minus(self.amplitude, self.u_amplitude)} {self.unit}  lag {lag} deg"


@dataclass(frozen=True, kw_only=True, eq=False)
class Track(Result):
    """A steady spin: mean speed (rpm), drift over the spin (%), whole turns and seconds measured, a Vector by (sensor, order)."""

    speed_rpm: float
    speed_drift_percent: float
    revolutions: int
    duration_s: float
    vectors: dict[tuple[str, float], Vector]

    def vector(self, sensor: str, order: float = 1) -> Vector:
        """Amplitude in the sensor's unit and phase lag in deg of one order (a multiple of the speed)."""
        return self.vectors[sensor, order]

    def __str__(self) -> str:
        head = (f"{self.speed_rpm:.1f} rpm, drift {self.speed_drift_percent:.2f} %, "
                f"{self.revolutions} turns in {self.duration_s:.2f} s")
        rows = (f"sensor {sensor}  order {order:g}  {vector}" for (sensor, order), vector in self.vectors.items())
        return _lines([head], rows, self._warning_lines())


@dataclass(frozen=True)
class Resonance:
    """A resonance of rig and shaft together, in order 1 of one sensor: speeds in rpm, damping in % of critical, u standard."""

    sensor: str
    speed_rpm: float
    u_speed_rpm: float
    damping_percent: float
    u_damping_percent: float
    peak_speed_rpm: float

    def __str__(self) -> str:
        return (f"sensor {self.sensor}  resonance speed {plus_minus(self.speed_rpm, self.u_speed_rpm)} rpm  "
                f"damping {plus_minus(self.damping_percent, self.u_damping_percent)} %")


@dataclass(frozen=True, kw_only=True, eq=False)
class Sweep(Result):
    """A run-up or coast-down, turn by turn.

    `time_s` (s) and `speed_rpm` (rpm) have one value per turn; `z` is complex, [sensor, order, turn], peak, in the sensor's unit
    in `units`, lag as in Vector. The single turns have no u; the resonances do.
    """

    time_s: NDArray[np.float64]
    speed_rpm: NDArray[np.float64]
    z: NDArray[np.complex128]
    sensors: tuple[str, ...]
    units: tuple[str, ...]
    orders: tuple[float, ...]
    resonances: tuple[Resonance, ...]
    advice: tuple[str, ...]

    def vector(self, sensor: str, order: float = 1) -> NDArray[np.complex128]:
        """A·e^{+jφ} of each turn, peak in the sensor's unit."""
        return self.z[self.sensors.index(sensor), self.orders.index(order)]

    def __str__(self) -> str:
        head = f"{self.time_s.size} turns, {self.speed_rpm.min():.0f} to {self.speed_rpm.max():.0f} rpm"
        return _lines([head], self.resonances, self.advice, self._warning_lines())


@dataclass(frozen=True)
class Fit:
    """A weight to fit: g at a radius in mm, shaft angle in deg from the mark against the rotation, the clock at the viewing end,
    and by tape mm along the tube from the mark (None without a tube). Read `counterspot.cautions()` before it is fitted."""

    mass_g: float
    radius_mm: float
    angle_deg: float
    clock: str
    arc_mm: float | None
    arc_direction: str | None

    def __str__(self) -> str:
        return f"fit {self.mass_g:.1f} g at {self.clock} (shaft angle {self.angle_deg:.1f} deg, radius {self.radius_mm:.1f} mm)"


@dataclass(frozen=True)
class PlaneSolution:
    """A correction plane: residual unbalance now, its limit and standard uncertainty, all g·mm (u None: not known).

    `correction` goes on top of what the last spin carried, `correction_bare` once the trial weights are off; `predicted_…` is
    what is then expected. `covariance_gmm2` is of the residual's real and imaginary part, (g·mm)².
    """

    name: str
    limit_gmm: float | None
    residual_gmm: float
    residual_angle_deg: float
    u_residual_gmm: float | None
    covariance_gmm2: NDArray[np.float64] | None = field(repr=False, compare=False)
    correction: Fit
    predicted_residual_gmm: float
    correction_bare: Fit
    predicted_bare_gmm: float

    def __str__(self) -> str:
        now = plus_minus(self.residual_gmm, self.u_residual_gmm)
        decimals = len(now.partition(" ")[0].partition(".")[2])  # the limit's are the residual's
        limit = "" if self.limit_gmm is None else f", limit {self.limit_gmm:.{decimals}f} g·mm"
        return f"plane {self.name}: {now} g·mm now{limit}"


@dataclass(frozen=True)
class Coefficient:
    """Influence of a plane on a sensor: magnitude in `unit`, the sensor's unit per g·mm; lag in deg; u as a part of 1."""

    sensor: str
    plane: str
    magnitude: float
    unit: str
    phase_lag_deg: float
    u_relative: float | None

    @property
    def z(self) -> complex:
        """The coefficient α of Z = Z₀ + α·W, in `unit`, W in g·mm."""
        return complex(phasor(self.magnitude, self.phase_lag_deg))


@dataclass(frozen=True)
class TrialWeight:
    """A trial weight that the last spin carried: g, mm, deg."""

    plane: str
    mass_g: float
    radius_mm: float
    angle_deg: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Solution(Result):
    """The verdict on the last spin, 'within', 'outside' or 'unsure', and what to fit: g, mm, deg, g·mm; speed in rpm.

    What is in `held_back` speaks against the readings and is to be mended first. What is to be fitted can kill if it comes
    off: show `counterspot.cautions()` with it, as `print(solution)` does.
    """

    verdict: str
    held_back: tuple[Notice, ...]
    speed_rpm: float | None
    planes: dict[str, PlaneSolution]
    coefficients: tuple[Coefficient, ...]
    trial_weights_on: tuple[TrialWeight, ...]

    def _fit_lines(self) -> list[str]:
        if self.verdict == "within":
            return []
        first = [f"first take off {t.mass_g:.1f} g at {t.angle_deg:.0f} deg on {t.plane}" for t in self.trial_weights_on]
        fits = [f"plane {p.name}: {p.correction_bare}, expected then {p.predicted_bare_gmm:.0f} g·mm" for p in self.planes.values()]
        return [*first, *fits, "CAUTION  " + cautions()]

    def __str__(self) -> str:
        held_back = (f"mend first: {reason}" for reason in self.held_back)
        return _lines(held_back, [f"verdict: {self.verdict}"], self.planes.values(), self._warning_lines(), self._fit_lines())


@dataclass(frozen=True)
class Piece:
    """A piece to fit or metal to remove: acting and weighed mass g, length and radius mm, its pull at balancing speed N (None: no
    speed known, or removed), shaft angle deg. `work` and `place` are what the operator is told."""

    plane: str
    kind: str
    way: str
    weighed_g: float
    acting_g: float
    length_mm: float | None
    radius_mm: float
    pull_n: float | None
    angle_deg: float
    clock: str
    work: str
    place: str

    def __str__(self) -> str:
        pull = "" if self.pull_n is None else f", pulls with {self.pull_n:.0f} N"
        return f"plane {self.plane}: {self.work} at {self.place}{pull}"


@dataclass(frozen=True)
class Held:
    """A plane or support with its limit, and the residual there now and as expected with the pieces, g·mm."""

    place: str
    limit_gmm: float
    present_gmm: float
    predicted_gmm: float

    def __str__(self) -> str:
        return f"{self.place}: now {self.present_gmm:.0f}, expected {self.predicted_gmm:.0f}, limit {self.limit_gmm:.0f} g·mm"


@dataclass(frozen=True, kw_only=True, eq=False)
class Placement(Result):
    """Pieces of the stock, on top of what is on the shaft, and what they are expected to leave (g·mm).

    `worst_ratio` is the largest part of a limit that is left (1: the limit), `fixed_ratio` the same at places which only closed
    planes serve; no choice has less than `bound_ratio`; `status` is 'optimal' or 'out_of_time'. `verdict` is of the shaft as it
    is, and the ± of its residual is that of `solve`. Show `counterspot.cautions()` with the pieces, as `print(placement)` does.
    """

    verdict: str
    status: str
    worst_ratio: float
    fixed_ratio: float
    bound_ratio: float
    pieces: tuple[Piece, ...]
    held: tuple[Held, ...]

    def __str__(self) -> str:
        left = max(self.worst_ratio, self.fixed_ratio)
        head = f"now {self.verdict}; expected with these pieces: at most {left:.0%} of a limit"
        return _lines([head], self.pieces, self.held, self._warning_lines(), ["CAUTION  " + cautions()])


@dataclass(frozen=True, kw_only=True, eq=False)
class Limits(Result):
    """Permissible residual unbalance by ISO 21940-11: in all, by plane and by support, g·mm; per mass, µm (None: no grade)."""

    grade: str | None
    total_gmm: float | None
    planes_gmm: dict[str, float]
    supports_gmm: dict[str, float]
    specific_um: float | None
