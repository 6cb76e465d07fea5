"""What the database holds.

A job is a row and a line of revisions, each with the whole text of the job file. Nothing is ever changed in a revision
and none is taken away, so that what somebody once saved can always be had back.
"""

from __future__ import annotations

import secrets
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import DateTime, ForeignKey, MetaData, String, Text, TypeDecorator, UniqueConstraint
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

__all__ = [
    "Assumed",
    "Attempt",
    "Base",
    "Grant",
    "Job",
    "Login",
    "Measured",
    "Moment",
    "Person",
    "PhaseMark",
    "Photo",
    "Revision",
    "Secret",
    "now",
]


def now() -> datetime:
    """Return the present moment."""
    return datetime.now(UTC)


def _job_id() -> str:
    """Return an id that nobody guesses, fit to stand in an address."""
    return secrets.token_hex(8)


class Moment(TypeDecorator[datetime]):
    """A moment in UTC; SQLite knows no time zones, so the zone is put back when it is read."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_result_value(self, value: datetime | None, dialect: Any) -> datetime | None:
        return value if value is None or value.tzinfo else value.replace(tzinfo=UTC)


class Base(DeclarativeBase):
    """Every table; constraints have names, so that migrations can speak of them."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(column_0_label)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


class Secret(Base):
    """What only the server knows: the key that its tokens are signed with, made once."""

    __tablename__ = "secret"

    name: Mapped[str] = mapped_column(String(40), primary_key=True)
    value: Mapped[bytes]


class Person(Base):
    """Somebody who works on jobs. Alone on one machine there is one, who has no password and leads."""

    __tablename__ = "person"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(80), unique=True)
    role: Mapped[str] = mapped_column(String(20))
    active: Mapped[bool] = mapped_column(default=True)
    made_at: Mapped[datetime] = mapped_column(Moment, default=now)
    password_hash: Mapped[str | None] = mapped_column(String(200))


class Login(Base):
    """Somebody who is logged in; the token itself is in their browser only, here is its digest."""

    __tablename__ = "login"

    digest: Mapped[str] = mapped_column(String(64), primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    made_at: Mapped[datetime] = mapped_column(Moment, default=now)
    ends_at: Mapped[datetime] = mapped_column(Moment)

    person: Mapped[Person] = relationship()


class Attempt(Base):
    """A login that failed; too many of them shut the door for a while."""

    __tablename__ = "attempt"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(80))
    address: Mapped[str] = mapped_column(String(80))
    made_at: Mapped[datetime] = mapped_column(Moment, default=now, index=True)


class Grant(Base):
    """A job that somebody may see, or change, who does not own it."""

    __tablename__ = "grant"

    job_id: Mapped[str] = mapped_column(ForeignKey("job.id"), primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), primary_key=True)
    may_edit: Mapped[bool]

    person: Mapped[Person] = relationship()


class Job(Base):
    """One job: ``head`` is the number of the revision that counts, ``title`` what that one's file says."""

    __tablename__ = "job"

    id: Mapped[str] = mapped_column(String(32), primary_key=True, default=_job_id)
    title: Mapped[str] = mapped_column(String(400))
    head: Mapped[int] = mapped_column(default=0)
    archived: Mapped[bool] = mapped_column(default=False)
    owner_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    made_at: Mapped[datetime] = mapped_column(Moment, default=now)
    changed_at: Mapped[datetime] = mapped_column(Moment, default=now)

    owner: Mapped[Person] = relationship(lazy="joined", innerjoin=True)
    revisions: Mapped[list[Revision]] = relationship(back_populates="job", order_by="Revision.number")


