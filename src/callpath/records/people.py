"""Accounts of an office: who may come in, and what they may do there.

A *lead* sees every job and looks after people; a *technician* makes jobs, and sees those that are theirs or were given to
them; a *trainee* looks at jobs that were given to them, and practises.
"""

from __future__ import annotations

import hmac
import secrets
import unicodedata
from datetime import datetime, timedelta
from functools import cache
from hashlib import sha256

from argon2 import PasswordHasher
from argon2.exceptions import Argon2Error, InvalidHashError
from sqlalchemy import delete, func, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from callpath.errors import CallpathError, nearest
from callpath.records.schema import Attempt, Grant, Job, Login, Person, Secret, now
from callpath.records.store import Store

__all__ = [
    "ROLES",
    "TooManyError",
    "add_person",
    "change_password",
    "digest_of",
    "give",
    "grants_of",
    "has_accounts",
    "knock",
    "locked_out",
    "log_in",
    "log_out",
    "log_out_everywhere",
    "logged_in",
    "set_person",
]

ROLES = ("lead", "technician", "trainee")


class TooManyError(CallpathError):
    """There were too many wrong passwords lately."""


SHORTEST, LONGEST = 10, 200
_LASTS = timedelta(days=14)
_WINDOW = timedelta(minutes=15)
_MOST_BY_NAME, _MOST_BY_ADDRESS = 5, 30


@cache
def _hasher() -> PasswordHasher:
    return PasswordHasher()


@cache
def _nobody() -> str:
    """Return the hash of a password that nobody has: a name that is not there takes as long to refuse as one that is."""
    return _hasher().hash(secrets.token_hex(16))


def has_accounts(session: Session) -> bool:
    """Tell whether somebody can log in already."""
    return session.scalar(select(Person.id).where(Person.password_hash.is_not(None)).limit(1)) is not None


def add_person(session: Session, name: str, role: str, password: str) -> Person:
    """Make an account.

    Raises
    ------
    CallpathError
        The name is taken or none, the role is none, or the password is too short.
    """
    name = " ".join(name.split())
    if not name or len(name) > 80 or not name.isprintable():
        raise CallpathError("a name has 1 to 80 characters that can be seen")
    # Two people whose names only look the same would be taken for one another.
    if _folded(name) in map(_folded, session.scalars(select(Person.name))):
        raise CallpathError(f"there is somebody called {name} already")
    person = Person(name=name, role=_role(role), password_hash=_hashed(password))
    session.add(person)
    session.flush()
    return person


def set_person(session: Session, person_id: int, *, role: str, active: bool) -> None:
    """Change what somebody may do, or whether they may come in at all.

    Raises
    ------
    CallpathError
        Nobody would be left who leads.
    """
    person = session.get(Person, person_id)
    # Who works alone on their own machine has no account, and leads.
    if person is None or person.password_hash is None:
        raise CallpathError("there is no such person")
    person.role, person.active = _role(role), active
    session.flush()
    leads = select(func.count()).where(Person.role == "lead", Person.active, Person.password_hash.is_not(None))
    if not session.scalar(leads):
        raise CallpathError("somebody must lead: make another person lead first")
    if not active:
        log_out_everywhere(session, person_id)


def change_password(session: Session, person_id: int, new: str, old: str | None = None) -> None:
    """Give somebody a new password, and end their logins; ``old`` is checked where they do it themselves.

    Wrong ones were guesses at the old one: whoever has the new one is not kept waiting for them.

    Raises
    ------
    CallpathError
        The old one is wrong, or the new one too short.
    """
    person = session.get(Person, person_id)
    if person is None or (old is not None and not _matches(person.password_hash or _nobody(), old)):
        raise CallpathError("the present password is not right")
    person.password_hash = _hashed(new)
    session.execute(delete(Attempt).where(Attempt.name == _folded(person.name)[:80]))
    log_out_everywhere(session, person_id)


def log_in(store: Store, name: str, password: str, address: str) -> str | None:
    """Return a token for whoever knows the password, None for who does not.

    The try is written down before the password is looked at, so that many at once count as many; and nobody else waits while it
    is looked at, which takes long on purpose.

    Raises
    ------
    TooManyError
        There were too many wrong ones lately, for this name or from this address.
    """
    short = _folded(name)[:80]
    with store.writing() as session:
        _one_at_a_time(session)
        _must_not_be_many(session, Attempt.name, short, _MOST_BY_NAME)
        _must_not_be_many(session, Attempt.address, address[:80], _MOST_BY_ADDRESS)
        session.add(Attempt(name=short, address=address[:80]))
        person = _called(session, name)
        known = person.password_hash if person is not None and person.active else None
    if not _matches(known or _nobody(), password[:LONGEST]) or person is None or known is None:
        return None
    token = secrets.token_urlsafe(32)
    with store.writing() as session:
        person = session.get_one(Person, person.id)
        if not person.active or person.password_hash != known:
            return None
        session.execute(delete(Attempt).where(Attempt.name == short))
        session.execute(delete(Login).where(Login.ends_at < now()))
        if _hasher().check_needs_rehash(known):
            person.password_hash = _hasher().hash(password)
        session.add(Login(digest=digest_of(token), person_id=person.id, ends_at=now() + _LASTS))
    return token


