"""Judging a set of responses against every criterion."""

from __future__ import annotations

from roomwright.measurement import ResponseSet
from roomwright.model import Job
from roomwright.proof.background import background_verdicts
from roomwright.proof.bass_held_back import held_back_verdicts
from roomwright.proof.evidence import gather
from roomwright.proof.match import arrival_verdict, level_verdict
from roomwright.proof.response import response_verdicts, spread_verdicts
from roomwright.proof.room_decay import (
    RoomDecay,
    mask_verdict,
    mean_verdict,
    modes_verdict,
    read_decay,
)
from roomwright.proof.verdict import Verdict


def judge(job: Job, responses: ResponseSet, decay: RoomDecay | None = None) -> tuple[Verdict, ...]:
    """Judge the channels of a job by their responses; predicted and measured sets alike.

    Parameters
    ----------
    job
        Gives roles of channels, seats, target and room.
    responses
        Sources are channels.
    decay
        What was read of the room's decay; None reads it from `responses`, which takes a while.

    Returns
    -------
    Always the same criteria in the same order, and the bass at stations held back from its design
    where there are any; what the data do not allow has `passed` None.
    """
    evidence = gather(job, responses, decay or read_decay(responses))
    return (
        level_verdict(evidence),
        arrival_verdict(evidence),
        *response_verdicts(evidence),
        *spread_verdicts(evidence),
        *held_back_verdicts(evidence),
        modes_verdict(evidence.decay, evidence.transition_hz),
        mean_verdict(job, evidence.decay),
        mask_verdict(evidence.decay),
        *background_verdicts(evidence),
    )
