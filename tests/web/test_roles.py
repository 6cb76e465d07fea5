"""Every page as everybody: who may look, who may change, who is told that there is nothing."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from callpath.records import people
from callpath.records.schema import Attempt, Login, now
from callpath.web import api, app
from tests.web.office import KEY, PASSWORD, WHO, Office
from tests.web.site import Visitor, said, visitor

# What everybody gets who asks: 200 or 303 (done), 303 to the login for a stranger who looks, 401 for one who acts; 403 where
# something is not theirs to do, 404 where they may not know that it is there; 422 where the empty form is at fault.
EXPECTED = {
    ("GET", "/"): [303, 200, 200, 200, 200, 200, 200],
    ("GET", "/new"): [303, 403, 403, 200, 200, 200, 200],
    ("GET", "/new/{name}/drawing"): [303, 200, 200, 200, 200, 200, 200],
    ("POST", "/new"): [401, 403, 403, 422, 422, 422, 422],
    ("POST", "/upload"): [401, 403, 403, 422, 422, 422, 422],
    ("POST", "/jobs/{job_id}/copy"): [401, 403, 403, 404, 303, 303, 303],
    ("POST", "/jobs/{job_id}/archive"): [401, 404, 403, 404, 303, 303, 303],
    ("GET", "/jobs/{job_id}/file"): [303, 404, 200, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}"): [303, 404, 200, 404, 200, 200, 200],
    ("GET", "/parts"): [303, 200, 200, 200, 200, 200, 200],
    ("GET", "/parts/{role}/{name}"): [303, 200, 200, 200, 200, 200, 200],
    ("GET", "/jobs/{job_id}/add"): [303, 404, 403, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/equipment/{name}"): [303, 404, 403, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/cables/{name}"): [303, 404, 403, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/cable"): [303, 404, 403, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/table"): [303, 404, 403, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/drawing"): [303, 404, 200, 404, 200, 200, 200],
    ("POST", "/jobs/{job_id}/edit"): [401, 404, 403, 404, 422, 422, 422],
    ("POST", "/jobs/{job_id}/undo"): [401, 404, 403, 404, 422, 422, 422],
    ("POST", "/jobs/{job_id}/redo"): [401, 404, 403, 404, 422, 422, 422],
    ("GET", "/jobs/{job_id}/text"): [303, 404, 200, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/propose"): [303, 404, 200, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/propose/drawing"): [303, 404, 200, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/ask"): [303, 404, 200, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/sequence"): [303, 404, 200, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/sequence/drawing"): [303, 404, 200, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/versions"): [303, 404, 200, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/compared"): [303, 404, 200, 404, 200, 200, 200],
    ("POST", "/jobs/{job_id}/take"): [401, 404, 403, 404, 422, 422, 422],
    ("GET", "/jobs/{job_id}/people"): [303, 404, 403, 404, 403, 200, 200],
    ("POST", "/jobs/{job_id}/people"): [401, 404, 403, 404, 403, 422, 422],
    ("GET", "/jobs/{job_id}/record"): [303, 404, 200, 404, 200, 200, 200],
    ("POST", "/jobs/{job_id}/record"): [401, 404, 403, 404, 422, 422, 422],
    ("POST", "/jobs/{job_id}/phase"): [401, 404, 403, 404, 422, 422, 422],
    ("POST", "/jobs/{job_id}/record/strike"): [401, 404, 403, 404, 422, 422, 422],
    ("POST", "/jobs/{job_id}/photos"): [401, 404, 403, 404, 422, 422, 422],
    ("GET", "/jobs/{job_id}/photos/{number}/alone"): [303, 404, 404, 404, 404, 404, 404],
    ("GET", "/jobs/{job_id}/photos/{number}"): [303, 404, 404, 404, 404, 404, 404],
    ("GET", "/jobs/{job_id}/papers"): [303, 404, 200, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/fault"): [303, 404, 200, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/fault/drawing"): [303, 404, 200, 404, 200, 200, 200],
    ("POST", "/jobs/{job_id}/fault"): [401, 404, 403, 404, 422, 422, 422],
    ("GET", "/jobs/{job_id}/practice"): [303, 404, 200, 404, 200, 200, 200],
    ("POST", "/jobs/{job_id}/practice"): [401, 404, 422, 404, 422, 422, 422],
    ("GET", "/jobs/{job_id}/assumptions"): [303, 404, 200, 404, 200, 200, 200],
    ("POST", "/jobs/{job_id}/assumptions"): [401, 404, 403, 404, 422, 422, 422],
    ("GET", "/assumptions"): [303, 200, 200, 200, 200, 200, 200],
    ("POST", "/assumptions"): [401, 403, 403, 403, 403, 403, 422],
    ("GET", "/scores"): [303, 200, 200, 200, 200, 200, 200],
    ("GET", "/login"): [200] * 7,
    ("POST", "/login"): [403] * 7,
    ("POST", "/first"): [403] * 7,
    ("POST", "/logout"): [401, 303, 303, 303, 303, 303, 303],
    ("GET", "/people"): [303, 403, 403, 403, 403, 403, 200],
    ("POST", "/people"): [401, 403, 403, 403, 403, 403, 422],
    ("POST", "/people/{person_id}"): [401, 403, 403, 403, 403, 403, 422],
    ("GET", "/me"): [303, 200, 200, 200, 200, 200, 200],
    ("POST", "/me"): [401, 422, 422, 422, 422, 422, 422],
    ("GET", "/underway/{key}"): [303, 404, 404, 404, 404, 404, 404],
    ("GET", "/underway/{key}/state"): [303, 404, 404, 404, 404, 404, 404],
    ("POST", "/underway/{key}/stop"): [401, 404, 404, 404, 404, 404, 404],
}

_LOOK, _EDIT = [401, 404, 200, 404, 200, 200, 200], [401, 404, 403, 404, 422, 422, 422]
API = {
    ("POST", "/login"): [401, 401, 401, 401, 401, 429, 429],
    ("GET", "/parts"): [401, 200, 200, 200, 200, 200, 200],
    ("GET", "/jobs"): [401, 200, 200, 200, 200, 200, 200],
    ("POST", "/jobs"): [401, 403, 403, 422, 422, 422, 422],
    ("GET", "/jobs/{job_id}"): _LOOK,
    ("GET", "/jobs/{job_id}/file"): _LOOK,
    ("PUT", "/jobs/{job_id}/file"): _EDIT,
    ("POST", "/jobs/{job_id}/undo"): _EDIT,
    ("POST", "/jobs/{job_id}/redo"): _EDIT,
    ("GET", "/jobs/{job_id}/versions"): _LOOK,
    ("POST", "/jobs/{job_id}/copy"): [401, 403, 403, 404, 201, 201, 201],
    ("POST", "/jobs/{job_id}/archive"): [401, 404, 403, 404, 200, 200, 200],
    ("GET", "/jobs/{job_id}/drawing"): _LOOK,
    ("GET", "/jobs/{job_id}/papers"): _LOOK,
    ("GET", "/jobs/{job_id}/photos"): _LOOK,
    ("GET", "/jobs/{job_id}/photos/{number}"): [401, 404, 404, 404, 404, 404, 404],
    ("GET", "/jobs/{job_id}/prove"): _LOOK,
    ("GET", "/jobs/{job_id}/read"): _LOOK,
    ("GET", "/jobs/{job_id}/sequence"): _LOOK,
    ("GET", "/jobs/{job_id}/netlist"): _LOOK,
    ("GET", "/jobs/{job_id}/assumptions/{kind}"): _LOOK,
    ("PUT", "/jobs/{job_id}/assumptions/{kind}"): _EDIT,
    ("GET", "/assumptions/{kind}"): [401, 200, 200, 200, 200, 200, 200],
    ("PUT", "/assumptions/{kind}"): [401, 403, 403, 403, 403, 403, 422],
    ("GET", "/jobs/{job_id}/land"): _LOOK,
    ("GET", "/jobs/{job_id}/mend"): _LOOK,
    ("GET", "/jobs/{job_id}/compare"): _LOOK,
    ("GET", "/jobs/{job_id}/phases"): _LOOK,
    ("PUT", "/jobs/{job_id}/phases/{name}"): _EDIT,
    ("GET", "/jobs/{job_id}/record"): _LOOK,
    ("POST", "/jobs/{job_id}/record"): _EDIT,
    ("POST", "/jobs/{job_id}/troubleshoot"): _LOOK,
    ("GET", "/underway/{key}"): [401, 404, 404, 404, 404, 404, 404],
    ("DELETE", "/underway/{key}"): [401, 404, 404, 404, 404, 404, 404],
}
SENT = {
    "/jobs/{job_id}/phases/{name}": {"version": 9},
    "/login": {"name": "nobody", "password": "nothing at all"},
    "/jobs": {"text": "no job"},
    "/jobs/{job_id}/file": {"text": "no job", "seen": 1},
    "/jobs/{job_id}/undo": {"seen": 1},
    "/jobs/{job_id}/assumptions/{kind}": {"text": "walk: no", "seen": 0},
    "/assumptions/{kind}": {"text": "walk: no", "seen": 0},
    "/jobs/{job_id}/redo": {"seen": 1},
    "/jobs/{job_id}/record": {"phase": "as-left", "call": "cool", "kind": "volts", "one": "cond.Q", "amount": "1"},
    "/jobs/{job_id}/troubleshoot": {"seen": [{"call": "cool", "running": {"cond.compressor": False}}]},
}


def test_every_page_is_in_the_table(site: Visitor) -> None:
    """Whatever the application answers to is in one of the tables, or open to everybody on purpose."""
    every = {(method, route.path) for room in app.ROOMS for route in room.router.routes for method in route.methods}
    assert every == set(EXPECTED)
    questions = {(method, route.path) for router in api.ROUTERS for route in router.routes for method in route.methods}
    assert questions == set(API)
    told = site.client.get("/api/openapi.json").json()["paths"]
    assert questions == {(method.upper(), path) for path, methods in told.items() for method in methods}
    guarded: Any = site.client.app
    whole = guarded.application.application
    others = {route.path for route in whole.routes if hasattr(route, "path")} - {path for _, path in EXPECTED}
    assert others == {"/enter", "/api", "/static"}
    # No page answers to more than it says: a method that is not in the table is turned away.
    for path in {path for _, path in EXPECTED}:
        address = re.sub(r"[{][^}]*[}]", "1", path)
        for method in {"GET", "POST", "PUT", "PATCH", "DELETE"} - {m for m, p in EXPECTED if p == path}:
            assert site.client.request(method, address).status_code == 405, (method, path)


def test_what_was_given_to_see_is_seen_and_no_more(office: Office) -> None:
    """A technician who may see a job may do with it what a trainee may, and make a copy; a trainee may never change it."""
    for who, may in (("technician given", "see"), ("trainee given", "change")):
        office.visitors["lead"].post(f"{office.job}/people", {"person": str(WHO.index(who) + 2), "may": may})
        site = office.visitors[who]
        token = site.token("/me")
        for (method, path), expected in EXPECTED.items():
            if not path.startswith("/jobs/{job_id}"):
                continue
            wanted = expected[WHO.index("trainee given")]
            if path.endswith("/copy") and who.startswith("technician"):
                wanted = 303
            address = _filled(path, office.job)
            sent = {"data": {"csrf": token}} if method == "POST" else {}
            answer = site.client.request(method, address, follow_redirects=False, **sent)
            assert answer.status_code == wanted, (who, method, path)
        for (method, path), expected in API.items():
            if path.startswith("/jobs/{job_id}"):
                address = f"/api{_filled(path, office.job)}" + ("?call=cool" if "sequence" in path else "")
                answer = site.client.request(method, address, json=SENT.get(path) if method != "GET" else None)
                wanted = expected[WHO.index("trainee given")]
                wanted = 201 if path.endswith("/copy") and who.startswith("technician") else wanted
                assert answer.status_code == wanted, (who, method, path)


def _filled(path: str, job: str) -> str:
    """Return a page's address with a job in it, and with whatever else it needs."""
    address = path.replace("/jobs/{job_id}", job).replace("{person_id}", "99").replace("{number}", "99")
    address = address.replace("{kind}", "minutes")
    address = address.replace("{role}/{name}", "indoor/furnace-board").replace("/new/{name}", "/new/boiler-tt")
    address = address.replace("cables/{name}", "cables/wall").replace("equipment/{name}", "equipment/board")
    return address + ("?older=1&newer=1" if path.endswith("/compared") else "")


