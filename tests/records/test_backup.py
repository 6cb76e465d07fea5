"""Records come back from a backup as they were, into either database, from every version."""

from __future__ import annotations

import io
import tracemalloc
import zipfile
from pathlib import Path

import pytest
from sqlalchemy import create_engine, select

from callpath.circuit.build import build
from callpath.cli import main
from callpath.errors import CallpathError
from callpath.job import read_job
from callpath.records import history, measured, people, phase
from callpath.records.backup import backup, restore
from callpath.records.history import Change
from callpath.records.measured import Noted
from callpath.records.photo import encoded_anew
from callpath.records.schema import Base, Job, Photo
from callpath.records.store import Store, known_versions, migrations, open_store
from tests.records.pictures import picture

EXAMPLES = Path(__file__).parents[2] / "examples"
TEXT = (EXAMPLES / "garden-cottage.job.yaml").read_text(encoding="utf-8")


def filled(store: Store) -> str:
    with store.writing() as session:
        person = people.add_person(session, "Someone Else", "technician", "copper wire and paper")
        job = history.begin(session, TEXT, 1)
        history.change(session, job.id, Change(TEXT.replace("Garden", "Gärten ☂"), "renamed", 1, person.id))
        people.give(session, job.id, person.id, "change")
        reading = Noted("as-found", "off", "ohms", "cond.Y", "cond.C", "outside.red", "OL", "öffnet")
        measured.note(session, job, build(read_job(TEXT)), 1, reading, person.id)
        zones = (EXAMPLES / "schoolhouse-zone-valves.job.yaml").read_text(encoding="utf-8")
        alone = Noted("as-found", "heat", "running", "valve-w.open", "", "", "no", callers="east")
        measured.note(session, history.begin(session, zones, 1), build(read_job(zones)), 1, alone, person.id)
        phase.mark(session, job, "as-left", 2, person.id)
        made = encoded_anew(picture("PNG"))
        session.add(
            Photo(job_id=job.id, phase="as-left", caption="", width=made.width, height=made.height, jpeg=made.jpeg,
                  person_id=person.id)
        )  # fmt: skip
        return job.id


def contents(store: Store) -> dict[str, list[tuple[object, ...]]]:
    left_out = ("login", "attempt", "secret")
    with store.engine.connect() as connection:
        return {
            table.name: [tuple(row) for row in connection.execute(select(table).order_by(*table.primary_key))]
            for table in Base.metadata.sorted_tables
            if table.name not in left_out
        }


def test_all_comes_back_as_it_was(store: Store, address: str, tmp_path: Path) -> None:
    """From SQLite and PostgreSQL alike, into the other kind's common ground: a new SQLite file."""
    job_id = filled(store)
    raw = backup(store)
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        assert not {"login.jsonl", "secret.jsonl", "attempt.jsonl"} & set(archive.namelist())
    other = open_store(f"sqlite:///{tmp_path / 'other.db'}")
    assert restore(other, raw) == 2
    assert contents(other) == contents(store)
    assert people.log_in(other, "someone else", "copper wire and paper", "here") is not None
    with other.writing() as session:
        # The counting goes on where it was.
        assert history.begin(session, TEXT, 1).id != job_id
    with pytest.raises(CallpathError, match="jobs in these records already"):
        restore(other, raw)
    other.close()


def test_a_backup_goes_into_this_database_too(store: Store, tmp_path: Path) -> None:
    other = open_store(f"sqlite:///{tmp_path / 'other.db'}")
    filled(other)
    assert restore(store, backup(other)) == 2
    assert contents(store) == contents(other)
    with store.writing() as session:
        assert history.begin(session, TEXT, 1).head == 1
        people.add_person(session, "A third", "trainee", "copper wire and paper")
    other.close()


@pytest.mark.parametrize("version", known_versions())
def test_a_backup_of_every_version_is_understood(tmp_path: Path, version: str) -> None:
    old = open_store(f"sqlite:///{tmp_path / 'old.db'}")
    with old.writing() as session:
        history.begin(session, TEXT, 1)
    migrations(old.engine, version)
    new = open_store(f"sqlite:///{tmp_path / 'new.db'}")
    assert restore(new, backup(old)) == 1
    with new.reading() as session:
        assert session.scalars(select(Job.title)).all() == [read_job(TEXT).title]
    for store in (old, new):
        store.close()


