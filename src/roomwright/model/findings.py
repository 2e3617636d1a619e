"""Doubts about data, said beside the result instead of raised."""

from __future__ import annotations

from typing import Literal

from roomwright.model._base import Document


class Finding(Document):
    """Something found while measuring or computing.

    `note`: worth knowing. `doubt`: the figures it touches may be wrong. `refusal`: the data were
    not used.
    """

    severity: Literal["note", "doubt", "refusal"]
    where: str
    text: str
