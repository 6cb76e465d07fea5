"""A page that takes long: the browser sees how far it is, can stop it, and gets its answer once, and never a stale one."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx2 as httpx
import pytest
from starlette.testclient import TestClient

from callpath.errors import StoppedError
from callpath.progress import step
from callpath.records.store import open_store
from callpath.web import practice_page, proved
from callpath.web.app import create_app
from callpath.web.patience import Desk, Patience, Work, _asked
from tests.web.site import EXAMPLES, Visitor

PAGE = {"accept": "text/html"}
# Longer than the busiest machine takes: what is waited for is there long before, and only a failure waits it out.
LONG_S = 60.0


class Gate:
    """Slow work: goes on until it is let through, and tells of it."""

    def __init__(self, work: Any) -> None:
        self.work, self.times = work, 0
        self.told, self.through, self.ended = threading.Event(), threading.Event(), threading.Event()

    def __call__(self, *given: Any, **options: Any) -> Any:
        self.times += 1
        try:
            while not self.through.wait(0.01):
                step("minding the gate", 0.25)
                self.told.set()
            return self.work(*given, **options)
        finally:
            self.ended.set()


@contextmanager
def somebody(folder: Path, monkeypatch: pytest.MonkeyPatch, patient_s: float) -> Iterator[Visitor]:
    """Return somebody at a page that has one loop for all their requests, as a server has."""
    monkeypatch.setattr(Patience.__init__, "__kwdefaults__", {"patient_s": patient_s})
    store = open_store(f"sqlite:///{folder / 'callpath.db'}")
    made = Visitor.__new__(Visitor)
    made.store = store
    with TestClient(create_app(store), base_url="http://localhost:8240") as client:
        made.client = client
        yield made
    store.close()


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Visitor]:
    """Return somebody at a page of little patience, where on a busy machine any request may become work."""
    with somebody(tmp_path, monkeypatch, 0.15) as made:
        yield made


@pytest.fixture
def gate(monkeypatch: pytest.MonkeyPatch) -> Gate:
    made = Gate(proved.prove)
    monkeypatch.setattr(proved, "prove", made)
    monkeypatch.setattr(proved, "_kept", type(proved._kept)())
    return made


def bring(site: Visitor, gate: Gate | None = None) -> str:
    text = (EXAMPLES / "garden-cottage.job.yaml").read_text(encoding="utf-8")
    answer = site.client.post("/api/jobs", json={"text": text})
    assert answer.status_code == 201
    return f"/jobs/{answer.json()['id']}"


def ask(site: Visitor, address: str) -> httpx.Response:
    return site.client.get(address, headers=PAGE, follow_redirects=False)


def ready(site: Visitor, work: str) -> None:
    until = time.monotonic() + LONG_S
    while site.client.get(f"{work}/state").json()["state"] != "ready":
        assert time.monotonic() < until, "never ready"
        time.sleep(0.02)


def seen_through(site: Visitor, answer: httpx.Response) -> httpx.Response:
    """Return where a browser ends up that watches whatever becomes work, and follows."""
    while answer.status_code == 303:
        where = answer.headers["location"]
        if where.startswith("/underway/"):
            ready(site, where)
        answer = ask(site, where)
    return answer


def test_a_slow_page_is_watched_and_comes_once(site: Visitor, gate: Gate) -> None:
    job = bring(site)
    sent = ask(site, job)
    assert sent.status_code == 303
    work = sent.headers["location"]
    assert gate.told.wait(LONG_S)
    shown = site.client.get(work, headers=PAGE)
    assert "Minding the gate" in shown.text
    assert 'value="0.25"' in shown.text
    state = site.client.get(f"{work}/state").json()
    assert (state["state"], state["doing"], state["done"]) == ("working", "minding the gate", 0.25)
    # Asking again, as by loading the page anew, begins nothing anew.
    assert ask(site, job).headers["location"] == work
    gate.through.set()
    ready(site, work)
    back = ask(site, work)
    assert (back.status_code, back.headers["location"]) == (303, job)
    page = ask(site, job)
    assert page.status_code == 200
    assert "Garden cottage" in page.text
    assert page.headers.get_list("content-security-policy") != []
    assert gate.times == 1
    assert ask(site, work).status_code == 404


def test_it_can_be_stopped_and_leads_back(site: Visitor, gate: Gate) -> None:
    job = bring(site)
    work = ask(site, job).headers["location"]
    stopped = site.client.post(f"{work}/stop", data={"csrf": site.token()}, follow_redirects=False)
    assert (stopped.status_code, stopped.headers["location"]) == (303, job)
    assert gate.ended.wait(LONG_S)
    assert site.client.get(f"{work}/state").status_code == 404
    gate.through.set()
    assert seen_through(site, ask(site, job)).status_code == 200


def test_a_form_is_not_sent_twice(site: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    gate = Gate(practice_page.hide)
    monkeypatch.setattr(practice_page, "hide", gate)
    job = bring(site)
    form = {"csrf": site.token(), "do": "hide", "seed": "3", "faults": "1", "alike": "some"}
    sent = site.client.post(f"{job}/practice", data=form, headers=PAGE, follow_redirects=False)
    work = sent.headers["location"]
    assert work.startswith("/underway/")
    gate.through.set()
    ready(site, work)
    answer = ask(site, work)
    assert (answer.status_code, answer.headers["location"]) == (303, f"{job}/practice")
    assert gate.times == 1
    assert "The complaint" in site.client.get(f"{job}/practice").text


def test_what_was_asked_before_a_change_is_not_shown_after_it(site: Visitor, gate: Gate) -> None:
    job = bring(site)
    work = ask(site, job).headers["location"]
    gate.through.set()
    ready(site, work)
    form = {"csrf": site.token(), "archived": "yes"}
    seen_through(site, site.client.post(f"{job}/archive", data=form, headers=PAGE, follow_redirects=False))
    assert "put away" in seen_through(site, ask(site, job)).text


def test_a_program_may_ask_to_be_answered_later(site: Visitor, gate: Gate) -> None:
    """RFC 7240, section 4.1: ``Prefer: respond-async`` (from memory)."""
    job = bring(site)
    sent = site.client.get(f"/api{job}/prove", headers={"prefer": "respond-async"})
    assert sent.status_code == 202
    work = sent.headers["location"]
    assert gate.told.wait(LONG_S)
    assert site.client.get(work).json()["doing"] == "minding the gate"
    gate.through.set()
    until = time.monotonic() + LONG_S
    while (answer := site.client.get(work)).status_code == 202:
        assert time.monotonic() < until, "never ready"
        time.sleep(0.02)
    assert answer.json() == site.client.get(f"/api{job}/prove").json()
    assert site.client.get(work).status_code == 404


def test_a_program_may_stop_what_it_asked(site: Visitor, gate: Gate) -> None:
    job = bring(site)
    work = site.client.get(f"/api{job}/prove", headers={"prefer": "respond-async"}).headers["location"]
    assert site.client.delete(work).status_code == 204
    assert gate.ended.wait(LONG_S)
    assert site.client.delete(work).status_code == 404


def test_what_is_quick_is_answered_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with somebody(tmp_path, monkeypatch, LONG_S) as site:
        job = bring(site)
        assert site.client.get(job, headers=PAGE).status_code == 200
        assert site.client.get(f"/api{job}/prove", headers={"prefer": "respond-async"}).status_code == 200


def test_somebody_elses_work_is_not_there() -> None:
    desk, work = Desk(), Work("GET", "/jobs/1", "callpath=a", person_id=1)
    assert desk.put(work)
    assert desk.find(work.key, 1) is work
    with pytest.raises(Exception, match="no such work"):
        desk.find(work.key, 2)
    assert desk.asked_before("callpath=b", "/jobs/1") is None


def test_a_desk_holds_so_much_and_no_more() -> None:
    desk = Desk()
    works = [Work("GET", f"/jobs/{number}", "callpath=a", person_id=1) for number in range(80)]
    taken = [work for work in works if desk.put(work)]
    assert len(taken) == 64
    taken[5].ended = taken[5].began
    late = Work("GET", "/jobs/late", "callpath=a", person_id=1)
    assert desk.put(late)
    desk.stop_all()
    with pytest.raises(StoppedError):
        late.hear("going on", None)


@pytest.mark.parametrize("path", ["/login", "/first", "/logout", "/me", "/people/3", "/enter"])
def test_what_lets_somebody_in_or_out_is_waited_for(path: str) -> None:
    """Its answer holds a login, or ends the one by which it would be fetched."""
    headers = [(b"cookie", b"callpath=x"), (b"accept", b"text/html")]
    scope = {"headers": headers, "method": "POST", "query_string": b"", "raw_path": b"/", "path": path}
    assert _asked(scope) is None
    assert _asked({**scope, "path": "/jobs/1/edit"}) is not None
