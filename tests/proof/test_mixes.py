"""Several thermostats that ask for different things at once: which mixes are examined, and what only a mix shows."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from callpath.calls.closing import call_rules, thermostats
from callpath.circuit.build import build
from callpath.job.read import load_job
from callpath.proof.mixes import MOST_MIXES, mixes
from callpath.proof.prove import prove
from callpath.proof.states import MOST_STATES, examine
from tests.jobs import HOUSE, PUMP, RELAY, has, having, job_of, only, proof_of

ANNEX = "{two: {part: thermostat/heat-only, at: cellar}}"
"""A second thermostat beside the house's own."""

# ---- which mixes -------------------------------------------------------------------------------------------


def _landed(stats: int, part: str = "thermostat/single-supply") -> dict[str, object]:
    names = [f"s{i}" for i in range(stats)]
    pairs = [("R", "R"), ("W", "W")]
    return {
        "equipment": {name: {"part": part, "at": "cellar"} for name in names},
        "jumpers": [[f"{name}.{one}", f"board.{two}"] for name in names for one, two in pairs],
    }


@settings(deadline=None, max_examples=12)
@given(parts=st.lists(st.sampled_from(["thermostat/heat-only", "thermostat/single-supply"]), min_size=1, max_size=3))
def test_every_mix_of_calls_is_examined_once(parts: list[str]) -> None:
    """Against brute force: whatever any of them may ask for, less what a single call with some callers closes already."""
    changes = _landed(len(parts))
    for name, part in zip(changes["equipment"], parts, strict=True):  # type: ignore[arg-type]
        changes["equipment"][name]["part"] = part  # type: ignore[index]
    circuit = build(job_of(HOUSE, **changes))
    examined = examine(circuit)
    stats = thermostats(circuit.job)
    every = set(itertools.product(*(["off", *call_rules(stat)] for stat in stats)))
    made = [dict(case.asks) for case in examined.cases if case.mixed]
    plain = [tuple(asks.get(stat.id, "off") for stat in stats) for asks in made]
    assert len(set(plain)) == len(plain)
    assert set(plain) == {asks for asks in every if len(set(asks) - {"off"}) > 1}
    rows = np.concatenate([examined.settled.states.given, examined.settled.states.live.astype(bool)], axis=1)
    assert len(np.unique(rows, axis=0)) == len(rows), "no state twice"


def test_too_many_thermostats_mix_two_at_a_time_and_that_is_said() -> None:
    job = job_of(HOUSE, **_landed(4))
    found, left_out = mixes(build(job), {"stat", "s0", "s1", "s2", "s3"})
    assert {len(asks) for asks in found} == {2}
    # Ten pairs of thermostats, each with two different ones of fan, cool and heat.
    assert len(found) == 10 * 6
    assert "all that two of them call, the others off" in left_out
    assert left_out in prove(job).bounded
    many = mixes(build(job_of(HOUSE, **_landed(12))), {f"s{i}" for i in range(12)})
    assert len(many[0]) == MOST_MIXES
    assert f"{MOST_MIXES} of those" in many[1]


def test_a_thermostat_that_nothing_is_landed_on_mixes_nothing() -> None:
    assert mixes(build(job_of(HOUSE, equipment=ANNEX)), {"stat"}) == ([], "")


def test_two_calls_that_close_the_same_contacts_are_one() -> None:
    """From the contract: a heat pump's 'aux' adds W2 to 'heat', so it is another call; with one stage 'cool-2' is none."""
    equipment = "{hp: {part: thermostat/heat-pump, at: cellar}, two: {part: thermostat/heat-only, at: cellar}}"
    circuit = build(job_of(HOUSE, equipment=equipment))
    found, _ = mixes(circuit, {"hp", "two"})
    assert {dict(asks)["hp"] for asks in found} == {"fan", "cool", "aux", "emergency"}
    outdoor = equipment[:-1] + ", pump: {part: outdoor/heat-pump, at: yard}}"
    found, _ = mixes(build(job_of(HOUSE, equipment=outdoor)), {"hp", "two"})
    assert "defrost" in {dict(asks)["hp"] for asks in found}, "one thermostat alone can call it"


def test_mixes_are_looked_at_less_widely_where_there_is_too_much_and_that_is_said() -> None:
    proof = prove(load_job("examples/inn-everything.job.yaml"))
    assert proof.verdict == "clean"
    assert "of mixed calls only one contact tripped or one source dead at a time" in proof.bounded
    assert proof.states_examined <= 2 * MOST_STATES


@pytest.mark.parametrize("changeover", ["O", "B"])
def test_a_heat_pump_defrosts_while_auxiliary_heat_is_called(changeover: str) -> None:
    """Common practice, no source: a heat pump defrosts in weather in which auxiliary heat is called; in cooling it does not."""
    both = f"{{stat: {{changeover: {changeover}}}, pump: {{changeover: {changeover}}}}}"
    found, left_out = mixes(build(job_of(PUMP, settings=both)), {"stat"})
    assert (found, left_out) == ([(("stat", "aux"), ("stat", "defrost"))], "")
    assert proof_of(PUMP, settings=both).verdict == "clean"


# ---- what only a mix shows ---------------------------------------------------------------------------------


