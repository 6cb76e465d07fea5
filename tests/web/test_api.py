"""The same for programs: what the commands answer, what the OpenAPI document promises, and nothing that breaks it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from argon2 import PasswordHasher
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from callpath.cli import main
from callpath.records import people
from callpath.records.schema import Job, Revision
from callpath.records.store import open_store
from callpath.web.app import create_app
from tests.web.site import EXAMPLES, Visitor, visitor

PROMISED = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
TEXT = (EXAMPLES / "garden-cottage-green-on-common.job.yaml").read_text(encoding="utf-8")


def made(site: Visitor, text: str = TEXT) -> str:
    answer = site.client.post("/api/jobs", json={"text": text})
    assert answer.status_code == 201
    return f"/api/jobs/{answer.json()['id']}"


def said_by(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    """Return what a command prints with ``--json``."""
    with pytest.raises(SystemExit):
        main([*words, "--json"])
    return json.loads(capsys.readouterr().out)


def test_it_answers_as_the_commands_do(site: Visitor, capsys: pytest.CaptureFixture[str]) -> None:
    file, job = (
        str(EXAMPLES / "garden-cottage.job.yaml"),
        made(site, (EXAMPLES / "garden-cottage.job.yaml").read_text()),
    )
    for words, address in (
        (("prove", file), f"{job}/prove"),
        (("read", file, "-c", "cool", "-b", "cond.Y", "cond.C"), f"{job}/read?call=cool&between=cond.Y&between=cond.C"),
        (("read", file, "-c", "cool"), f"{job}/read?call=cool"),
        (("read", file, "-c", "cool", "--amps", "outside.red"), f"{job}/read?call=cool&amps=outside.red"),
        (
            ("read", file, "--ohms", "-b", "cond.Y", "cond.C", "--lift", "outside.red"),
            f"{job}/read?ohms=true&between=cond.Y&between=cond.C&lift=outside.red",
        ),
        (("sequence", file, "-c", "cool", "--ends", "600"), f"{job}/sequence?call=cool&ends=600"),
        (
            (
                "sequence",
                file,
                "-c",
                "cool",
                "--then",
                "fan@300",
                "--power-off",
                "board@400",
                "--power-on",
                "board@430",
                "--stopped-ago",
                "60",
                "--by",
                "stat",
                "--frost",
            ),
            f"{job}/sequence?call=cool&then=fan@300&power-off=board@400&power-on=board@430&stopped-ago=60&by=stat&frost=true",
        ),
        (("read", file, "-c", "cool", "--by", "stat"), f"{job}/read?call=cool&by=stat"),
        (
            ("read", file, "-c", "cool", "--by", "stat", "--between", "cond.Y", "cond.C"),
            f"{job}/read?call=cool&by=stat&between=cond.Y&between=cond.C",
        ),
        (("mend", file), f"{job}/mend"),
        (("land", file), f"{job}/land"),
        (("parts",), "/api/parts"),
    ):
        assert site.client.get(address).json() == said_by(capsys, *words), address


def test_a_change_and_what_was_quicker(site: Visitor) -> None:
    job = made(site)
    better = TEXT.replace("[stat.G, board.C]", "[stat.G, board.G]")
    saved = site.client.put(f"{job}/file", json={"text": better, "seen": 1})
    assert (saved.status_code, saved.json()) == (200, {"number": 2, "counts": True, "head": 2})
    late = site.client.put(f"{job}/file", json={"text": TEXT + "# late\n", "seen": 1})
    assert (late.status_code, late.json()) == (409, {"number": 3, "counts": False, "head": 2})
    assert site.client.get(f"{job}/file").text == better
    assert site.client.get(f"{job}/file?version=3").text == TEXT + "# late\n"
    assert site.client.post(f"{job}/undo", json={"seen": 2}).json() == {"number": 4, "counts": True, "head": 4}
    assert site.client.get(f"{job}/file").text == TEXT
    assert [row["number"] for row in site.client.get(f"{job}/versions").json()] == [4, 3, 2, 1]


def test_what_is_wrong_has_its_place(site: Visitor) -> None:
    answer = site.client.post("/api/jobs", json={"text": TEXT.replace("board.C]", "board.Q]")})
    assert answer.status_code == 422
    assert {(row["line"] > 0, "'Q'" in row["message"]) for row in answer.json()["errors"]} == {(True, True)}
    assert site.client.get("/api/jobs/none").status_code == 404
    for address in ("/api/nowhere", "/api/underway/a%0A"):
        assert site.client.get(address).json()["errors"][0]["message"] == "Not Found"


def test_a_reading_is_written_down(site: Visitor) -> None:
    job = made(site, (EXAMPLES / "garden-cottage.job.yaml").read_text())
    sent = {"phase": "as-left", "call": "cool", "kind": "volts", "one": "cond.Y", "other": "cond.C", "amount": "25.7"}
    assert site.client.post(f"{job}/record", json=sent).json()["in_band"] is True
    assert [row["amount"] for row in site.client.get(f"{job}/record").json()] == [25.7]


def test_a_reading_says_who_called(site: Visitor) -> None:
    job = made(site, (EXAMPLES / "schoolhouse-zone-valves.job.yaml").read_text())
    motor = {"phase": "as-left", "call": "heat", "kind": "volts", "one": "valve-w.M1", "other": "valve-w.M2"}
    for callers, in_band in (([], False), (["east"], True), (["west"], False)):
        made_of = site.client.post(f"{job}/record", json={**motor, "amount": "0", "callers": callers}).json()
        assert (made_of["callers"], made_of["in_band"]) == (callers, in_band)
    assert [row["callers"] for row in site.client.get(f"{job}/record").json()] == [[], ["east"], ["west"]]
    wrong = site.client.post(f"{job}/record", json={**motor, "amount": "0", "callers": ["north"]})
    assert "no thermostat 'north'" in wrong.json()["errors"][0]["message"]


def test_papers_drawings_copies_and_what_is_put_away(site: Visitor) -> None:
    job = made(site)
    assert "<svg" in site.client.get(f"{job}/drawing?call=cool").text
    assert site.client.get(f"{job}/papers?kind=pdf&paper=a4").content.startswith(b"%PDF")
    assert "<!doctype html>" in site.client.get(f"{job}/papers?kind=html&phase=as-found").text
    assert site.client.get(f"{job}/papers?kind=docx").status_code == 422
    assert site.client.get(f"{job}/photos").json() == []
    copy = site.client.post(f"{job}/copy")
    assert (copy.status_code, copy.json()["title"].endswith("(copy)")) == (201, True)
    assert site.client.post(f"{job}/archive").json()["archived"] is True
    assert [row["id"] for row in site.client.get("/api/jobs").json()] == [copy.json()["id"]]
    assert site.client.post(f"{job}/archive?archived=false").json()["archived"] is False


def test_the_fault_finder_answers_as_its_command_does(
    site: Visitor, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = EXAMPLES / "garden-cottage.job.yaml"
    job = made(site, file.read_text(encoding="utf-8"))
    seen = tmp_path / "seen.yaml"
    seen.write_text(
        "seen:\n  - {call: cool, running: {cond.compressor: false, board.blower: true}}\n", encoding="utf-8"
    )
    sent = {"seen": [{"call": "cool", "running": {"cond.compressor": False, "board.blower": True}}]}
    told = said_by(capsys, "troubleshoot", str(file), "--seen", str(seen))
    assert site.client.post(f"{job}/troubleshoot", json=sent).json() == told
    wrong = site.client.post(f"{job}/troubleshoot", json={"seen": [{"call": "cool", "running": {"cond.fan": False}}]})
    assert wrong.status_code == 422
    assert "cond.fan" in wrong.json()["errors"][0]["message"]


def test_as_found_and_as_left_are_versions(site: Visitor) -> None:
    job = made(site)
    site.client.put(f"{job}/file", json={"text": TEXT.replace("[stat.G, board.C]", "[stat.G, board.G]"), "seen": 1})
    told = site.client.get(f"{job}/phases").json()
    assert {name: (row["version"], row["by"]) for name, row in told.items()} == {
        "as-found": (1, "me"),
        "as-left": (2, None),
    }
    different = site.client.get(f"{job}/compare").json()
    assert different["moves"] == [{"at": "cellar", "said": "wall.green: take it off board.C and land it on board.G"}]
    sent = {"phase": "as-left", "call": "cool", "kind": "volts", "one": "cond.Y", "other": "cond.C", "amount": "25.7"}
    assert site.client.post(f"{job}/record", json=sent).json()["in_band"] is True
    assert site.client.put(f"{job}/phases/as-left", json={"version": 1}).json()["version"] == 1
    row = site.client.get(f"{job}/record").json()[0]
    assert (row["version"], row["in_band"]) == (2, False)
    assert site.client.put(f"{job}/phases/as-left", json={"version": None}).json() == {**told["as-left"]}


def test_a_form_of_another_site_cannot_speak_json(site: Visitor) -> None:
    """What a page elsewhere can send without being asked is a form or plain text, and neither is read as JSON."""
    raw = json.dumps({"text": TEXT})
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data"):
        assert site.client.post("/api/jobs", content=raw, headers={"content-type": kind}).status_code >= 400
    assert site.client.get("/api/jobs").json() == []


def test_in_a_team_a_program_logs_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(people, "_hasher", lambda: PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
    people._nobody.cache_clear()
    site = visitor(tmp_path, team=True)
    with site.store.writing() as session:
        people.add_person(session, "Program", "trainee", "copper wire and paper")
    assert site.client.get("/api/jobs").status_code == 401
    wrong = site.client.post("/api/login", json={"name": "Program", "password": "not this one"})
    assert wrong.status_code == 401
    token = site.client.post("/api/login", json={"name": "Program", "password": "copper wire and paper"}).json()[
        "token"
    ]
    site.client.headers["authorization"] = f"Bearer {token}"
    assert site.client.get("/api/jobs").json() == []
    assert site.client.post("/api/jobs", json={"text": TEXT}).status_code == 403
    site.client.close()
    site.store.close()


@pytest.fixture(scope="module")
def api(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """Return the schema of an API over records with one job, called ``job``."""
    store = open_store(f"sqlite:///{tmp_path_factory.mktemp('api') / 'callpath.db'}")
    with store.writing() as session:
        session.add(Job(id="job", title="", head=1, owner_id=1))
        session.flush()
        session.add(Revision(job_id="job", number=1, state=1, base=None, text=TEXT, what="new", person_id=1))
    yield schemathesis.openapi.from_asgi("/api/openapi.json", create_app(store))
    store.close()


WORDS: dict[str, list[Any]] = {
    "call": ["cool", "fan", "off"],
    "by": ["stat"],
    "between": ["board.R", "board.C", "cond.Y", "cond.C"],
    "amps": ["outside.red"],
    "lift": ["outside.red"],
    "ends": [600],
    "then": ["fan@300", "off@400"],
    "open": ["stat.contact-Y@100"],
    "close": ["stat.contact-Y@200"],
    "power-off": ["board@300"],
    "power-on": ["board@330"],
    "no-flame": ["board@100"],
    "flame": ["board@400"],
    "phase": ["as-found", "as-left"],
    "name": ["as-found", "as-left"],
    "kind": ["volts", "ohms"],
    "one": ["board.R", "cond.Y"],
    "other": ["board.C", "cond.C"],
    "lifted": [""],
    "amount": ["26.1", "7"],
    "callers": ["stat"],
    "version": [1, None],
    "text": [TEXT, (EXAMPLES / "garden-cottage.job.yaml").read_text(encoding="utf-8"), ""],
    "seen": [0, 1, 2, 3],
    "seen, many": [
        {"call": "cool", "running": {"cond.compressor": False}},
        {"call": "cool", "between": ["board.Y", "board.C"], "volts": 26.1},
    ],
    "older": ["as-found", "1"],
    "newer": ["as-left", "1"],
}
"""What the job has; words made up hardly ever are, and one that is not there is all that the answer would be about."""


def told_rightly(sent: Any, draw: Any) -> Any:
    """Put words that the job has in the place of most of those made up."""
    if not isinstance(sent, dict):
        return sent
    right = dict(sent)
    for key, value in sent.items():
        many = isinstance(value, list)
        words = WORDS.get(f"{key}, many" if many else key, WORDS.get(key))
        if words and not (key == "kind" and value in ("priors", "minutes")) and draw(st.integers(0, 19)) > 0:
            one = st.sampled_from(words)
            right[key] = draw(st.lists(one, min_size=1, max_size=2, unique_by=str) if many else one)
    return right


# What would mostly be told that there is no such call, terminal or thermostat, were all its words made up.
RIGHT = {
    f"{method} /jobs/{{job_id}}/{what}"
    for method, what in (("GET", "sequence"), ("GET", "read"), ("GET", "netlist"), ("GET", "compare"), ("POST", "record"),
                         ("POST", "troubleshoot"))
}  # fmt: skip


def test_whatever_is_asked_is_answered_as_promised(api: Any) -> None:
    """Schemathesis makes requests up from the document: no server error, and every answer as the document has it."""
    answered: dict[str, set[int]] = {}
    for found in api.get_all_operations():
        operation = found.ok()

        @settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck), phases=[Phase.generate])
        @given(case=operation.as_strategy(), data=st.data())
        def ask(case: Any, data: st.DataObject) -> None:
            if "job_id" in (case.path_parameters or {}):
                case.path_parameters["job_id"] = "job"
            case.path_parameters = told_rightly(case.path_parameters, data.draw)
            case.query, case.body = told_rightly(case.query, data.draw), told_rightly(case.body, data.draw)
            status = case.call_and_validate(checks=PROMISED).status_code
            answered.setdefault(case.operation.label, set()).add(status)

        ask()
    assert len(answered) >= 17
    assert {label for label in RIGHT if min(answered[label]) >= 400} == set()
