"""What the drawn room lets expect of the early bass of each unit at each station."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.acoustics import (
    green_uniform,
    room_reverberation_s,
    sheet_response,
    speed_of_sound_m_s,
)
from roomwright.analysis.wiring import DrawnBass
from roomwright.model import Job, Loudspeaker, Subwoofer

#: Where the drawing of a room still tells phases: higher up, 0.1 m of a wall's place is a
#: thirtieth of a wave and more, with every reflection.
_FREQUENCIES_HZ: Final = np.geomspace(20.0, 120.0, 56)

#: All is damped to 1/e in this time: the direct sound and the first few reflections count.
_EARLY_S: Final = 0.03

#: Reverberation is that of the octave in the middle.
_REVERBERATION_HZ: Final = 63.0


def drawn_bass(
    job: Job, units: Sequence[Loudspeaker | Subwoofer], station_m: NDArray[np.float64]
) -> DrawnBass | None:
    """Damped responses by data sheet and place, in a box with walls that damp all modes alike.

    Parameters
    ----------
    job
        Its room is drawn.
    units
        S loudspeakers and subwoofers.
    station_m
        Places of the microphone, shape (P, 3).

    Returns
    -------
    None if there is no subwoofer, the room is no box, or something does not stand in it.

    Notes
    -----
    Sound damped by exp(-d t) has the spectrum of the sound at the frequency f - j d / (2 pi). Walls
    are rigid but for the loss: what they absorb hardly turns the phase.
    """
    size = job.room.box_size_m
    if size is None or not any(isinstance(unit, Subwoofer) for unit in units):
        return None
    damping = 1.0 / _EARLY_S
    try:
        decay_s = float(room_reverberation_s(job.room, np.array([_REVERBERATION_HZ]))[0])
        to_60_db = 3.0 * np.log(10.0)
        field = green_uniform(
            size,
            [unit.position_m for unit in units],
            station_m,
            _FREQUENCIES_HZ,
            to_60_db / (damping + to_60_db / decay_s),
            speed_of_sound_m_s(job.room.temperature_c),
        )
    except InputError:
        return None
    shifted = (_FREQUENCIES_HZ - 1j * damping / (2.0 * np.pi)).astype(np.complex128)
    sheets = np.array([sheet_response(job.model_of(unit), shifted) for unit in units])
    return DrawnBass(_FREQUENCIES_HZ, damping, field * sheets[:, None])
