"""Several thermostats on one zone panel are landed whole, proved, and every zone is kept to itself.

Facts of the trade, common practice, no source: each thermostat lands on the terminals of its own zone and each valve or damper
on the outputs of the same zone; the panel calls the equipment for all of them, through the safety switches in series; a tank
of hot water that goes first is zone 1.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from callpath.calls.closing import given_for
from callpath.circuit.build import build
from callpath.circuit.snapshot import snapshot
from callpath.job.model import Cable, Job, Landing
from callpath.job.read import load_job
from callpath.landing.land import land
from callpath.parts.catalogue import default_catalogue
from callpath.proof.prove import prove
from tests.jobs import job_of
from tests.landing.test_zones import opened
from tests.parts.test_rigs import RIGS, joined, rigged

EXAMPLES = {
    name: load_job(f"examples/{name}.job.yaml")
    for name in ("bathhouse-three-zones", "granary-air-zones", "laundry-three-circulators")
}
JOBS: dict[str, Job] = {
    **EXAMPLES,
    **{
        part: job_of(joined(rigged(RIGS[part])))
        for part in ("accessory/zone-valve-panel", "accessory/zone-damper-panel", "accessory/circulator-panel")
    },
}
BATH, GRANARY = EXAMPLES["bathhouse-three-zones"], EXAMPLES["granary-air-zones"]


def bare(job: Job, **changes: object) -> Job:
    """Return a job with nothing landed and no jumpers."""
    nothing: dict[str, Landing] = dict.fromkeys(job.landings, (None, None))
    return replace(job, **{"landings": nothing, "jumpers": (), "splices": {}, **changes})  # type: ignore[arg-type]


def stops(job: Job, switch: str) -> bool:
    """Tell whether no burner is lit on any call while a field contact stands open."""
    circuit = build(job)
    place = circuit.network.given.index(switch)
    for call in prove(job).calls:
        given = given_for(circuit, call)
        given[place] = False
        if any(name.endswith(".heat") for name in snapshot(circuit, given).running):
            return False
    return True


@pytest.mark.parametrize("jumpers", [False, True], ids=["nothing fixed", "jumpers fixed"])
@pytest.mark.parametrize("name", JOBS)
def test_what_the_finished_job_serves_is_served(name: str, jumpers: bool) -> None:
    job = JOBS[name]
    found = land(bare(job, jumpers=job.jumpers if jumpers else ()))
    wanted = prove(job)
    assert wanted.verdict == "clean"
    assert found.proof.verdict == "clean"
    assert found.serves == wanted.serves
    assert not found.unserved
    assert not found.optimal, "other ways were not looked at, and it says so"
    zones = opened(found.job)
    assert all(zones[stat] == own for stat, own in opened(job).items()), "each zone as in the finished job"
    for switch in build(job).field_contacts:
        if job.equipment[switch.partition(".")[0]].part.role == "accessory":
            assert stops(found.job, switch), f"{switch} guards the burner"


def test_a_damper_that_is_driven_both_ways_gets_both_leads() -> None:
    """From the part's note: with neither lead fed it stays where it is, so without S it would never shut."""
    ends = {end for jumper in land(bare(GRANARY)).job.jumpers for end in jumper}
    assert {"d1.S", "d2.S", "d3.S"} <= ends


def test_with_priority_the_tank_is_zone_1_whoever_is_named_first() -> None:
    last = {id_: device for id_, device in BATH.equipment.items() if id_ != "tank"} | {"tank": BATH.equipment["tank"]}
    found = land(bare(BATH, equipment=last))
    assert found.proof.verdict == "clean"
    assert any({"tank.2", "panel.T1-W"} == set(jumper) for jumper in found.job.jumpers)


def test_what_is_landed_already_stays() -> None:
    fixed: dict[str, Landing] = {"to-one.white": ("one.W", "panel.T3-W"), "to-two.yellow": ("two.Y", "panel.T1-Y")}
    job = bare(GRANARY)
    found = land(replace(job, landings={**job.landings, **fixed}))
    assert found.proof.verdict == "clean"
    assert found.job.landings["to-one.white"] == ("one.W", "panel.T3-W")
    assert found.job.landings["to-three.white"] == ("three.W", "panel.T2-W")


def test_a_cable_that_is_too_thin_is_told() -> None:
    """Four conductors: power, common and two of heat, cooling and fan."""
    thin = replace(GRANARY.cables["to-two"], conductors=("red", "blue", "white", "yellow"))
    cables = {**GRANARY.cables, "to-two": thin}
    landings: dict[str, Landing] = {
        f"{cable.id}.{colour}": (None, None) for cable in cables.values() for colour in cable.conductors
    }
    found = land(replace(bare(GRANARY), cables=cables, landings=landings), ways=False)
    assert found.proof.verdict == "clean" or all(
        f.code == "dead-call" for f in found.proof.findings if f.severity != "note"
    )
    assert len(found.unserved) == 1
    assert "5 conductors between" in next(iter(found.unserved.values()))


def test_the_boiler_in_another_room() -> None:
    """The panel calls it over a cable, and the switches beside the panel stand in that way."""
    far = {**BATH.equipment, "boiler": replace(BATH.equipment["boiler"], at="wash house")}
    cables = {**BATH.cables, "call": Cable("call", ("boiler room", "wash house"), ("red", "white"))}
    landings: dict[str, Landing] = {
        f"{cable.id}.{colour}": (None, None) for cable in cables.values() for colour in cable.conductors
    }
    found = land(replace(bare(BATH, equipment=far), cables=cables, landings=landings))
    assert found.proof.verdict == "clean"
    assert {end for name in ("call.red", "call.white") for end in found.job.landings[name]} == {
        "boiler.T1", "boiler.T2", "door.2", "panel.X2",
    }  # fmt: skip
    assert stops(found.job, "leak.switch")


def test_two_zones_on_a_panel_for_three() -> None:
    equipment = {id_: device for id_, device in GRANARY.equipment.items() if id_ not in ("three", "d3")}
    cables = {id_: cable for id_, cable in GRANARY.cables.items() if id_ != "to-three"}
    landings: dict[str, Landing] = {
        f"{cable.id}.{colour}": (None, None) for cable in cables.values() for colour in cable.conductors
    }
    found = land(replace(bare(GRANARY, equipment=equipment), cables=cables, landings=landings))
    assert found.proof.verdict == "clean"
    assert opened(found.job) == {"one": {"d1.open"}, "two": {"d2.open"}}


def test_a_panel_says_which_terminals_go_together() -> None:
    catalogue = default_catalogue()
    panels = [part for name in catalogue.names if (part := catalogue.part(name)).panel is not None]
    assert [part.part for part in panels] == [
        "accessory/circulator-panel",
        "accessory/zone-damper-panel",
        "accessory/zone-valve-panel",
    ]
    for part in panels:
        groups = [
            *part.panel.equipment,
            *(letters for zone in part.panel.zones for letters in (*zone.thermostat, *zone.opens)),
        ]  # type: ignore[union-attr]
        assert len(set(groups)) == len(groups)
        plain = {letters for letters, terminal in part.terminals.items() if terminal.signal == "24v-on-off"}
        assert set(groups) == plain
