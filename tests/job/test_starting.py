"""Jobs to begin with: what a person starts from must be right before they change it."""

from __future__ import annotations

import pytest

from callpath.errors import QuestionError
from callpath.job.read import known_job
from callpath.job.starting import Start, find_start, starts
from callpath.proof.prove import prove


@pytest.mark.parametrize("start", starts(), ids=lambda start: start.name)
def test_it_proves_clean_and_serves_what_its_thermostat_can_ask_for(start: Start) -> None:
    """Every call but those of a stage that is not there: nothing is served by leaving it out."""
    job = known_job(start.text)
    proof = prove(job)
    assert proof.verdict == "clean", [finding.message for finding in proof.findings]
    assert set(proof.serves) == set(proof.calls) - {"off"}
    assert start.note
    assert start.text.startswith("# ")


def test_there_is_a_handful_and_each_has_a_name_of_its_own() -> None:
    names = [start.name for start in starts()]
    assert 8 <= len(names) == len(set(names)) <= 12
    assert len({start.title for start in starts()}) == len(names)


def test_it_is_found_by_as_much_of_its_name_as_tells_it_apart() -> None:
    assert find_start("Two-Fuels").name == "two-fuels"
    assert find_start("zone").name == "boiler-zone-valves"
    with pytest.raises(QuestionError, match="heat-pump-o or heat-pump-b"):
        find_start("pump")
    with pytest.raises(QuestionError, match="did you mean 'boiler-tt'"):
        find_start("boiler-tx")
    with pytest.raises(QuestionError, match="no job to begin with"):
        find_start("")