def test_every_page_as_everybody(office: Office) -> None:
    wrong = []
    for place, who in enumerate(WHO):
        site = office.visitors[who]
        for (method, path), expected in EXPECTED.items():
            address = _filled(path, office.job)
            if path == "/logout" and who != "stranger":
                office.log_in(who)
            if method == "GET":
                answer = site.client.get(address, follow_redirects=False)
            else:
                token = site.token("/me") if who != "stranger" else "0" * 64
                answer = site.client.post(address, data={"csrf": token}, follow_redirects=False)
            if path == "/logout" and who != "stranger":
                office.log_in(who)
            if answer.status_code != expected[place]:
                wrong.append((who, method, path, answer.status_code, expected[place], said(answer)[:200]))
            if answer.status_code in (403, 404) and "given" not in who and who not in ("owner", "lead"):
                assert "Garden cottage" not in answer.text
    assert wrong == []


def test_every_question_of_a_program_as_everybody(office: Office) -> None:
    every = {(method, route.path) for router in api.ROUTERS for route in router.routes for method in route.methods}
    assert every == set(API)
    wrong = []
    for place, who in enumerate(WHO):
        for (method, path), expected in API.items():
            address = f"/api{_filled(path, office.job)}" + ("?call=cool" if "sequence" in path else "")
            sent = SENT.get(path) if method != "GET" else None
            answer = office.visitors[who].client.request(method, address, json=sent)
            if answer.status_code != expected[place]:
                wrong.append((who, method, path, answer.status_code, expected[place], answer.text[:200]))
    assert wrong == []


