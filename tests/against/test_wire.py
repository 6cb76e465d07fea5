"""The computed wire table against published ones.

Marks: P published and seen, as an excerpt or transcription; M from memory of the named source; C computed from a named formula.
Nobody has read the paid standards' own text here.
"""

from __future__ import annotations

import pytest

from callpath.units import AWG_RANGE, awg_diameter_in, copper_ohms_per_ft

# C: ρ of annealed copper (1/58 Ω·mm²/m, M) over the area of ASTM B258's diameter (M), α20 = 0.00393/°C (M). Ω per 1000 ft.
SOLID_20_C = {14: 2.525, 16: 4.016, 18: 6.385, 20: 10.15, 22: 16.14, 24: 25.67}
SOLID_75_C = {14: 3.071, 16: 4.884, 18: 7.765, 20: 12.35, 22: 19.63, 24: 31.22}

# P (transcription): NEC chapter 9 table 8, uncoated copper at 75 °C, direct current, solid and stranded. Ω per 1000 ft.
CODE_75_C = {14: (3.07, 3.14), 16: (4.89, 4.99), 18: (7.77, 7.95)}

# P: control-transformer application table, longest run one way [ft] for a 10 % drop at 24 V, load current VA/24, 20 °C;
# for 22, 20, 18, 16 and 14 AWG.
LONGEST_RUN_FT = {
    10: (178, 283, 451, 716, 1142),
    20: (89, 141, 225, 358, 571),
    40: (44, 70, 112, 179, 285),
    50: (35, 56, 90, 143, 228),
    80: (22, 35, 56, 89, 142),
    100: (17, 28, 45, 71, 114),
}
TABLE_GAUGES = (22, 20, 18, 16, 14)


def test_gauges() -> None:
    assert list(AWG_RANGE) == list(range(14, 25))


@pytest.mark.parametrize(("awg", "inches"), [(36, 0.0050), (0, 0.3249), (18, 0.0403), (24, 0.0201), (14, 0.0641)])
def test_diameters(awg: int, inches: float) -> None:
    # M: ASTM B258, to the ten-thousandth of an inch that its table has.
    assert awg_diameter_in(awg) == pytest.approx(inches, abs=0.00005)


@pytest.mark.parametrize("awg", SOLID_20_C)
def test_solid_copper_at_20_c(awg: int) -> None:
    assert 1000 * copper_ohms_per_ft(awg) == pytest.approx(SOLID_20_C[awg], rel=5e-4)


@pytest.mark.parametrize("awg", SOLID_75_C)
def test_solid_copper_at_75_c(awg: int) -> None:
    assert 1000 * copper_ohms_per_ft(awg, temperature_c=75) == pytest.approx(SOLID_75_C[awg], rel=5e-4)


@pytest.mark.parametrize("awg", CODE_75_C)
def test_against_the_code_table(awg: int) -> None:
    solid, stranded = CODE_75_C[awg]
    assert 1000 * copper_ohms_per_ft(awg, temperature_c=75) == pytest.approx(solid, rel=2e-3)
    assert 1000 * copper_ohms_per_ft(awg, temperature_c=75, stranded=True) == pytest.approx(stranded, rel=2e-3)


def test_both_temperature_coefficients_agree() -> None:
    # M: α20 = 0.00393 and α75 = 0.00323 per °C; a straight line through the first has the second's slope at 75 °C.
    ratio = copper_ohms_per_ft(18, temperature_c=75) / copper_ohms_per_ft(18, temperature_c=20)
    assert 0.00393 / ratio == pytest.approx(0.00323, abs=5e-6)


def test_worked_example_of_voltage_drop() -> None:
    # P: electrical training lesson, 16 AWG stranded, 100 ft one way and back, 4 A, 4.99 Ω per 1000 ft: 3.99 V.
    drop_volts = 4 * 2 * 100 * copper_ohms_per_ft(16, stranded=True, temperature_c=75)
    assert drop_volts == pytest.approx(3.99, rel=2e-3)


@pytest.mark.parametrize("load_va", LONGEST_RUN_FT)
@pytest.mark.parametrize("column", range(5))
def test_longest_run_for_a_tenth_lost(load_va: int, column: int) -> None:
    loop_ohms = 0.10 * 24 / (load_va / 24)
    longest_ft = loop_ohms / (2 * copper_ohms_per_ft(TABLE_GAUGES[column]))
    # The published table was computed from rounded resistances and rounded itself: ±1.5 ft, and 0.15 % where that is more
    # (with 2.525 Ω per 1000 ft the longest entry comes to 1140.6 ft, here to 1140.4, in the table it is 1142).
    published_ft = LONGEST_RUN_FT[load_va][column]
    assert longest_ft == pytest.approx(published_ft, abs=max(1.5, 0.0015 * published_ft))