class Revision(Base):
    """One saved version of a job file.

    ``state`` is the number of the revision that first had this text on this way through the history, ``base`` the state that it
    was made from: undo goes to ``base``, redo to the youngest state made from here. An ``aside`` revision was made from a
    version that had been overtaken; it never was the head, and is kept.
    """

    __tablename__ = "revision"
    __table_args__ = (UniqueConstraint("job_id", "number"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[str] = mapped_column(ForeignKey("job.id"), index=True)
    number: Mapped[int]
    state: Mapped[int]
    base: Mapped[int | None]
    aside: Mapped[bool] = mapped_column(default=False)
    text: Mapped[str] = mapped_column(Text)
    what: Mapped[str] = mapped_column(String(400))
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    made_at: Mapped[datetime] = mapped_column(Moment, default=now)

    job: Mapped[Job] = relationship(back_populates="revisions")
    person: Mapped[Person] = relationship(lazy="joined", innerjoin=True)


class PhaseMark(Base):
    """Somebody's word that a version shows the job as found or as left; the last word holds, and all are kept.

    ``version`` is None where they said that it is the head, whichever that is.
    """

    __tablename__ = "phase_mark"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[str] = mapped_column(ForeignKey("job.id"), index=True)
    phase: Mapped[str] = mapped_column(String(20))
    version: Mapped[int | None]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    made_at: Mapped[datetime] = mapped_column(Moment, default=now)

    person: Mapped[Person] = relationship(lazy="joined", innerjoin=True)


class Measured(Base):
    """A reading that somebody took, or a function that they watched, beside what the circuit said of it then.

    ``kind`` is ``volts``, ``low-z``, ``amps``, ``ohms`` or ``running``; ``one`` and ``other`` are the points, the conductor or
    the function; an ``amount`` of None is an open line in ohms. ``callers`` are the thermostats that made the call, blanks
    between them, none where all that can did. What is wrong is struck out, never taken away.
    """

    __tablename__ = "measured"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[str] = mapped_column(ForeignKey("job.id"), index=True)
    version: Mapped[int]
    phase: Mapped[str] = mapped_column(String(20))
    call: Mapped[str] = mapped_column(String(80))
    callers: Mapped[str] = mapped_column(Text, server_default="", default="")
    kind: Mapped[str] = mapped_column(String(20))
    one: Mapped[str] = mapped_column(String(100))
    other: Mapped[str] = mapped_column(String(100))
    lifted: Mapped[str] = mapped_column(String(100))
    amount: Mapped[float | None]
    low: Mapped[float | None]
    high: Mapped[float | None]
    note: Mapped[str] = mapped_column(String(400))
    struck: Mapped[bool] = mapped_column(default=False)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    made_at: Mapped[datetime] = mapped_column(Moment, default=now)

    person: Mapped[Person] = relationship(lazy="joined", innerjoin=True)


class Photo(Base):
    """A picture of a job, encoded anew: nothing of the file that came in is kept but what can be seen.

    ``of`` is the equipment, terminal, splice, cable or conductor that it shows, empty where that is nothing in particular.
    """

    __tablename__ = "photo"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[str] = mapped_column(ForeignKey("job.id"), index=True)
    phase: Mapped[str] = mapped_column(String(20))
    caption: Mapped[str] = mapped_column(String(400))
    of: Mapped[str] = mapped_column(String(100), server_default="")
    width: Mapped[int]
    height: Mapped[int]
    jpeg: Mapped[bytes] = mapped_column(deferred=True)
    small: Mapped[bytes | None] = mapped_column(deferred=True)
    struck: Mapped[bool] = mapped_column(default=False)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    made_at: Mapped[datetime] = mapped_column(Moment, default=now)

    person: Mapped[Person] = relationship(lazy="joined", innerjoin=True)


class Assumed(Base):
    """What somebody assumes of faults (``priors``) or of work (``minutes``): for one job, or without one for the whole office.

    The youngest row of a job and kind counts; an empty text goes back to what counts without it. None is ever taken away.
    """

    __tablename__ = "assumed"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[str | None] = mapped_column(ForeignKey("job.id"), index=True)
    kind: Mapped[str] = mapped_column(String(20))
    text: Mapped[str] = mapped_column(Text)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    made_at: Mapped[datetime] = mapped_column(Moment, default=now)

    person: Mapped[Person] = relationship(lazy="joined", innerjoin=True)


class Hunt(Base):
    """A search for a fault: a real one, which whoever works on the job takes up again, or a hidden one, by its ``kind``.

    ``seen`` and ``skipped`` are texts in the form of a file of what was seen. A hidden fault is drawn by ``seed``, ``faults`` and
    ``alike``, under the assumptions ``priors`` and ``minutes_assumed`` that counted then (empty: those that ship with callpath);
    how it went stands in the numbers once it has ended.
    """

    __tablename__ = "hunt"

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[str] = mapped_column(ForeignKey("job.id"), index=True)
    version: Mapped[int]
    kind: Mapped[str] = mapped_column(String(20))
    seen: Mapped[str] = mapped_column(Text)
    skipped: Mapped[str] = mapped_column(Text)
    seed: Mapped[int] = mapped_column(default=0)
    faults: Mapped[int] = mapped_column(default=0)
    alike: Mapped[str] = mapped_column(String(20), default="")
    priors: Mapped[str] = mapped_column(Text, default="", server_default="")
    minutes_assumed: Mapped[str] = mapped_column(Text, default="", server_default="")
    found: Mapped[bool] = mapped_column(default=False)
    tests: Mapped[int] = mapped_column(default=0)
    wrong: Mapped[int] = mapped_column(default=0, server_default="0")
    minutes: Mapped[float] = mapped_column(default=0.0)
    best_tests: Mapped[int] = mapped_column(default=0)
    best_minutes: Mapped[float] = mapped_column(default=0.0)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    made_at: Mapped[datetime] = mapped_column(Moment, default=now)
    ended_at: Mapped[datetime | None] = mapped_column(Moment)

    person: Mapped[Person] = relationship(lazy="joined", innerjoin=True)
    job: Mapped[Job] = relationship()
