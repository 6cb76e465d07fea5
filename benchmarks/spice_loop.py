"""The usual alternative: one ngspice process that alters what each round of settling changes, and solves again."""

from __future__ import annotations

import re
import subprocess
import time
from pathlib import Path

import numpy as np

from callpath.circuit.network import EARTH, Network
from callpath.circuit.settle import States, settle
from callpath.circuit.solve import Changes, Complex, Engine, Ints

_OPEN_OHMS = 1e12
_INDUCTIVE = ("coil", "source")


class _Recording(Engine):
    """An engine that writes down what it was asked to solve, round by round."""

    def __init__(self, network: Network) -> None:
        super().__init__(network)
        self.rounds: list[tuple[np.ndarray, np.ndarray]] = []

    def amps(self, rows: np.ndarray, live: np.ndarray, changes: Changes, watched: Ints):  # type: ignore[no-untyped-def]
        volts, siemens = self.solve(rows, live, changes)
        del volts
        self.rounds += [(siemens[i], live[i]) for i in range(len(rows))]
        yield from super().amps(rows, live, changes, watched)


def solves_of(network: Network, states: States) -> list[tuple[Complex, np.ndarray]]:
    """Return every solve that settling some states takes: the admittances [S] and which sources are live."""
    engine = _Recording(network)
    for i in range(len(states)):
        settle(engine, States(states.given[i : i + 1], states.live[i : i + 1], states.changes.take(np.array([i]))))
    return engine.rounds


def seconds_per_state(network: Network, states: States, folder: Path) -> float:
    """Return the time that ngspice takes to settle a state by altering one circuit in a loop [s].

    What each round changes is worked out beforehand; timed are only ngspice's own alter, ac and the reading of the
    watched currents' voltages, without its start.
    """
    solves = solves_of(network, states)
    lines = ["* altered in a loop"]
    omega = 2 * np.pi * network.hz
    label = {i: f"n{i + 1}" for i in range(len(network.nodes))} | {EARTH: "0"}
    rest, _ = network.admittance
    sources = {source.branch: s for s, source in enumerate(network.sources)}
    for i, branch in enumerate(network.branches):
        a, b = label[branch.a], label[branch.b]
        if i in sources:
            emf = complex(network.sources[sources[i]].emf_volts)
            lines.append(f"V{i} e{i} {b} dc 0 ac {abs(emf)} {np.degrees(np.angle(emf)) if emf else 0}")
            b = f"e{i}"
        z = 1 / rest[i] if rest[i] else complex(_OPEN_OHMS)
        if branch.kind == "capacitance":
            lines.append(f"C{i} {a} {b} {-1 / (z.imag * omega)}")
        elif branch.kind in _INDUCTIVE:
            lines += [f"R{i} {a} m{i} {z.real}", f"L{i} m{i} {b} {max(z.imag / omega, 1e-12)}"]
        else:
            lines.append(f"R{i} {a} {b} {z.real}")
    control = ["save " + " ".join(f"v({label[n]})" for n in range(min(8, len(network.nodes))))]
    now = rest.copy()
    lit = np.ones(len(network.sources))
    for siemens, live in solves:
        for i in np.flatnonzero(siemens != now):
            z = 1 / siemens[i] if siemens[i] else complex(_OPEN_OHMS)
            control.append(f"alter R{i} {z.real:.9g}")
            if network.branches[i].kind in _INDUCTIVE:
                control.append(f"alter L{i} {max(z.imag / omega, 1e-12):.9g}")
        control += [
            f"alter V{network.sources[s].branch} acmag = {abs(network.sources[s].emf_volts) * live[s]}"
            for s in np.flatnonzero(live != lit)
        ]
        control += [f"ac lin 1 {network.hz:g} {network.hz:g}", "let seen = vm(n1)", "destroy all"]
        now, lit = siemens, live
    seconds = [_run(lines, control[: 1 + 0], folder), _run(lines, control, folder)]
    return max(seconds[1] - seconds[0], 1e-9) / len(states)


def _run(lines: list[str], control: list[str], folder: Path) -> float:
    deck = folder / "loop.cir"
    deck.write_text("\n".join([*lines, ".control", *control, "quit", ".endc", ".end", ""]), encoding="utf-8")
    start = time.perf_counter()
    done = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, check=False)
    seconds = time.perf_counter() - start
    trouble = re.search(r"(?im)^.*(error|no such).*$", done.stdout + done.stderr)
    if trouble:
        raise RuntimeError(trouble.group(0))
    return seconds
