"""The netlist's own form; what it computes is compared with ngspice under ``tests/against``."""

from __future__ import annotations

import math
import re

import pytest

from callpath.calls.closing import given_for
from callpath.circuit.build import build
from callpath.circuit.snapshot import Snapshot, snapshot
from callpath.circuit.spice import netlist
from tests.jobs import COTTAGE, job_of


def cottage(call: str = "cool", **changes: object) -> Snapshot:
    circuit = build(job_of(COTTAGE, **changes))
    return snapshot(circuit, given_for(circuit, call))


def lines(text: str, start: str) -> list[str]:
    return [line for line in text.splitlines() if line.startswith(start)]


def test_every_terminal_has_its_comment_line_and_its_node() -> None:
    state = cottage()
    text = netlist(state, title="cottage")
    job = state.circuit.job
    terminals = {f"{one.id}.{letters}" for one in job.equipment.values() for letters in one.part.terminals}
    found = dict(re.findall(r"^\* terminal (\S+) node (n\d+)$", text, re.MULTILINE))
    assert set(found) == terminals
    assert all(found[name] == f"n{state.circuit.network.node_of[name] + 1}" for name in terminals)


def test_the_analysis_and_the_end() -> None:
    text = netlist(cottage(), title="cottage")
    assert text.startswith("* cottage\n")
    assert ".ac lin 1 60 60\n" in text
    assert text.endswith(".end\n")
    assert ".ac lin 1 50 50\n" in netlist(cottage(hz=50), title="cottage")


def test_a_title_cannot_add_lines() -> None:
    text = netlist(cottage(), title="one\n.end\nR9 a b 1")
    assert text.startswith("* one .end R9 a b 1\n")
    assert len(lines(text, ".end")) == 1


def test_a_source_has_its_rms_volts_and_its_phase() -> None:
    assert re.match(r"V\d+ e\d+ n\d+ dc 0 ac 27 0$", lines(netlist(cottage(), title=""), "V")[0])
    dead = netlist(cottage(faults=[{"dead": "board.transformer"}]), title="")
    assert re.match(r"V\d+ e\d+ n\d+ dc 0 ac 0 0$", lines(dead, "V")[0])


def test_reactance_is_an_inductor_and_stray_a_capacitor() -> None:
    text = netlist(cottage(), title="")
    state = cottage()
    index = state.circuit.network.index["board.transformer"]
    inductance = float(lines(text, f"L{index} ")[0].split()[3])
    assert inductance * 2 * math.pi * 60 == pytest.approx(3.015)  # ωL = X (C)
    stray = [i for i, branch in enumerate(state.circuit.network.branches) if branch.kind == "capacitance"]
    farads = float(lines(text, f"C{stray[0]} ")[0].split()[3])
    assert farads == pytest.approx(25e-12 * 45 / 2 / 2)  # half of it at either end, shared by two neighbours (C)


def test_open_contacts_are_left_out_and_closed_ones_stand_in_it() -> None:
    off, cool = (netlist(cottage(call), title="") for call in ("off", "cool"))
    assert "* contact stat.contact-Y\n" in cool
    assert "* contact stat.contact-Y\n" not in off


def test_the_meter_is_there_when_asked_for_and_not_otherwise() -> None:
    state = cottage()
    node = {name: f"n{i + 1}" for name, i in state.circuit.network.node_of.items()}
    asked = netlist(state, title="", between=("board.Y", "board.C"))
    assert lines(asked, "Rmeter") == [f"Rmeter {node['board.Y']} {node['board.C']} 10000000"]
    assert not lines(netlist(state, title=""), "Rmeter")
