"""The page as an attacker would try it: other people's numbers, words that would be markup, keys of other doors, what leaks."""

from __future__ import annotations

import json
import os
import re
import subprocess
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree as ET

import httpx2 as httpx

from callpath.web import app
from tests.records.pictures import picture
from tests.web.browsing import CALLPATH
from tests.web.office import KEY, PASSWORD, WHO, Office
from tests.web.site import EXAMPLES, Visitor, said, visitor

EVIL = "</script><img src=x onerror=alert(1)>\"'&{{7*7}}"
VOLTS = {"phase": "as-left", "call": "cool", "kind": "volts", "red": "cond.Y", "black": "cond.C", "amount": "25"}


def test_a_ticket_of_one_door_opens_no_other(tmp_path: Path) -> None:
    """One handed out where no key was asked for, at a team's login page or before the key was changed, is worth nothing."""
    local = visitor(tmp_path, names=("localhost",))
    local.get("/")
    team = Visitor(local.store, team=True)
    team.get("/login")
    yesterday = Visitor(local.store, door_key="yesterday's")
    assert yesterday.get("/enter?key=yesterday's").status_code == 200
    for site in (local, team, yesterday):
        ticket = site.client.cookies["callpath"]
        stranger = Visitor(local.store, door_key="today's")
        stranger.client.cookies.set("callpath", ticket)
        assert stranger.get("/").status_code == 401
        stranger.client.close()
        site.client.close()
    local.store.close()


def test_guessing_the_key_of_the_door_is_stopped(tmp_path: Path) -> None:
    stranger = visitor(tmp_path, door_key="the-right-key")
    answers = [stranger.get(f"/enter?key=guess-{n}").status_code for n in range(32)]
    assert answers == [401] * 30 + [429] * 2
    assert stranger.get("/enter?key=the-right-key").status_code == 429
    stranger.client.close()
    stranger.store.close()


def test_a_program_that_guesses_is_stopped_like_a_person(office: Office) -> None:
    site = office.visitors["stranger"]
    sent = {"name": "owner", "password": "a wrong password"}
    answers = [site.client.post("/api/login", json=sent).status_code for _ in range(7)]
    assert answers == [401] * 5 + [429] * 2
    assert office.log_in("owner").status_code == 429


def test_a_new_password_lifts_the_wait_for_wrong_ones(office: Office) -> None:
    """The guard stays as it is for whoever guesses on; who leads sees who is locked out, and lets them in."""
    lead, number = office.visitors["lead"], str(WHO.index("technician") + 2)
    assert "locked out" not in said(lead.get("/people"))
    for n in range(7):
        office.log_in("technician", f"a wrong password {n}")
    assert office.log_in("technician").status_code == 429
    assert re.search(
        "technician technician locked out There were too many wrong passwords .* let", said(lead.get("/people"))
    )
    lead.post(f"/people/{number}", {"role": "technician", "active": "yes"})
    assert office.log_in("technician").status_code == 429
    lead.post(f"/people/{number}", {"role": "technician", "active": "yes", "password": "another one by the lead"})
    assert "locked out" not in said(lead.get("/people"))
    assert office.log_in("technician", "another one by the lead").url.path == "/"
    answers = [office.log_in("technician given", f"a wrong password {n}").status_code for n in range(7)]
    assert answers == [401] * 5 + [429] * 2


def test_no_number_breaks_an_address(site: Visitor) -> None:
    """Too large for the database, negative, no number at all, or with a NUL: told on a page, wherever one is asked for."""
    job = site.bring("garden-cottage")
    words = ("99999999999999999999", "-1", "1e3", "one", "0x10", "1" * 5000)
    queries = ("drawing?version=", "compared?newer=1&older=", "practice?ended=", "versions?newer=1&older=", "photos/")
    for word in words:
        for query in queries:
            answer = site.get(f"{job}/{query}{word}")
            assert answer.status_code in (404, 422), (query, word[:20])
            assert "text/html" in answer.headers["content-type"]
    for address in ("/?search=%00", f"{job}/ask?red=%00", "/jobs/%00", "/parts?search=a%00"):
        assert site.get(address).status_code == 400
    assert site.post(f"{job}/record", {**VOLTS, "note": "a\0b"}).status_code == 200
    assert "ab" in said(site.get(f"{job}/record"))


