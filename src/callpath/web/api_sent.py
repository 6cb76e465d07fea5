"""What programs may send: words, texts and numbers of a bounded size, and nothing that nobody asked for."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from callpath.job.decode import MAXIMUM_BYTES

__all__ = ["Count", "Number", "Sent", "Text", "Word"]

_NO_NUL = r"^[^\x00]*$"

Word = Annotated[str, Field(max_length=200, pattern=_NO_NUL)]
Text = Annotated[str, Field(max_length=MAXIMUM_BYTES, pattern=_NO_NUL)]
Number = Annotated[int, Field(ge=1, le=10**9)]
Count = Annotated[int, Field(ge=0, le=10**9)]


class Sent(BaseModel):
    """A body; keys that it does not know are told to be wrong."""

    model_config = ConfigDict(extra="forbid", strict=True)
