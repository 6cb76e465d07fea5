"""A settled state as a SPICE netlist, so that any SPICE can check what callpath says."""

from __future__ import annotations

import cmath
import math

from callpath.circuit.network import EARTH
from callpath.circuit.snapshot import Snapshot
from callpath.parts.catalogue import physics

__all__ = ["netlist"]


def netlist(state: Snapshot, *, title: str, between: tuple[str, str] | None = None) -> str:
    """Return the netlist of one settled state.

    Parameters
    ----------
    state : Snapshot
        The state; its open contacts and fuses are left out.
    title : str
        First line.
    between : (str, str), optional
        Two named points; a 10 MΩ meter is put across them.

    Notes
    -----
    Node 0 is the building's earth. Sources have their RMS volts as AC magnitude, so that every voltage comes out in RMS.
    Inductance and capacitance are chosen to give each impedance at the analysis frequency.
    """
    circuit, network = state.circuit, state.circuit.network
    omega = 2 * math.pi * network.hz
    label = {i: f"n{i + 1}" for i in range(len(network.nodes))} | {EARTH: "0"}
    kind_of = dict.fromkeys(circuit.job.splices, "splice")
    lines = [f"* {_one_line(title)}", "* every contact, coil and fuse as it stands once settled"]
    terminals = {
        f"{equipment.id}.{letters}"
        for equipment in circuit.job.equipment.values()
        for letters in equipment.part.terminals
    }
    for name, index in network.node_of.items():
        what = "terminal" if name in terminals else kind_of.get(name, "point")
        lines.append(f"* {what} {name} node {label[index]}")
    for i, branch in enumerate(network.branches):
        y = complex(state.siemens[i])
        if y == 0:
            continue
        a, b = label[branch.a], label[branch.b]
        z = 1 / y
        lines.append(f"* {branch.kind} {branch.name}")
        if branch.kind == "source":
            emf = complex(state.emf[i])
            inner = f"e{i}"
            degrees = math.degrees(cmath.phase(emf)) if emf else 0.0
            lines.append(f"V{i} {inner} {b} dc 0 ac {abs(emf):.17g} {degrees:.17g}")
            b = inner
        lines += _impedance(i, a, b, z, omega)
    if between:
        one, two = (label[network.node_of[name]] for name in between)
        lines += [
            f"* meter between {between[0]} and {between[1]}",
            f"Rmeter {one} {two} {physics()['meter-ohms']:.17g}",
        ]
    hz = f"{network.hz:g}"
    lines.append(f".ac lin 1 {hz} {hz}")
    shown = [f"vm({label[index]})" for name, index in network.node_of.items() if name in terminals]
    lines += [".print ac " + " ".join(shown[i : i + 8]) for i in range(0, len(shown), 8)]
    return "\n".join([*lines, ".end", ""])


def _impedance(i: int, a: str, b: str, z: complex, omega: float) -> list[str]:
    """Return one branch as a resistor, with an inductor or a capacitor in series where it has reactance."""
    resistance, reactance = z.real, z.imag
    if abs(reactance) <= 1e-15 * abs(z):
        return [f"R{i} {a} {b} {resistance:.17g}"]
    middle = a
    lines = []
    if abs(resistance) > 1e-15 * abs(z):
        middle = f"x{i}"
        lines.append(f"R{i} {a} {middle} {resistance:.17g}")
    if reactance > 0:
        lines.append(f"L{i} {middle} {b} {reactance / omega:.17g}")
    else:
        lines.append(f"C{i} {middle} {b} {-1 / (reactance * omega):.17g}")
    return lines


def _one_line(text: str) -> str:
    return " ".join(text.split())[:200] or "callpath"