def test_what_belongs_to_another_job_is_not_there(site: Visitor) -> None:
    """Photos, readings, versions and exercises by their numbers, through the address and forms of a job that is mine."""
    other, mine = site.bring("garden-cottage"), site.bring("old-mill-chassis-return")
    site.post(f"{other}/photos", {"phase": "as-left"}, files={"photo": ("a.png", picture("PNG"))})
    site.post(f"{other}/record", {**VOLTS})
    site.edit(other, "add-splice", at="hall")
    site.post(f"{other}/practice", {"do": "hide", "seed": "1", "faults": "1", "alike": "some"})
    site.post(f"{other}/practice", {"do": "stop"})
    for address in ("/photos/1", "/photos/1?small=true", "/photos/1/alone", "/drawing?version=2", "/compared?older=1&newer=2",
                    "/versions?older=1&newer=2"):  # fmt: skip
        assert site.get(other + address).status_code == 200
        assert site.get(mine + address).status_code == 404, address
    assert "Another one" in said(site.get(f"{other}/practice?ended=1"))
    assert "Another one" not in said(site.get(f"{mine}/practice?ended=1"))
    for what in ("photo", "reading"):
        assert site.post(f"{mine}/record/strike", {"what": what, "number": "1"}).status_code == 404
    assert site.post(f"{mine}/take", {"number": "2", "seen": "1"}).status_code == 404
    assert site.post(f"{mine}/phase", {"phase": "as-left", "version": "2"}).status_code == 404
    assert site.client.get(f"/api{mine}/file?version=2").status_code == 404
    assert site.client.get(f"/api{mine}/compare?older=1&newer=2").status_code == 404
    assert "struck out" not in said(site.get(f"{other}/record"))


def evil_job() -> str:
    """Return a job whose title, note and a location would be markup, were they not shown as text; ids and colours cannot be."""
    word = json.dumps(EVIL)
    text = (EXAMPLES / "garden-cottage.job.yaml").read_text(encoding="utf-8")
    text = re.sub("^title: .*$", lambda _: f"title: {word}\nnote: {word}", text, flags=re.M)
    return text.replace("at: hall", f"at: {word}").replace("[hall,", f"[{word},")


class Tags(HTMLParser):
    """What a browser takes for tags that no template of ours has."""

    def __init__(self) -> None:
        super().__init__()
        self.foreign: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if any(name.startswith("on") or value == "x" for name, value in attrs):
            self.foreign.append(self.get_starttag_text() or tag)


def foreign(page: str) -> list[str]:
    """Return the tags of a page that carry what was smuggled in."""
    parser = Tags()
    parser.feed(page)
    return parser.foreign


def test_no_word_becomes_markup_on_any_page(site: Visitor) -> None:
    answer = site.post("/upload", files={"file": (f"{EVIL}.yaml", evil_job().encode())})
    assert answer.status_code == 200, said(answer)
    job = answer.url.path
    site.post(f"{job}/record", {**VOLTS, "note": EVIL})
    site.post(f"{job}/photos", {"phase": "as-left", "caption": EVIL}, files={"photo": ("a.png", picture("PNG"))})
    pages = [
        path for room in app.ROOMS for route in room.router.routes for path in [route.path] if "GET" in route.methods
    ]
    queries = f"?call=cool&older=1&newer=1&pick={EVIL}&red={EVIL}&where={EVIL}&plant=open&search={EVIL}&then={EVIL}&free={EVIL}"
    for path in pages:
        address = path.replace("/jobs/{job_id}", job).replace("{number}", "1")
        for query in ("?older=1&newer=1", queries):
            raw = site.get(address + query)
            assert raw.status_code < 500, address
            if raw.headers["content-type"].startswith("text/html"):
                assert foreign(raw.text) == [], address
                assert "alert(1)>49" not in raw.text.replace("&gt;", ">")
            elif "svg" in raw.headers["content-type"]:
                tags = {element.tag.rpartition("}")[2] for element in ET.fromstring(raw.text).iter()}
                assert not tags & {"script", "img", "a", "foreignObject", "image", "style", "use"}
    for kind in ("svg", "html"):
        taken = site.get(f"{job}/papers?kind={kind}")
        assert foreign(taken.text) == []
        name = taken.headers["content-disposition"]
        assert re.fullmatch(r'attachment; filename="[a-z0-9._-]+"', name), name
    assert re.fullmatch(r'attachment; filename="[a-z0-9._-]+"', site.get(f"{job}/file").headers["content-disposition"])


