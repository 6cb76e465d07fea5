"""Proposals on the page: proved for whatever is ticked, taken over one by one, and never for less without saying so."""

from __future__ import annotations

import itertools
import json
from urllib.parse import urlencode

import pytest

from callpath.job.read import known_job, read_job
from callpath.job.starting import find_start
from callpath.proof.prove import prove
from callpath.web.proposal import landing, with_steps
from tests.web.site import EXAMPLES, Visitor, said
from tests.web.test_job import steps_of

FOUR = (
    find_start("furnace-cooling").text.replace(", blue, yellow]}   # 18/5", ", blue]}   # 18/4")
    .replace("  wall.yellow:   [stat.Y, board.Y]\n", "")
)  # fmt: skip
"""A furnace with cooling on four conductors: with the common landed, one call goes short."""


def brought(site: Visitor, text: str) -> str:
    return site.post("/upload", files={"file": ("a.job.yaml", text.encode())}).url.path


def test_whatever_is_ticked_is_proved_as_it_would_be(site: Visitor) -> None:
    """For every choice among the moves the page says what a proof of the job says that has just these made."""
    text = (EXAMPLES / "ballroom-banks-swapped.job.yaml").read_text(encoding="utf-8")
    job = brought(site, text)
    steps = steps_of(site.get(f"{job}/propose?how=mend").text)
    assert len(steps) == 2
    for count in range(len(steps) + 1):
        for ticked in itertools.combinations(steps, count):
            asked = urlencode([("how", "mend"), ("looked", "yes"), *(("step", step) for step in ticked)])
            proof = prove(read_job(with_steps(text, ticked)))
            worse = sum(finding.severity != "note" for finding in proof.findings)
            told = said(site.get(f"{job}/propose?{asked}")).partition("Now")[0]
            assert ("✓ Clean" if not worse else f"✗ {worse} to mend") in told
    assert site.file(job) == text


def test_moves_are_done_one_at_a_time_and_the_rest_is_proposed_anew(site: Visitor) -> None:
    job = site.bring("ballroom-banks-swapped")
    left = steps_of(site.get(f"{job}/propose?how=mend").text)
    while left:
        answer = site.edit(job, "steps", step=left[:1], then="propose", how="mend")
        assert answer.url.path == f"{job}/propose"
        assert len(steps_of(answer.text)) < len(left)
        left = steps_of(answer.text)
    assert "Nothing is to be done" in said(answer)
    assert prove(read_job(site.file(job))).verdict == "clean"


def test_where_everything_is_landed_everything_is_landed_anew(site: Visitor) -> None:
    """With nothing to land, nothing could be served; whoever asks for a landing means another one."""
    job = site.bring("garden-cottage-green-on-common")
    page = site.get(f"{job}/propose")
    assert page.text.count('name="free" value="wall" checked') == 1
    assert ["land", "wall.green", "stat.G", "board.G"] in [json.loads(step) for step in steps_of(page.text)]
    assert "✓ Clean" in said(site.edit(job, "steps", step=steps_of(page.text)))
    assert "Nothing is to be done" in said(site.get(f"{job}/propose"))


def test_a_landing_that_serves_less_says_so_first_and_ticks_nothing(site: Visitor) -> None:
    job = site.bring("shepherds-hut-transformer")
    page = site.get(f"{job}/propose")
    told = said(page)
    assert "This serves less than the wiring does now No more heat" in told
    assert told.index("serves less") < told.index("land ")
    assert "checked><label" not in page.text
    assert 'id="take"' not in page.text


