"""Reading the files of assumptions that a person may edit: rates of faults, minutes of tests.

They are read like job files: under limits, without anchors and tags, every problem with its line and column.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Collection
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from callpath.errors import FaultDataError, JobError, Problem
from callpath.job.decode import decode
from callpath.job.problems import Problems, shown
from callpath.job.read import file_contents
from callpath.job.shape import spoken
from callpath.job.yamltext import Document, Path, parse

__all__ = ["MOST_BYTES", "contents_of", "read_assumption"]

MOST_BYTES = 1 << 16
"""No file of assumptions is as large as this."""

M = TypeVar("M", bound=BaseModel)


def contents_of(path: str | os.PathLike[str]) -> tuple[bytes, str]:
    """Return what a file holds, and how messages name it.

    Raises
    ------
    FaultDataError
        It cannot be read.
    """
    try:
        return file_contents(path)
    except JobError as error:
        raise FaultDataError(error.problems) from None


def read_assumption(
    shape: type[M],
    text: str | bytes,
    file: str,
    valid: Callable[[Path], Collection[str]],
    check: Callable[[M, Document], None],
) -> M:
    """Return what a text assumes.

    Parameters
    ----------
    shape : type
        The model that it must fit.
    text : str or bytes
        YAML 1.2; bytes in UTF-8.
    file : str
        What problems call it.
    valid : callable
        Returns the keys that may stand at the place of one that may not.
    check : callable
        Looks at what fits its shape, and tells the document of what is wrong all the same.

    Raises
    ------
    FaultDataError
        With every problem at once.
    """
    problems = Problems(file)
    raw = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    found: M | None = None
    if len(raw) > MOST_BYTES:
        raise FaultDataError(_too_large(file))
    decoded = decode(raw, problems)
    document = None if decoded is None else parse(decoded, problems, valid(("",)))
    if document is not None and not problems:
        try:
            found = shape.model_validate(document.data)
            check(found, document)
        except ValidationError as error:
            for item in error.errors(include_url=False, include_context=False, include_input=False):
                _tell(
                    document, tuple(step for step in item["loc"] if step != "[key]"), item["type"], item["msg"], valid
                )
    if found is None or problems:
        raise FaultDataError(problems.error().problems)
    return found


def _too_large(file: str) -> tuple[Problem, ...]:
    return (Problem(file, 0, 0, f"is larger than {MOST_BYTES // 1024} KiB; no assumptions are as long as that"),)


def _tell(document: Document, path: Path, kind: str, message: str, valid: Callable[[Path], Collection[str]]) -> None:
    """Note a problem; for an unknown key with the nearest known."""
    if kind in ("extra_forbidden", "literal_error") and path:
        word = str(path[-1])
        document.tell(path, f"{shown(word)} is no such key", word=word, valid=valid(path), key=True)
    else:
        document.tell(path, f"{spoken(path) or 'the file'}: {message[:1].lower()}{message[1:]}")
