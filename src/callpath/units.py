"""Lengths, gauges, temperatures and readings as people write them, and the resistance of copper wire.

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
    "meter_reading",
]

AWG_RANGE = range(14, 25)
FEET_PER_METRE = 1 / 0.3048

# Annealed copper, 1/58 Ω·mm²/m (IACS 100 %, from memory), in Ω·circular mil/ft; α at 20 °C (trade table, from memory).
_OHM_CMIL_PER_FT = 10.371
_ALPHA_20 = 0.00393
# The lay of the strands makes their path longer; 3.14/3.07 and 7.95/7.77 in NEC chapter 9 table 8 (transcription).
_STRANDED_FACTOR = 1.0232

_LENGTH = re.compile(r"^\s*(\d+(?:\.\d+)?)\s*(ft|feet|foot|'|m|metres?|meters?)\s*$", re.IGNORECASE)
_READING = re.compile(
    r"([-+]?(?:\d+[.,]?\d*|[.,]\d+)(?:e[-+]?\d+)?)\s*([kmM]?)\s*([^\W\d_]*\.?)", re.ASCII | re.IGNORECASE
)
_TIMES = {"": 1.0, "m": 1e-3, "k": 1e3, "K": 1e3, "M": 1e6}
_CALLED = {"v": "V", "vac": "V", "volt": "V", "volts": "V", "a": "A", "amp": "A", "amps": "A", "ohm": "Ω", "ohms": "Ω"}
# What a hand meter and a clamp show at most (common practice, no source).
_MOST = {"V": 1000.0, "Ω": 100e6, "A": 400.0}
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


def meter_reading(text: str, unit: str, usual: str = "") -> float:
    """Return what a meter showed, as people write it: ``26.4 V``, ``0,5 A``, ``1.2 kΩ``, ``OL``.

    Parameters
    ----------
    text : str
        A number with or without its unit, or ``OL`` for an open line in ohms.
    unit : str
        ``V``, ``A`` or ``Ω``.
    usual : str
        What a number that stands alone is in, such as ``kΩ``; in ``unit`` without it.

    Returns
    -------
    float
        The reading [``unit``], infinite for an open line.

    Raises
    ------
    UnitError
        The text is no number, is in another unit, or is more than a meter shows.
    """
    text = text.strip()
    if unit == "Ω" and text.casefold() == "ol":
        return math.inf
    # Both signs for the ohm, and with the unit that was ticked where the number stands alone.
    whole = f"{text} {usual}" if usual and re.fullmatch(r"[-+.,\d]+", text, re.ASCII) else text
    found = _READING.fullmatch(whole.replace("Ω", "ohm").replace("\N{OHM SIGN}", "ohm"))
    called = found and (_CALLED.get(found[3].casefold().rstrip("."), "") if found[3] else unit)
    if found is None or not called:
        also = ", or OL for an open line" if unit == "Ω" else ""
        said = f"'{text}' is no reading" if text else "the reading is missing"
        raise UnitError(f"{said}; write a number, such as 26.4 or 26.4 {unit}{also}")
    if called != unit:
        raise UnitError(f"'{whole}' is in {called}, and this reading is in {unit}")
    amount, most = float(found[1].replace(",", ".")) * _TIMES[found[2]], _MOST[unit]
    if not 0 <= amount <= most:
        raise UnitError(f"'{whole}' is out of range: a reading lies between 0 and {most:,.0f} {unit}")
    return amount


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
