"""Jobs, their revisions and what was measured, kept in a database: SQLite on one machine, PostgreSQL for an office."""

from __future__ import annotations

from callpath.records.history import Change, change, redo, undo
from callpath.records.schema import Job, Person, Revision
from callpath.records.store import Store, default_url, open_store

__all__ = [
    "Change",
    "Job",
    "Person",
    "Revision",
    "Store",
    "change",
    "default_url",
    "open_store",
    "redo",
    "undo",
]
