"""Which answer of HTTP tells which error."""

from __future__ import annotations

from callpath.errors import CallpathError
from callpath.records.people import TooManyError
from callpath.web.visit import DeniedError, LockedError, LoginError

__all__ = ["status_of"]


def status_of(error: Exception) -> int:
    """Return the status that goes with an error: what was sent is wrong, unless it is known better."""
    if isinstance(error, DeniedError):
        return 403
    if isinstance(error, (LockedError, LoginError)):
        return 401
    if isinstance(error, TooManyError):
        return 429
    missing = str(error).startswith(("there is no such", "this job has no version"))
    return 404 if isinstance(error, CallpathError) and missing else 422
