"""Papers of a job: its diagram, and the documents that are made with it."""

from __future__ import annotations

from callpath.papers.book import Book
from callpath.papers.drawing import Diagram
from callpath.papers.imprint import Imprint, imprint, revision
from callpath.papers.layout import diagram
from callpath.papers.svg import svg

__all__ = ["Book", "Diagram", "Imprint", "diagram", "imprint", "revision", "svg"]
