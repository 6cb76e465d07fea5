"""All records as one file, and back: from SQLite to PostgreSQL too, and from an older callpath to a newer one.

The file is a zip of one JSON line for every row, table by table. Who is logged in and what tokens are signed with stay out of
it; photos and the hashes of passwords are in it, so it is to be kept like the records themselves.
"""

from __future__ import annotations

import base64
import json
import zipfile
import zlib
from collections.abc import Iterator
from datetime import UTC, datetime
from io import BytesIO
from itertools import islice
from typing import Any

from sqlalchemy import Connection, Engine, MetaData, Table, delete, func, insert, select, text
from sqlalchemy.exc import SQLAlchemyError

from callpath.errors import CallpathError
from callpath.records.schema import Job
from callpath.records.store import Store, known_versions, migrations, version_of

__all__ = ["backup", "restore"]

_LEFT_OUT = ("alembic_version", "attempt", "login", "secret")
_FORMAT = "callpath records 1"
_MOST_BYTES = 4 << 30
_LONGEST_HEAD = 1 << 16
_LONGEST_LINE = 32 << 20
_ROWS = 50


def backup(store: Store) -> bytes:
    """Return all records as one file."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive, store.engine.connect() as connection:
        if store.engine.dialect.name == "postgresql":
            # One moment for all tables; SQLite's readers have that anyway.
            connection = connection.execution_options(isolation_level="REPEATABLE READ")
        head = {"format": _FORMAT, "version": version_of(store.engine), "made_at": datetime.now(UTC).isoformat()}
        archive.writestr("head.json", json.dumps(head))
        for table in _tables(connection):
            with archive.open(f"{table.name}.jsonl", "w", force_zip64=True) as stream:
                for row in connection.execute(select(table).order_by(*table.primary_key)):
                    line = json.dumps([_told(value) for value in row], ensure_ascii=False)
                    stream.write(line.encode() + b"\n")
    return out.getvalue()


def restore(store: Store, raw: bytes) -> int:
    """Fill empty records from a backup, and return how many jobs there are then.

    Raises
    ------
    CallpathError
        The records are not empty, or the file is no backup that this version can read; nothing is changed then.
    """
    with store.reading() as session:
        if session.scalar(select(func.count()).select_from(Job)):
            raise CallpathError("there are jobs in these records already; restore into empty ones")
    try:
        with zipfile.ZipFile(BytesIO(raw)) as archive:
            version = _version_in(archive)
            try:
                # Filled in the shape that it was taken in, then brought to today's.
                migrations(store.engine, version)
                _fill(store.engine, archive)
            finally:
                migrations(store.engine)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError):
        raise CallpathError("this file is no backup of callpath's records, or it is damaged") from None
    except SQLAlchemyError:
        raise CallpathError("the backup holds what these records cannot; nothing was restored") from None
    with store.reading() as session:
        return session.scalar(select(func.count()).select_from(Job)) or 0


def _version_in(archive: zipfile.ZipFile) -> str:
    """Return the version of the tables that a backup was taken from."""
    if sum(info.file_size for info in archive.infolist()) > _MOST_BYTES:
        raise CallpathError("the backup is larger than 4 GB")
    try:
        with archive.open("head.json") as stream:
            head = json.loads(stream.read(_LONGEST_HEAD))
        version = head["version"] if head["format"] == _FORMAT else None
    except (KeyError, ValueError, TypeError, RecursionError):
        raise CallpathError("this file is no backup of callpath's records, or it is damaged") from None
    if version not in known_versions():
        raise CallpathError("this backup is from a newer callpath, or from no callpath at all")
    return str(version)


def _rows_in(archive: zipfile.ZipFile, table: Table) -> Iterator[dict[str, Any]]:
    """Yield a table's rows, one line at a time: a backup may be larger than the memory, or claim to be."""
    if f"{table.name}.jsonl" not in archive.namelist():
        return
    with archive.open(f"{table.name}.jsonl") as stream:
        while line := stream.readline(_LONGEST_LINE):
            try:
                pairs = zip(table.columns, map(_untold, json.loads(line)), strict=True)
                yield {column.name: _fitting(value, column.type.python_type) for column, value in pairs}
            except (ValueError, TypeError, KeyError, RecursionError):
                raise _unreadable(table) from None


def _fitting(value: Any, kind: type) -> Any:
    """Return a value that is of a column's kind; SQLite would keep any other too."""
    if value is None or isinstance(value, (float, int) if kind is float else kind):
        return value
    raise TypeError


def _unreadable(table: Table) -> CallpathError:
    return CallpathError(f"the backup's {table.name} cannot be read; nothing was restored")


def _tables(connection: Connection) -> Iterator[Table]:
    found = MetaData()
    found.reflect(connection)
    return (table for table in found.sorted_tables if table.name not in _LEFT_OUT)


def _fill(engine: Engine, archive: zipfile.ZipFile) -> None:
    with engine.connect().execution_options(callpath_writes=True) as connection, connection.begin():
        tables = list(_tables(connection))
        for table in reversed(tables):
            connection.execute(delete(table))
        for table in tables:
            last = 0
            for rows in _batched(_rows_in(archive, table)):
                try:
                    connection.execute(insert(table), rows)
                except OverflowError:
                    raise _unreadable(table) from None
                last = max([last, *(row["id"] for row in rows if isinstance(row.get("id"), int))])
            if engine.dialect.name == "postgresql" and last:
                # Rows came with their numbers, of which PostgreSQL's own counting knows nothing.
                connection.execute(
                    text("select setval(pg_get_serial_sequence(:table, 'id'), :last)"),
                    {"table": table.name, "last": last},
                )


def _batched(rows: Iterator[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    while batch := list(islice(rows, _ROWS)):
        yield batch


def _told(value: Any) -> Any:
    if isinstance(value, bytes):
        return {"bytes": base64.b64encode(value).decode()}
    if isinstance(value, datetime):
        return {"moment": (value if value.tzinfo else value.replace(tzinfo=UTC)).astimezone(UTC).isoformat()}
    return value


def _untold(value: Any) -> Any:
    if not isinstance(value, dict):
        return value
    return (
        datetime.fromisoformat(value["moment"])
        if "moment" in value
        else base64.b64decode(value["bytes"], validate=True)
    )