def test_what_is_no_backup_is_told_and_changes_nothing(tmp_path: Path) -> None:
    store = open_store(f"sqlite:///{tmp_path / 'a.db'}")
    good = backup(store)
    wrong = io.BytesIO()
    with zipfile.ZipFile(wrong, "w") as archive:
        archive.writestr("head.json", '{"format": "callpath records 1", "version": "9999"}')
    before = contents(store)
    broken = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(good)) as given, zipfile.ZipFile(broken, "w") as archive:
        for name in given.namelist():
            archive.writestr(name, given.read(name) if name == "head.json" else b'[1, "no"]\n')
    for raw in (b"", b"PK", good[:-40], wrong.getvalue(), broken.getvalue()):
        with pytest.raises(CallpathError):
            restore(store, raw)
        assert contents(store) == before
    store.close()


def forged(good: bytes, **tables: bytes) -> bytes:
    """Return a backup with other lines in some of its tables."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(good)) as given, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in given.namelist():
            archive.writestr(name, tables.get(name.removesuffix(".jsonl"), given.read(name)))
    return out.getvalue()


def test_a_forged_backup_is_told_and_changes_nothing(store: Store) -> None:
    """Lines that are too deep, too large, of the wrong kind, or speak of a job that is not there; and a bomb."""
    good, before = backup(store), contents(store)
    head = (
        b'["1", "t", 1, false, 1, {"moment": "2026-01-01T00:00:00+00:00"}, {"moment": "2026-01-01T00:00:00+00:00"}]\n'
    )
    mark = b'[%s, "none", "as-left", 1, 1, {"moment": "2026-01-01T00:00:00+00:00"}]\n'
    for tables in (
        {"job": b"[" * 50_000},
        {"job": head.replace(b"1, false", b"1" + b"0" * 30 + b", false")},
        {"job": head.replace(b'"t"', b"[]")},
        {"job": head.replace(b"2026-01", b"2026-99")},
        {"job": head.replace(b'"t"', b'{"bytes": "@"}')},
        {"job": head.replace(b'"t"', b'{"bytes": "QQ=="}')},
        {"phase_mark": mark % b"1"},
        {"person": b"\xff\xfe\n"},
    ):
        with pytest.raises(CallpathError):
            restore(store, forged(good, **tables))
        assert contents(store) == before
    bomb = forged(good, job=b'"' + b"A" * 300_000_000)
    assert len(bomb) < 1e6
    tracemalloc.start()
    try:
        with pytest.raises(CallpathError):
            restore(store, bomb)
        assert tracemalloc.get_traced_memory()[1] < 150e6
    finally:
        tracemalloc.stop()


def test_records_and_backups_are_for_their_owner_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    url = f"sqlite:///{tmp_path / 'a.db'}"
    store = open_store(url)
    filled(store)
    modes = {path.name: path.stat().st_mode & 0o077 for path in tmp_path.glob("a.db*")}
    assert set(modes) >= {"a.db", "a.db-wal"}
    store.close()
    monkeypatch.setenv("CALLPATH_DATABASE_URL", url)
    with pytest.raises(SystemExit):
        main(["backup", str(tmp_path / "taken")])
    modes["taken"] = (tmp_path / "taken").stat().st_mode & 0o077
    assert set(modes.values()) == {0}


def test_records_of_a_newer_callpath_are_left_alone(tmp_path: Path) -> None:
    store = open_store(f"sqlite:///{tmp_path / 'a.db'}")
    store.close()
    engine = create_engine(f"sqlite:///{tmp_path / 'a.db'}")
    with engine.begin() as connection:
        connection.exec_driver_sql("update alembic_version set version_num = '9999'")
    engine.dispose()
    with pytest.raises(CallpathError, match="newer callpath"):
        open_store(f"sqlite:///{tmp_path / 'a.db'}")
