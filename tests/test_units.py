from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

import callpath.units
from callpath.errors import CallpathError
from callpath.units import (
    AWG_RANGE,
    FEET_PER_METRE,
    UnitError,
    awg_diameter_in,
    celsius,
    copper_ohms_per_ft,
    length_ft,
    meter_reading,
)


def test_public_face_exists() -> None:
    assert all(hasattr(callpath.units, name) for name in callpath.units.__all__)


def test_a_unit_error_is_of_the_tree_and_a_value_error() -> None:
    assert issubclass(UnitError, CallpathError)
    assert issubclass(UnitError, ValueError)


@pytest.mark.parametrize(
    ("text", "feet"),
    [
        ("45 ft", 45.0),
        ("45ft", 45.0),
        ("  45.5 feet ", 45.5),
        ("1 foot", 1.0),
        ("6'", 6.0),
        ("45 FT", 45.0),
        ("14 m", 14 / 0.3048),
        ("14 metres", 14 / 0.3048),
        ("1 meter", 1 / 0.3048),
        ("0.3048 m", 1.0),
        ("5000 ft", 5000.0),
    ],
)
def test_lengths(text: str, feet: float) -> None:
    assert length_ft(text) == pytest.approx(feet, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "45",
        "ft",
        "45 yd",
        "45 cm",
        "-3 ft",
        "0 ft",
        "0.0 m",
        "5001 ft",
        "1e3 ft",
        "nan ft",
        "inf m",
        "4,5 m",
        "45 ft long",
        ".5 ft",
    ],
)
def test_no_lengths(text: str) -> None:
    with pytest.raises(UnitError, match="length"):
        length_ft(text)


@given(st.floats(0.01, 1500, allow_nan=False))
def test_feet_and_metres_agree(metres: float) -> None:
    written = f"{metres:.6f}"
    if float(written) > 0:
        assert length_ft(f"{written} m") == pytest.approx(float(written) * FEET_PER_METRE)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("20 C", 20.0),
        ("104 F", 40.0),
        ("104F", 40.0),
        ("-40 C", -40.0),
        ("-40 F", -40.0),
        ("+7.5 °C", 7.5),
        ("32 f", 0.0),
    ],
)
def test_temperatures(text: str, degrees: float) -> None:
    assert celsius(text) == pytest.approx(degrees, abs=1e-12)


@pytest.mark.parametrize("text", ["", "20", "C", "20 K", "warm", "nan C", "1e1 C", "106 C", "-61 C", "400 F"])
def test_no_temperatures(text: str) -> None:
    with pytest.raises(UnitError):
        celsius(text)


@given(st.text(max_size=20))
def test_any_text_is_a_quantity_or_a_unit_error(text: str) -> None:
    for read in (length_ft, celsius):
        try:
            quantity = read(text)
        except UnitError:
            continue
        assert math.isfinite(quantity)


@pytest.mark.parametrize(
    ("text", "unit", "usual", "amount"),
    [
        ("26.4", "V", "", 26.4),
        ("26,4 V", "V", "", 26.4),
        ("1.2 kΩ", "Ω", "", 1200.0),
        ("1,2", "Ω", "kΩ", 1200.0),
        ("2", "Ω", "MΩ", 2e6),
        ("12 Ω", "Ω", "kΩ", 12.0),
        ("12 \N{OHM SIGN}", "Ω", "", 12.0),
        ("ol", "Ω", "kΩ", math.inf),
    ],
)
def test_readings(text: str, unit: str, usual: str, amount: float) -> None:
    """What stands beside the number itself counts before what was ticked."""
    assert meter_reading(text, unit, usual) == pytest.approx(amount)


@given(st.text(max_size=12), st.sampled_from("VAΩ"), st.sampled_from(["", "kΩ", "tons"]))
def test_any_text_is_a_reading_or_a_unit_error(text: str, unit: str, usual: str) -> None:
    try:
        amount = meter_reading(text, unit, usual)
    except UnitError:
        return
    assert amount >= 0
    assert math.isfinite(amount) or unit == "Ω"


def test_thicker_and_colder_wire_has_less_resistance() -> None:
    ohms = [copper_ohms_per_ft(awg) for awg in AWG_RANGE]
    assert ohms == sorted(ohms)
    assert copper_ohms_per_ft(18, temperature_c=0) < copper_ohms_per_ft(18) < copper_ohms_per_ft(18, temperature_c=60)
    assert copper_ohms_per_ft(18, stranded=True) > copper_ohms_per_ft(18)


def test_three_gauges_halve_the_area_nearly() -> None:
    # C: 92^(6/39) = 2.005, from the definition of the gauge.
    assert (awg_diameter_in(15) / awg_diameter_in(18)) ** 2 == pytest.approx(92 ** (6 / 39))


def test_copper_too_cold_to_have_resistance() -> None:
    with pytest.raises(UnitError):
        copper_ohms_per_ft(18, temperature_c=-300)
