"""Asking on the page where several thermostats can call: who does is chosen by taps, and everything follows."""

from __future__ import annotations

import re
from html import unescape

from callpath.calls.closing import callers_of
from callpath.calls.need import Needs
from callpath.circuit.build import build
from callpath.job import load_job
from tests.web.site import EXAMPLES, Visitor, said

ZONES = "schoolhouse-zone-valves"


def links(page: str, label: str) -> dict[str, str]:
    """Return the links of a group of choices, by their words."""
    group = re.search(rf'<nav class="calls" aria-label="{label}">(.*?)</nav>', page, re.DOTALL)
    found = re.findall(r'<a class="button" href="([^"]*)"[^>]*>([^<]*)</a>', group.group(1) if group else "")
    return {words: unescape(address) for address, words in found}


def part(page: str, pattern: str) -> str:
    found = re.search(pattern, page, re.DOTALL)
    assert found is not None
    return found.group(1)


def what_runs(page: str) -> str:
    return part(page, '<section aria-labelledby="runs-h">(.*?)</section>')


def test_who_calls_is_chosen_by_a_tap(site: Visitor) -> None:
    job = site.bring(ZONES)
    page = site.get(f"{job}/ask?call=heat").text
    one = site.get(links(page, "Who makes the call")["east"])
    assert "On ‘heat’ by east" in said(one)
    assert "valve-e.open" in said(one)
    assert "valve-w.open" not in what_runs(one.text)
    assert "&by=east" in unescape(part(one.text, 'data-src="([^"]*)"'))
    # With the other too it is all of them again.
    both = site.get(links(one.text, "Who makes the call")["west"])
    assert "On ‘heat’ by" not in said(both)
    assert "valve-w.open" in said(both)
    # The meter and another call remember who calls; off is everybody's.
    assert '<input type="hidden" name="by" value="east">' in one.text
    assert "by=east" in links(one.text, "Call")["heat"]
    assert "by east" not in said(site.get(links(one.text, "Call")["off"]))
    read = said(site.get(f"{job}/ask?call=heat&by=east&red=valve-w.M1&black=valve-w.M2"))
    assert re.search(r"valve-w.M1 to valve-w.M2 on 'heat' by east 0.\d\d V", read)


def test_what_must_run_is_what_who_calls_needs() -> None:
    circuit = build(load_job(EXAMPLES / f"{ZONES}.job.yaml"))
    needs = Needs(circuit)
    assert callers_of(circuit.job, "heat") == ("east", "west")
    assert "valve-w.open" not in needs.must_run("heat", ["east"])


def test_the_sequence_has_the_same_choice(site: Visitor) -> None:
    job = site.bring(ZONES)
    page = site.get(f"{job}/sequence?call=heat&ends=600").text
    west = site.get(links(page, "Who makes the call")["west"])
    assert "What happens on ‘heat’ by west" in said(west)
    assert "it ends at 600 s" in said(west)
    assert "valve-w.motor" in said(west)
    assert "valve-e.motor" not in said(west)
    assert "by=west" in links(west.text, "Call")["heat"]


def test_where_one_calls_there_is_nothing_to_choose(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    for address in ("ask?call=cool", "sequence?call=cool", "ask?call=off"):
        assert not links(site.get(f"{job}/{address}").text, "Who makes the call")
    assert "no thermostat 'nobody'" in said(site.get(f"{job}/ask?call=cool&by=nobody"))
    assert site.get(f"{job}/drawing?call=cool&by=nobody").status_code == 422
