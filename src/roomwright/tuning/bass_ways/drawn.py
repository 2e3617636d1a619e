"""The low-frequency field of a job's subwoofers, from the drawing of its room."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright._errors import InputError
from roomwright.acoustics import box_admittances, green_walls, sheet_response, speed_of_sound_m_s
from roomwright.measurement import ResponseSet
from roomwright.measurement.octaves import OCTAVES_HZ
from roomwright.model import Job, LoudspeakerModel, Room
from roomwright.signals import REFERENCE_PRESSURE_PA, from_amplitude_db

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: No wall is harder than this: the closed form needs some loss.
_LEAST_ADMITTANCE = 0.001

#: Responses are computed over a period of which the first part is kept, so that little of what
#: has not died away comes round; up to a frequency at which nothing of the bass is left.
_PERIOD_S, _KEPT_S, _FADED_PART = 2.0, 1.0, 0.1
_FADES_HZ = (320.0, 450.0)

#: Full scale is 20 dB above what a data sheet's sensitivity is stated for.
_RATED_PEAK = 0.1


def drawn_field(
    room: Room,
    sources_m: ArrayLike,
    points_m: ArrayLike,
    frequency_hz: F,
    *,
    warmer_k: float = 0.0,
) -> C:
    """Field (S, P, F) of point sources re their free field at 1 m, from the room's drawing.

    Walls react locally with the admittances of their octave-band absorption, so every mode has
    its own decay.

    Raises
    ------
    InputError
        If the room is not a box, or a point is outside it or too close to a source.
    """
    size = room.box_size_m
    if size is None:
        raise InputError(
            "the bass can be computed from the drawing of a box-shaped room only; measure the "
            "subwoofers at the stations and design from the responses"
        )
    walls = np.maximum(box_admittances(room, frequency_hz), _LEAST_ADMITTANCE)
    speed = speed_of_sound_m_s(room.temperature_c + warmer_k)
    field = green_walls(size, sources_m, points_m, frequency_hz, walls, speed)
    return np.asarray(4.0 * np.pi * field)


def drive_pa(model: LoudspeakerModel) -> float:
    """Sound pressure at 1 m, pascal (peak), for full scale at the output."""
    rated = np.sqrt(2.0) * REFERENCE_PRESSURE_PA * float(from_amplitude_db(model.sensitivity_db))
    return float(rated / _RATED_PEAK)


def drawn_survey(job: Job, stations: Sequence[str] = ()) -> ResponseSet:
    """Responses of a job's subwoofers at its stations, as measured in the room that is drawn.

    Parameters
    ----------
    job
        The job.
    stations
        Names of those to compute; by default all that have a place.

    Raises
    ------
    InputError
        If there is no subwoofer or no station with a place, or the room cannot be computed.
    """
    known = {s.id: s.position_m for s in job.stations if s.position_m is not None}
    names = tuple(stations) or tuple(known)
    points = [known[name] for name in names if name in known]
    if not job.subwoofers:
        raise InputError("the job has no subwoofer; place some before the bass is designed")
    if not points or len(points) < len(names):
        raise InputError(
            "the bass is computed at the stations, and some have no place; add stations with a "
            "place in the Survey"
        )
    frequency = np.arange(1, round(_FADES_HZ[1] * _PERIOD_S)) / _PERIOD_S
    sources = [subwoofer.position_m for subwoofer in job.subwoofers]
    field = drawn_field(job.room, sources, points, frequency)
    for row, subwoofer in enumerate(job.subwoofers):
        model = job.model_of(subwoofer)
        field[row] *= drive_pa(model) * sheet_response(model, frequency)
    return _as_survey(job, names, _responses(field, frequency, job.sampling_rate_hz))


def _responses(field: C, frequency_hz: F, sampling_rate_hz: int) -> NDArray[np.float32]:
    """Impulse responses (S, P, n) of a field (S, P, F) at multiples of one frequency."""
    first, last = _FADES_HZ
    fade = np.cos(0.5 * np.pi * np.clip((frequency_hz - first) / (last - first), 0.0, 1.0)) ** 2
    samples = round(_PERIOD_S * sampling_rate_hz)
    spectrum = np.zeros((*field.shape[:-1], samples // 2 + 1), dtype=np.complex128)
    spectrum[..., 1 : frequency_hz.size + 1] = field * fade
    response = fft.irfft(spectrum, samples)[..., : round(_KEPT_S * sampling_rate_hz)]
    faded = round(_FADED_PART * response.shape[-1])
    response[..., -faded:] *= np.cos(0.5 * np.pi * (np.arange(faded) + 1.0) / faded) ** 2
    return response.astype(np.float32)


def _as_survey(job: Job, stations: tuple[str, ...], samples: NDArray[np.float32]) -> ResponseSet:
    """Computed responses as a response set: timed, absolute, without noise."""
    pairs = samples.shape[:2]
    return ResponseSet(
        sources=tuple(subwoofer.id for subwoofer in job.subwoofers),
        stations=stations,
        samples=samples,
        present=np.ones(pairs, dtype=np.bool_),
        sampling_rate_hz=job.sampling_rate_hz,
        absolute=True,
        timed=True,
        trusted_hz=np.broadcast_to([10.0, _FADES_HZ[0]], (*pairs, 2)).copy(),
        noise_rms=np.zeros(pairs),
        signal_to_noise_db=np.full((*pairs, OCTAVES_HZ.size), np.nan),
        distortion_db=np.full((*pairs, 4), np.nan),
        background_db=np.full((pairs[1], OCTAVES_HZ.size), np.nan),
        clock_error_ppm=np.zeros(pairs),
    )
