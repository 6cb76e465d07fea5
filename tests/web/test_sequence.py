"""The sequence on the page: what is drawn at a moment is what the settled circuit says, and everything can come between."""

from __future__ import annotations

import json
import re
from html import unescape
from xml.etree import ElementTree as ET

import pytest

from callpath.calls.closing import given_for
from callpath.calls.play import play
from callpath.circuit.build import build
from callpath.circuit.snapshot import snapshot
from callpath.job import load_job
from callpath.papers.live import loops
from tests.web.site import EXAMPLES, Visitor, said


def lit(drawing: str) -> set[str]:
    return {
        group.get("data-line", "")
        for group in ET.fromstring(drawing).iter()
        if "live" in (group.get("class") or "").split()
    } - {""}


@pytest.mark.parametrize("narrow", ["", "&narrow=true"])
def test_a_moment_is_drawn_from_the_settled_circuit(site: Visitor, narrow: str) -> None:
    """While a call lasts its steady loops are lit; after it, the loops of what runs on; in the end, none but the thermostat's."""
    job = site.bring("garden-cottage")
    circuit = build(load_job(EXAMPLES / "garden-cottage.job.yaml"))
    for at, call in ((0, "cool"), (299, "cool"), (300, "fan"), (599.9, "fan"), (600, "off"), (14400, "off")):
        drawn = lit(site.get(f"{job}/sequence/drawing?call=cool&ends=600&do=then+fan&when=300&at={at}{narrow}").text)
        steps = {step for loop in loops(snapshot(circuit, given_for(circuit, call))) for step in loop.path}
        assert drawn == steps & set(circuit.job.landings), at
        assert drawn or call == "off"


def test_the_page_has_what_each_moment_lights(site: Visitor) -> None:
    """What the player puts on and off is what the server draws, both ways round, on both layouts."""
    job = site.bring("inn-everything")
    query = "call=heat&ends=600"
    page = site.get(f"{job}/sequence?{query}").text
    found = re.search(r'id="player-data">(.*?)</script>', page)
    assert found is not None
    moments = json.loads(unescape(found.group(1)))
    circuit = build(load_job(EXAMPLES / "inn-everything.job.yaml"))
    played = play("heat", ends=600).timing(circuit)
    assert [moment["at"] for moment in moments] == [moment.at_s for moment in played.moments]
    for moment in moments[:: len(moments) // 3]:
        for narrow in ("", "&narrow=true"):
            drawing = site.get(f"{job}/sequence/drawing?{query}&at={moment['at']}{narrow}").text
            assert lit(drawing) == set(moment["lines"])
            for line, ahead in moment["lines"].items():
                (group,) = [g for g in ET.fromstring(drawing).iter() if g.get("data-line") == line]
                hidden = {
                    p.get("class"): p.get("display") == "none" for p in group if p.get("class") in ("ahead", "astern")
                }
                assert hidden == {"ahead": not ahead, "astern": ahead}


def test_every_moment_is_a_link_that_needs_no_script(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    page = site.get(f"{job}/sequence?call=cool&ends=600").text
    links = [unescape(link) for link in re.findall(r'<a class="moment" href="([^"]+)"', page)]
    address = next(link for link in links if "at=600.0#" in link)
    later = site.get(address).text
    image = unescape(re.findall(r'<noscript><img src="([^"]+)"', later)[0])
    assert "at=600.0" in image
    assert site.get(image).headers["content-type"] == "image/svg+xml"
    panel = re.findall(r'<div class="panel instant" data-instant="\d+" >(.*?)</div>', later, re.S)
    assert len(panel) == 1
    assert "runs: <b>board.blower</b>" in panel[0]
    assert "the compressor stops" in panel[0]


@pytest.mark.parametrize(
    ("example", "query", "told"),
    [
        ("brewery-two-stages", "call=cool&do=then+cool-2&when=600&ends=1200", "the call becomes 'cool-2'"),
        ("garden-cottage", "call=cool&do=power-off+everything&when=120&do=power-on+everything&when=150", "the power fails"),
        ("brewery-two-stages", "call=heat&do=no-flame+board.heat&when=0", "no flame is proved"),
        ("garden-cottage", "call=cool&stopped-ago=60", "short-cycle protection holds it back"),
        ("inn-everything", "call=heat&by=stat-n", "stat-n closes W"),
        ("inn-everything", "call=heat&by=stat-n&do=then+stat-s%3Dheat&when=90", "the call is 'heat' stat-s"),
        ("inn-everything", "call=cool&do=open+float-n.switch&when=30", "float-n.switch"),
        ("orchard-defrost-board", "call=heat&frost=yes", "defrost"),
    ],
)  # fmt: skip
def test_all_that_can_come_between(site: Visitor, example: str, query: str, told: str) -> None:
    job = site.bring(example)
    page = site.get(f"{job}/sequence?{query}")
    assert page.status_code == 200, said(page)
    assert told in said(page).partition("What happens on")[2]


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ("ends=never", "'never' is no moment"),
        ("ends=14401", "is no moment"),
        ("do=dance+board&when=5", "nothing that can happen"),
        ("do=open+board.fuse&when=5", "no field contact"),
        ("do=power-off+bord&when=5", "did you mean 'board'"),
        ("by=stats", "did you mean 'stat'"),
        ("at=soon", "is no moment"),
    ],
)
def test_what_cannot_be_played_is_told_and_kept_in_the_form(site: Visitor, query: str, told: str) -> None:
    job = site.bring("garden-cottage")
    page = site.get(f"{job}/sequence?call=cool&{query}")
    assert page.status_code == 422
    assert told in said(page)
    assert site.get(f"{job}/sequence/drawing?call=cool&at=0&{query}").status_code == 422


def test_a_row_can_be_taken_out_again(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    page = site.get(f"{job}/sequence?call=cool&do=then+fan&when=300&do=then+off&when=500").text
    links = re.findall(r'data-in-place href="([^"]+)"', page)
    assert len(links) == 2
    left = said(site.get(unescape(links[0]))).partition("What happens on")[2]
    assert "becomes 'fan'" not in left
    assert "the call 'cool' ends" in left
