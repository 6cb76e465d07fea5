"""The list of jobs: found by what is in them, on sheets, each with its controls in sight."""

from __future__ import annotations

import re

from callpath.job.read import read_job
from callpath.job.rewrite import with_changes
from callpath.records import history
from callpath.records.shelf import jobs
from tests.web.site import EXAMPLES, Visitor, said

COTTAGE = (EXAMPLES / "garden-cottage.job.yaml").read_text(encoding="utf-8")


def listed(page: str) -> list[str]:
    return re.findall(r'class="job" href="/jobs/([0-9a-f]+)"', page)


def test_jobs_are_found_by_their_equipment_and_their_places(site: Visitor) -> None:
    cottage, dairy = (site.bring(name).rpartition("/")[2] for name in ("garden-cottage", "dairy-float-switch"))

    def found(words: str) -> set[str]:
        return set(listed(site.get(f"/?search={words}").text))

    assert found("float-switch") == found("float switch") == found("CONDENSATE") == {dairy}
    assert found("cellar cond furnace-board") == {cottage}
    assert found("garden") == {cottage}
    # Words of a comment are nobody's equipment: the first line of every example names the farm.
    assert "farm" in COTTAGE.partition("\n")[0]
    assert found("farm") == set()
    assert "No job has “farm”" in said(site.get("/?search=farm"))
    assert found("thermostat%25") == found("_____") == set()


def test_what_is_in_the_title_comes_first(site: Visitor) -> None:
    with site.store.writing() as session:
        for title in ("Barn", "Yard barn", "Mill"):
            history.begin(session, with_changes(COTTAGE, title=title), 1)
    assert re.findall(r"<b>([^<]+)</b>", site.get("/?search=yard").text)[0] == "Yard barn"
    assert len(listed(site.get("/?search=yard").text)) == 3


def test_every_job_is_on_one_sheet(site: Visitor) -> None:
    with site.store.writing() as session:
        made = {history.begin(session, COTTAGE, 1).id for _ in range(120)}
    sheets = [listed(site.get(f"/?sheet={number}").text) for number in (1, 2, 3)]
    assert [len(sheet) for sheet in sheets] == [50, 50, 20]
    assert {job for sheet in sheets for job in sheet} == made
    assert "120 jobs, 51 to 100" in said(site.get("/?sheet=2"))
    assert "no such sheet" in said(site.get("/?sheet=9"))
    assert listed(site.get("/?sheet=-3").text) == sheets[0]
    found = site.get("/?search=cond&sheet=2").text
    assert "sheet 2 of 3" in said(site.get("/?search=cond&sheet=2"))
    assert "search=cond" in found.partition("Sheets of jobs")[2]
    with site.store.reading() as session:
        some = sorted(made)[:7]
        assert jobs(session, among=some, most=5)[1] == 7
        assert {job.id for job in jobs(session, search="garden", among=some)[0]} == set(some)
        assert jobs(session, among=[]) == ([], 0)


def test_putting_away_goes_back_to_the_same_list(site: Visitor) -> None:
    with site.store.writing() as session:
        made = [history.begin(session, with_changes(COTTAGE, title=f"Barn & {n}"), 1).id for n in range(51)]
    site.bring("dairy-float-switch")
    page = site.get("/?search=barn+%26&sheet=2")
    (last,) = listed(page.text)
    sent = dict(re.findall(r'<input type="hidden" form="do" name="(\w+)" value="([^"]*)">', page.text))
    assert sent == {"search": "barn &amp;", "away": "", "sheet": "2"}
    sent["search"] = "barn &"
    # It was the only one on its sheet, so that the sheet before is the last one now.
    after = site.post(f"/jobs/{last}/archive", {**sent, "archived": "yes"})
    assert str(after.url).endswith("/?search=barn%20%26")
    assert len(listed(after.text)) == 50
    found = site.post(f"/jobs/{last}/archive", {"search": "barn", "away": "yes", "sheet": "1", "archived": "no"})
    assert str(found.url).endswith("/?search=barn&archived=true")
    assert "No job has “barn”" in said(found)
    # Only what the list knows comes back, whatever else a form says.
    odd = {"search": "//far.example/", "away": "//far.example", "sheet": "9" * 30, "then": "//far.example"}
    answer = site.post(f"/jobs/{made[0]}/archive", {**odd, "archived": "yes"})
    assert answer.status_code == 422
    assert made[0] in listed(site.get("/").text) + listed(site.get("/?sheet=2").text)
    odd["sheet"] = "9"
    assert str(site.post(f"/jobs/{made[0]}/archive", {**odd, "archived": "yes"}).url).endswith(
        ":8240/?search=//far.example/"
    )
    assert str(site.post(f"/jobs/{made[1]}/archive", {"archived": "yes"}).url).endswith(":8240/")


def test_a_new_job_in_which_nothing_can_run_is_not_told_clean(site: Visitor) -> None:
    given = {"thermostat": "thermostat/line-voltage", "indoor": "indoor/furnace-board", "wall": "18/5", "land": "yes"}
    told = said(site.post("/new", given))
    assert "✗ Nothing runs on any call" in told
    assert "stat works by line voltage and board is worked by 24 V contacts: they do not fit each other" in told
    assert "✓ Clean" not in told


def test_a_cable_that_is_none_makes_no_job(site: Visitor) -> None:
    given = {"thermostat": "thermostat/single-supply", "indoor": "indoor/furnace-board", "wall": "18/5x"}
    told = site.post("/new", given)
    assert told.status_code == 422
    assert "wall cable: '18/5x' is no gauge and number; did you mean '18/5'?" in said(told)


def test_a_new_job_whose_cable_is_too_long_says_so_at_once_with_the_ways_out(site: Visitor) -> None:
    """C: 500 ft of 22 AWG lose more than a contactor's inrush leaves over; what it asks for stays asked for."""
    given = {
        "thermostat": "thermostat/single-supply", "indoor": "indoor/furnace-board", "wall": "18/5", "land": "yes",
        "outdoor": "outdoor/condenser", "outside": "22/2", "outside_length": "250 ft",
    }  # fmt: skip
    answer = site.post("/new", given)
    told = said(answer)
    assert "✓ Clean" not in told
    assert "No cool : 'cool' beside fan, heat fails the proof however it is landed: cond.contactor sees 14." in told
    assert "needs 18 V to pull in" in told
    assert told.index("No cool") < told.index("Ways out")
    assert "new cable of" in told
    kept = read_job(site.file(answer.url.path.partition("/propose")[0]))
    assert kept.serves is None
    assert kept.landings["wall.white"] == ("stat.W", "board.W")
