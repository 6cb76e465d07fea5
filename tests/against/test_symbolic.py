"""Small circuits solved by hand and exactly, by sympy, and compared with callpath.

Source: circuit theory (C); the values of the parts are read from the catalogue and put into the equations as fractions.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
import sympy

from callpath.calls.closing import given_for
from callpath.circuit.build import build
from callpath.circuit.network import Network
from callpath.circuit.snapshot import Snapshot, snapshot
from callpath.job import read_job
from callpath.units import copper_ohms_per_ft
from tests.circuit.kirchhoff import assert_kirchhoff

COTTAGE = """
callpath: 1
title: Garden cottage
equipment:
  stat:  {part: thermostat/single-supply, at: hall}
  board: {part: indoor/furnace-board, at: cellar}
  cond:  {part: outdoor/condenser, at: yard}
cables:
  wall:    {between: [hall, cellar], length: 45 ft, conductors: [red, white]}
  outside: {between: [cellar, yard], length: 30 ft, conductors: [red, white]}
landings:
  wall.red:      [stat.R, board.R]
  wall.white:    [stat.Y, board.Y]
  outside.red:   [board.Y, cond.Y]
  outside.white: [board.C, cond.C]
"""


def exact(value: complex) -> sympy.Expr:
    """Return a floating-point number as the fraction that it is."""
    z = complex(value)
    return sympy.Rational(Fraction(z.real)) + sympy.I * sympy.Rational(Fraction(z.imag))


def exactly_solved(state: Snapshot) -> np.ndarray:
    """Return the node potentials of a state by exact rational elimination of its nodal equations."""
    network: Network = state.circuit.network
    n = len(network.nodes)
    matrix, right = sympy.zeros(n, n), sympy.zeros(n, 1)
    for branch, siemens, emf in zip(network.branches, state.siemens, state.emf, strict=True):
        y, e = exact(siemens), exact(emf)
        for here, there, sign in ((branch.a, branch.b, 1), (branch.b, branch.a, -1)):
            if here >= 0:
                matrix[here, here] += y
                right[here] += sign * y * e
                if there >= 0:
                    matrix[here, there] -= y
    field = sympy.QQ_I
    solved = matrix.to_DM(field).lu_solve(right.to_DM(field))
    return np.array([complex(value) for value in solved.to_Matrix()])


@pytest.mark.parametrize("call", ["off", "cool", "fan"])
def test_the_cottage_exactly(call: str) -> None:
    circuit = build(read_job(COTTAGE))
    state = snapshot(circuit, given_for(circuit, call))
    assert_kirchhoff(state)
    theirs = exactly_solved(state)
    assert np.abs(state.potentials - theirs).max() <= 1e-9 * np.abs(theirs).max()


def test_the_contactor_s_voltage_by_a_voltage_divider() -> None:
    """One loop, one formula: V = E Z / (Z + all that is in series), the board's two inputs in parallel left out (C).

    The inputs draw 35 mA in all beside the contactor's 0.3 A, which through the loop's 4 Ω is a tenth of a volt.
    """
    circuit = build(read_job(COTTAGE))
    state = snapshot(circuit, given_for(circuit, "cool"))
    coil = complex(24**2 / 7) * sympy.exp(0)
    resistance = 3 / (7 / 24) ** 2
    coil = complex(resistance, float(np.sqrt((24**2 / 7) ** 2 - resistance**2)))
    copper = 2 * (45 + 30) * copper_ohms_per_ft(18) + 4 * 0.02
    series = complex(1.516, 3.015) + 0.03 + 0.03 + 0.02 + copper
    by_hand = abs(27 * coil / (coil + series))
    assert state.between("cond.Y", "cond.C") == pytest.approx(by_hand, abs=0.12)
