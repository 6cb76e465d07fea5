"""A job from its beginning to its file, by the forms of the page."""

from __future__ import annotations

import html
import json
import re

import pytest

from callpath.job import read_job
from callpath.job.starting import find_start, starts
from callpath.papers import Diagram, diagram
from callpath.proof.prove import prove
from callpath.web.proved import proved
from tests.web.site import EXAMPLES, Visitor, said


def steps_of(page: str) -> list[str]:
    """Return the steps that a page proposes, as its forms carry them."""
    return list(dict.fromkeys(html.unescape(value) for value in re.findall(r'name="step" value="([^"]*)"', page)))


def test_a_new_job_is_landed_and_proved(site: Visitor) -> None:
    answer = site.post(
        "/new",
        {"title": "Mill", "thermostat": "thermostat/single-supply", "indoor": "indoor/furnace-board",
         "outdoor": "outdoor/condenser", "wall": "18/5", "outside": "18/2", "wall_length": "14 m", "land": "yes"},
    )  # fmt: skip
    assert "✓ Clean" in said(answer)
    assert prove(read_job(site.file(answer.url.path))).verdict == "clean"


def test_a_new_job_begins_like_a_usual_one(site: Visitor) -> None:
    for start in starts():
        drawn = site.get(f"/new/{start.name}/drawing")
        assert drawn.headers["content-type"] == "image/svg+xml"
        assert set(re.findall(r'data-line="(?!jumper)([^"]+)"', drawn.text)) == set(read_job(start.text).landings)
    job = site.post("/new", {"like": "boiler-tt", "title": ""}).url.path
    assert site.file(job) == find_start("boiler-tt").text
    job = site.post("/new", {"like": "boiler-tt", "title": "Smithy"}).url.path
    assert site.file(job) == find_start("boiler-tt").text.replace("Boiler, called by closing its T1 to T2", "Smithy")
    assert site.post("/new", {"like": "boiler"}).status_code == 422
    assert site.get("/new/boiler/drawing").status_code == 422


def test_a_change_leaves_the_drawing_in_its_order(site: Visitor) -> None:
    """Also where a drawing from nothing would stand otherwise."""
    job = site.bring("orchard-heat-pump-o")
    before = proved(site.file(job)).diagram()
    site.edit(job, "land-end", end="wall.red@2", spot="")
    after = proved(site.file(job))
    assert stands(after.diagram()) == stands(before)
    assert stands(diagram(after.job)) != stands(before)


def stands(drawn: Diagram) -> list[str]:
    """Return the terminals of equipment, column by column from the top."""
    strips = [terminal for terminal in drawn.terminals.values() if "." in terminal.name and "@" not in terminal.name]
    return [terminal.name for terminal in sorted(strips, key=lambda each: (each.rect.x, each.rect.y))]


def test_the_least_job_is_a_thermostat_and_everything_can_be_added(site: Visitor) -> None:
    """From a bare thermostat to a clean job, one form at a time: what the page can do is enough for a whole job."""
    job = site.post("/new", {"title": "Barn", "thermostat": "thermostat/single-supply"}).url.path
    assert site.edit(job, "add-equipment", part="indoor/furnace-board", at="cellar").status_code == 200
    site.edit(job, "add-equipment", part="outdoor/condenser", at="yard", name="unit")
    site.edit(
        job, "add-cable", **{"from": "hall", "to": "cellar", "conductors": "red white green yellow", "name": "wall"}
    )
    site.edit(job, "add-cable", **{"from": "cellar", "to": "yard", "conductors": "18/2", "length": "10 m"})
    site.edit(
        job,
        "land-table",
        **{
            "on:wall.red@1": "stat.R", "on:wall.red@2": "board.R", "on:wall.white@1": "stat.W", "on:wall.white@2": "board.W",
            "on:wall.green@1": "stat.G", "on:wall.green@2": "board.G", "on:wall.yellow@1": "stat.Y",
            "on:wall.yellow@2": "board.Y", "on:cable.red@1": "board.Y", "on:cable.red@2": "unit.Y",
            "on:cable.white@1": "board.C",
        },
    )  # fmt: skip
    answer = site.edit(job, "land-end", end="cable.white@2", spot="unit.C")
    assert "✓ Clean" in said(answer)
    assert prove(read_job(site.file(job))).verdict == "clean"


def test_a_file_comes_out_as_it_went_in(site: Visitor) -> None:
    for path in sorted(EXAMPLES.glob("*.job.yaml")):
        job = site.bring(path.name.removesuffix(".job.yaml"))
        assert site.file(job) == path.read_text(encoding="utf-8")


def test_a_change_keeps_the_comments_and_can_be_undone(site: Visitor) -> None:
    job = site.bring("garden-cottage-green-on-common")
    before = site.file(job)
    answer = site.edit(job, "land-end", end="wall.green@2", spot="board.G")
    assert "✓ Clean" in said(answer)
    assert site.file(job) == before.replace("[stat.G, board.C]", "[stat.G, board.G]")
    site.post(f"{job}/undo", {"seen": site.seen(job)})
    assert site.file(job) == before
    site.post(f"{job}/redo", {"seen": site.seen(job)})
    assert site.file(job) != before


