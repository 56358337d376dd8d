"""Counterspot from Python: recordings as files or NumPy arrays in, values with their uncertainty out.

    import counterspot
    spin = counterspot.track(samples_V, "rig.toml", sample_rate_Hz=51200.0)
    print(spin.vector("A"))                        # 6.421 ± 0.012 m/s2  lag 47.10 ± 0.11 deg
    solution = counterspot.solve("spins.toml")
    print(solution)                                # with the cautions, wherever something is to be fitted
    solution.picture("fit.svg")

Units are in the names (`residual_gmm`, `phase_lag_deg`) or beside the value (`Vector.unit`). `u_…` is a standard uncertainty;
the ± of a text is twice that. A weight that comes off a spinning shaft can kill: whoever shows what to fit shows `cautions()`.
"""

from ._library import Error, cautions, version
from .calls import limit, place, solve, sweep, track
from .results import (Coefficient, Fit, Held, Limits, Notice, Piece, Placement, PlaneSolution, Resonance, Result, Solution,
                      Sweep, Track, TrialWeight, Vector, plus_minus)

__all__ = ["Coefficient", "Error", "Fit", "Held", "Limits", "Notice", "Piece", "Placement", "PlaneSolution", "Resonance",
           "Result", "Solution", "Sweep", "Track", "TrialWeight", "Vector", "cautions", "limit", "place", "plus_minus", "solve",
           "sweep", "track", "version"]