def test_a_job_that_is_not_mine_is_in_no_list(office: Office) -> None:
    lists = {who: office.job in office.visitors[who].get("/").text for who in WHO[1:]}
    assert lists == {
        "trainee": False, "trainee given": True, "technician": False, "technician given": True, "owner": True, "lead": True,
    }  # fmt: skip


def test_what_was_given_can_be_taken_back(office: Office) -> None:
    number = str(WHO.index("technician given") + 2)
    for may, expected in (("see", 403), ("nothing", 404)):
        office.visitors["lead"].post(f"{office.job}/people", {"person": number, "may": may})
        site = office.visitors["technician given"]
        answer = site.post(f"{office.job}/undo", {"csrf": site.token("/me"), "seen": "1"})
        assert answer.status_code == expected


def test_guessing_passwords_is_stopped(office: Office) -> None:
    for _ in range(5):
        assert office.log_in("owner", "a wrong password").status_code == 401
    shut = office.log_in("owner")
    assert shut.status_code == 429
    assert "quarter of an hour" in said(shut)
    with office.store.writing() as session:
        for attempt in session.query(Attempt):
            attempt.made_at = attempt.made_at - people._WINDOW * 2
    assert office.log_in("owner").status_code == 200


def test_a_name_that_is_not_there_is_answered_like_one_that_is(office: Office) -> None:
    site = office.visitors["stranger"]
    answers = [
        said(site.post("/login", {"csrf": site.token("/login"), "name": name, "password": "x" * 12}))
        for name in ("Lead", "Nobody")
    ]
    assert answers[0] == answers[1]


