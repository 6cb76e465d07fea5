"""The page: the same questions as the command line's, in a browser, over records that lose nothing."""

from __future__ import annotations
