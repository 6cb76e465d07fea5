"""Reading the files of assumptions that a person may edit: rates of faults, minutes of tests."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

from callpath.errors import FaultDataError, Problem

__all__ = ["data_of", "text_of"]

_MOST_BYTES = 1 << 16


def text_of(path: str | os.PathLike[str]) -> str:
    """Return the text of a file.

    Raises
    ------
    FaultDataError
        It cannot be read.
    """
    file = os.fsdecode(path)
    try:
        with Path(file).open("rb") as stream:
            return stream.read(_MOST_BYTES).decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise FaultDataError([Problem(file, 0, 0, f"cannot be read: {reason}")]) from None


def data_of(text: str, file: str) -> Any:
    """Return what a text holds.

    Raises
    ------
    FaultDataError
        It is no YAML.
    """
    try:
        return YAML(typ="safe", pure=True).load(text)
    except YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
        raise FaultDataError([Problem(file, line, column, f"is no YAML: {getattr(error, 'problem', error)}")]) from None
