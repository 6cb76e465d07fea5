"""Whatever is sent as a file is taken in as what it is, or told in words: cut off, huge, of two kinds at once."""

from __future__ import annotations

import os
import random
import struct
import tracemalloc
import zlib
from io import BytesIO

import pytest
from PIL import Image

from callpath.errors import CallpathError, JobError
from callpath.job import read_job
from callpath.records.photo import encoded_anew
from callpath.web.guard import MOST_BYTES, MOST_PHOTOS_BYTES
from tests.records.pictures import picture
from tests.web.site import EXAMPLES, Visitor, said

COTTAGE = (EXAMPLES / "garden-cottage.job.yaml").read_bytes()
MUTATIONS = int(os.environ.get("CALLPATH_MUTATIONS", "600"))
PIECES = (b"\0", b"\xff\xfe", b"&a ", b"*a", b"<<: ", b"!!python/", b"{", b"[", b"\r", b"\xf0\x9f")


def mutated(raw: bytes, random_: random.Random) -> bytes:
    """Return bytes as a bad line, a bad disk or a bad person would leave them."""
    made = bytearray(raw)
    for _ in range(random_.randrange(1, 6)):
        at, length = random_.randrange(len(made) + 1), random_.randrange(1, 40)
        match random_.randrange(6):
            case 0:
                made[at : at + 1] = bytes([random_.randrange(256)])
            case 1:
                del made[at:]
            case 2:
                del made[at : at + length]
            case 3:
                made[at:at] = made[at : at + length] * random_.randrange(1, 4)
            case 4:
                made[at:at] = random_.choice(PIECES)
            case 5:
                made[at : at + 4] = random_.choice((b"\xff" * 4, b"\0" * 4, b"\x7f\xff\xff\xff"))
        if not made:
            made += b"x"
    return bytes(made)


def test_a_mutated_job_file_is_a_job_or_told() -> None:
    random_ = random.Random(20)
    raws = [path.read_bytes() for path in sorted(EXAMPLES.glob("garden*.job.yaml"))]
    told, messages = 0, list[str]()
    for _ in range(MUTATIONS):
        try:
            read_job(mutated(random_.choice(raws), random_))
        except JobError as error:
            told += 1
            messages += [problem.message for problem in error.problems]
    assert all(messages)
    assert told > MUTATIONS // 2


def test_a_mutated_photo_is_a_picture_or_told() -> None:
    random_ = random.Random(21)
    exif = Image.Exif()
    exif[0x0112] = 6
    raws = [picture("JPEG", exif=exif.tobytes()), picture("JPEG", progressive=True), picture("PNG"), picture("WEBP")]
    told = 0
    for _ in range(MUTATIONS):
        try:
            made = encoded_anew(mutated(random_.choice(raws), random_))
        except CallpathError:
            told += 1
            continue
        assert Image.open(BytesIO(made.jpeg)).size == (made.width, made.height)
    assert told > MUTATIONS // 4


