"""How far a reading may be from what the engine predicts, and how likely each reading is.

The mains voltage is one unknown that all readings of a job share; it is carried as a few values with their weights. Everything
else (components off their nominal value, the meter) is taken as independent from reading to reading and normal, with the
standard deviation of the tolerances in ``tolerance.yaml``, each even within its limits:

* a meter's part: ``(fraction × reading + digits) / √3``;
* in a divider between a source of V₀ and a reading V: the two sides off by a tolerance t each move it by
  ``√2 t / √3 × V (1 − V/V₀)``, nothing at either end and most in the middle;
* what a 10 MΩ meter itself pulls down is a ghost: stray capacitance that nobody knows better than by half.

Besides, any reading may have been taken down wrong.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from callpath.parts.catalogue import tolerances

__all__ = ["SUPPLY_VALUES", "amps_spread", "broad", "likelihood_of", "ohms_spread", "supply", "volts_spread"]

Floats = NDArray[np.float64]

SUPPLY_VALUES = 5
_SQRT3 = math.sqrt(3)
_SQRT12 = math.sqrt(12)
# A reading that the meter's own impedance pulls down by more than this comes through stray capacitance or leakage.
_GHOST = 0.01
_GHOST_SPREAD = 0.3
_SOURCE_VOLTS = 27.0


def supply() -> tuple[Floats, Floats]:
    """Return values of the mains voltage as fractions of nominal, and their weights: even between its limits."""
    limits = tolerances()["supply-volts"]
    points, weights = np.polynomial.legendre.leggauss(SUPPLY_VALUES)
    middle, half = (limits.high + limits.low) / 2, (limits.high - limits.low) / 2
    return np.asarray((middle + half * points) / limits.nominal, float), np.asarray(weights / 2, float)


def volts_spread(shown: Floats, alone: Floats) -> Floats:
    """Return the standard deviation of a voltage reading, the mains apart [V].

    Parameters
    ----------
    shown, alone : ndarray
        The reading, and what stands there without the meter [V].
    """
    known = tolerances()
    meter = (known["meter-volts"].fraction * shown + known["meter-volts"].digits) / _SQRT3
    of: Floats = _SOURCE_VOLTS * np.maximum(np.ceil(shown / _SOURCE_VOLTS), 1.0)
    divider = math.sqrt(2) * known["coil"].fraction / _SQRT3 * shown * (1 - shown / of)
    ghost = np.where(np.abs(alone - shown) > _GHOST * np.maximum(alone, 1e-9), _GHOST_SPREAD * shown, 0.0)
    spread: Floats = np.sqrt(meter**2 + divider**2 + ghost**2)
    return spread


def amps_spread(shown: Floats) -> Floats:
    """Return the standard deviation of a current reading, the mains apart [A]."""
    known = tolerances()
    meter = (known["meter-amps"].fraction * shown + known["meter-amps"].digits) / _SQRT3
    return np.sqrt(meter**2 + (known["coil"].fraction / _SQRT3 * shown) ** 2)


def ohms_spread(shown: Floats) -> Floats:
    """Return the standard deviation of a resistance reading [Ω]; 1 where it is infinite."""
    known = tolerances()
    finite = np.where(np.isfinite(shown), shown, 1.0)
    meter = (known["meter-ohms"].fraction * finite + known["meter-ohms"].digits) / _SQRT3
    return np.sqrt(meter**2 + (known["coil"].fraction / _SQRT3 * finite) ** 2)


def broad(kind: str, value: float) -> float:
    """Return the density of a reading that has nothing to do with the job [1/V, 1/A, 1/Ω; for OL a probability]."""
    match kind:
        case "volts":
            return math.exp(-value / 30) / 30
        case "amps":
            return math.exp(-value / 2) / 2
        case _:
            return 0.3 if math.isinf(value) else 0.7 / (max(value, 0.1) * math.log(1e9))


def likelihood_of(kind: str, value: float, shown: Floats, spread: Floats, misread: float) -> Floats:
    """Return how likely a reading is where ``shown`` is predicted, (predictions, supply values).

    Parameters
    ----------
    kind : str
        ``volts``, ``amps`` or ``ohms``.
    value : float
        The reading.
    shown, spread : (predictions,) float
        Predictions at nominal supply and their standard deviations.
    misread : float
        Probability that the reading was taken down wrong.
    """
    wrong = misread * broad(kind, value)
    if kind == "ohms":
        if math.isinf(value):
            right = np.isinf(shown).astype(float)
        else:
            with np.errstate(invalid="ignore"):
                right = np.where(np.isinf(shown), 0.0, _normal(value - shown, spread))
        return np.repeat(((1 - misread) * right + wrong)[:, None], SUPPLY_VALUES, axis=1)
    points, _ = supply()
    expected = shown[:, None] * points
    # A meter shows no sign: what falls below nothing is shown above it.
    right = _normal(value - expected, spread[:, None]) + _normal(value + expected, spread[:, None])
    result: Floats = (1 - misread) * right + wrong
    return result


def _normal(off: Floats, spread: Floats) -> Floats:
    density: Floats = np.exp(-0.5 * (off / spread) ** 2) / (spread * math.sqrt(2 * math.pi))
    return density
