"""Assumptions on the page and for programs: shown, changed, uploaded, taken back, and asked by the fault finder."""

from __future__ import annotations

import html
import re

from callpath.faults.cost import shipped_minutes
from callpath.faults.practice import hide
from callpath.faults.prior import shipped_priors
from callpath.faults.troubleshoot import Case
from callpath.job import load_job
from callpath.records.schema import Hunt
from callpath.web import practice_page
from callpath.web.proved import proved
from tests.web.site import EXAMPLES, Visitor, said

COMPLAINT = {"do": "tell", "kind": "running", "call": "cool", "runs:cond.compressor": "no", "runs:board.blower": "yes"}
FAR = shipped_minutes().replace("walk: 2.0", "walk: 77")
NEVER_A_LANDING = re.sub(r"(open-landing: +\{weight: )4.0", r"\g<1>0.001", shipped_priors())


def seen(page: str, kind: str) -> str:
    found = re.search(rf'name="kind" value="{kind}"><input type="hidden" name="seen" value="(\d+)"', page)
    assert found is not None
    return found.group(1)


def shown(page: str, kind: str) -> str:
    found = re.search(rf'<textarea id="{kind}-text"[^>]*>(.*?)</textarea>', page, re.S)
    assert found is not None
    return html.unescape(found.group(1)).replace("\r\n", "\n")


def keep(site: Visitor, address: str, kind: str, do: str = "keep", **more: str) -> str:
    page = site.get(address).text
    return site.post(address, {"do": do, "kind": kind, "seen": seen(page, kind), **more}).text


def test_they_are_shown_changed_and_taken_back(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    address = f"{job}/assumptions"
    page = site.get(address).text
    assert shown(page, "minutes") == shipped_minutes()
    assert shown(page, "priors") == shipped_priors()
    changed = keep(site, address, "minutes", text=FAR)
    assert shown(changed, "minutes") == FAR
    assert "What counts: of this job" in " ".join(said(site.get(address)).split())
    keep(site, "/assumptions", "minutes", text=FAR.replace("77", "88"))
    back = keep(site, address, "minutes", "drop")
    assert "walk: 88" in shown(back, "minutes")
    assert "walk: 88" not in shown(keep(site, "/assumptions", "minutes", "drop"), "minutes")
    assert shown(site.get(address).text, "minutes") == shipped_minutes()


def test_a_file_takes_their_place(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    sent = {"do": "keep", "kind": "minutes", "seen": "0", "text": ""}
    raw = FAR.replace("\n", "\r\n").encode()
    page = site.post(f"{job}/assumptions", sent, files={"file": ("mine.yaml", raw)})
    assert shown(page.text, "minutes") == FAR
    again = {**sent, "kind": "priors"}
    for odd, told in ((b"\xff\xfe", "UTF-8"), (b"#" * 70_000, "larger than 64 KiB"), (b"weights: 1", "weights")):
        wrong = site.post(f"{job}/assumptions", again, files={"file": ("odd.yaml", odd)})
        assert wrong.status_code == 422
        assert told in said(wrong)


def test_a_mistake_has_its_place_and_what_was_typed_is_still_there(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    typed = FAR.replace("panel:", "pannel:")
    page = keep(site, f"{job}/assumptions", "minutes", text=typed)
    assert "line 23, column 1: 'pannel' is no such key; did you mean 'panel'?" in html.unescape(page)
    assert shown(page, "minutes") == typed
    late = site.post(f"{job}/assumptions", {"do": "keep", "kind": "minutes", "seen": "9", "text": FAR})
    assert "meanwhile" in said(late)
    for sent in ({"do": "dance"}, {"do": "keep", "text": " "}, {"do": "keep", "text": FAR, "kind": "walks"}):
        assert site.post(f"{job}/assumptions", {"kind": "minutes", "seen": "0", **sent}).status_code == 422


def test_the_fault_finder_asks_under_them(site: Visitor) -> None:
    """What hardly ever comes loose is hardly suspected; what takes long is said to."""
    job = site.bring("garden-cottage")
    usual = said(site.post(f"{job}/fault", COMPLAINT)).partition("Suspects")[2]
    assert "loose at" in usual[:200]
    keep(site, f"{job}/assumptions", "priors", text=NEVER_A_LANDING)
    after = said(site.get(f"{job}/fault")).partition("Suspects")[2]
    assert "loose at" not in after[:200]
    asked = {"seen": [{"call": "cool", "running": {"cond.compressor": False, "board.blower": True}}]}
    api = site.client.post(f"/api{job}/troubleshoot", json=asked).json()
    assert "loose" not in api["suspects"][0]["faults"][0]


def test_an_exercise_keeps_to_what_counted_when_it_began(site: Visitor) -> None:
    """The same seed must hide the same fault as long as the exercise lasts, and its clock must not change."""
    job = site.bring("garden-cottage")
    keep(site, f"{job}/assumptions", "minutes", text=FAR)
    site.post(f"{job}/practice", {"do": "hide", "seed": "4", "faults": "1", "alike": "some"})
    volts = {"do": "test", "kind": "volts", "call": "cool", "red": "cond.Y", "black": "cond.C"}
    before = said(site.post(f"{job}/practice", volts))
    assert "at yard" in before
    minutes = float(re.findall(r"([\d.]+) min, at yard", before)[0])
    assert minutes > 77
    keep(site, f"{job}/assumptions", "minutes", "drop")
    keep(site, f"{job}/assumptions", "priors", text=NEVER_A_LANDING)
    assert f"{minutes} min, at yard" in said(site.get(f"{job}/practice"))
    with site.store.reading() as session:
        exercise = practice_page._exercise(proved(site.file(job)), session.query(Hunt).one())
    assert exercise.faults == hide(Case(load_job(EXAMPLES / "garden-cottage.job.yaml")), 4).faults


def test_the_same_for_programs(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    address = f"/api{job}/assumptions/minutes"
    assert site.client.get(address).json() == {"text": shipped_minutes(), "own": False, "seen": 0}
    kept = site.client.put(address, json={"text": FAR, "seen": 0}).json()
    assert (kept["text"], kept["own"]) == (FAR, True)
    assert site.client.put(address, json={"text": FAR, "seen": 0}).status_code == 422
    wrong = site.client.put(address, json={"text": FAR.replace("panel:", "pannel:"), "seen": kept["seen"]})
    assert (wrong.status_code, wrong.json()["errors"][0]["line"]) == (422, 5)
    back = site.client.put(address, json={"text": "", "seen": kept["seen"]}).json()
    assert (back["text"], back["own"]) == (shipped_minutes(), False)
    office = site.client.put("/api/assumptions/minutes", json={"text": FAR, "seen": 0})
    assert office.status_code == 200
    assert site.client.get(address).json()["text"] == FAR
    assert site.client.get(f"/api{job}/assumptions/walks").status_code == 422
