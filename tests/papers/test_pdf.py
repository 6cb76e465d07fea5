"""The PDF, opened by a reader that has nothing to do with what wrote it (pypdf)."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pypdf
import pytest

from callpath.job import load_job
from callpath.papers import imprint
from callpath.papers.pdf import PAPERS, pdf
from callpath.papers.readings import Taken
from tests.jobs import COTTAGE, HOUSE, job_of
from tests.papers.test_diagram import EXAMPLES
from tests.papers.test_schedule import DAY, book_of
from tests.papers.test_svg import HOSTILE

# Points, of ISO 216 and of the customary US sizes.
SIZES = {"letter": {612, 792}, "a4": {595, 842}}
SOME = [
    file
    for file in EXAMPLES
    if file.name.split(".")[0] in ("inn-everything", "orchard-heat-pump-mixed", "smithy-dry-contact-boiler")
]


def opened(made: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(made))


def squeezed(text: str) -> str:
    """Text without the spaces and breaks that a reader puts where a line was wrapped."""
    return re.sub(r"[\s\u200b]+", "", text)


@pytest.mark.parametrize("file", SOME, ids=lambda file: file.name.partition(".")[0])
def test_every_landing_is_told_at_both_ends(file: Path) -> None:
    book = book_of(load_job(file))
    read = opened(pdf(book))
    text = [squeezed(page.extract_text()) for page in read.pages]
    whole = "".join(text)
    assert len(SOME) == 3
    for name, on in book.job.landings.items():
        cable, _, colour = name.partition(".")
        for end in (0, 1):
            here = on[end] or "capped"
            # Once on the diagram's labels, once in the schedule, once on a tag.
            assert f"{cable}{colour}here{here}" in whole
        ends = [f"{end or 'capped'}({place})" for end, place in zip(on, book.job.cable_of(name).between, strict=True)]
        assert squeezed(name) in whole
        assert all(squeezed(end) in whole for end in ends)
    for form in book.forms:
        assert all(squeezed(" to ".join(row.points)) in whole for row in form.rows)
    for page in read.pages:
        said = squeezed(page.extract_text())
        assert squeezed("equipment maker's diagram and local code win") in said
        assert book.imprint.revision in said
        assert "2026-03-31" in said


@pytest.mark.parametrize("paper", PAPERS)
def test_paper_fonts_and_tags(paper: str) -> None:
    read = opened(pdf(book_of(HOUSE), paper=paper))
    for page in read.pages:
        assert {round(float(page.mediabox.width)), round(float(page.mediabox.height))} == SIZES[paper]
        for font in page["/Resources"]["/Font"].values():
            described = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
            assert {"/FontFile2", "/FontFile3"} & set(described)
    assert read.metadata.title == HOUSE["title"]
    root = read.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"].startswith("en")
    assert "/StructTreeRoot" in root
    # ISO 14289-1 has a conforming file say so in its metadata.
    assert b"pdfuaid:part" in root["/Metadata"].get_object().get_data()


def test_findings_readings_and_what_must_run_are_on_it() -> None:
    whole = squeezed(
        "".join(
            page.extract_text()
            for page in opened(pdf(book_of(COTTAGE, landings="{wall.green: [stat.G, board.C]}"))).pages
        )
    )
    for words in (
        "1 danger: short",
        "board.R · wall.red · stat.R · stat.G",
        "Must run:",
        "As left, name and signature",
    ):
        assert squeezed(words) in whole


def test_what_was_seen_and_should_not_be_is_marked() -> None:
    book = book_of(COTTAGE)
    book.taken = [
        Taken("cool", running={"cond.compressor": False, "board.heat": True}),
        Taken("cool", ("board.R", "board.C"), "V", 12.0),
    ]
    whole = squeezed("".join(page.extract_text() for page in opened(pdf(book)).pages))
    for words in ("cond.compressor (✗ did not run)", "✗ Seen to run, and must not: board.heat", "12.0 V ✗ outside"):
        assert squeezed(words) in whole


def test_the_same_job_gives_the_same_bytes() -> None:
    assert pdf(book_of(HOUSE)) == pdf(book_of(HOUSE))
    assert pdf(book_of(HOUSE)) != pdf(book_of(HOUSE, settings="{board: {fuse-amps: 5}}"))


@pytest.mark.parametrize(
    "title",
    [
        HOSTILE,
        "#panic() $x$ *b* _i_ `r` <l> @l // /* \\ ]",
        "x" * 10_000,
        "שלום עולם " * 20,
        "暖房 난방 ताप \u2668 " * 9,
        "",
    ],
    ids=["markup", "typst", "long", "rtl", "scripts", "blank"],
)
def test_any_title_is_set_as_text(title: str) -> None:
    job = job_of(COTTAGE, title=title, note=title)
    book = book_of(job)
    read = opened(pdf(book))
    assert read.metadata.title == imprint(job, DAY).title[:200]
    if title.isascii() and len(title) < 100 and title.strip():
        assert squeezed(title) in squeezed(read.pages[0].extract_text())