def test_no_secret_is_kept_as_it_is(office: Office, tmp_path: Path) -> None:
    """Neither a password nor a cookie can be read out of the records."""
    token = office.visitors["owner"].client.cookies["callpath"]
    office.store.close()
    raw = b"".join(path.read_bytes() for path in tmp_path.iterdir())
    assert PASSWORD.encode() not in raw
    assert token.encode() not in raw
    assert b"$argon2id$" in raw


def test_passwords_are_kept_as_slowly_as_is_advised() -> None:
    """RFC 9106, section 4, second recommended option: Argon2id, 3 passes over 64 MiB, 4 lanes (from memory)."""
    hasher = people._hasher()
    assert (hasher.time_cost, hasher.memory_cost, hasher.parallelism) == (3, 65536, 4)
    assert hasher.type.name == "ID"


def test_logging_in_gives_a_new_cookie_and_logging_out_ends_it(office: Office) -> None:
    site = office.visitors["owner"]
    before = site.client.cookies["callpath"]
    office.log_in("owner")
    after = site.client.cookies["callpath"]
    assert before != after
    site.post("/logout", {"csrf": site.token("/me")})
    site.client.cookies.set("callpath", after)
    assert site.client.get("/", follow_redirects=False).status_code == 303


def test_a_new_password_and_being_shut_out_end_every_login(office: Office) -> None:
    lead, number = office.visitors["lead"], str(WHO.index("owner") + 2)
    owner = office.visitors["owner"]
    new = "another set of words"
    owner.post("/me", {"csrf": owner.token("/me"), "old": PASSWORD, "new": new})
    assert owner.client.get("/", follow_redirects=False).status_code == 303
    assert office.log_in("owner", new).status_code == 200
    lead.post(f"/people/{number}", {"role": "technician"})
    assert owner.client.get("/", follow_redirects=False).status_code == 303
    assert office.log_in("owner", new).status_code == 401
    kept = lead.post("/people/2", {"role": "technician", "active": "yes"})
    assert "somebody must lead" in said(kept)


def test_a_login_ends_by_itself(office: Office) -> None:
    with office.store.writing() as session:
        for login in session.query(Login):
            login.ends_at = now()
    assert office.visitors["lead"].client.get("/", follow_redirects=False).status_code == 303


def test_the_first_account_needs_the_key_and_there_is_one_first(office: Office, tmp_path: Path) -> None:
    site = Visitor(office.store, team=True, door_key=KEY)
    again = site.post("/first", {"csrf": site.token("/login"), "key": KEY, "name": "Me too", "password": PASSWORD})
    assert again.status_code == 401
    (tmp_path / "new").mkdir()
    fresh = visitor(tmp_path / "new", team=True, door_key=KEY)
    wrong = fresh.post("/first", {"csrf": fresh.token("/login"), "key": "guess", "name": "Me", "password": PASSWORD})
    assert wrong.status_code == 401
    for made in (site, fresh):
        made.client.close()
    fresh.store.close()


def test_a_login_leads_on_to_pages_of_ours_only(office: Office) -> None:
    site = office.visitors["owner"]
    for then, where in ((office.job, office.job), ("//elsewhere.example/x", "/"), ("/\\elsewhere.example", "/")):
        answer = site.post(
            "/login", {"csrf": site.token("/login"), "name": "owner", "password": PASSWORD, "then": then}
        )
        assert answer.url.path == where
        assert answer.url.host == "localhost"
