"""Changing a job by the forms of a device, a cable and the rows of the strips."""

from __future__ import annotations

import re

import pytest

from callpath.job.read import read_job
from callpath.units import length_ft
from tests.web.site import Visitor, said


def test_a_jumper_is_put_in_by_two_taps_and_taken_out_by_one(site: Visitor) -> None:
    job = site.bring("bakery-split-no-jumper")
    page = site.get(job)
    assert f'href="{job}?jumper=stat.Rc#' in page.text
    page = site.get(f"{job}?jumper=stat.Rc").text
    offered = re.findall(r'class="here" name="other" value="([^"]*)"', page)
    assert set(offered) == {"stat.Rh", "stat.W", "stat.Y", "stat.G", "stat.C"}
    assert "✓ Clean" in said(site.edit(job, "add-jumper", one="stat.Rc", other="stat.Rh"))
    page = site.get(job).text
    pairs = re.findall(r'name="pair" value="([^"]*)"', page)
    assert pairs == ["stat.Rc stat.Rh"] * 2
    site.edit(job, "drop-jumper", pair=pairs[0])
    assert read_job(site.file(job)).jumpers == ()
    assert site.get(f"{job}?jumper=nothing.Q").status_code == 200


def test_a_device_is_renamed_moved_and_taken_out(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    page = said(site.get(f"{job}/equipment/cond"))
    assert "Cooling-only outdoor unit" in page
    assert "pressure-switches" in page
    site.edit(job, "rename", kind="equipment", name="cond", new="unit")
    site.edit(job, "rename", kind="location", name="yard", new="orchard")
    after = read_job(site.file(job))
    assert after.landings["outside.red"] == ("board.Y", "unit.Y")
    assert after.equipment["unit"].at == "orchard"
    assert "cable outside, which comes to nothing else" in said(site.get(f"{job}/equipment/unit")).casefold()
    assert "✓ Clean" in said(site.edit(job, "move", name="unit", at="roof"))
    assert read_job(site.file(job)).cables["outside"].between == ("cellar", "roof")
    site.edit(job, "drop-equipment", name="unit")
    assert "outside" not in read_job(site.file(job)).cables
    for _ in range(4):
        site.post(f"{job}/undo", {"seen": site.seen(job)})
    assert "cond.Y" in site.file(job)
    assert site.get(f"{job}/equipment/unit").status_code == 422


@pytest.mark.parametrize(
    ("given", "colours"), [({"conductors": "18/5"}, 5), ({"conductors": "18/5", "own": "red tan"}, 2)]
)
def test_a_cable_is_added_by_a_button_or_its_own_colours(site: Visitor, given: dict[str, str], colours: int) -> None:
    job = site.bring("garden-cottage")
    assert 'value="18/8"' in site.get(f"{job}/cable").text
    site.edit(job, "add-cable", **{"from": "hall", "to": "yard", **given})
    assert len(read_job(site.file(job)).cables["cable"].conductors) == colours
    site.edit(job, "copy-cable", name="cable")
    assert len(read_job(site.file(job)).cables["cable-2"].conductors) == colours
    site.edit(job, "set-cable", name="cable", length="20 m", own="red blue black")
    cable = read_job(site.file(job)).cables["cable"]
    assert (cable.conductors, round(cable.length_ft)) == (("red", "blue", "black"), 66)
    assert "66" in said(site.get(f"{job}/cables/cable")) or "65.6" in site.get(f"{job}/cables/cable").text


def test_everything_is_landed_in_one_table(site: Visitor) -> None:
    job = site.bring("garden-cottage-green-on-common")
    page = site.get(f"{job}/table").text
    assert page.count("<select name=") == 10
    assert "✓ Clean" in said(site.edit(job, "land-table", **{"on:wall.green@2": "board.G"}))


@pytest.mark.parametrize(
    ("page", "do", "typed", "told"),
    [
        ("equipment/board", "settings", {"name": "board", "setting:fuse-amps": "three"}, "fuse-amps"),
        ("equipment/board", "rename", {"kind": "equipment", "name": "board", "new": "two words"}, "two words"),
        ("equipment/board", "rename", {"kind": "location", "name": "cellar", "new": "yard"}, "yard"),
        ("cables/wall", "set-cable", {"name": "wall", "length": "45 yards", "own": "red tan"}, "45 yards"),
        ("cables/wall", "rename", {"kind": "cable", "name": "wall", "new": "outside"}, "outside"),
        ("cable", "add-cable", {"from": "yard", "to": "hall", "length": "-1 ft", "name": "a b", "own": "red"}, "a b"),
        (
            "add",
            "add-equipment",
            {"part": "accessory/relay", "at": "cellar", "name": "a b", "setting:coil-va": "8"},
            "a b",
        ),
    ],
)
def test_a_form_that_did_not_go_is_shown_again_with_what_was_typed(
    site: Visitor, page: str, do: str, typed: dict[str, str], told: str
) -> None:
    job = site.bring("garden-cottage")
    asked = f"?part={typed['part']}" if "part" in typed else ""
    before = site.get(f"{job}/{page}{asked}").text
    (on,) = set(re.findall('name="on" value="([^"]*)"', before))
    answer = site.edit(job, do, on=on, **typed)
    assert answer.status_code == 422
    alert = re.search('id="alert".*?</div>', answer.text, re.DOTALL)
    assert alert is not None
    assert told in alert.group()
    assert answer.text.count('id="alert"') == 1
    # The same page, and all of it as it was but for the alert and what was typed.
    headings = [re.findall("<h[23].*?>(.*?)</h", text) for text in (before, answer.text)]
    assert headings[0] == [heading for heading in headings[1] if heading != "That was not done"]
    for key, value in typed.items():
        if key not in ("kind", "name", "part") or (key == "name" and do.startswith("add")):
            assert f'value="{value}"' in answer.text or f"selected>{value}<" in answer.text, key
    # What it is about has gone meanwhile: then the job's own page tells it.
    assert site.edit(job, do, on="equipment/gone", **typed).status_code == 422
    assert site.edit(job, do, on="castle", **typed).status_code == 422


@pytest.mark.parametrize(
    ("typed", "unit", "length"),
    [
        ("45", "ft", "45 ft"),
        ("14", "m", "14 m"),
        ("14,5", "m", "14.5 m"),
        ("45 ft", "m", "45 ft"),
        ("12 m", "ft", "12 m"),
    ],
)
def test_a_length_is_a_number_and_a_tick(site: Visitor, typed: str, unit: str, length: str) -> None:
    """What stands beside the number itself counts before what is ticked."""
    job = site.bring("garden-cottage")
    site.edit(job, "set-cable", name="wall", length=typed, length_in=unit)
    new = {"thermostat": "thermostat/single-supply", "indoor": "indoor/furnace-board", "wall": "18/5"}
    made = site.post("/new", {**new, "wall_length": typed, "wall_length_in": unit}).url.path
    for file in (site.file(job), site.file(made)):
        assert read_job(file).cables["wall"].length_ft == pytest.approx(length_ft(length))
