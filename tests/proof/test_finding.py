"""Findings as data: every code of the contract, the JSON form, the order, and one finding for one cause."""

from __future__ import annotations

import json
from pathlib import Path

from callpath.proof.finding import CODES, Finding, merged, ranked
from callpath.proof.prove import RULES
from tests.jobs import COTTAGE, HOUSE, MANOR, codes, proof_of

# The contract's table, code by code.
SEVERITIES = {
    "short": {"danger"},
    "sources-tied": {"danger", "weak"},
    "over-voltage": {"danger"},
    "wrong-class": {"danger"},
    "dead-call": {"fault"},
    "unwanted-run": {"fault"},
    "unpowered-thermostat": {"fault"},
    "no-return": {"fault"},
    "ends-disagree": {"fault"},
    "weak-pull-in": {"weak"},
    "low-hold": {"weak"},
    "over-va": {"weak"},
    "fuse-size": {"weak"},
    "chatter": {"weak"},
    "crowded-terminal": {"weak"},
    "off-colour": {"note"},
    "spare": {"note"},
    "relies-on-chassis": {"note"},
    "relies-on-fan-lead": {"note"},
}


def test_the_codes_are_those_of_the_contract() -> None:
    assert {code: set(severity.replace(" or ", " ").split()) for code, (severity, _) in CODES.items()} == (
        SEVERITIES
        | {
            "idle-safety": {"weak"},
            "idle-control": {"weak"},
            "letter-trap": {"danger", "weak"},
            "anticipator-off": {"note"},
            "nothing-served": {"note"},
            "no-fit": {"note"},
            "hot-on-metal": {"weak"},
            "half-landed": {"note"},
            "left-out": {"note"},
        }  # beside the contract's
    )
    assert len(RULES) >= len(CODES) - 1


def test_every_code_is_named_in_some_test_of_this_room_or_the_catalogues() -> None:
    here = Path(__file__).parent
    text = "".join(
        file.read_text(encoding="utf-8") for file in (*here.glob("test_*.py"), *(here.parent / "parts").glob("*.py"))
    )
    for code in CODES:
        assert text.count(f'"{code}"') >= 3, code


def test_a_proof_as_json_has_the_contracts_form() -> None:
    told = json.loads(json.dumps(proof_of(COTTAGE, landings="{outside.red: [board.R, cond.Y]}").as_json()))
    assert told["verdict"] == "findings"
    assert isinstance(told["states_examined"], int)
    for finding in told["findings"]:
        assert set(finding) >= {"code", "severity", "calls", "where", "path", "message", "remedy"}
        assert finding["severity"] in SEVERITIES[finding["code"]]
    assert set(told["calls"]) == {"off", "fan", "cool", "heat"}
    for result in told["calls"].values():
        assert result["running"] == sorted(result["running"])
        assert set(result["sources"]["board.transformer"]) == {"volts", "amps", "va", "rated_va"}


def test_calls_hold_off_and_every_call_that_can_be_made_served_or_not() -> None:
    assert tuple(proof_of(COTTAGE).calls) == ("off", "fan", "cool", "heat")
    assert proof_of(COTTAGE).serves == ("cool", "fan")


def test_clean_is_nothing_worse_than_a_note() -> None:
    noted = proof_of(HOUSE, settings="{board: {cooling-blower-from: G}}")
    assert codes(noted, notes=True) == ["relies-on-fan-lead"]
    assert noted.verdict == "clean"


def test_the_worst_comes_first_the_same_way_every_time() -> None:
    proof = proof_of(MANOR, jumpers="[[stat.Rc, stat.Rh]]", faults="[{open: outside.red}, {stuck: stat.contact-W}]")
    order = ["danger", "fault", "weak", "note"]
    ranks = [order.index(finding.severity) for finding in proof.findings]
    assert ranks == sorted(ranks)
    assert proof.findings == tuple(ranked(list(reversed(proof.findings))))


def test_findings_that_differ_only_in_their_calls_are_one() -> None:
    one = Finding("low-hold", "weak", ("cool",), ("a.coil",), ("a.R",), "weak", "look")
    two = Finding("low-hold", "weak", ("heat",), ("a.coil",), ("a.R",), "weak", "look")
    other = Finding("low-hold", "weak", ("heat",), ("b.coil",), ("a.R",), "weak", "look")
    assert [finding.calls for finding in merged([one, two, other])] == [("cool", "heat"), ("heat",)]


def test_every_finding_says_what_and_what_to_do() -> None:
    for changes in (
        {"landings": "{outside.red: [board.R, cond.Y]}"},
        {"landings": "{wall.green: [stat.G, board.C]}"},
        {"landings": "{outside.white: null}"},
        {"settings": "{board: {fuse-amps: 10}}"},
    ):
        for finding in proof_of(COTTAGE, **changes).findings:
            assert finding.message
            assert finding.remedy
            assert finding.message[-1] not in ".:;, "
            assert "  " not in finding.message + finding.remedy
