"""The command line: a thin shell over the functions of the package."""

from __future__ import annotations

from callpath.cli.app import main

__all__ = ["main"]
