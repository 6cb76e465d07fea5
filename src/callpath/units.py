"""Lengths, gauges and temperatures, and the resistance of copper wire.

The wire table is computed, not transcribed: the diameter follows from the gauge number (ASTM B258,
from memory: 0.005 in × 92^((36 − n)/39)) and the resistance from the resistivity of annealed copper at 20 °C.
"""

from __future__ import annotations

import math
import re

from callpath.errors import CallpathError

__all__ = [
    "AWG_RANGE",
    "FEET_PER_METRE",
    "UnitError",
    "awg_diameter_in",
    "celsius",
    "copper_ohms_per_ft",
    "length_ft",
]

AWG_RANGE = range(14, 25)
FEET_PER_METRE = 1 / 0.3048

# Annealed copper, 1/58 Ω·mm²/m (IACS 100 %, from memory), in Ω·circular mil/ft; α at 20 °C (trade table, from memory).
_OHM_CMIL_PER_FT = 10.371
_ALPHA_20 = 0.00393
# The lay of the strands makes their path longer; 3.14/3.07 and 7.95/7.77 in NEC chapter 9 table 8 (transcription).
_STRANDED_FACTOR = 1.0232

_LENGTH = re.compile(r"^\s*(\d+(?:\.\d+)?)\s*(ft|feet|foot|'|m|metres?|meters?)\s*$", re.IGNORECASE)
_TEMPERATURE = re.compile(r"^\s*([+-]?\d+(?:\.\d+)?)\s*°?\s*([CF])\s*$", re.IGNORECASE)


class UnitError(CallpathError, ValueError):
    """A quantity is not written with a number and a known unit."""


def length_ft(text: str) -> float:
    """Return a length in feet.

    Parameters
    ----------
    text : str
        A number and ``ft`` or ``m``, such as ``45 ft`` or ``14 m``.

    Returns
    -------
    float
        Length [ft].

    Raises
    ------
    UnitError
        The text has no number, no unit, another unit, or is not longer than zero and at most 5,000 ft.
    """
    found = _LENGTH.match(text)
    if not found:
        raise UnitError(f"'{text}' is not a length; write a number and its unit, such as '45 ft' or '14 m'")
    number = float(found.group(1))
    feet = number * FEET_PER_METRE if found.group(2).lower().startswith("m") else number
    if not 0 < feet <= 5000:
        raise UnitError(f"'{text}' is not a length that a control cable has; give more than 0 and at most 5000 ft")
    return feet


def celsius(text: str) -> float:
    """Return a temperature in degrees Celsius from ``40 C`` or ``104 F``.

    Raises
    ------
    UnitError
        The text has no number or unit, or lies outside −60 to 105 °C, what control cable is made for.
    """
    found = _TEMPERATURE.match(text)
    if not found:
        raise UnitError(f"'{text}' is not a temperature; write a number and its unit, such as '40 C' or '104 F'")
    number = float(found.group(1))
    degrees = number if found.group(2).upper() == "C" else (number - 32) / 1.8
    if not -60 <= degrees <= 105:
        raise UnitError(f"'{text}' is outside what control cable is made for, -60 to 105 C")
    return degrees


def awg_diameter_in(awg: int) -> float:
    """Return the diameter of a solid conductor [in] by its American wire gauge (ASTM B258, from memory)."""
    return float(0.005 * 92.0 ** ((36 - awg) / 39))


def copper_ohms_per_ft(awg: int, *, stranded: bool = False, temperature_c: float = 20.0) -> float:
    """Return the DC resistance of one copper conductor [Ω/ft].

    Parameters
    ----------
    awg : int
        American wire gauge, 14 to 24.
    stranded : bool
        Stranded conductors are about 2.3 % higher.
    temperature_c : float
        Conductor temperature [°C].

    Returns
    -------
    float
        Resistance of one conductor, one way [Ω/ft].

    Notes
    -----
    R = ρ/d² · (1 + α20 (T − 20)) with d in mils and ρ in Ω·circular mil/ft. At 60 Hz and these
    gauges the skin effect is below one part in ten thousand, so the AC resistance is the same.

    References
    ----------
    ASTM B258 and the copper constants from memory; checked against NEC chapter 9 table 8 in the tests.
    """
    circular_mils = (awg_diameter_in(awg) * 1000) ** 2
    ohms = _OHM_CMIL_PER_FT / circular_mils * (1 + _ALPHA_20 * (temperature_c - 20))
    if not math.isfinite(ohms) or ohms <= 0:
        raise UnitError(f"no copper resistance at {temperature_c} °C for {awg} AWG")
    return ohms * (_STRANDED_FACTOR if stranded else 1.0)
