"""The rehearsal room of a job as a room on a real sound server: responses for `jack_room`."""

from __future__ import annotations

import numpy as np
from scipy import fft

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
    chain, outputs = Chain(job), len(job.outputs)
    impulse = Played.of(np.array([0.5], dtype=np.float32))
    taps = chain.box.length
    n = fft.next_fast_len(2 * taps, real=True)
    responses = np.zeros((len(job.stations), outputs + 1, 2, taps))
    responses[:, outputs, 1, 0] = 1.0
    for place, station in enumerate(job.stations):
        for output in job.outputs:
            spectrum = chain.heard(station.position_m, output.number, impulse, n)
            responses[place, output.number - 1, 0] = 2.0 * fft.irfft(spectrum, n)[:taps]
    return responses
