"""The data files that ship with callpath, parsed beforehand.

Parsing YAML takes a quarter of a second of every command, reading the same as JSON a millisecond. ``data/parsed.json``
holds, for each file, the digest of its text and what it parses to; a file whose text has another digest is parsed anew, so
that nothing stale is ever used. ``make docs`` writes it.
"""

from __future__ import annotations

import hashlib
import json
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML

__all__ = ["DATA", "parse", "parsed_now"]

DATA = Path(__file__).parent / "data"
_PARSED = DATA / "parsed.json"


def parse(path: Path) -> Any:
    """Return what a data file holds, from the parsed copy where that is of the very same text.

    Raises
    ------
    ruamel.yaml.error.YAMLError, OSError, UnicodeDecodeError, RecursionError
        The file cannot be read.
    """
    text = path.read_bytes()
    if path.is_relative_to(DATA):
        # A copy that cannot be read is as good as none.
        with suppress(ValueError):
            digest, data = json.loads(_parsed().get(path.relative_to(DATA).as_posix(), '["", null]'))
            if digest == hashlib.sha256(text).hexdigest():
                return data
    return YAML(typ="safe", pure=True).load(text.decode("utf-8"))


@cache
def _parsed() -> dict[str, str]:
    """Return each file's entry as it stands there; a job needs few of them, and they wait unread until they are asked for."""
    try:
        lines = _PARSED.read_text(encoding="utf-8").strip().removeprefix("{").removesuffix("}").split(",\n")
        return {json.loads(name): entry for name, _, entry in (line.partition(":") for line in lines)}
    except (OSError, ValueError):
        return {}


def parsed_now() -> str:
    """Return the text that ``data/parsed.json`` should have now."""
    files = {path.relative_to(DATA).as_posix(): path.read_bytes() for path in sorted(DATA.rglob("*.yaml"))}
    reader = YAML(typ="safe", pure=True)
    entries = {}
    for name, text in files.items():
        data = reader.load(text.decode("utf-8"))
        # What JSON cannot say, such as a key that is a number, stays YAML.
        if json.loads(json.dumps(data)) == data:
            entries[name] = [hashlib.sha256(text).hexdigest(), data]
    # A file a line, so that changes to two parts do not meet in one.
    lines = (
        f"{json.dumps(name)}:{json.dumps(entry, ensure_ascii=False, separators=(',', ':'))}"
        for name, entry in entries.items()
    )
    return "{" + ",\n".join(lines) + "}\n"
