"""Assumptions kept for a job, for the office, or as they ship; on both databases, through migrations and backups."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import text

from callpath.errors import CallpathError, FaultDataError
from callpath.faults.cost import default_minutes, shipped_minutes
from callpath.faults.prior import default_priors, shipped_priors
from callpath.records import history
from callpath.records.assumed import SHIPPED, assume, assumed, assumptions
from callpath.records.backup import backup, restore
from callpath.records.hunt import begin_hunt, open_hunt
from callpath.records.schema import Assumed, Job
from callpath.records.store import Store, migrations, open_store

TEXT = (Path(__file__).parents[2] / "examples" / "garden-cottage.job.yaml").read_text(encoding="utf-8")
FAR, FARTHER = (shipped_minutes().replace("walk: 2.0", f"walk: {minutes}") for minutes in (20, 200))
DOUBTING = shipped_priors().replace("misread: 0.002", "misread: 0.1")


def test_a_jobs_own_comes_before_the_offices_and_both_before_what_ships(store: Store) -> None:
    with store.writing() as session:
        job, other = history.begin(session, TEXT, 1), history.begin(session, TEXT, 1)
        assert assumptions(session, job) == SHIPPED
        office = assume(session, None, "minutes", FAR, 1, 0)
        own = assume(session, job, "minutes", FARTHER, 1, 0)
        assume(session, job, "priors", DOUBTING, 1, 0)
        priors, minutes = assumptions(session, job).read()
        assert priors is not None
        assert minutes is not None
        assert (minutes.walk, priors.misread) == (200, 0.1)
        theirs = assumptions(session, other)
        assert (theirs.minutes, theirs.priors) == (FAR, "")
        assume(session, job, "minutes", " \n", 1, own.id)
        assert assumptions(session, job).minutes == FAR
        assume(session, None, "minutes", "", 1, office.id)
        assert assumptions(session, job).minutes == ""
        assert session.query(Assumed).count() == 5


def test_what_ships_is_what_an_empty_text_stands_for() -> None:
    assert SHIPPED.read() == (None, None)
    assert default_minutes().walk == 2
    assert default_priors().misread == 0.002


def test_who_was_quicker_is_not_written_over(store: Store) -> None:
    with store.writing() as session:
        job = history.begin(session, TEXT, 1)
        first = assume(session, job, "minutes", FAR, 1, 0)
        with pytest.raises(CallpathError, match="meanwhile"):
            assume(session, job, "minutes", FARTHER, 1, 0)
        assume(session, job, "minutes", FARTHER, 1, first.id)
        row = assumed(session, job, "minutes")
        assert row is not None
        assert row.text == FARTHER


@pytest.mark.parametrize(
    ("kind", "given", "told"),
    [
        ("minutes", FAR.replace("walk", "wlak"), "did you mean 'walk'"),
        ("priors", DOUBTING.replace("open-coil", "open-coal"), "did you mean 'open-coil'"),
        ("priors", FAR, "no such key"),
        ("minutes", "[" * 5000, "1"),
        ("minutes", "a: &a [1]\nb: *a\n", "1:4"),
        ("walks", FAR, "called 'walks'"),
    ],
)
def test_what_holds_no_assumptions_is_not_kept(store: Store, kind: str, given: str, told: str) -> None:
    with store.writing() as session:
        job = history.begin(session, TEXT, 1)
        with pytest.raises((FaultDataError, CallpathError), match=told):
            assume(session, job, kind, given, 1, 0)
        assert session.query(Assumed).count() == 0


def test_a_search_that_was_there_before_goes_through_the_migration(address: str) -> None:
    """Down to the version before and up again: what is assumed is gone, what was hunted is not."""
    store = open_store(address)
    with store.writing() as session:
        job = history.begin(session, TEXT, 1)
        assume(session, job, "minutes", FAR, 1, 0)
        begin_hunt(session, job, "practice", 1, seed=7, faults=1, alike="some", assumed=assumptions(session, job))
        job_id = job.id
    migrations(store.engine, "0006")
    with store.engine.connect() as connection:
        assert connection.scalar(text("select seed from hunt")) == 7
    migrations(store.engine)
    with store.reading() as session:
        kept = session.get(Job, job_id)
        assert kept is not None
        hunt = open_hunt(session, kept, "practice", 1)
        assert hunt is not None
        assert (hunt.seed, hunt.priors, hunt.minutes_assumed) == (7, "", "")
        assert assumptions(session, kept) == SHIPPED
    store.close()


def test_a_backup_holds_them(store: Store, tmp_path: Path) -> None:
    with store.writing() as session:
        assume(session, None, "minutes", FAR, 1, 0)
        assume(session, history.begin(session, TEXT, 1), "priors", DOUBTING, 1, 0)
    other = open_store(f"sqlite:///{tmp_path / 'other.db'}")
    restore(other, backup(store))
    with other.reading() as session:
        kept = assumptions(session, session.query(Job).one())
        assert (kept.minutes, kept.priors) == (FAR, DOUBTING)
    other.close()
