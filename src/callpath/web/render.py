"""From a template to an answer."""

from __future__ import annotations

import re
from datetime import datetime
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any
from urllib.parse import quote

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.responses import Response

from callpath.errors import CallpathError, InputError
from callpath.faults.words import doing_words
from callpath.papers.imprint import CAUTIONS

__all__ = ["back", "page", "problems_of"]

_STATIC = Path(__file__).parent / "static"
_COLOURS = (
    "red white green yellow blue orange brown black gray grey purple violet pink tan".split()  # noqa: SIM905 - one line
)


@cache
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("callpath.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {
        "moment": _moment,
        "shade": _shade,
        "colour": _colour,
        "severity_mark": _MARK.__getitem__,
        "slug": _slug,
        "doing": lambda name, coil: [word.removeprefix("is ") for word in doing_words(name, coil=coil)],
        "capitalize_first": lambda text: text[:1].upper() + text[1:],
    }
    made.globals |= {"static": _static, "caution": " ".join(CAUTIONS)}
    return made


_MARK = {"danger": "!!", "fault": "✗", "weak": "~", "note": "·"}


def page(request: Request, template: str, *, status: int = 200, visit: Any = None, **facts: Any) -> HTMLResponse:
    """Return a page."""
    facts = {"visit": visit, "nonce": getattr(request.state, "nonce", ""), "path": request.url.path, **facts}
    return HTMLResponse(_environment().get_template(template).render(facts), status)


def back(path: str, **query: str) -> Response:
    """Send the browser to another page after something was done."""
    asked = "&".join(f"{key}={quote(value)}" for key, value in query.items() if value)
    return RedirectResponse(path + (f"?{asked}" if asked else ""), 303)


def problems_of(error: CallpathError) -> list[str]:
    """Return what is wrong, a line each."""
    if isinstance(error, InputError):
        return [f"line {p.line}, column {p.column}: {p.message}" if p.line else p.message for p in error.problems]
    return [str(error)]


@cache
def _static(name: str) -> str:
    """Return a static file's address, which changes when the file does."""
    return f"/static/{name}?v={sha256((_STATIC / name).read_bytes()).hexdigest()[:10]}"


def _moment(at: datetime) -> Markup:
    """Show a moment in UTC; the script puts it into the reader's own time."""
    return Markup('<time datetime="{}">{}</time>').format(at.isoformat(timespec="seconds"), f"{at:%Y-%m-%d %H:%M} UTC")


def _colour(conductor: str) -> str:
    """Return the colour of a conductor ``cable.colour``."""
    return conductor.partition(".")[2]


def _shade(conductor: str) -> str:
    """Return the class that shows a conductor's colour, where it is a colour that people know."""
    words = re.split(r"[^a-z]+", _colour(conductor).casefold())
    return next((f"wire-{word.replace('grey', 'gray')}" for word in words if word in _COLOURS), "wire-other")


def _slug(name: str) -> str:
    """Return a name as part of an id in the page."""
    return re.sub(r"[^A-Za-z0-9]", lambda found: f"_{ord(found.group()):x}", name)
