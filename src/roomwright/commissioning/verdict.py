"""What one take is worth, said as soon as it is made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from roomwright.commissioning.survey.view import own_range_hz, worth_of
from roomwright.measurement import MeasuredResponse
from roomwright.measurement.octaves import OCTAVES_HZ
from roomwright.model import Diagnosis, Job, Overlap, Take


@dataclass(frozen=True, slots=True)
class Verdict:
    """One source at one station: what it is worth, and why, the gravest first."""

    source: str
    station: str
    worth: Literal["good", "usable", "doubtful", "refused"]
    says: tuple[str, ...]


def verdict(
    job: Job, take: Take, measured: MeasuredResponse | None, wrong: Sequence[Diagnosis]
) -> Verdict:
    """The verdict on a usable take.

    Parameters
    ----------
    job
        Says what range the source is for.
    take
        The take.
    measured
        What came of it; None for background noise.
    wrong
        Faults found in it.
    """
    if measured is None:
        return Verdict(take.source, take.station, "good", ("recorded",))
    doubts = [f"{found.sentence}; {found.remedy}" for found in wrong]
    doubts += [f.text for f in measured.findings if f.severity != "note"]
    low_hz, high_hz = own_range_hz(job, take.source)
    octaves, over = np.asarray(OCTAVES_HZ), measured.signal_to_noise_db
    own = (octaves >= low_hz) & (octaves <= high_hz) & np.isfinite(over)
    lowest = float(over[own].min()) if own.any() else float("nan")
    says = [*doubts, f"at least {lowest:.0f} dB over the noise"] if own.any() else doubts
    if take.overlap is not None:
        says.append(_not_judged(take.overlap))
    return Verdict(take.source, take.station, worth_of(lowest, doubts), tuple(says))


def _not_judged(overlap: Overlap) -> str:
    """What cannot be told of a source whose sweep overlaps with those of others."""
    untold = "a rattle" if overlap.harmonics_apart else "a rattle or distortion"
    return f"played together with others, so {untold} cannot be told to be its own"
