"""Photos: whatever comes in is decoded under limits and encoded anew, so that neither place nor trick comes with it."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from io import BytesIO
from threading import Lock

from PIL import Image, ImageOps, UnidentifiedImageError

from callpath.errors import CallpathError

__all__ = ["MOST_BYTES", "Picture", "encoded_anew", "smaller"]

MOST_BYTES = 10 * 1024 * 1024
_FORMATS = ("JPEG", "PNG", "WEBP")
_MOST_PIXELS = 60_000_000
_LONGEST_SIDE = 2048
_SMALL_SIDE = 480
_ONE_AT_A_TIME = Lock()
"""A large picture takes much memory while it is decoded, and many may come at once."""


@dataclass(frozen=True)
class Picture:
    """A picture as it is kept, with a small one for lists."""

    jpeg: bytes
    small: bytes
    width: int
    height: int


def encoded_anew(raw: bytes) -> Picture:
    """Return a picture without anything of its file but what can be seen, turned upright and no larger than need be.

    Raises
    ------
    CallpathError
        It is no JPEG, PNG or WebP picture, or too large.
    """
    if len(raw) > MOST_BYTES:
        raise CallpathError(f"the photo is larger than {MOST_BYTES // 2**20} MB")
    try:
        with _ONE_AT_A_TIME, warnings.catch_warnings():
            # That its notes are damaged is nothing to tell: they are not kept.
            warnings.simplefilter("ignore")
            flat = _flat(raw)
    except (UnidentifiedImageError, Image.DecompressionBombError):
        raise CallpathError("this is no JPEG, PNG or WebP picture") from None
    except (OSError, ValueError, SyntaxError, EOFError, KeyError, IndexError, TypeError, OverflowError, MemoryError):
        # What a broken picture makes the decoder raise; its words would mean nothing to who sent it.
        raise CallpathError("this picture is damaged and cannot be read whole") from None
    return Picture(_jpeg(flat), smaller(flat), flat.width, flat.height)


def _flat(raw: bytes) -> Image.Image:
    # The size is read from the head of the file, before any of its pixels.
    with Image.open(BytesIO(raw), formats=_FORMATS) as opened:
        if opened.width * opened.height > _MOST_PIXELS:
            raise CallpathError(f"the photo has more than {_MOST_PIXELS // 1_000_000} million pixels")
        opened.draft("RGB", (_LONGEST_SIDE, _LONGEST_SIDE))
        upright = ImageOps.exif_transpose(opened)
        upright.thumbnail((_LONGEST_SIDE, _LONGEST_SIDE))
        flat = Image.new("RGB", upright.size, "white")
        with_alpha = upright.convert("RGBA")
        flat.paste(with_alpha, mask=with_alpha.getchannel("A"))
        return flat


def smaller(picture: Image.Image | bytes) -> bytes:
    """Return a picture of ours, small enough for a list."""
    small = Image.open(BytesIO(picture)) if isinstance(picture, bytes) else picture.copy()
    small.thumbnail((_SMALL_SIDE, _SMALL_SIDE))
    return _jpeg(small)


def _jpeg(picture: Image.Image) -> bytes:
    out = BytesIO()
    picture.save(out, "JPEG", quality=85, optimize=True)
    return out.getvalue()