def test_a_ways_out_is_taken_whole_and_comments_stay(site: Visitor) -> None:
    """A cable of five in place of the one of four serves heat too, which four conductors cannot beside cool and fan."""
    job = brought(site, FOUR)
    page = site.get(f"{job}/propose?free=wall&asked=yes").text
    assert page.count("Take this one") >= 2 * 3
    way = next(way for way in landing(FOUR, ["wall"]).ways if way.title.startswith("new cable of 5"))
    answer = site.edit(job, "way", text=way.text, title=way.title)
    assert "✓ Clean" in said(answer)
    assert "way out: new cable of 5 from hall to cellar" in said(answer)
    kept = site.file(job)
    assert known_job(kept).cables["wall"].conductors[-1] == "yellow"
    assert all(line in kept for line in FOUR.splitlines() if line.lstrip().startswith("#") or "condenser" in line)
    assert set(prove(read_job(kept)).serves) == {"cool", "fan", "heat"}


@pytest.mark.parametrize("ticked", [0, 1])
def test_a_splice_comes_with_the_first_conductor_that_is_landed_on_it(site: Visitor, ticked: int) -> None:
    text = find_start("air-handler-cooling").text
    bare = text.replace("  wall.yellow:   [stat.Y, past]\n  outside.red:   [past, cond.Y]\n", "").replace(
        "splices: {past: closet}\n", ""
    )
    steps = ['["land","wall.yellow","stat.Y","past"]', '["land","outside.red","past","cond.Y"]']
    some = read_job(with_steps(bare, steps[ticked:]))
    assert some.splices == {"past": "closet"}
    assert read_job(with_steps(with_steps(bare, steps), [steps[0].replace("past", "")])).splices == {"past": "closet"}
    none = [step.replace("past", "") for step in steps]
    assert read_job(with_steps(with_steps(bare, steps), none)).splices == {}


SHORT = """callpath: 1
title: three conductors for four
equipment:
  stat:  {part: thermostat/single-supply, at: hall}
  board: {part: indoor/furnace-board, at: cellar}
  cond:  {part: outdoor/condenser, at: yard}
cables:
  wall:    {between: [hall, cellar], conductors: [red, white, yellow]}
  outside: {between: [cellar, yard], conductors: [red, white]}
landings:
  wall.red:      [stat.R, board.R]
  wall.white:    [stat.W, board.W]
  wall.yellow:   [stat.G, board.G]
  outside.red:   [board.Y, cond.Y]
  outside.white: [board.C, cond.C]
serves: [fan, cool, heat]
"""


def test_a_call_is_given_up_only_by_whoever_ticks_it_and_never_in_silence(site: Visitor) -> None:
    """The fan, not the heat, though it is written first; and that stands above the buttons."""
    job = brought(site, SHORT.replace("[stat.G, board.G]", "[stat.Y, board.G]"))
    page = site.get(f"{job}/propose?how=mend")
    told, steps = said(page), steps_of(page.text)
    assert "Not everything that is asked for can be served" in told
    assert "No fan" in told
    assert page.text.index('id="less"') < page.text.index('id="step-1"')
    serve = next(step for step in steps if '"serve"' in step)
    assert set(json.loads(serve)[1:]) == {"cool", "heat"}
    ticked = set(steps_of("".join(line for line in page.text.splitlines() if "checked><label" in line)))
    assert ticked == set(steps) - {serve}
    assert "✗ 1 to mend" in told.partition("Now")[0]
    assert page.text.count("Do this one") == 2 * len(ticked)
    asked = urlencode([("how", "mend"), ("looked", "yes"), *(("step", step) for step in steps)])
    told = said(site.get(f"{job}/propose?{asked}"))
    assert "Gives up fan; clean for cool, heat alone" in told
    assert "✓ Clean" not in told


def test_what_a_best_landing_is_not_the_best_of_is_said_where_it_falls_short(site: Visitor) -> None:
    short, whole = brought(site, SHORT), brought(site, SHORT.replace("[fan, cool, heat]", "[heat, fan]"))
    landed = "how=land&asked=yes&free=wall"
    assert "not looked at: a joint on a screw that holds something else already" in said(
        site.get(f"{short}/propose?{landed}")
    )
    assert "not looked at" not in said(site.get(f"{whole}/propose?{landed}"))
