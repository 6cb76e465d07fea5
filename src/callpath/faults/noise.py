"""How far a reading may be from what the engine predicts, and how likely each reading is.

The mains voltage is one unknown that all readings of a job share; it is carried as a few ranges, alike likely. Everything
else (components off their nominal value, the meter) is taken as independent from reading to reading and normal, with the
standard deviation of the tolerances in ``tolerance.yaml``, each even within its limits:

* a meter's part: ``√(((fraction × reading)² + digits² + (digits / 2)²) / 3)``, the last for what it rounds off;
* in a divider between a source of V₀ and a reading V: the two sides off by a tolerance t each move it by
  ``√2 t / √3 × V (1 − V/V₀)``, nothing at either end and most in the middle;
* what a 10 MΩ meter itself pulls down is a ghost: stray capacitance and leakage that nobody knows better than by half.

Besides, any reading may have been taken down wrong.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.meter import is_ghost
from callpath.parts.catalogue import tolerances

__all__ = ["SUPPLY_VALUES", "amps_spread", "broad", "likelihood_of", "ohms_spread", "supply", "volts_spread"]

Floats = NDArray[np.float64]

SUPPLY_VALUES = 8
# Points in each range over which a likelihood is averaged: a reading's own spread is narrower than a range.
_WITHIN = 3
_SQRT3 = math.sqrt(3)
_GHOST_SPREAD = 0.3
_SOURCE_VOLTS = 27.0


def supply() -> tuple[Floats, Floats]:
    """Return the ranges of the mains voltage, their middles as fractions of nominal, and their weights."""
    limits = tolerances()["supply-volts"]
    middles = limits.low + (limits.high - limits.low) * (np.arange(SUPPLY_VALUES) + 0.5) / SUPPLY_VALUES
    return np.asarray(middles / limits.nominal, float), np.full(SUPPLY_VALUES, 1 / SUPPLY_VALUES)


def _within() -> Floats:
    """Return points of every range, (ranges, points), as fractions of nominal."""
    limits = tolerances()["supply-volts"]
    count = SUPPLY_VALUES * _WITHIN
    points = limits.low + (limits.high - limits.low) * (np.arange(count) + 0.5) / count
    return np.asarray(points / limits.nominal, float).reshape(SUPPLY_VALUES, _WITHIN)


def _meter(key: str, shown: Floats) -> Floats:
    error = tolerances()[key]
    spread: Floats = np.sqrt(((error.fraction * shown) ** 2 + 1.25 * error.digits**2) / 3)
    return spread


def volts_spread(shown: Floats, alone: Floats) -> Floats:
    """Return the standard deviation of a voltage reading, the mains apart [V].

    Parameters
    ----------
    shown, alone : ndarray
        The reading, and what stands there without the meter [V].
    """
    known = tolerances()
    meter = _meter("meter-volts", shown)
    of: Floats = _SOURCE_VOLTS * np.maximum(np.ceil(shown / _SOURCE_VOLTS), 1.0)
    divider = math.sqrt(2) * known["coil"].fraction / _SQRT3 * shown * (1 - shown / of)
    ghost = np.where(is_ghost(shown, alone), _GHOST_SPREAD * shown, 0.0)
    spread: Floats = np.sqrt(meter**2 + divider**2 + ghost**2)
    return spread


def amps_spread(shown: Floats) -> Floats:
    """Return the standard deviation of a current reading, the mains apart [A]."""
    known = tolerances()
    meter = _meter("meter-amps", shown)
    return np.sqrt(meter**2 + (known["coil"].fraction / _SQRT3 * shown) ** 2)


def ohms_spread(shown: Floats) -> Floats:
    """Return the standard deviation of a resistance reading [Ω]; 1 where it is infinite."""
    known = tolerances()
    finite = np.where(np.isfinite(shown), shown, 1.0)
    meter = _meter("meter-ohms", finite)
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


def likelihood_of(
    kind: str,
    value: float,
    shown: Floats,
    spread: Floats,
    misread: float,
    reach: tuple[Floats, Floats] | None = None,
) -> Floats:
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
    reach : ((predictions,) float, (predictions,) float), optional
        The least and the most that may be predicted, all between alike likely; without it, exactly ``shown``.
    """
    low, high = (shown, shown) if reach is None else reach
    ranged = (
        np.flatnonzero(np.isfinite(shown) & (high > low + spread / 10)) if reach is not None else np.zeros(0, np.intp)
    )
    wrong = misread * broad(kind, value)
    if kind == "ohms":
        if math.isinf(value):
            right = np.isinf(shown).astype(float)
        else:
            with np.errstate(invalid="ignore"):
                right = np.where(np.isinf(shown), 0.0, _normal(value - shown, spread))
            right[ranged] = _even(value, low[ranged], high[ranged], spread[ranged])
        return np.repeat(((1 - misread) * right + wrong)[:, None], SUPPLY_VALUES, axis=1)
    expected = shown[:, None, None] * _within()
    wide = spread[:, None, None]
    # A meter shows no sign: what falls below nothing is shown above it.
    right = (_normal(value - expected, wide) + _normal(value + expected, wide)).mean(axis=2)
    if len(ranged):
        least, most = (edge[ranged][:, None, None] * _within() for edge in (low, high))
        even = _even(value, least, most, wide[ranged]) + _even(-value, least, most, wide[ranged])
        right[ranged] = even.mean(axis=2)
    result: Floats = (1 - misread) * right + wrong
    return result


_erf = np.vectorize(math.erf, otypes=[float])


def _even(value: float, low: Floats, high: Floats, spread: Floats) -> Floats:
    """Return the density of a normal deviation from anything between two limits, all alike likely."""
    root = spread * math.sqrt(2)
    density: Floats = (_erf((value - low) / root) - _erf((value - high) / root)) / (2 * (high - low))
    return density


def _normal(off: Floats, spread: Floats) -> Floats:
    density: Floats = np.exp(-0.5 * (off / spread) ** 2) / (spread * math.sqrt(2 * math.pi))
    return density
