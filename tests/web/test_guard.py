"""What the page keeps out: other sites' forms, other names, bodies without end, files that are none, whoever has no key."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from callpath.errors import JobError
from callpath.job import read_job
from callpath.web import app
from callpath.web.guard import MOST_BYTES
from tests.web.site import EXAMPLES, Visitor, said, visitor

ROUTES = [
    (method, route.path) for room in app.ROOMS for route in room.router.routes for method in sorted(route.methods)
]


def test_every_form_needs_its_token(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    for method, path in ROUTES:
        if method != "POST":
            continue
        address = path.replace("/jobs/{job_id}", job)
        for sent in ({}, {"csrf": "0" * 64}, {"csrf": "é"}):
            answer = site.client.post(address, data={**sent, "seen": "1", "do": "serves", "title": "x"})
            assert answer.status_code == 403, (path, said(answer))
    assert site.seen(job) == "1"
    assert len(re.findall('class="job"', site.get("/").text)) == 1


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"origin": "http://["},
        {"origin": "http://localhost:9999"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_another_sites_page_changes_nothing(site: Visitor, headers: dict[str, str]) -> None:
    answer = site.post("/new", {"title": "x", "thermostat": "thermostat/heat-only"}, headers=headers)
    assert answer.status_code == 403
    assert "No job yet" in said(site.get("/"))


def test_it_answers_to_its_own_name_only(site: Visitor) -> None:
    """A page elsewhere may point a name of its own at 127.0.0.1; the name gives it away."""
    for host in ("elsewhere.example", "elsewhere.example:8240", "localhost.elsewhere.example", "", "[", "[::1"):
        assert site.client.get("/", headers={"host": host}).status_code == 421
    assert site.client.get("/", headers={"host": "localhost:1"}).status_code == 200


def test_every_answer_carries_its_headers(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    addresses = [path.replace("/jobs/{job_id}", job) for method, path in ROUTES if method == "GET"]
    nonces = set()
    for address in (*addresses, "/static/page.css", "/nowhere", "/jobs/none"):
        answer = site.get(address)
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["x-frame-options"] == "DENY"
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        nonces |= set(re.findall(r"'nonce-([^']+)'", policy))
        if "text/html" in answer.headers["content-type"]:
            assert answer.headers["cache-control"] == "no-store"
            assert not re.search(r"<[^>]*\s(on\w+|style)=", answer.text)
            assert not re.search(r"""<script(?![^>]*\s(?:src=|type="application/json"))""", answer.text)
            assert not re.search(r"""(?:src|href|action)=["'](?:https?:)?//""", answer.text)
            assert "Power off and prove it off" in said(answer)
    assert len(nonces) == len(addresses) + 3


def test_the_cookie_is_for_the_server_alone(site: Visitor) -> None:
    cookie = site.get("/").headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie


def test_from_the_network_nobody_comes_in_without_the_key(tmp_path: Path) -> None:
    stranger = visitor(tmp_path, door_key="the-right-key")
    for method, path in ROUTES:
        answer = stranger.client.request(method, path.replace("{job_id}", "none"))
        # Nobody logs in where a key is all that is asked for.
        assert answer.status_code == (403 if path in ("/login", "/first") else 401), path
    assert stranger.get("/enter?key=the-wrong-key").status_code == 401
    assert stranger.get("/").status_code == 401
    stranger.client.cookies.set("callpath", "0" * 32 + "." + "0" * 64)
    assert stranger.get("/").status_code == 401
    stranger.client.cookies.clear()
    assert stranger.get("/enter?key=the-right-key").status_code == 200
    assert stranger.get("/").status_code == 200
    stranger.client.close()
    stranger.store.close()


def test_a_body_without_end_is_turned_away(site: Visitor) -> None:
    def endless() -> Iterator[bytes]:
        for _ in range(100):
            yield b"x" * (MOST_BYTES // 10)

    kind = {"content-type": "application/x-www-form-urlencoded"}
    assert site.client.post("/upload", content=endless(), headers=kind).status_code == 413
    assert site.client.post("/upload", content=b"x", headers={"content-length": str(MOST_BYTES + 1)}).status_code == 413


@pytest.mark.parametrize("name", ["../../etc/passwd", 'a".yaml', "<script>alert(1)</script>", "\x00", "é" * 300])
def test_a_files_name_is_only_shown_and_made_harmless(site: Visitor, name: str) -> None:
    raw = (EXAMPLES / "garden-cottage.job.yaml").read_bytes()
    answer = site.post("/upload", files={"file": (name, raw)})
    assert "<script>alert" not in answer.text
    assert "etc/passwd" not in answer.text


def test_what_a_job_says_is_shown_not_run(site: Visitor) -> None:
    text = (EXAMPLES / "garden-cottage.job.yaml").read_text(encoding="utf-8")
    evil = "<img src=x onerror=alert(1)>"
    text = text.replace("title: Garden cottage", f"title: '{evil}' # ").replace("at: hall", f"at: '{evil}'")
    text = text.replace("[hall,", f"['{evil}',")
    job = site.post("/upload", files={"file": ("a.job.yaml", text.encode())}).url.path
    for part in ("", "/ask", "/sequence?call=cool", "/versions?older=1&newer=1", "/text", "?pick=%22%3E%3Ci%3E"):
        page = site.get(job + part)
        assert page.status_code == 200
        assert "<img src=x" not in page.text
        assert '"><i>' not in page.text


_raw = st.one_of(
    st.binary(max_size=400),
    st.text(max_size=200).map(lambda text: text.encode("utf-8", "surrogatepass")),
    st.sampled_from(sorted(EXAMPLES.glob("*.job.yaml"))).flatmap(
        lambda path: st.tuples(st.integers(0, 900), st.binary(max_size=12)).map(
            lambda cut: path.read_bytes()[: cut[0]] + cut[1] + path.read_bytes()[cut[0] + 3 :]
        )
    ),
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(raw=_raw)
@example(raw=b"a: &a [*a]")
@example(raw=b"\xff\xfe" + "callpath: 1".encode("utf-16-le"))
@example(raw=b"[" * 200_000)
@example(raw=b"callpath: 1\n" + b"x" * 400_000)
def test_whatever_is_brought_in_is_a_job_or_told(site: Visitor, raw: bytes) -> None:
    """The page takes exactly what the command line's reader takes, and answers everything else in words."""
    answer = site.post("/upload", files={"file": ("fuzz.job.yaml", raw)})
    told = problems_in(raw)
    assert answer.status_code == (422 if told else 200)
    assert " ".join(told.split())[:40] in said(answer)


def problems_in(raw: bytes) -> str:
    """Return the first thing that the reader finds wrong, nothing for a sound job."""
    try:
        read_job(raw)
    except JobError as error:
        return error.problems[0].message
    return ""
