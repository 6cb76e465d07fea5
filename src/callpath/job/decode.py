"""A job file's bytes to text: UTF-8 only, with the place of what is not."""

from __future__ import annotations

import re
from bisect import bisect_right

from callpath.job.problems import Place, Problems, shown

__all__ = ["MAXIMUM_BYTES", "ODD_IN_VALUE", "Lines", "decode"]

MAXIMUM_BYTES = 256 * 1024
_MOST_ODD = 50

# Control characters, halves of surrogate pairs, and marks that hide in text or turn its direction.
_ODD = (
    r"\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\u200e\u200f\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff"
)
_ODD_IN_TEXT = re.compile(f"[{_ODD}]+")
ODD_IN_VALUE = re.compile(rf"[{_ODD}\r\x85\u2028\u2029]")
"""A character that no word or text of a job needs, however it was written."""


_BINARY = {
    b"\xff\xd8\xff": "a picture",
    b"\x89PNG": "a picture",
    b"GIF8": "a picture",
    b"RIFF": "a picture",
    b"%PDF": "a PDF",
    b"PK\x03\x04": "a packed file",
    b"\x1f\x8b": "a packed file",
}
"""What a file is that begins so, as each of these formats defines it (from memory)."""


class Lines:
    """Finds the line and column of an index into a text, as an editor counts them."""

    def __init__(self, text: str) -> None:
        self._starts = [0, *(found.end() for found in re.finditer(r"\r\n?|\n", text))]

    def place(self, index: int) -> Place:
        """Return the place of the character at an index."""
        line = bisect_right(self._starts, index)
        return Place(line, index - self._starts[line - 1] + 1)


def decode(raw: bytes, problems: Problems) -> str | None:
    """Return the text of a file, or None where it is no text at all.

    Bytes that are not UTF-8 and control characters are problems, and stand as U+FFFD in what is returned, so that the
    rest can be read all the same.
    """
    start = Place(1, 1)
    # A photo of a telephone: the eight bytes before its kind are a length and the word for what follows.
    looks = (
        "a picture"
        if raw[4:8] == b"ftyp"
        else next((kind for sign, kind in _BINARY.items() if raw.startswith(sign)), "")
    )
    if looks:
        problems.add(start, f"that is no job file (it looks like {looks})")
        return None
    if len(raw) > MAXIMUM_BYTES:
        problems.add(start, f"the file is larger than {MAXIMUM_BYTES // 1024} KiB; no job is as long as that")
        return None
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        problems.add(start, "the file is in UTF-16; save it as UTF-8")
        return None
    # A byte that is not UTF-8 becomes one code point, U+DC00 and the byte.
    text = raw.decode("utf-8", errors="surrogateescape").removeprefix("\ufeff")
    lines = Lines(text)
    if "\x00" in text:
        place = lines.place(text.index("\x00"))
        problems.add(place, "a NUL byte: this is no text file, or one in another encoding; save it as UTF-8")
        return None
    odd = list(_ODD_IN_TEXT.finditer(text))
    if len(odd) > _MOST_ODD:
        problems.add(lines.place(odd[0].start()), "bytes that no text has: this is no text file; save it as UTF-8")
        return None
    for found in odd:
        first = found.group()[0]
        if "\udc80" <= first <= "\udcff":
            message = f"the byte 0x{ord(first) - 0xDC00:02X} is not UTF-8; save the file as UTF-8"
        else:
            message = f"the character {shown(first)}, which no text here needs"
        problems.add(lines.place(found.start()), message)
    return _ODD_IN_TEXT.sub(lambda found: "\ufffd" * len(found.group()), text)
