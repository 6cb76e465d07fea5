"""Which states are examined: every call, group of callers, field contact and source; and what is said where not all are."""

from __future__ import annotations

import numpy as np
import pytest

from callpath.circuit.build import build
from callpath.proof.states import MOST_STATES, examine
from tests.circuit.kirchhoff import assert_kirchhoff
from tests.jobs import COTTAGE, HOUSE, MANOR, PUMP, ZONE, codes, job_of, only, proof_of

# The job, and the number of calls × groups of callers, field contacts, sources.
COUNTS = [
    pytest.param(COTTAGE, {}, 4, 0, 1, id="cottage: off, fan, cool, heat"),
    pytest.param(HOUSE, {"settings": "{cond: {pressure-switches: true}}"}, 4, 2, 1, id="two pressure switches"),
    pytest.param(MANOR, {}, 4, 0, 2, id="two sources"),
    pytest.param(
        PUMP, {}, 7 + 1, 0, 1, id="heat pump: off, fan, cool, heat, aux, emergency, defrost, and aux in defrost"
    ),
    pytest.param(
        HOUSE,
        {"equipment": "{two: {part: thermostat/heat-only, at: hall}}"},
        4 + 2,
        0,
        1,
        id="two thermostats can heat: each alone too",
    ),
]


@pytest.mark.parametrize(("base", "changes", "heads", "contacts", "sources"), COUNTS)
def test_every_combination(
    base: dict[str, object], changes: dict[str, str], heads: int, contacts: int, sources: int
) -> None:
    circuit = build(job_of(base, **changes))
    examined = examine(circuit)
    states = examined.settled.states
    assert len(states) == heads * 2**contacts * 2**sources
    assert proof_of(base, **changes).states_examined == len(states)
    rows = np.concatenate([states.given, states.live.astype(bool)], axis=1)
    assert len(np.unique(rows, axis=0)) == len(rows), "no state twice"
    assert examined.bounded == ""
    for case in examined.cases:
        plain = states.given[case.first]
        asked = circuit.given({}, [])
        contact = [i for i, name in enumerate(circuit.network.given) if name in circuit.field_contacts]
        assert (plain[contact] == asked[contact]).all(), "the plain state has the contacts as the job gives them"
        assert states.live[case.first].all(), "and every source live"


@pytest.mark.parametrize("base", [COTTAGE, HOUSE, MANOR, PUMP, ZONE])
def test_the_plain_states_keep_kirchhoffs_law(base: dict[str, object]) -> None:
    examined = examine(build(job_of(base)))
    for state in (*examined.plain.values(), *examined.plain_before_fuse.values()):
        assert_kirchhoff(state)


def test_too_many_contacts_are_bounded_and_that_is_said() -> None:
    floats = range(14)
    many = {
        "equipment": {f"f{i}": {"part": "accessory/float-switch", "at": "cellar"} for i in floats},
        "jumpers": [[f"f{i}.2", f"f{i + 1}.1"] for i in floats[:-1]],
        "landings": "{wall.yellow: [stat.Y, f0.1]}",
        "cables": "{last: {between: [cellar, cellar], conductors: [yellow]}}",
    }
    many["landings"] = "{wall.yellow: [stat.Y, f0.1], last.yellow: [f13.2, board.Y]}"
    proof = proof_of(HOUSE, **many)
    assert proof.states_examined <= MOST_STATES
    assert "14 field contacts" in proof.bounded
    assert proof.as_json()["bounded"] == proof.bounded
    assert proof.verdict == "clean"
    # Each contact alone is still tried: a jumper past the last of them is found by no combination, one past the coil is.
    stuck = proof_of(HOUSE, **many, faults="[{open: outside.red}]")
    assert only(stuck, "dead-call").calls == ("cool",)


def test_many_thermostats_call_alone_all_and_all_but_one() -> None:
    stats = range(6)
    proof = proof_of(
        ZONE,
        equipment={f"s{i}": {"part": "thermostat/heat-only", "at": "classroom"} for i in stats},
        jumpers=[pair for i in stats for pair in ([f"s{i}.R", "stat.R"], [f"s{i}.W", "stat.W"])],
    )
    assert "7 thermostats" in proof.bounded
    # off, and heat by all, by each alone, by all but each; two sources live or not.
    assert proof.states_examined == (1 + 1 + 7 + 7) * 4
    assert proof.verdict == "clean"


def test_a_danger_that_only_one_position_of_a_contact_shows() -> None:
    """A float switch that has been wired across the supply instead of into it: closed as it rests, it is a short at once;
    given open, the short is still found, for it is one drop of water away."""
    across = {
        "equipment": "{float: {part: accessory/float-switch, at: cellar}}",
        "jumpers": "[[board.R, float.1], [float.2, board.C]]",
    }
    assert only(proof_of(HOUSE, **across), "short").calls == ("off", "fan", "cool", "heat")
    tripped = proof_of(HOUSE, **across, contacts="{float.switch: open}")
    assert "short" in codes(tripped)
    assert "dead-call" not in codes(tripped), "as the job gives it every call works"


def test_with_one_source_dead_the_other_is_still_examined() -> None:
    """The boiler burns its winding only when the other source feeds it: with both live in phase no current flows between them."""
    tied = {
        "settings": "{boiler: {bonded-common: true}, air: {bonded-common: true}}",
        "jumpers": "[[stat.Rc, stat.Rh]]",
    }
    assert only(proof_of(MANOR, **tied), "sources-tied").severity == "danger"
    examined = examine(build(job_of(MANOR, **tied)))
    assert {tuple(row) for row in examined.settled.states.live} == {(1.0, 1.0), (1.0, 0.0), (0.0, 1.0), (0.0, 0.0)}


def test_no_source_at_all() -> None:
    proof = proof_of(
        ZONE,
        equipment="{supply: null, boiler: null}",
        landings="""
      {wall.red: [stat.R, null], patch.blue: [null, valve.M2], patch.brown: [valve.E1, null], patch.orange: [valve.E2, null]}""",
    )
    assert proof.calls["off"].running == ()
    assert proof.calls["heat"].running == ()
    assert proof.calls["heat"].sources == {}


def test_a_circuit_that_is_built_already_can_be_given() -> None:
    from callpath.proof.prove import prove

    job = job_of(HOUSE)
    assert prove(job, build(job)).as_json() == prove(job).as_json()
