"""The database: where it is, how it is opened, and how it comes to the shape that this version needs."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, create_engine, event, select
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, OperationalError
from sqlalchemy.orm import Session

from callpath.errors import CallpathError
from callpath.records.schema import Person, Secret

__all__ = ["Store", "default_url", "known_versions", "migrations", "open_store", "version_of"]

_WRITES = "callpath_writes"


def default_url() -> URL:
    """Return where records are: ``CALLPATH_DATABASE_URL``, or a file in the user's data folder.

    Raises
    ------
    CallpathError
        The variable holds no address of a SQLite or PostgreSQL database.
    """
    if given := os.environ.get("CALLPATH_DATABASE_URL", "").strip():
        return _checked(given)
    from platformdirs import user_data_path

    return URL.create("sqlite", database=str(user_data_path("callpath", appauthor=False) / "callpath.db"))


def _checked(given: str) -> URL:
    try:
        url = make_url(given)
    except ArgumentError:
        raise CallpathError(
            "CALLPATH_DATABASE_URL is no address of a database; write postgresql://user@host/name or sqlite:////folder/file.db"
        ) from None
    kind = url.get_backend_name()
    if kind not in ("sqlite", "postgresql"):
        raise CallpathError(f"CALLPATH_DATABASE_URL asks for {kind}; records are kept in sqlite or postgresql")
    return url.set(drivername="postgresql+psycopg") if kind == "postgresql" else url


class Store:
    """An open database."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Look at the records; nothing that is changed is kept."""
        with Session(self.engine) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """Change the records: all of what is changed is on the disk when this ends, or nothing of it."""
        with Session(self.engine, expire_on_commit=False) as session:
            session.connection(execution_options={_WRITES: True})
            yield session
            session.commit()

    def secret(self) -> bytes:
        """Return the key that tokens are signed with, made when the database was."""
        with self.reading() as session:
            return session.scalars(select(Secret.value).where(Secret.name == "tokens")).one()

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()


def open_store(url: URL | str | None = None) -> Store:
    """Open the records, making or migrating the database where that is needed.

    Raises
    ------
    CallpathError
        It cannot be opened.
    """
    place = default_url() if url is None else _checked(str(url)) if isinstance(url, str) else url
    if place.get_backend_name() == "sqlite" and place.database:
        folder = Path(place.database).parent
        try:
            # Others on the machine have no business in it: it holds photos of people's houses.
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            if place.database != ":memory:":
                os.close(os.open(place.database, os.O_RDWR | os.O_CREAT, 0o600))
        except OSError as error:
            raise CallpathError(f"{place.database}: {error.strerror}") from None
    # What is told of an error, on a page or in a log, never holds what somebody typed.
    engine = create_engine(place, pool_pre_ping=place.get_backend_name() == "postgresql", hide_parameters=True)
    if place.get_backend_name() == "sqlite":
        _careful_sqlite(engine)
    try:
        migrations(engine)
        _first_person(Store(engine))
    except OperationalError as error:
        engine.dispose()
        reason = str(error.orig).strip().splitlines()[0]
        raise CallpathError(f"the records at {place.render_as_string(hide_password=True)}: {reason}") from None
    return Store(engine)


def _careful_sqlite(engine: Engine) -> None:
    """Have SQLite keep what it has acknowledged, whatever happens to the process or the power, and wait for its turn."""

    @event.listens_for(engine, "connect")
    def _connect(connection: Any, record: Any) -> None:
        # Transactions are begun below; left to itself the driver would begin some of them late.
        connection.isolation_level = None
        for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", "busy_timeout=15000"):
            connection.execute(f"PRAGMA {pragma}").close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:
        # A transaction that will write takes its turn at once, so that what it has read is still so when it writes.
        writes = connection.get_execution_options().get(_WRITES)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def migrations(engine: Engine, target: str = "head") -> None:
    """Bring the database's tables to a version: up to ``head`` by default, down to ``base`` and nothing."""
    from alembic import command

    current, every = version_of(engine), known_versions()
    wanted = every[-1] if target == "head" else target
    with engine.connect().execution_options(**{_WRITES: True}) as connection, connection.begin():
        config = _config()
        config.attributes["connection"] = connection
        if current is not None and current not in every:
            raise CallpathError(f"these records are of a newer callpath (version {current}); use that one")
        if wanted != "base" and (current is None or every.index(wanted) >= every.index(current)):
            command.upgrade(config, wanted)
        else:
            command.downgrade(config, wanted)


def version_of(engine: Engine) -> str | None:
    """Return the version of the database's tables, None where there are none."""
    from alembic.migration import MigrationContext

    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def known_versions() -> list[str]:
    """Return every version of the tables, the oldest first."""
    from alembic.script import ScriptDirectory

    return [script.revision for script in ScriptDirectory.from_config(_config()).walk_revisions()][::-1]


def _config() -> Any:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migration").replace("%", "%%"))
    return config


def _first_person(store: Store) -> None:
    with store.reading() as session:
        if session.scalar(select(Person.id).limit(1)) is not None:
            return
    with store.writing() as session:
        if session.scalar(select(Person.id).limit(1)) is None:
            session.add(Person(name="me", role="lead"))
            session.add(Secret(name="tokens", value=secrets.token_bytes(32)))
