"""What verdicts were read from, for drawing: curves against what is allowed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement import ResponseSet
from roomwright.model import Job
from roomwright.proof.evidence import Evidence, gather
from roomwright.proof.response import departures
from roomwright.proof.room_decay import RoomDecay, read_decay
from roomwright.standards.bs1116 import HIGHEST_NR, response_tolerance_db
from roomwright.standards.decay import decay_limit_s
from roomwright.standards.ebu3276 import mean_reverberation_s, tolerance_s
from roomwright.standards.nr import NR_OCTAVES_HZ, noise_rating_levels_db

F = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """Curves over frequency and the limits they are held to.

    Attributes
    ----------
    quantity, unit
        What the curves show.
    frequency_hz
        Shape (m,).
    curves
        Name and values (m,), NaN where nothing could be read.
    low, high
        What is allowed, (m,); NaN where nothing is asked, minus or plus infinity where that side
        is free.
    caption
        How it was computed.
    """

    quantity: str
    unit: str
    frequency_hz: F
    curves: tuple[tuple[str, F], ...]
    low: F
    high: F
    caption: str


def drawings(
    job: Job, responses: ResponseSet, decay: RoomDecay | None = None
) -> Mapping[str, Drawing]:
    """By criterion, what its verdict on `responses` was read from.

    Criteria of single numbers, and those that the data do not allow, have none. `decay` is what
    was read of the room's decay; None reads it from `responses`, which takes a while.
    """
    decay = decay or read_decay(responses)
    evidence = gather(job, responses, decay)
    found: dict[str, Drawing] = {}
    if evidence.main_seat is not None:
        main = _response(evidence, (evidence.main_seat,))
        found |= {"response_below_main_seat": main, "response_above_main_seat": main}
    average = _response(evidence, evidence.seats)
    found |= {"response_below_average": average, "response_above_average": average}
    found |= _decay(job, decay, evidence.transition_hz)
    noise = _background(evidence)
    if noise is not None:
        found["background_noise_nr"] = noise
    return found


def _response(evidence: Evidence, columns: tuple[int, ...]) -> Drawing:
    read = departures(evidence, columns)
    low, high = response_tolerance_db(read.mid_hz)
    return Drawing(
        quantity="departure from the target",
        unit="dB",
        frequency_hz=read.mid_hz,
        curves=tuple(zip(read.names, read.departure_db, strict=True)),
        low=low,
        high=high,
        caption=f"{read.computed_from}; the transition is at {evidence.transition_hz:.0f} Hz",
    )


def _decay(job: Job, decay: RoomDecay, transition_hz: float) -> dict[str, Drawing]:
    mid_hz = decay.mid_hz
    low, high = tolerance_s(mid_hz)
    line = np.where(mid_hz <= transition_hz, decay_limit_s(mid_hz), np.nan)
    nominal_s = mean_reverberation_s(job.room.volume_m3)
    read = f"median of {decay.readings} responses, third octaves"
    long = f"T30, or T20 where noise allows no T30: {read}"
    late = (("this room", decay.late_s),)
    early = (("T20", decay.early_s), ("shortest readable", decay.limit_s))
    return {
        "modal_decay": Drawing(
            "decay time", "s", mid_hz, early, np.full(mid_hz.shape, -np.inf), line, read
        ),
        "reverberation_mask": Drawing(
            "reverberation time", "s", mid_hz, late, decay.mean_s + low, decay.mean_s + high, long
        ),
        "reverberation_mean": Drawing(
            "reverberation time",
            "s",
            mid_hz,
            (*late, ("nominal mean", np.full(mid_hz.shape, nominal_s))),
            np.full(mid_hz.shape, np.nan),
            np.full(mid_hz.shape, np.nan),
            long,
        ),
    }


def _background(evidence: Evidence) -> Drawing | None:
    responses = evidence.responses
    mids = np.asarray(NR_OCTAVES_HZ)
    at = [int(np.argmin(np.abs(np.log(responses.octave_hz / mid)))) for mid in mids]
    curves = tuple(
        (responses.stations[column], responses.background_db[column, at])
        for column in evidence.seats
        if np.isfinite(responses.background_db[column]).any()
    )
    if not curves:
        return None
    return Drawing(
        quantity="background noise",
        unit="dB",
        frequency_hz=mids,
        curves=curves,
        low=np.full(mids.shape, -np.inf),
        high=noise_rating_levels_db(HIGHEST_NR),
        caption=f"octave levels re 20 uPa; allowed is NR {HIGHEST_NR:.0f}",
    )
