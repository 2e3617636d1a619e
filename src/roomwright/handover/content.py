"""What a handover is made from."""

from __future__ import annotations

from dataclasses import dataclass

from roomwright.measurement import ResponseSet
from roomwright.model import Finding, Job
from roomwright.proof import Verdict


@dataclass(frozen=True, slots=True)
class BassWay:
    """One way to feed the subwoofers, as it is compared in the report.

    Figures are as of `tuning.bass_ways.WayFigures`, `drive_db` that of the hardest driven. `decay`
    has a row for each third octave: its middle in hertz, then the median and the longest time over
    the stations, the shortest that can be read and the published line (NaN where there is none),
    seconds. `judged_at` are the stations, which were `held_back` from the design or not.
    """

    name: str
    used: bool
    spread_db2: float
    designed_spread_db2: float
    level_db: float
    drive_db: float
    decay: tuple[tuple[float, float, float, float, float], ...]
    ahead_db: tuple[float, ...]
    gain_off_db2: float
    air_off_db2: float
    latency_s: float
    judged_at: tuple[str, ...]
    held_back: bool


@dataclass(frozen=True, slots=True)
class Content:
    """Everything the report tells of; the report leaves out what is None or empty.

    `survey` has the loudspeakers and subwoofers as sources, `predicted` and `measured` the
    channels. `made_on` is the date on the report, `bass_ways` are the ways to feed the subwoofers
    where more than one was compared, all alike first.
    """

    job: Job
    survey: ResponseSet | None
    predicted: ResponseSet | None
    measured: ResponseSet | None
    verdicts_predicted: tuple[Verdict, ...]
    verdicts_measured: tuple[Verdict, ...]
    findings: tuple[Finding, ...]
    made_on: str
    bass_ways: tuple[BassWay, ...] = ()
