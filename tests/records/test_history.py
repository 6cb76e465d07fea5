"""A job's history only grows, loses nothing, and can be walked back and forth."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select

from callpath.errors import CallpathError, JobError
from callpath.job.rewrite import with_changes
from callpath.records import history
from callpath.records.history import Change
from callpath.records.schema import Job, Revision
from callpath.records.shelf import archive, copied, jobs
from callpath.records.store import Store

TEXT = (Path(__file__).parents[2] / "examples" / "garden-cottage.job.yaml").read_text(encoding="utf-8")
ME = 1


def begun(store: Store) -> str:
    with store.writing() as session:
        return history.begin(session, TEXT, ME).id


def saved(store: Store, job_id: str, title: str, seen: int) -> Revision:
    with store.writing() as session:
        text = with_changes(TEXT, title=title)
        return history.change(session, job_id, Change(text, f"called {title}", seen, ME))


def head(store: Store, job_id: str) -> Revision:
    with store.reading() as session:
        job = session.get(Job, job_id)
        assert job is not None
        found = history.head(session, job)
        assert job.title == found.text.partition("title: ")[2].partition("\n")[0]
        return found


def test_a_text_comes_back_as_it_was_given(store: Store) -> None:
    job_id = begun(store)
    assert head(store, job_id).text == TEXT
    assert TEXT.startswith("#")  # comments and all


def test_what_is_no_sound_job_is_not_kept(store: Store) -> None:
    job_id = begun(store)
    with pytest.raises(JobError), store.writing() as session:
        history.change(session, job_id, Change(TEXT.replace("board.R", "board.Q"), "wrong", 1, ME))
    assert head(store, job_id).number == 1


def test_undo_and_redo_go_back_and_forth_without_end(store: Store) -> None:
    job_id = begun(store)
    titles = ["one", "two", "three"]
    for seen, title in enumerate(titles, 1):
        saved(store, job_id, title, seen)
    walk = []
    for step in ("undo", "undo", "undo", "redo", "redo", "undo", "redo", "redo"):
        seen = head(store, job_id).number
        with store.writing() as session:
            getattr(history, step)(session, job_id, seen, ME)
        walk.append(head(store, job_id).text.partition("title: ")[2].partition("\n")[0])
    first = TEXT.partition("title: ")[2].partition("\n")[0]
    assert walk == ["two", "one", first, "one", "two", "one", "two", "three"]
    with pytest.raises(CallpathError, match="nothing to redo"), store.writing() as session:
        history.redo(session, job_id, head(store, job_id).number, ME)


def test_a_change_after_undo_starts_a_new_way_and_keeps_the_old_one(store: Store) -> None:
    job_id = begun(store)
    saved(store, job_id, "one", 1)
    with store.writing() as session:
        history.undo(session, job_id, 2, ME)
    saved(store, job_id, "other", 3)
    with pytest.raises(CallpathError, match="nothing to redo"), store.writing() as session:
        history.redo(session, job_id, 4, ME)
    with store.writing() as session:
        history.take(session, job_id, 2, 4, ME)
    assert "title: one\n" in head(store, job_id).text


def test_who_is_second_overwrites_nothing_and_loses_nothing(store: Store) -> None:
    job_id = begun(store)
    first, second = saved(store, job_id, "mine", 1), saved(store, job_id, "theirs", 1)
    assert not first.aside
    assert second.aside
    assert head(store, job_id).number == first.number
    with store.reading() as session:
        job = session.get(Job, job_id)
        assert job is not None
        assert "title: theirs\n" in history.revision(session, job, second.number).text
    for step in (history.undo, history.redo):
        with pytest.raises(CallpathError, match="meanwhile"), store.writing() as session:
            step(session, job_id, 1, ME)


def test_many_at_once_lose_nothing(store: Store) -> None:
    """Every acknowledged change is there, whole, and exactly the unbroken line of them counted."""
    job_id = begun(store)
    kept: list[tuple[int, str]] = []
    failures: list[Exception] = []

    def work(who: int) -> None:
        try:
            for turn in range(6):
                title = f"from {who} turn {turn}"
                new = saved(store, job_id, title, head(store, job_id).number)
                kept.append((new.number, title))
        except Exception as error:  # noqa: BLE001 - a thread's failure is told by the test
            failures.append(error)

    threads = [threading.Thread(target=work, args=(who,)) for who in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert not failures
    with store.reading() as session:
        rows = session.scalars(select(Revision).order_by(Revision.number)).all()
    assert [row.number for row in rows] == list(range(1, 32))
    texts = {row.number: row.text for row in rows}
    assert all(f"title: {title}\n" in texts[number] for number, title in kept)
    line = [row for row in rows if not row.aside]
    assert [row.base for row in line[1:]] == [row.number for row in line[:-1]]


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=st.lists(st.sampled_from(["save", "stale", "undo", "redo", "take"]), max_size=12), data=st.data())
def test_whatever_is_done_nothing_that_was_saved_is_lost(store: Store, steps: list[str], data: st.DataObject) -> None:
    job_id = begun(store)
    saved_texts: dict[int, str] = {1: TEXT}
    for turn, step in enumerate(steps):
        seen = head(store, job_id).number
        if step == "stale":
            seen = data.draw(st.integers(1, len(saved_texts)))
        if step in ("save", "stale"):
            new = saved(store, job_id, f"turn {turn}", seen)
        else:
            try:
                with store.writing() as session:
                    if step == "take":
                        number = data.draw(st.integers(1, len(saved_texts)))
                        new = history.take(session, job_id, number, seen, ME)
                    else:
                        new = getattr(history, step)(session, job_id, seen, ME)
            except CallpathError:
                continue
        saved_texts[new.number] = new.text
    with store.reading() as session:
        rows = session.scalars(select(Revision).where(Revision.job_id == job_id)).all()
        assert {row.number: row.text for row in rows} == saved_texts
        job = session.get(Job, job_id)
        assert job is not None
        assert not history.head(session, job).aside


def test_jobs_are_found_copied_and_put_away(store: Store) -> None:
    one, two = begun(store), begun(store)
    saved(store, two, "Barn 100 % dry_wood", 1)
    with store.writing() as session:
        copy = copied(session, history._locked(session, two), ME)
        archive(session, history._locked(session, one), True)
    with store.reading() as session:
        assert {job.id for job in jobs(session)[0]} == {two, copy.id}
        assert {job.id for job in jobs(session, search="BARN")[0]} == {two, copy.id}
        assert {job.id for job in jobs(session, search="dry barn copy")[0]} == {copy.id}
        assert jobs(session, search="d_y") == ([], 0)
        assert [job.id for job in jobs(session, archived=True)[0]] == [one]
        assert session.scalar(select(func.count()).select_from(Job)) == 3
