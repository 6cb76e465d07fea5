"""The commands that take all records out into one file, and put them back; heavy imports wait until they run."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from callpath.errors import CallpathError

__all__ = ["backup", "restore"]

AsJson = Annotated[bool, typer.Option("--json", help="One JSON document on standard output, nothing else.")]


def backup(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The file to write, by convention NAME.callpath-backup.")
    ],
    force: Annotated[bool, typer.Option("--force", help="Write over a file that is there already.")] = False,
    as_json: AsJson = False,
) -> int:
    """Write all records of the page, photos and accounts too, into one file; keep it as you keep the records.

    The page may be open meanwhile: the file holds one moment. CALLPATH_DATABASE_URL names the records, as for serve.
    """
    from callpath.job.write import write_whole
    from callpath.records.backup import backup as taken
    from callpath.records.store import open_store

    if file.exists() and not force:
        raise CallpathError(f"{file} is there already; choose another name, or add --force to write over it")
    store = open_store()
    try:
        raw = taken(store)
    finally:
        store.close()
    write_whole(file, raw, private=True)
    if as_json:
        sys.stdout.write(json.dumps({"written": str(file), "bytes": len(raw)}, ensure_ascii=False) + "\n")
    else:
        typer.echo(f"{file}: all records, {len(raw) / 1024:.0f} KiB")
    return 0


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A file that backup wrote.")],
    as_json: AsJson = False,
) -> int:
    """Fill empty records from a backup, in SQLite or PostgreSQL, whichever it was taken from."""
    from callpath.records.backup import restore as put_back
    from callpath.records.store import open_store

    raw = file.read_bytes()
    store = open_store()
    try:
        jobs = put_back(store, raw)
    finally:
        store.close()
    if as_json:
        sys.stdout.write(json.dumps({"restored": str(file), "jobs": jobs}, ensure_ascii=False) + "\n")
    else:
        typer.echo(f"{jobs} job{'' if jobs == 1 else 's'} restored")
    return 0