def test_a_second_thermostat_on_c_and_y_shorts_only_while_the_first_cools() -> None:
    """Facts of the trade: a contact that joins C to Y is dead by itself, and a dead short of the transformer once another
    thermostat joins R to Y. Common practice, no source."""
    proof = proof_of(HOUSE, equipment=ANNEX, jumpers="[[two.R, board.C], [two.W, board.Y]]")
    found = only(proof, "short")
    assert found.severity == "danger"
    assert found.calls == ("cool", "heat")
    assert "while stat calls 'cool' and two calls 'heat'" in found.message
    assert has(found.path, "board.R wall.red stat.R stat.Y wall.yellow board.Y two.W two.R board.C")
    assert "two" in only(proof, "dead-call").message, "alone it is dead, as before"
    assert list(proof.calls) == ["off", "fan", "cool", "heat"], "a mix is no call"


def test_what_a_single_call_shows_is_told_of_that_call_alone() -> None:
    proof = proof_of(
        HOUSE,
        equipment=ANNEX,
        jumpers="[[two.R, board.R], [two.W, board.W]]",
        landings="{wall.green: [stat.G, board.C]}",
    )
    found = only(proof, "short")
    assert found.calls == ("fan", "cool")
    assert "while" not in found.message
    welded = proof_of(
        HOUSE, equipment=ANNEX, jumpers="[[two.R, board.R], [two.W, board.W]]", faults="[{stuck: stat.contact-Y}]"
    )
    assert only(welded, "unwanted-run").calls == ("off", "fan", "heat")


def test_what_runs_only_while_two_ask_for_different_things() -> None:
    """A relay worked by G and wired the wrong way in the heating lead hands it over to Y: the compressor runs while one
    thermostat wants the fan and the other heat."""
    proof = proof_of(
        HOUSE,
        equipment="{two: {part: thermostat/heat-only, at: cellar}, relay: {part: accessory/relay, at: cellar}}",
        jumpers="""[[two.R, board.R], [two.W, relay.COM], [relay.NC, board.W], [relay.NO, board.Y],
          [relay.A1, board.G], [relay.A2, board.C]]""",
    )
    found = having(proof, "unwanted-run", "cond.compressor")
    assert found.calls == ("fan", "heat")
    assert "while stat calls 'fan' and two calls 'heat'" in found.message
    assert has(
        found.path, "board.R two.R two.W relay.COM relay.NO board.Y outside.red cond.Y cond.C outside.white board.C"
    )


def test_two_sources_that_meet_only_in_a_mix() -> None:
    """The annex's thermostat is fed from a source of its own and works the first one's relay coil; their commons are joined. By
    itself each call meets the other source at one point only; together the two hot sides meet."""
    proof = proof_of(
        RELAY,
        equipment="{two: {part: thermostat/heat-only, at: loft}}",
        jumpers="[[two.R, supply.R], [two.W, board.Y], [supply.C, board.C]]",
    )
    found = only(proof, "sources-tied")
    assert found.severity == "danger"
    assert found.calls == ("cool", "heat")
    assert "while stat calls 'cool' and two calls 'heat'" in found.message


def test_a_relay_that_buzzes_only_in_a_mix() -> None:
    """Its coil is fed through its own opening contact, and only while one cools and the other heats."""
    proof = proof_of(
        HOUSE,
        equipment="{two: {part: thermostat/heat-only, at: cellar}, relay: {part: accessory/relay, at: cellar}}",
        jumpers="[[two.R, board.Y], [two.W, relay.COM], [relay.NC, relay.A1], [relay.A2, board.C]]",
    )
    found = only(proof, "chatter")
    assert found.calls == ("cool", "heat")
    assert "while stat calls 'cool' and two calls 'heat'" in found.message


def test_a_coil_between_two_hot_sides_sees_both_sources_only_in_a_mix() -> None:
    """Facts of the trade: two 24 V sources that are wired the opposite way round stand 48 V apart, hot side to hot side, and that
    burns a 24 V coil (from memory)."""
    proof = proof_of(
        HOUSE,
        equipment="""{two: {part: thermostat/heat-only, at: cellar}, relay: {part: accessory/relay, at: cellar},
          extra: {part: accessory/transformer, at: cellar, settings: {phase: 180}}}""",
        jumpers="[[two.R, extra.R], [two.W, relay.A2], [relay.A1, board.Y], [extra.C, board.C]]",
    )
    found = only(proof, "over-voltage")
    assert found.where == ("relay.coil",)
    assert found.calls == ("cool", "heat")
    assert "while stat calls 'cool' and two calls 'heat'" in found.message
    assert 45 < float(found.message.split(" sees ")[1].split(" V")[0]) < 56


@pytest.mark.parametrize("name", ["granary-air-zones", "bathhouse-three-zones", "laundry-three-circulators"])
def test_zones_that_are_wired_right_stay_clean_in_every_mix(name: str) -> None:
    job = load_job(f"examples/{name}.job.yaml")
    examined = examine(build(job))
    assert any(case.mixed for case in examined.cases)
    assert prove(job).verdict == "clean"


def test_a_short_that_only_defrost_beside_auxiliary_heat_makes() -> None:
    """Computed by hand: W2 brings R to the indoor W; the outdoor unit's defrost contact joins W to its R, on which C sits."""
    proof = proof_of(PUMP, landings="{outside.red: [air.R, pump.C], outside.blue: [air.C, pump.R]}")
    found = only(proof, "short")
    assert found.calls == ("aux", "defrost")
    assert "while stat calls 'aux' in 'defrost'" in found.message
    assert {"wall.white", "pump.W", "pump.R", "outside.blue"} <= set(found.path)
