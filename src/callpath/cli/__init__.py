"""The command line: a thin shell over the functions of the package."""

from __future__ import annotations

import os

# The matrices of a control circuit are small; threads that share one out among themselves cost many times what they save.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from callpath.cli.app import main

__all__ = ["main"]
