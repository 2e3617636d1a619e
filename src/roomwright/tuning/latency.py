"""How late the sound of a tuning is: for the mains that wait for the bass, and for the picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from roomwright.acoustics import speed_of_sound_m_s
from roomwright.model import Job, OutputTuning, Tuning
from roomwright.signals import fir_taps


@dataclass(frozen=True, slots=True)
class Latency:
    """Times of a tuning at the main seat, in seconds.

    `sound_after_picture_s` is how long after it enters the processor the sound of the main
    channels is there; `settings_s` the part of it that the settings add for the loudspeaker
    that it concerns, the rest is the way through the air. `waiting_s` is how long all main
    loudspeakers wait for the bass, which is contained in it.
    """

    sound_after_picture_s: float
    settings_s: float
    waiting_s: float


def latency(job: Job, tuning: Tuning) -> Latency | None:
    """The latency of a tuning; None if it drives no main loudspeaker.

    Of the latest loudspeaker: its delay, the time at which the energy of a FIR is centred, and the
    way from its position to the main seat. The processor's own converters are not known to a job
    and not contained.

    Notes
    -----
    Arrivals are brought together with the latest main loudspeaker, which needs no delay; a delay
    that all share is there for the bass.
    """
    settings = {output.drives: output for output in tuning.outputs}
    seat = np.array(job.seat(job.main_seat).position_m)
    speed = speed_of_sound_m_s(job.room.temperature_c)
    times = []
    for loudspeaker in job.loudspeakers:
        output = settings.get(loudspeaker.id)
        if output is None:
            continue
        own = output.delay_s + _fir_s(output, job.sampling_rate_hz)
        way = float(np.linalg.norm(seat - np.array(loudspeaker.position_m))) / speed
        times.append((own + way, own, output.delay_s))
    if not times:
        return None
    total, own, _ = max(times)
    return Latency(total, own, min(delay for _, _, delay in times))


def _fir_s(output: OutputTuning, sampling_rate_hz: int) -> float:
    if output.fir is None:
        return 0.0
    energy = fir_taps(output.fir, sampling_rate_hz) ** 2
    return float(np.arange(energy.size) @ energy / energy.sum()) / sampling_rate_hz
