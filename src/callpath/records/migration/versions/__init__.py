"""How the database came to its shape, step by step."""

from __future__ import annotations
