"""Accounts: who is let in, how guessing is stopped, on SQLite and PostgreSQL alike."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest
from argon2 import PasswordHasher

from callpath.errors import CallpathError
from callpath.records import people
from callpath.records.people import TooManyError
from callpath.records.store import Store

PASSWORD = "copper wire and paper"


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    # As the real ones, only quick: what makes them slow is not what is tested here.
    monkeypatch.setattr(people, "_hasher", lambda: PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
    people._nobody.cache_clear()
    yield
    people._nobody.cache_clear()


def added(store: Store, name: str, role: str = "lead") -> int:
    with store.writing() as session:
        return people.add_person(session, name, role, PASSWORD).id


def test_a_name_is_known_however_it_is_written(store: Store) -> None:
    """Case beyond ASCII, letters composed or not, blanks: Unicode's NFKC and case folding, whatever the database knows."""
    added(store, "Zoë  Ärmel")
    for name in ("zoë ärmel", "ZOË ÄRMEL", " Zoe\u0308 A\u0308rmel "):
        assert people.log_in(store, name, PASSWORD, "here") is not None
    for name in ("Zoe Ärmel", "zoë", ""):
        assert people.log_in(store, name, PASSWORD, "here") is None
    for alike in ("ZOË ÄRMEL", "\uff3aoë Ärmel"):
        with pytest.raises(CallpathError, match="already"):
            added(store, alike)


def test_many_tries_at_once_count_as_many(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    added(store, "Lead")
    looked = []
    matches = people._matches
    monkeypatch.setattr(people, "_matches", lambda known, word: looked.append(word) or matches(known, word))

    def guess(number: int) -> str:
        try:
            return str(people.log_in(store, "lead", f"guess number {number}", f"address {number}"))
        except TooManyError:
            return "too many"

    with ThreadPoolExecutor(12) as pool:
        said = list(pool.map(guess, range(24)))
    assert sorted(said) == ["None"] * 5 + ["too many"] * 19
    assert len(looked) == 5


def test_nobody_waits_while_a_password_is_looked_at(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """Others save meanwhile; and who is shut out, or given another password, meanwhile does not come in."""
    number = added(store, "Lead")
    other = added(store, "Other")

    def meanwhile(known: str, word: str) -> bool:
        with store.writing() as session:
            people.set_person(session, number, role="technician", active=False)
        return True

    monkeypatch.setattr(people, "_matches", meanwhile)
    assert people.log_in(store, "lead", PASSWORD, "here") is None
    monkeypatch.undo()
    assert people.log_in(store, "lead", PASSWORD, "here") is None
    assert people.log_in(store, "other", PASSWORD, "here") is not None
    with store.writing() as session, pytest.raises(CallpathError, match="must lead"):
        people.set_person(session, other, role="trainee", active=True)


def test_who_works_alone_has_no_account_to_change(store: Store) -> None:
    added(store, "Lead")
    with store.writing() as session, pytest.raises(CallpathError, match="no such person"):
        people.set_person(session, 1, role="trainee", active=True)
    assert people.log_in(store, "me", "", "here") is None


def test_wrong_keys_are_counted_by_where_they_come_from(store: Store) -> None:
    added(store, "Lead")
    for _ in range(30):
        assert not people.knock(store, "wrong", "right", "there")
    for key in ("wrong", "right"):
        with pytest.raises(TooManyError):
            people.knock(store, key, "right", "there")
    with pytest.raises(TooManyError):
        people.log_in(store, "Lead", PASSWORD, "there")
    assert people.knock(store, "right", "right", "elsewhere")


def test_every_device_is_logged_out(store: Store) -> None:
    number = added(store, "Lead")
    tokens = [people.log_in(store, "Lead", PASSWORD, "here") or "" for _ in range(3)]
    with store.writing() as session:
        people.log_out(session, tokens[0])
    with store.reading() as session:
        assert [people.logged_in(session, token) is not None for token in tokens] == [False, True, True]
    with store.writing() as session:
        people.log_out_everywhere(session, number)
    with store.reading() as session:
        assert not any(people.logged_in(session, token) for token in tokens)
