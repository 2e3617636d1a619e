"""What all paths through one box-shaped room have in common."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright._errors import InputError
from roomwright.acoustics import (
    attenuation_db_per_m,
    box_admittances,
    room_reverberation_s,
    schroeder_frequency_hz,
    speed_of_sound_m_s,
)
from roomwright.model import Point, Room
from roomwright.rehearsal.weights import low_weight, octave_weights
from roomwright.signals import frequencies_hz, midbands

_F = NDArray[np.float64]

#: Image sources are followed this long after the direct sound, and fade out over the last part.
EARLY_S = 0.1
FADE_S = 0.02
#: Room left before time zero for what the weights ring ahead.
LEAD_S = 0.05
_CROSSOVER_OVER_SCHROEDER = 1.5
_CROSSOVER_RANGE_HZ = (150.0, 500.0)
_LENGTH_RANGE_S = (0.4, 4.0)
#: The response is long enough for its slowest mode to fall by this.
_MODAL_FALL_DB = 70.0
_TAIL_FALL_DB = 90.0
#: No wall is harder than this, 0.8 % absorption, and no room deader: the closed forms need some
#: loss, and a tail some time.
_LEAST_ADMITTANCE = 0.001
_SHORTEST_REVERBERATION_S = 0.05
_LOWEST_OCTAVE_HZ, _HIGHEST_OCTAVE_HZ = 63.0, 16000.0


@dataclass(frozen=True, slots=True)
class Box:
    """A room as the simulation sees it, at one sampling rate.

    B octaves are those the image sources are needed for. `admittance` is (6, B), `air_db_per_m`
    and `reverberation_s` (B,). `low_hz` (K,) are the frequencies of bins 1 to K of a response of
    `length` samples, `low_admittance` (6, K) and `low_weights` (K,) belong to them.
    `early_weights` (B, bins) and `tail_weights` (B, bins) shape the octaves of the image sources,
    on the grid of `early_length` samples of which the first `lead` are before time zero, and of
    the tail, on that of `tail_envelope` (B, samples): the amplitude of a tail whose energy over
    the fade, were it not fading in, is 1.
    """

    size_m: Point
    speed_m_s: float
    sampling_rate_hz: float
    length: int
    crossover_hz: float
    admittance: _F
    air_db_per_m: _F
    octaves_hz: _F
    low_hz: _F
    low_admittance: _F
    low_weights: _F
    lead: int
    early_length: int
    early_weights: NDArray[np.float32]
    tail_weights: NDArray[np.float32]
    tail_envelope: NDArray[np.float32]


@lru_cache(maxsize=4)
def box_of(room: Room, sampling_rate_hz: float) -> Box:
    """Prepare a box-shaped room for simulation.

    Parameters
    ----------
    room
        The room.
    sampling_rate_hz
        Rate of the responses, any positive number: a recorder's clock may run fast or slow.

    Raises
    ------
    InputError
        If the room is not a box with a corner at the origin.
    """
    size = room.box_size_m
    if size is None:
        raise InputError(
            "the rehearsal room simulates box rooms only; the outline must be a rectangle with "
            "a corner at (0, 0) and sides along x and y"
        )
    speed = speed_of_sound_m_s(room.temperature_c)
    octaves = midbands(1, _LOWEST_OCTAVE_HZ, min(_HIGHEST_OCTAVE_HZ, 0.4 * sampling_rate_hz))
    reverberation = np.maximum(room_reverberation_s(room, octaves), _SHORTEST_REVERBERATION_S)
    schroeder = float(schroeder_frequency_hz(reverberation[1], room.volume_m3))
    crossover = float(np.clip(_CROSSOVER_OVER_SCHROEDER * schroeder, *_CROSSOVER_RANGE_HZ))
    lead = round(LEAD_S * sampling_rate_hz)
    longest_s = float(np.linalg.norm(size)) / speed + EARLY_S
    early_length = fft.next_fast_len(2 * lead + round(longest_s * sampling_rate_hz), real=True)
    length_s = _length_s(size, speed, _admittances(room, octaves), reverberation)
    length = max(round(length_s * sampling_rate_hz), early_length)
    length = fft.next_fast_len(length, real=True)

    low = frequencies_hz(length, sampling_rate_hz)[1:]
    low = low[low < crossover * np.sqrt(2.0)]
    early_weights = _high(octaves, crossover, early_length, sampling_rate_hz, power=False)
    needed = early_weights.max(axis=1) > 0.0
    octaves, reverberation = octaves[needed], reverberation[needed]
    envelope = _envelope(reverberation, length, sampling_rate_hz)
    return Box(
        size_m=size,
        speed_m_s=speed,
        sampling_rate_hz=sampling_rate_hz,
        length=length,
        crossover_hz=crossover,
        admittance=_admittances(room, octaves),
        air_db_per_m=attenuation_db_per_m(octaves, room.temperature_c, room.humidity_percent),
        octaves_hz=octaves,
        low_hz=low,
        low_admittance=_admittances(room, low),
        low_weights=low_weight(low, crossover),
        lead=lead,
        early_length=early_length,
        early_weights=early_weights[needed].astype(np.float32),
        tail_weights=_high(
            octaves, crossover, envelope.shape[1], sampling_rate_hz, power=True
        ).astype(np.float32),
        tail_envelope=envelope.astype(np.float32),
    )


def _admittances(room: Room, frequency_hz: _F) -> _F:
    return np.maximum(box_admittances(room, frequency_hz), _LEAST_ADMITTANCE)


def _length_s(size: Point, speed_m_s: float, admittance: _F, reverberation_s: _F) -> float:
    """Time in which the slowest axial mode and the diffuse field have died away.

    A mode is damped by (c / 2 V) sum Re(beta) S / e, e = 1 for the walls it grazes and 1/2 for
    those it strikes (Kuttruff, Room Acoustics, chapter 3; from memory).
    """
    x, y, z = size
    wall_m2 = np.array([y * z, x * z, x * y])
    pairs = wall_m2[:, None] * (admittance[0::2] + admittance[1::2])
    damping = speed_m_s / (2.0 * x * y * z) * (pairs.sum(axis=0) + pairs)
    modal_s = _MODAL_FALL_DB / 20.0 * np.log(10.0) / float(damping.min())
    diffuse_s = EARLY_S + _MODAL_FALL_DB / 60.0 * float(reverberation_s.max())
    return float(np.clip(max(modal_s, diffuse_s), *_LENGTH_RANGE_S))


def _high(octaves: _F, crossover_hz: float, n: int, sampling_rate_hz: float, *, power: bool) -> _F:
    """Octave weights of the upper half: amplitudes, or powers, add up to 1 with the lower half."""
    grid = frequencies_hz(n, sampling_rate_hz)
    low = low_weight(grid, crossover_hz)
    high = np.sqrt(1.0 - low**2) if power else 1.0 - low
    return octave_weights(grid, octaves) * high


def _envelope(reverberation_s: _F, longest: int, sampling_rate_hz: float) -> _F:
    """Amplitude of the tail in each octave, fading in while the image sources fade out."""
    wanted = _TAIL_FALL_DB / 60.0 * float(reverberation_s.max()) + FADE_S
    samples = fft.next_fast_len(min(longest, round(wanted * sampling_rate_hz)), real=True)
    time = np.arange(samples) / sampling_rate_hz
    decay = 10.0 ** (-3.0 * time / reverberation_s[:, None])
    energy = np.sum(decay[:, time < FADE_S] ** 2, axis=1, keepdims=True)
    rising = np.sin(0.5 * np.pi * np.clip(time / FADE_S, 0.0, 1.0))
    return np.asarray(rising * decay / np.sqrt(energy))