def test_picking_an_end_offers_the_spots_at_its_place_only(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    page = site.get(f"{job}?pick=wall.green@2").text
    offered = re.findall(r'class="here" name="spot" value="([^"]*)"', page)
    assert set(offered) == {"board.R", "board.C", "board.W", "board.Y", "board.chassis", ""}


def test_two_who_edit_at_once_lose_nothing(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    seen = site.seen(job)
    first = {"seen": seen, "do": "land-end", "end": "wall.green@2", "spot": "board.W"}
    assert site.post(f"{job}/edit", first).status_code == 200
    answer = site.post(f"{job}/edit", {**first, "end": "wall.white@2", "spot": "board.chassis"})
    assert answer.status_code == 409
    assert "kept as version 3" in said(answer)
    assert "[stat.G, board.W]" in site.file(job)
    assert "[stat.Y, board.Y]" in site.file(job)
    site.post(f"{job}/take", {"seen": site.seen(job), "number": "3"})
    assert "[stat.Y, board.chassis]" in site.file(job)
    differences = said(site.get(f"{job}/versions?older=2&newer=3"))
    assert "wall.white: take it off board.Y and land it on board.chassis" in differences


@pytest.mark.parametrize(
    ("do", "fields", "told"),
    [
        (
            "land-end",
            {"end": "wall.greem@2", "spot": "board.G"},
            "no conductor 'wall.greem'; did you mean 'wall.green'",
        ),
        ("land-end", {"end": "wall.green@2", "spot": "board.Q"}, "'Q'"),
        ("land-end", {"end": "wall.green@2", "spot": "stat.C"}, "hall"),
        ("add-equipment", {"part": "furnace", "at": "cellar", "name": "board"}, "'board' is taken"),
        ("add-equipment", {"part": "furnace", "at": ""}, "say where"),
        ("add-cable", {"from": "hall", "to": "cellar", "conductors": "18/99"}, "18/99"),
        ("add-jumper", {"one": "stat.R", "other": "board.R"}, "a cable goes there"),
        ("settings", {"name": "board", "setting:fuse-amps": "lots"}, "must be a number"),
        ("settings", {"name": "board", "setting:fuse-amp": "3"}, "no setting 'fuse-amp'"),
        ("serves", {"call": "freeze"}, "freeze"),
        ("drop-equipment", {"name": "bored"}, "did you mean 'board'"),
        ("text", {"text": "callpath: 1\nequipmint: {}\n"}, "line 2, column 1"),
        ("dance", {}, "does not do"),
    ],
)
def test_what_is_wrong_is_told_and_changes_nothing(site: Visitor, do: str, fields: dict[str, str], told: str) -> None:
    job = site.bring("garden-cottage")
    answer = site.edit(job, do, **fields)
    assert answer.status_code == 422
    assert told in said(answer)
    assert site.seen(job) == "1"


def test_every_example_can_be_asked_and_played(site: Visitor) -> None:
    """The page says the same as the proof: which functions run on each call."""
    for name in ("inn-everything", "orchard-heat-pump-o", "schoolhouse-zone-valves", "manor-two-sources"):
        job = site.bring(name)
        proof = prove(read_job(site.file(job)))
        for call, result in proof.calls.items():
            page = said(site.get(f"{job}/ask?call={call}"))
            assert all(f"{function}" in page for function in result.running)
            assert site.get(f"{job}/sequence?call={call}&ends=600").status_code == 200


def test_a_meter_shows_what_read_shows(site: Visitor) -> None:
    """25.72 V across the contactor and 10.02 ohms with its lead lifted are the README's tested figures."""
    job = site.bring("garden-cottage")
    assert "25.72 V" in said(site.get(f"{job}/ask?call=cool&red=cond.Y&black=cond.C"))
    assert "10.02 Ω" in said(site.get(f"{job}/ask?meter=ohms&red=cond.Y&black=cond.C&lift=outside.red"))
    assert " A " in said(site.get(f"{job}/ask?call=cool&clamp=outside.red"))
    wrong = site.get(f"{job}/ask?call=cool&red=cond.Z&black=cond.C")
    assert wrong.status_code == 422
    assert "cond.Z" in said(wrong)
    assert site.get(f"{job}/ask?call=dance").status_code == 422
    assert site.get(f"{job}/sequence?call=cool&ends=never").status_code == 422


def test_jobs_are_searched_copied_and_put_away(site: Visitor) -> None:
    cottage, mill = site.bring("garden-cottage"), site.bring("old-mill-chassis-return")
    assert mill not in site.get("/?search=garden").text
    copy = site.post(f"{cottage}/copy").url.path
    assert copy not in (cottage, mill)
    assert "(copy)" in said(site.get(copy))
    site.post(f"{mill}/archive", {"archived": "yes"})
    assert mill not in site.get("/").text
    assert mill in site.get("/?archived=true").text
    site.post(f"{mill}/archive", {"archived": "no"})
    assert mill in site.get("/").text


def test_a_proposed_landing_is_taken_over_whole_or_in_part(site: Visitor) -> None:
    job = site.post(
        "/new",
        {"title": "Mill", "thermostat": "thermostat/single-supply", "indoor": "indoor/furnace-board", "wall": "18/5"},
    ).url.path
    page = site.get(f"{job}/propose").text
    steps = steps_of(page)
    assert len(steps) >= 3
    first = [step for step in steps if '"land"' in step][:1]
    site.edit(job, "steps", step=first)
    landed = [ends for ends in read_job(site.file(job)).landings.values() if ends != (None, None)]
    assert len(landed) == 1
    rest = steps_of(site.get(f"{job}/propose").text)
    assert "✓ Clean" in said(site.edit(job, "steps", step=rest))
    assert "Nothing is to be done" in said(site.get(f"{job}/propose"))
    for wrong in ("land", "[1]", '["dance"]', '["land","wall.mauve","",""]', "[" * 5000):
        assert site.edit(job, "steps", step=wrong).status_code == 422


def test_every_version_is_drawn_with_its_call(site: Visitor) -> None:
    """The drawing has a line for every conductor, and lights the loop that the call closes."""
    job = site.bring("garden-cottage")
    drawn = site.get(f"{job}/drawing?call=cool")
    assert drawn.headers["content-type"] == "image/svg+xml"
    assert set(re.findall(r'data-line="([^"]+)"', drawn.text)) == set(read_job(site.file(job)).landings)
    lit = re.findall(r'class="conductor live" data-line="([^"]+)"', drawn.text)
    assert {"outside.red", "outside.white", "wall.red", "wall.white"} <= set(lit)
    assert site.get(f"{job}/drawing?call=dance").status_code == 422
    assert site.get(f"{job}/drawing?version=9").status_code == 404


def test_the_smallest_repair_is_proposed_and_taken_over(site: Visitor) -> None:
    """The job of the README: one end of the green conductor is moved, and nothing else is touched."""
    job = site.bring("garden-cottage-green-on-common")
    before = site.file(job)
    page = site.get(f"{job}/propose?how=mend").text
    steps = steps_of(page)
    assert [json.loads(step) for step in steps] == [["land", "wall.green", "stat.G", "board.G"]]
    assert "board.fuse opens" in page
    assert "✓ Clean" in said(site.edit(job, "steps", step=steps))
    assert site.file(job) == before.replace("[stat.G, board.C]", "[stat.G, board.G]")


def test_a_fault_that_was_put_right_leaves_the_file(site: Visitor) -> None:
    text = (EXAMPLES / "garden-cottage.job.yaml").read_text(encoding="utf-8")
    text += "faults:\n  - swapped: [wall.white, wall.green]   # at the board\n"
    job = site.post("/upload", files={"file": ("a.job.yaml", text.encode())}).url.path
    page = site.get(f"{job}/propose?how=mend").text
    steps = steps_of(page)
    site.edit(job, "steps", step=steps)
    assert prove(read_job(site.file(job))).verdict == "clean"
    assert read_job(site.file(job)).faults == ()


def test_a_fault_is_planted_to_see_and_the_job_stays_as_it_is(site: Visitor) -> None:
    """An open Y lead kills the compressor; the voltage across its ends is the whole of the source's."""
    job = site.bring("garden-cottage")
    page = said(site.get(f"{job}/ask?call=cool&plant=open&where=outside.red&red=cond.Y&black=cond.C"))
    assert "✗ cond.compressor dead" in page
    assert "0.00 V" in page or "0.01 V" in page
    assert "faults" not in site.file(job)
    wrong = site.get(f"{job}/ask?call=cool&plant=open&where=outside.rad")
    assert wrong.status_code == 422
    assert "outside.red" in said(wrong)
    assert "✗" not in said(site.get(f"{job}/ask?call=cool"))
    # Nothing of the circuit without it is shown as if it were planted; no word of the file's own form.
    for refused in (
        wrong,
        site.get(f"{job}/ask?call=cool&plant=shorted&where=wall.red+and+wall.green&red=cond.Y&black=cond.C"),
    ):
        assert refused.status_code == 422
        for sign in ("runs-h", "table-h", "<output>", "faults["):
            assert sign not in refused.text
    # It is chosen from a list, two things as one.
    form = site.get(f"{job}/ask?call=cool").text
    assert '<option value="short wall.red wall.green" >Touching: wall.red and wall.green</option>' in form
    assert "Welded closed: cond.contactor" in form
    for chosen in (
        "short wall.red wall.green",
        "stuck cond.contactor",
        "dead cond.compressor",
        "loose outside.red cond.Y",
    ):
        planted = site.get(f"{job}/ask?call=cool&fault={chosen.replace(chr(32), chr(43))}")
        assert planted.status_code == 200
        assert "A fault is planted here" in planted.text
        assert re.search(f'<option value="{re.escape(chosen)}" selected', planted.text)
