"""Small pictures to test with."""

from __future__ import annotations

from io import BytesIO

from PIL import Image


def picture(kind: str, size: tuple[int, int] = (60, 40), **more: object) -> bytes:
    """Return a picture's file."""
    out = BytesIO()
    Image.new("RGB", size, "orange").save(out, kind, **more)
    return out.getvalue()
