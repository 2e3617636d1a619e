"""Doubts about data, said beside the result instead of raised."""

from __future__ import annotations

from collections.abc import Iterable
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


def gathered(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings that say the same of several places as one, the gravest first."""
    places: dict[tuple[str, str], list[str]] = {}
    for finding in findings:
        at = places.setdefault((finding.severity, finding.text), [])
        if finding.where not in at:
            at.append(finding.where)
    order = ("refusal", "doubt", "note")
    return tuple(
        Finding.model_validate(
            {
                "severity": severity,
                "where": at[0] if len(at) == 1 else f"{at[0]} and {len(at) - 1} more",
                "text": text,
            }
        )
        for (severity, text), at in sorted(places.items(), key=lambda item: order.index(item[0][0]))
    )
