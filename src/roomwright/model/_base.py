"""What every document shares: frozen, strict about unknown fields, finite numbers only."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StringConstraints


class Document(BaseModel):
    """A frozen, validated value; compared and hashed by content."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


#: A position or vector, metres: x across from the left wall, y back from the front wall, z up.
Point = tuple[float, float, float]

#: A short name that is safe in file names and tables.
Identifier = Annotated[
    str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9+\-_.]*$", max_length=40)
]

Positive = Annotated[float, Field(gt=0)]
NonNegative = Annotated[float, Field(ge=0)]

#: Octave bands for which surfaces state their absorption, nominal hertz.
OCTAVE_BANDS_HZ = (63, 125, 250, 500, 1000, 2000, 4000, 8000)
