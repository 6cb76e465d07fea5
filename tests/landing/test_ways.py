"""Ways out that the trade knows where conductors run short (CP): each a job of its own, served and proved clean."""

from __future__ import annotations

from typing import Any

import pytest

from callpath.job import read_job
from callpath.landing.land import land
from callpath.landing.landed import Landed
from callpath.landing.ways import WayOut
from callpath.proof.prove import prove
from tests.jobs import HOUSE, data, job_of

BARE: dict[str, Any] = {"landings": {}, "splices": {}, "jumpers": []}
SHORT = land(
    job_of(
        {**HOUSE, **BARE},
        cables={"wall": {"between": ["hall", "cellar"], "conductors": ["red", "white", "green", "yellow"]}},
        serves=["fan", "heat", "cool"],
    )
)
TWO_WIRES = land(
    job_of(
        data("""
            callpath: 1
            equipment:
              stat:   {part: thermostat/single-supply, at: hall, settings: {power: common}}
              boiler: {part: indoor/boiler, at: cellar}
            cables:
              wall: {between: [hall, cellar], conductors: [red, white]}
            """)
    )
)
TWO_SOURCES = land(
    job_of(
        data("""
            callpath: 1
            equipment:
              stat:   {part: thermostat/single-supply, at: hall}
              boiler: {part: indoor/boiler, at: cellar}
              air:    {part: indoor/air-handler, at: attic}
              cond:   {part: outdoor/condenser, at: yard}
            cables:
              wall:    {between: [hall, cellar], conductors: [red, white]}
              up:      {between: [hall, attic], conductors: [red, white, green, yellow, blue]}
              outside: {between: [attic, yard], conductors: [red, white]}
            serves: [heat, cool, fan]
            """)
    )
)


def way(found: Landed, words: str) -> WayOut:
    (chosen,) = [way for way in found.ways_out if words in way.title]
    return chosen


@pytest.mark.parametrize("found", [SHORT, TWO_WIRES, TWO_SOURCES], ids=["short", "two wires", "two sources"])
def test_every_way_out_is_a_job_file_that_proves_clean(found: Landed) -> None:
    assert found.ways_out
    for way in found.ways_out:
        job = read_job(way.as_json()["job"])
        assert job.serves == way.serves
        assert prove(job).verdict == "clean"
        assert len(way.serves) >= len(found.serves)


def test_the_fan_lead_becomes_the_common_where_the_board_runs_the_blower() -> None:
    chosen = way(SHORT, "fan's lead")
    assert chosen.serves == ("heat", "cool")
    assert chosen.job.landings["wall.green"] == ("stat.C", "board.C")
    assert "not fan" in chosen.detail
    assert "board.blower" in prove(chosen.job).calls["cool"].running


def test_where_cooling_needs_the_fan_lead_a_jumper_takes_its_place() -> None:
    found = land(
        job_of(
            {**HOUSE, **BARE},
            settings="board: {cooling-blower-from: G}",
            cables={"wall": {"between": ["hall", "cellar"], "conductors": ["red", "white", "green", "yellow"]}},
            serves=["fan", "heat", "cool"],
        )
    )
    chosen = way(found, "fan's lead")
    assert chosen.serves == ("heat", "cool")
    assert chosen.job.jumpers == (("board.G", "board.Y"),)
    assert "board.blower" in prove(chosen.job).calls["cool"].running


def test_a_thermostat_on_cells_needs_no_common() -> None:
    for found in (SHORT, TWO_WIRES):
        chosen = way(found, "batteries")
        assert chosen.job.equipment["stat"].settings["power"] == "battery"
        assert len(chosen.serves) == len(found.serves) + len(found.unserved)


def test_a_plug_in_source_keeps_both_its_leads_to_the_electronics() -> None:
    chosen = way(TWO_WIRES, "plug-in source")
    leads = {end for name, ends in chosen.job.landings.items() if name.startswith("plug-in-leads.") for end in ends}
    assert leads == {"plug-in.R", "plug-in.C", "stat.Rc", "stat.C"}
    assert not chosen.job.jumpers
    assert "keep both its leads apart" in chosen.detail


def test_a_relay_keeps_two_sources_apart() -> None:
    assert "sources-tied" not in [finding.code for finding in TWO_SOURCES.proof.findings]
    assert TWO_SOURCES.unserved
    chosen = way(TWO_SOURCES, "isolating relay")
    assert set(chosen.serves) == {"heat", "cool", "fan"}
    assert not [f for f in prove(chosen.job).findings if f.code == "sources-tied"]


def test_the_smallest_second_and_the_smallest_new_cable() -> None:
    assert "second cable of 2" in way(SHORT, "second cable").title
    assert "new cable of 5" in way(SHORT, "new cable").title
    assert "new cable of 3" in way(TWO_WIRES, "new cable").title


def test_none_are_looked_for_where_nothing_is_given_up() -> None:
    assert land(job_of({**HOUSE, **BARE})).ways_out == ()
