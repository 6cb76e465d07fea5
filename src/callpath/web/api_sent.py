"""What programs may send: words, texts and numbers of a bounded size, and nothing that nobody asked for."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from callpath.job.decode import MAXIMUM_BYTES

__all__ = ["Number", "Sent", "Text", "Word"]

Word = Annotated[str, Field(max_length=200)]
Text = Annotated[str, Field(max_length=MAXIMUM_BYTES)]
Number = Annotated[int, Field(ge=1, le=10**9)]


class Sent(BaseModel):
    """A body; keys that it does not know are told to be wrong."""

    model_config = ConfigDict(extra="forbid", strict=True)