def test_a_persons_name_is_shown_not_run(office: Office) -> None:
    lead = office.visitors["lead"]
    lead.post("/people", {"name": EVIL, "role": "technician", "password": PASSWORD})
    for address in ("/people", f"{office.job}/people"):
        assert "<img src=x" not in lead.get(address).text
        assert "onerror=alert" in said(lead.get(address))


def test_who_may_not_change_a_job_any_more_does_not_give_it_away(office: Office) -> None:
    """The owner who has become a trainee keeps their view of the job and nothing else."""
    lead, owner = office.visitors["lead"], office.visitors["owner"]
    number = str(WHO.index("owner") + 2)
    lead.post(f"/people/{number}", {"role": "trainee", "active": "yes"})
    assert owner.get(office.job).status_code == 200
    token = owner.token("/me")
    given = owner.post(f"{office.job}/people", {"csrf": token, "person": "4", "may": "see"})
    assert given.status_code == 403
    assert "People" not in said(owner.get(office.job)).partition("Caution")[0]


def test_logging_out_everywhere_ends_programs_too(office: Office) -> None:
    owner = office.visitors["owner"]
    token = owner.client.post("/api/login", json={"name": "owner", "password": PASSWORD}).json()["token"]
    bearer = {"authorization": f"Bearer {token}"}
    other = Visitor(office.store, team=True)
    assert other.client.get("/api/jobs", headers=bearer).status_code == 200
    owner.post("/logout", {"csrf": owner.token("/me"), "everywhere": "yes"})
    assert other.client.get("/api/jobs", headers=bearer).status_code == 401
    assert owner.client.get("/", follow_redirects=False).status_code == 303
    other.client.close()


def test_nothing_secret_is_in_what_the_server_says(tmp_path: Path) -> None:
    """The key is told once, to whoever started it; passwords, tokens and what is typed nowhere, whatever goes wrong."""
    place = {**os.environ, "CALLPATH_DATABASE_URL": f"sqlite:///{tmp_path / 'a.db'}", "OPENBLAS_NUM_THREADS": "1"}
    server = subprocess.Popen(
        [*CALLPATH, "serve", "--team", "--port", "0"],
        env=place, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    assert server.stdout is not None
    lines = [server.stdout.readline() for _ in range(2)]
    address, key = lines[0].split()[-1].rstrip("/"), lines[1].split()[-1]
    with httpx.Client(base_url=address, follow_redirects=True) as client:
        csrf = re.search(r'name="csrf" value="([0-9a-f]+)"', client.get("/login").text)
        assert csrf is not None
        made = client.post("/first", data={"csrf": csrf[1], "key": key, "name": "Lead", "password": PASSWORD})
        assert "Jobs" in made.text
        client.get(f"/enter?key={key}")
        client.get(f"/login?then=/{PASSWORD}")
        client.post("/login", data={"name": "Lead", "password": PASSWORD})
        client.post("/api/login", content=PASSWORD.encode(), headers={"content-type": "application/json"})
        client.get(f"/photos/%00{PASSWORD}")
        token = client.cookies["callpath"]
        server.terminate()
        server.wait(60)
    whole = "".join(lines) + server.stdout.read()
    server.stdout.close()
    assert whole.count(key) == 1
    assert PASSWORD not in whole
    assert token not in whole
    assert "Traceback" not in whole


def test_the_key_that_was_printed_makes_one_account_only(office: Office) -> None:
    site = Visitor(office.store, team=True, door_key=KEY)
    again = site.post("/first", {"csrf": site.token("/login"), "key": KEY, "name": "Me too", "password": PASSWORD})
    assert again.status_code == 401
    assert "somebody has an account already" in said(again)
    site.client.close()
