"""The rehearsal room of a job as a room on a real sound server: responses for `jack_room`."""

from __future__ import annotations

import numpy as np
from scipy import fft

from roomwright.analysis import capsules_m
from roomwright.model import Job
from roomwright.rehearsal.chain import Chain, Played

#: Decayed by 60 dB soon where the surfaces are as dry as this.
ABSORPTION = (0.5, 0.6, 0.7, 0.75, 0.75, 0.75, 0.75, 0.75)


def dry(job: Job) -> Job:
    """The job in a room of such surfaces."""
    surfaces = {
        name: value.model_copy(update={"absorption": ABSORPTION})
        for name, value in (("floor", job.room.floor), ("ceiling", job.room.ceiling))
    }
    walls = tuple(wall.model_copy(update={"absorption": ABSORPTION}) for wall in job.room.walls)
    room = job.room.model_copy(update={**surfaces, "walls": walls})
    return job.model_copy(update={"room": room})


def heard_in(job: Job) -> np.ndarray:
    """Responses of the outputs and of a cable, microphone included, at each station.

    Shape (stations, outputs + 1, 2, taps): the microphone, and the cable's input that the last
    output reaches.
    """
    return _heard_at(job, [[station.position_m] for station in job.stations])


def heard_by_capsules(job: Job, left_deg: float) -> np.ndarray:
    """The same for a microphone of four capsules turned to the left: these, and the cable."""
    cos, sin = np.cos(np.radians(left_deg)), np.sin(np.radians(left_deg))
    turn = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    offsets = capsules_m(job.microphone.capsule_radius_m) @ turn
    return _heard_at(
        job,
        [[tuple(station.position_m + offset) for offset in offsets] for station in job.stations],
    )


def _heard_at(job: Job, places_m) -> np.ndarray:
    """Responses at the inputs, a place for each, and at the cable's after them."""
    chain, outputs, inputs = Chain(job), len(job.outputs), len(places_m[0])
    impulse = Played.of(np.array([0.5], dtype=np.float32))
    taps = chain.box.length
    n = fft.next_fast_len(2 * taps, real=True)
    responses = np.zeros((len(places_m), outputs + 1, inputs + 1, taps))
    responses[:, outputs, inputs, 0] = 1.0
    for station, heard_m in enumerate(places_m):
        for place, position_m in enumerate(heard_m):
            for output in job.outputs:
                spectrum = chain.heard(position_m, output.number, impulse, n)
                responses[station, output.number - 1, place] = 2.0 * fft.irfft(spectrum, n)[:taps]
    return responses