def locked_out(session: Session) -> dict[int, datetime]:
    """Return who cannot log in for having been called with too many wrong passwords lately, and until when."""
    found: dict[int, datetime] = {}
    for person in session.scalars(select(Person).where(Person.password_hash.is_not(None))):
        tries = select(Attempt.made_at).where(
            Attempt.name == _folded(person.name)[:80], Attempt.made_at >= now() - _WINDOW
        )
        latest = session.scalars(tries.order_by(Attempt.made_at.desc()).limit(_MOST_BY_NAME)).all()
        if len(latest) == _MOST_BY_NAME:
            found[person.id] = latest[-1] + _WINDOW
    return found


def knock(store: Store, key: str, wanted: str, address: str) -> bool:
    """Tell whether somebody has the key of the door; wrong keys from one address are counted as wrong passwords are.

    Raises
    ------
    TooManyError
        There were too many wrong ones lately.
    """
    with store.writing() as session:
        _one_at_a_time(session)
        _must_not_be_many(session, Attempt.address, address[:80], _MOST_BY_ADDRESS)
        if hmac.compare_digest(key.encode(), wanted.encode()):
            return True
        session.add(Attempt(name="", address=address[:80]))
    return False


def _one_at_a_time(session: Session) -> None:
    # PostgreSQL would let two count at once and both go on; in SQLite this takes no lock, since whoever writes is alone.
    session.execute(select(Secret.name).where(Secret.name == "tokens").with_for_update())


def _must_not_be_many(session: Session, column: InstrumentedAttribute[str], value: str, most: int) -> None:
    session.execute(delete(Attempt).where(Attempt.made_at < now() - _WINDOW))
    if (session.scalar(select(func.count()).where(column == value)) or 0) >= most:
        raise TooManyError("too many wrong ones; wait a quarter of an hour, then try again")


def _folded(name: str) -> str:
    """Return what two spellings of one name have in common; a database's own lower case knows ASCII at most."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def _called(session: Session, name: str) -> Person | None:
    with_accounts = session.scalars(select(Person).where(Person.password_hash.is_not(None)))
    return next((person for person in with_accounts if _folded(person.name) == _folded(name)), None)


def logged_in(session: Session, token: str) -> Person | None:
    """Return whose token it is, None for nobody's."""
    login = session.get(Login, digest_of(token))
    if login is None or login.ends_at < now() or not login.person.active:
        return None
    return login.person


def log_out(session: Session, token: str) -> None:
    """End a login."""
    session.execute(delete(Login).where(Login.digest == digest_of(token)))


def log_out_everywhere(session: Session, person_id: int) -> None:
    """End every login of somebody, on whichever device and by whichever program."""
    session.execute(delete(Login).where(Login.person_id == person_id))


def digest_of(token: str) -> str:
    """Return what the records keep of a token: who reads them cannot come in with it."""
    return sha256(token.encode()).hexdigest()


def grants_of(session: Session, person_id: int) -> dict[str, bool]:
    """Return the jobs that somebody was given or owns, and whether they may change them."""
    given = session.execute(select(Grant.job_id, Grant.may_edit).where(Grant.person_id == person_id))
    owned = session.scalars(select(Job.id).where(Job.owner_id == person_id))
    return {**dict(given.all()), **dict.fromkeys(owned, True)}


def give(session: Session, job_id: str, person_id: int, what: str) -> None:
    """Let somebody ``see`` or ``change`` a job, or ``nothing`` any more.

    Raises
    ------
    CallpathError
        None of these words, or nobody of that number.
    """
    if what not in ("nothing", "see", "change"):
        raise CallpathError(f"'{what}' is nothing that can be given; {nearest(what, ('nothing', 'see', 'change'))}")
    if session.get(Person, person_id) is None:
        raise CallpathError("there is no such person")
    session.execute(delete(Grant).where(Grant.job_id == job_id, Grant.person_id == person_id))
    if what != "nothing":
        session.add(Grant(job_id=job_id, person_id=person_id, may_edit=what == "change"))
    session.flush()


def _role(role: str) -> str:
    if role not in ROLES:
        raise CallpathError(f"there is no role '{role}'; {nearest(role, ROLES)}")
    return role


def _hashed(password: str) -> str:
    if not SHORTEST <= len(password) <= LONGEST:
        raise CallpathError(
            f"a password has {SHORTEST} to {LONGEST} characters; several words are easy to keep in mind"
        )
    return _hasher().hash(password)


def _matches(known: str, password: str) -> bool:
    try:
        return _hasher().verify(known, password)
    except (Argon2Error, InvalidHashError):
        return False
