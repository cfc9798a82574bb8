"""What every table of the model file is."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Entry(BaseModel):
    """A table of the model file; keys it does not know are errors."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        model_title_generator=lambda model: model.__name__.removesuffix("Entry"),
    )