def png(width: int, height: int, data: bytes, kind: int = 0) -> bytes:
    """Return a PNG of 8-bit grey (or other ``kind``) with pixels as given, which need not fit its size."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, kind, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def test_a_small_file_never_becomes_a_large_picture() -> None:
    """Bombs: sides of a billion, pixels that unpack a thousandfold, a text chunk that does, a frame of WebP that lies."""
    rows = zlib.compress(b"\0" * (7700 * 7700), 9)
    wide = png(2**31 - 1, 2**31 - 1, rows)
    deep = png(20_000, 20_000, rows)
    text = zlib.compress(b"A" * 100_000_000, 9)
    noted = png(10, 10, zlib.compress(b"\0" * 110))
    body = b"note\0\0" + text
    ztxt = struct.pack(">I", len(body)) + b"zTXt" + body + struct.pack(">I", zlib.crc32(b"zTXt" + body))
    noted = noted[:33] + ztxt + noted[33:]
    jpeg = bytearray(picture("JPEG"))
    at = jpeg.index(b"\xff\xc0") + 5
    jpeg[at : at + 4] = b"\xff\xff\xff\xff"
    tracemalloc.start()
    try:
        for raw in (wide, deep, noted, bytes(jpeg)):
            with pytest.raises(CallpathError):
                encoded_anew(raw)
        assert tracemalloc.get_traced_memory()[1] < 60e6
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize(
    "raw",
    [
        b"GIF89a" + COTTAGE,
        b"%PDF-1.4\n" + picture("JPEG"),
        b"PK\x03\x04" + picture("PNG"),
        b"<html><script>alert(1)</script>" + picture("PNG"),
        COTTAGE,
        b"\0" * 100,
        b"\xff\xd8\xff",
        b"RIFF\xff\xff\xff\xffWEBPVP8X",
    ],
)
def test_what_is_of_two_kinds_or_none_is_no_photo(site: Visitor, raw: bytes) -> None:
    job = site.bring("garden-cottage")
    answer = site.post(f"{job}/photos", {"phase": "as-found"}, files={"photo": ("a.jpg", raw, "image/jpeg")})
    assert answer.status_code == 422
    assert "picture" in said(answer)
    assert "None yet" in said(answer)


@pytest.mark.parametrize(
    "raw", [picture("PNG"), picture("JPEG"), b"", b"\0" * 5000, b"%YAML 1.2\n--- !!python/object:os.system x"]
)
def test_what_is_no_job_file_is_told(site: Visitor, raw: bytes) -> None:
    answer = site.post("/upload", files={"file": ("a.job.yaml", raw)})
    assert answer.status_code == 422
    assert "is no sound job file" in said(answer)
    assert "No job yet" in said(site.get("/"))


@pytest.mark.parametrize(
    "name", ["../../x.jpg", "a\0.jpg", "/etc/passwd", "C:\\a.jpg", "x" * 3000 + ".jpg", "a.jpg\r\nx: y"]
)
def test_a_photos_name_is_forgotten(site: Visitor, name: str) -> None:
    job = site.bring("garden-cottage")
    answer = site.post(f"{job}/photos", {"phase": "as-left"}, files={"photo": (name, picture("JPEG"))})
    assert answer.status_code == 200
    assert "Photo 1" in said(answer)
    assert "passwd" not in answer.text


def test_several_photos_at_once_and_what_each_is_of(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    files = [("photo", (f"{n}.png", picture("PNG", (3000, 40 + n)))) for n in range(3)]
    page = site.post(f"{job}/photos", {"phase": "as-found", "caption": "The strip", "of": "board.C"}, files=files)
    assert said(page).count("The strip of board.C; me,") == 3
    small = Image.open(BytesIO(site.get(f"{job}/photos/2?small=true").content))
    assert small.size == (480, 7)
    assert Image.open(BytesIO(site.get(f"{job}/photos/2").content)).size == (2048, 28)
    alone = site.get(f"{job}/photos/2/alone")
    assert [f"photos/{n}/alone" in alone.text for n in (1, 2, 3)] == [True, False, True]
    wrong = site.post(f"{job}/photos", {"phase": "as-found", "of": "board.Q"}, files=files[:1])
    assert "no 'board.Q'" in said(wrong)
    assert "board.C" in said(wrong)


def test_sound_photos_are_kept_and_the_others_told(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    files = [
        ("photo", ("1.png", picture("PNG"))),
        ("photo", ("2.png", b"no picture")),
        ("photo", ("3.jpg", picture("JPEG"))),
    ]
    page = site.post(f"{job}/photos", {"phase": "as-left"}, files=files)
    assert page.status_code == 422
    assert "photo 2 of 3: this is no JPEG, PNG or WebP picture" in said(page)
    assert "2 of 3 photos are kept" in said(page)
    assert site.get(f"{job}/photos/2").status_code == 200


def test_more_photos_than_can_be_sent_at_once_are_turned_away(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    many = [("photo", ("1.png", picture("PNG")))] * 13
    assert site.post(f"{job}/photos", {"phase": "as-left"}, files=many).status_code == 400
    for address, most in (
        (f"{job}/photos", MOST_PHOTOS_BYTES),
        (f"{job}/record", MOST_BYTES),
        ("/x/photos", MOST_BYTES),
    ):
        assert site.client.post(address, content=b"x", headers={"content-length": str(most + 1)}).status_code == 413
