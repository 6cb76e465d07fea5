"""Making a job: what is wrong is told beside its own form, which is open and has kept what was typed."""

from __future__ import annotations

from tests.records.pictures import picture
from tests.web.site import Visitor, said

MADE = {"thermostat": "thermostat/single-supply", "indoor": "indoor/furnace-board", "title": "Loft"}


def first_form(page: str) -> str:
    """Return what stands before the second form of the page's own part."""
    return page.partition("<h1>New job</h1>")[2].partition("</form>")[0]


def test_what_is_wrong_with_the_form_is_told_in_it(site: Visitor) -> None:
    answer = site.post("/new", {**MADE, "wall": "18/5", "wall_length": "45 yards", "outside": "20/2"})
    assert answer.status_code == 422
    form = first_form(answer.text)
    assert '<details class="panel" id="made" open>' in form
    assert 'id="alert"' in form
    for kept in ('value="Loft"', 'value="45 yards"', 'value="18/5"', 'value="20/2"'):
        assert kept in form
    assert answer.text.count('id="alert"') == 1


def test_what_is_wrong_with_a_usual_job_is_told_beside_those(site: Visitor) -> None:
    answer = site.post("/new", {"like": "castle", "title": "Mine"})
    assert answer.status_code == 422
    assert 'value="Mine"' in first_form(answer.text)
    assert 'id="alert"' in first_form(answer.text)


def test_what_is_wrong_with_a_file_is_told_beside_it(site: Visitor) -> None:
    answer = site.post("/upload", files={"file": ("a.jpg", picture("JPEG"))})
    assert "that is no job file (it looks like a picture)" in said(answer)
    assert 'id="alert"' in first_form(answer.text)
    assert 'action="/upload"' in first_form(answer.text)
    assert "choose a job file first" in said(site.post("/upload", {}))


def test_the_other_ways_stand_at_the_top(site: Visitor) -> None:
    top = first_form(site.get("/new").text)
    assert 'href="#bring-h"' in top
    opened = site.get("/new?made=yes").text
    assert '<details class="panel" id="made" open>' in first_form(opened)
