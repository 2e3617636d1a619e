"""What is wrong with a take or with the wiring, as a sentence with its evidence and its remedy."""

from __future__ import annotations

from typing import Literal

from roomwright.model._base import Document
from roomwright.model.findings import Finding

#: Wrong with one recording.
TakeFault = Literal[
    "clipped",
    "silent_input",
    "wrong_input",
    "wrong_rate",
    "dropout",
    "moved",
    "noise_event",
    "noisy",
]

#: Wrong with what an output drives, or with where things stand.
SystemFault = Literal[
    "dead_output",
    "low_level",
    "swapped",
    "reversed",
    "array_member_reversed",
    "subwoofer_reversed",
    "ways_swapped",
    "tweeter_missing",
    "woofer_missing",
    "rattle",
    "distortion",
    "far_from_plan",
    "not_moved",
]

DiagnosisKind = Literal[TakeFault, SystemFault]


class Diagnosis(Document):
    """One fault found.

    Attributes
    ----------
    kind
        What is wrong.
    sources, stations
        The loudspeakers and stations it concerns; empty for all.
    evidence
        The figure it rests on, in the unit that `sentence` says.
    sentence
        What was found and on what evidence, to follow the name of what it concerns.
    remedy
        What to do.
    refuses
        Whether the take cannot be used.
    at_hz
        The frequency that the sweep passed when it happened, None if it did not happen then.
    """

    kind: DiagnosisKind
    sources: tuple[str, ...] = ()
    stations: tuple[str, ...] = ()
    evidence: float
    sentence: str
    remedy: str
    refuses: bool = False
    at_hz: float | None = None

    def finding(self, where: str) -> Finding:
        """The same as a finding about `where`."""
        return Finding(
            severity="refusal" if self.refuses else "doubt",
            where=where,
            text=f"{self.sentence}; {self.remedy}",
        )
