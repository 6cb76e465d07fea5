"""Every example's verdict and findings; the examples are invented, and what they show is what the README and docs lean on."""

from __future__ import annotations

from pathlib import Path

import pytest

from callpath.circuit.build import build
from callpath.job import load_job
from callpath.proof.prove import prove
from callpath.proof.states import examine
from tests.circuit.kirchhoff import assert_kirchhoff
from tests.jobs import codes

EXAMPLES = Path(__file__).parents[2] / "examples"

# File: what is found that is worse than a note, then the notes.
EXPECTED = {
    "bakery-split-no-jumper": ("dead-call", "spare"),
    "bakery-split-one-source": ("", "spare"),
    "ballroom-banks-swapped": ("dead-call ends-disagree letter-trap", "relies-on-fan-lead"),
    "ballroom-two-banks": ("", "relies-on-fan-lead"),
    "barn-long-run-weak": ("dead-call weak-pull-in", ""),
    "bathhouse-three-zones": ("", ""),
    "brewery-two-stages": ("", ""),
    "brewery-two-stages-crossed": ("dead-call", ""),
    "cheese-shop-ghost-call": ("dead-call unwanted-run", "spare"),
    "cheese-shop-power-stealing": ("", ""),
    "creamery-humidity": ("", ""),
    "creamery-humidity-reversed": ("dead-call unwanted-run", ""),
    "dairy-float-switch": ("", ""),
    "garden-cottage": ("", "off-colour"),
    "garden-cottage-green-on-common": ("short dead-call ends-disagree", "off-colour"),
    "garden-cottage-pair-on-r-and-c": ("unwanted-run", "off-colour"),
    "garden-cottage-pair-on-y-and-g": ("dead-call no-return", "off-colour"),
    "garden-cottage-pair-reversed": ("", "off-colour"),
    "granary-air-zones": ("", ""),
    "granary-dampers-crossed": ("dead-call dead-call unwanted-run", ""),
    "guest-house-fan-lead-as-common": ("", "off-colour"),
    "guest-house-four-conductors": ("", "off-colour"),
    "hunting-lodge-x-on-x": ("letter-trap", "relies-on-fan-lead"),
    "inn-everything": ("", "spare spare relies-on-fan-lead"),
    "laundry-panel-on-boiler": ("sources-tied dead-call dead-call", ""),
    "laundry-three-circulators": ("", ""),
    "manor-two-sources": ("", "relies-on-fan-lead"),
    "manor-two-sources-grounded": ("sources-tied", "relies-on-fan-lead"),
    "manor-two-sources-jumpered": ("sources-tied", "relies-on-chassis relies-on-fan-lead"),
    "old-mill-chassis-return": ("", "spare relies-on-chassis relies-on-fan-lead"),
    "orangery-two-pipes-summer": ("", "relies-on-fan-lead"),
    "orangery-two-pipes-wrong-season": ("dead-call", ""),
    "orchard-defrost-board": ("", "relies-on-fan-lead"),
    "orchard-defrost-no-heat": ("dead-call unwanted-run", "spare relies-on-fan-lead"),
    "orchard-heat-pump-b": ("", "spare spare relies-on-fan-lead"),
    "orchard-heat-pump-mixed": ("dead-call unwanted-run", "spare spare"),
    "orchard-heat-pump-o": ("", "spare spare relies-on-fan-lead"),
    "pantry-bus-on-power": ("wrong-class", ""),
    "pantry-data-bus": ("", ""),
    "schoolhouse-end-switch-fed": ("sources-tied dead-call", ""),
    "schoolhouse-zone-valves": ("", "spare"),
    "shepherds-hut-long-wire": ("dead-call low-hold", ""),
    "shepherds-hut-pilot": ("", ""),
    "shepherds-hut-transformer": ("wrong-class no-return sources-tied", ""),
    "smithy-dry-contact-boiler": ("", ""),
    "smokehouse-c-on-c": ("short letter-trap dead-call", ""),
    "smokehouse-old-letters": ("", ""),
    "stables-isolating-relay": ("", "spare"),
    "vicarage-both-fuels-at-once": ("unwanted-run", ""),
    "vicarage-two-fuels": ("", ""),
}
SEVERITY = {
    "ballroom-banks-swapped": "weak",
    "laundry-panel-on-boiler": "danger",
    "shepherds-hut-transformer": "weak",
    "hunting-lodge-x-on-x": "weak",
    "smokehouse-c-on-c": "danger",
    "manor-two-sources-grounded": "weak",
    "manor-two-sources-jumpered": "danger",
    "schoolhouse-end-switch-fed": "danger",
}
FILES = sorted(EXAMPLES.glob("*.job.yaml"))


def test_every_example_is_expected_and_every_expected_one_is_there() -> None:
    assert {file.name.removesuffix(".job.yaml") for file in FILES} == set(EXPECTED)
    assert len(FILES) >= 15


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name.removesuffix(".job.yaml"))
def test_example(file: Path) -> None:
    name = file.name.removesuffix(".job.yaml")
    worse, notes = (words.split() for words in EXPECTED[name])
    proof = prove(load_job(file))
    assert codes(proof, notes=True) == [*worse, *notes]
    assert proof.verdict == ("findings" if worse else "clean")
    for finding in proof.findings:
        if finding.code in ("sources-tied", "letter-trap"):
            assert finding.severity == SEVERITY[name]
        if finding.severity in ("danger", "fault") and not any(name.endswith(".fuse") for name in finding.where):
            # What a fuse stops never reaches a terminal.
            assert finding.path, finding.code


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name.removesuffix(".job.yaml"))
def test_every_plain_state_of_an_example_keeps_kirchhoffs_law(file: Path) -> None:
    examined = examine(build(load_job(file)))
    for state in (*examined.plain.values(), *examined.plain_before_fuse.values()):
        assert_kirchhoff(state)


def test_every_clean_example_serves_something() -> None:
    for file in FILES:
        proof = prove(load_job(file))
        assert proof.serves
        for call in proof.serves if proof.verdict == "clean" else ():
            assert set(proof.calls[call].running) >= set(proof.calls[call].needed)
