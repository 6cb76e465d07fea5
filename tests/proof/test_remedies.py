"""Remedies that are followed: what a finding says to move is moved, and the job proves better than before.

Every example is followed too. That each names the right lead, end and terminal is common practice, no source; that the job is
better afterwards is the proof's own word, which `tests/against` compares with other solvers.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from callpath.job import load_job
from callpath.proof.finding import Finding
from callpath.proof.prove import Proof, prove
from tests.jobs import COTTAGE, HOUSE, MANOR, MILL, PUMP, RELAY, Data, amended, data, having, job_of, only, proof_of

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.job.yaml"))
WORTH = {"danger": 100, "fault": 10, "weak": 1, "note": 0}
MOVE = re.compile(r"move (\S+) ((?:(?:or )?at \S+ from \S+ to [^\s,:]+[ ,:]+)+)")
ONE = re.compile(r"at (\S+) from (\S+) to ([^\s,:]+)")
SETTING = re.compile(r"set (\w+)\.([\w-]+) to (\w+)")


def badness(proof: Proof) -> int:
    return sum(WORTH[finding.severity] for finding in proof.findings)


def moves_followed(job: Data, finding: Finding) -> list[Data]:
    """Return the jobs that a remedy leads to, one for every move of an end that it offers; none where it names none."""
    found = []
    if match := MOVE.search(finding.remedy):
        for equipment, old, new in ONE.findall(match[2]):
            ends = [f"{equipment}.{new}" if end == f"{equipment}.{old}" else end for end in job["landings"][match[1]]]
            assert ends != job["landings"][match[1]], finding.remedy
            found.append(amended(job, landings={match[1]: ends}))
    return found


def followed(job: Data, finding: Finding) -> list[Data]:
    """Return the jobs that a remedy leads to, one for every move of an end and every setting that it offers."""
    found = moves_followed(job, finding)
    for equipment, name, value in SETTING.findall(finding.remedy):
        found.append(amended(job, settings=f"{{{equipment}: {{{name}: {value}}}}}"))
    return found


def moved(job: Data) -> list[Data]:
    """Return every job that differs from a sound one by one end of one conductor of a thermostat's cable."""
    checked, found = job_of(job), []
    for conductor, ends in job["landings"].items():
        for end in (0, 1):
            device = checked.equipment.get((ends[end] or "").partition(".")[0])
            for letters in device.part.terminals if device else ():
                changed = list(ends)
                changed[end] = f"{device.id}.{letters}" if device else ""
                if changed[end] != ends[end] and changed[0] != changed[1]:
                    found.append(amended(job, landings={conductor: changed}))
    return found


@pytest.mark.parametrize("base", [COTTAGE, HOUSE, MANOR, MILL, PUMP, RELAY], ids=lambda job: job["title"][:30])
def test_a_remedy_that_moves_one_end_makes_the_job_better(base: Data) -> None:
    tried = 0
    for job in moved(base):
        proof = prove(job_of(job))
        for finding in proof.findings:
            for other in moves_followed(job, finding):
                tried += 1
                assert badness(prove(job_of(other))) < badness(proof), (finding.remedy, finding.path)
    assert tried > 3


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.name.partition(".")[0])
def test_what_an_example_says_to_move_or_set_makes_it_better(example: Path) -> None:
    job, proof = data(example.read_text(encoding="utf-8")), prove(load_job(example))
    for finding in proof.findings:
        if finding.code in ("dead-call", "unwanted-run", "ends-disagree"):
            for other in followed(job, finding):
                assert badness(prove(job_of(other))) < badness(proof), finding.remedy


@pytest.mark.parametrize(
    ("example", "code", "said"),
    [
        ("garden-cottage-green-on-common", "ends-disagree", "move wall.green at board from C to G"),
        ("garden-cottage-pair-on-r-and-c", "unwanted-run", "move outside.red at board from R to Y"),
        ("orchard-defrost-no-heat", "unwanted-run", "move outside.brown at pump from R to L"),
        ("orchard-defrost-no-heat", "dead-call", "on to air.W:"),
        ("brewery-two-stages-crossed", "dead-call", "exchange outside.red and outside.yellow at cond"),
        ("cheese-shop-ghost-call", "dead-call", "on to cond.Y:"),
        ("cheese-shop-ghost-call", "unwanted-run", "what stat draws for itself through stat.Y"),
        ("shepherds-hut-transformer", "no-return", "take out the jumper from supply.R to fire.TP"),
    ],
)
def test_the_lead_the_end_and_the_terminal_are_named(example: str, code: str, said: str) -> None:
    (path,) = [path for path in EXAMPLES if path.name == f"{example}.job.yaml"]
    assert said in only(prove(load_job(path)), code).remedy


def test_a_voltage_that_fades_along_thin_wire_is_not_put_down_to_the_contact_where_half_of_it_is_gone() -> None:
    """Ohm: of what a thermopile gives, two conductors of 22 AWG take as much each and a closed contact a hundredth of that."""
    (path,) = [path for path in EXAMPLES if path.name.startswith("shepherds-hut-long-wire")]
    found = only(prove(load_job(path)), "dead-call")
    assert "lost in pair.red and pair.white" in found.message
    assert "24 V" not in found.message
    assert "heavier or shorter wire" in found.remedy


def test_a_relays_contact_whose_coil_is_idle_on_this_call_is_not_told_to_be_replaced() -> None:
    (path,) = [path for path in EXAMPLES if path.name.startswith("laundry-panel-on-boiler")]
    found = having(prove(load_job(path)), "dead-call", "boiler.relay-contact")
    assert (
        found.remedy
        == "boiler.relay-contact (burner contact) closes with boiler.control-relay, which is not energised: see why"
    )


def test_a_call_is_brought_from_the_thermostat_and_never_by_a_joint_from_the_hot_side() -> None:
    """The hot side of the attic's board joined to its own W would heat on every call."""
    proof = proof_of(MANOR, landings="{heating.white: [stat.Y, boiler.W]}")
    found = having(proof, "dead-call", "air.heat-input")
    assert "bring the call to air.W" in found.remedy
    assert not found.remedy.startswith("join")


def test_crossed_dampers_are_told_by_what_feeds_both_their_terminals() -> None:
    (path,) = [path for path in EXAMPLES if path.name.startswith("granary-dampers-crossed")]
    found = having(prove(load_job(path)), "dead-call", "d2.shut-motor")
    assert "at d2.S from panel.D2-S and at d2.O from panel.D3-O" in found.remedy
