"""What a handover is made from."""

from __future__ import annotations

from dataclasses import dataclass

from roomwright.measurement import ResponseSet
from roomwright.model import Finding, Job
from roomwright.proof import Verdict


@dataclass(frozen=True, slots=True)
class Content:
    """Everything the report tells of; the report leaves out what is None or empty.

    `survey` has the loudspeakers and subwoofers as sources, `predicted` and `measured` the
    channels. `made_on` is the date on the report.
    """

    job: Job
    survey: ResponseSet | None
    predicted: ResponseSet | None
    measured: ResponseSet | None
    verdicts_predicted: tuple[Verdict, ...]
    verdicts_measured: tuple[Verdict, ...]
    findings: tuple[Finding, ...]
    made_on: str
