"""Kirchhoff's current law and the balance of power, for any solved state."""

from __future__ import annotations

import numpy as np

from callpath.circuit.network import Network
from callpath.circuit.snapshot import Snapshot
from callpath.circuit.solve import Changes, Complex, Engine


def assert_kirchhoff(state: Snapshot) -> None:
    """Every node of a snapshot passes on the current it gets; what the sources give is what the branches lose."""
    assert_balanced(state.circuit.network, state.siemens, state.emf, state.potentials)


def assert_balanced(network: Network, siemens: Complex, emf: Complex, potentials: Complex) -> None:
    """Check one state of a network.

    Parameters
    ----------
    siemens, emf : (branches,) complex
        Admittance [S] and EMF [V] of every branch.
    potentials : (nodes,) complex
        Node potentials [V].

    Notes
    -----
    A node may keep a millionth of the current that passes through it, and what being off by a nanovolt per volt makes of
    that through the admittances that meet there.
    """
    incidence = network.incidence
    meets = np.abs(incidence.T)
    amps = siemens * (incidence @ potentials - emf)
    kept = np.abs(incidence.T @ amps)
    largest = max(27.0, float(np.abs(potentials).max(initial=0.0)))
    rounding = 1e-9 * largest * (meets @ np.abs(siemens))
    allowed = 1e-6 * (meets @ np.abs(amps)) + rounding
    worst = int((kept - allowed).argmax())
    assert (kept <= allowed).all(), f"{network.nodes[worst]} keeps {kept[worst]:.3g} A, allowed {allowed[worst]:.3g} A"

    given = -(emf * amps.conj()).sum()
    lost = (np.abs(incidence @ potentials - emf) ** 2 * siemens.conj()).sum()
    handled = float(np.abs((incidence @ potentials - emf) * amps.conj()).sum())
    slack = float((rounding * np.abs(potentials)).sum())
    assert abs(given - lost) <= 1e-6 * handled + slack, f"sources give {given:.6g} VA, branches lose {lost:.6g} VA"


def assert_all_balanced(engine: Engine, rows: np.ndarray, live: np.ndarray, changes: Changes) -> Complex:
    """Solve states whole, check every one, and return the potentials, (states, nodes)."""
    volts, siemens = engine.solve(rows, live, changes)
    emf = np.zeros((len(rows), len(engine.network.branches)), complex)
    emf[:, engine.source_branch] = live * engine.emf
    for state in range(len(rows)):
        assert_balanced(engine.network, siemens[state], emf[state], volts[state])
    return volts
