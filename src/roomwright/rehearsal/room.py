"""Impulse responses of a simulated room from every source to one receiver.

Below the crossover stands the exact field of the box with locally reacting walls; above it
image sources with the same walls, air and the directivity of the source, followed by a decaying
Gaussian tail. Both halves have the free field at 1 m as 1 and the same time origin.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.acoustics import directivity_gain, green_walls, images, reflection_gain
from roomwright.model import DirectivityClass, Point
from roomwright.rehearsal.box import EARLY_S, FADE_S, Box
from roomwright.rehearsal.pulses import accumulate
from roomwright.rehearsal.streams import stream

_F = NDArray[np.float64]
_F32 = NDArray[np.float32]

#: Rooms leak: a pressure that stands still escapes. Without it the field of a source that is flat
#: down to 0 Hz would never die away.
_LEAK_HZ = 3.0
#: Weights without phase ring a little ahead of what they weight, at -50 to -65 dB of the whole.
#: Nothing sounds before the direct sound, so that is faded in this long before it, and done
#: where the band-limited pulse itself begins.
_FADE_IN_S = (0.00125, 0.00075)
#: The end of a response that is faded out.
_FADED_PART = 0.1


@dataclass(frozen=True, slots=True)
class Emitter:
    """A source: its name, its place, the direction it is turned to, and how it beams."""

    id: str
    position_m: Point
    aim_m: Point
    directivity: DirectivityClass


def room_responses(
    box: Box, emitters: Sequence[Emitter], receiver_m: Point, seed: int
) -> NDArray[np.float32]:
    """Impulse responses from several sources to one receiver.

    Parameters
    ----------
    box
        The room.
    emitters
        S sources of flat response.
    receiver_m
        Where the microphone stands, metres.
    seed
        Seed of the diffuse tails.

    Returns
    -------
    ndarray
        (S, box.length): pressure relative to the source's own at 1 m in the free field on its
        axis. Sample 0 is the moment the source radiates, so the sound's way is in it.

    Raises
    ------
    InputError
        If a point is outside the room or a source is closer than 0.1 m to the receiver.

    Notes
    -----
    The halves are added with real weights that sum to 1. The tail's weight is that whose square
    sums to 1 with the square of the low half's, because the two are unrelated there.
    """
    response = low_half(box, emitters, receiver_m)
    for row, emitter in zip(response, emitters, strict=True):
        early, late_energy, direct_s = early_half(box, emitter, receiver_m)
        row[: early.size - box.lead] += early[box.lead :]
        row[-box.lead :] += early[: box.lead]
        begin = round((direct_s + EARLY_S - FADE_S) * box.sampling_rate_hz)
        rng = stream(seed, "tail", emitter.id, receiver_m)
        tail = diffuse_tail(box, late_energy, rng)[: max(row.size - begin, 0)]
        row[begin : begin + tail.size] += tail
        _silence_before(row, direct_s, box.sampling_rate_hz)
    faded = round(_FADED_PART * box.length)
    response[:, -faded:] *= np.cos(0.5 * np.pi * (np.arange(faded) + 1.0) / faded) ** 2
    return response.astype(np.float32)


def _silence_before(row: _F, direct_s: float, sampling_rate_hz: float) -> None:
    start, stop = (max(0, round((direct_s - ahead) * sampling_rate_hz)) for ahead in _FADE_IN_S)
    row[:start] = 0.0
    row[start:stop] *= np.sin(0.5 * np.pi * np.arange(stop - start) / max(stop - start, 1)) ** 2


def low_half(box: Box, emitters: Sequence[Emitter], receiver_m: Point) -> _F:
    """The exact low-frequency field, (S, box.length), weighted by `box.low_weights`.

    Sources radiate evenly there. The field is computed at the bins of the response, so what has
    not died away at its end comes again at its start: below -70 dB of the mode concerned.
    """
    sources = np.array([emitter.position_m for emitter in emitters])
    field = green_walls(
        box.size_m, sources, [receiver_m], box.low_hz, box.low_admittance, box.speed_m_s
    )
    leak = (1j * box.low_hz / (_LEAK_HZ + 1j * box.low_hz)) ** 2
    spectrum = np.zeros((len(emitters), box.length // 2 + 1), dtype=np.complex128)
    spectrum[:, 1 : box.low_hz.size + 1] = 4.0 * np.pi * box.low_weights * leak * field[:, 0]
    response: _F = fft.irfft(spectrum, box.length)
    return response


def early_half(box: Box, emitter: Emitter, receiver_m: Point) -> tuple[_F32, _F, float]:
    """Image sources up to 0.1 s after the direct sound.

    Returns
    -------
    response
        (box.early_length,), of which the first `box.lead` samples are before time zero.
    late_energy
        (B,) summed squared amplitude of the paths of the last 20 ms, before they are faded.
    direct_s
        When the direct sound arrives.
    """
    direct_m = float(np.linalg.norm(np.subtract(emitter.position_m, receiver_m)))
    end_m = direct_m + EARLY_S * box.speed_m_s
    fade_m = FADE_S * box.speed_m_s
    paths = images(box.size_m, emitter.position_m, receiver_m, end_m)
    gain = (
        reflection_gain(paths, box.admittance)
        * 10.0 ** (-box.air_db_per_m * paths.distance_m[:, None] / 20.0)
        / paths.distance_m[:, None]
    )
    if emitter.directivity != "omni":
        axis = np.subtract(emitter.aim_m, emitter.position_m)
        cosine = paths.departure @ axis / max(float(np.linalg.norm(axis)), 1e-9)
        angle = np.arccos(np.clip(cosine, -1.0, 1.0))
        gain *= directivity_gain(emitter.directivity, angle, box.octaves_hz)
    faded = np.clip((paths.distance_m - end_m + fade_m) / fade_m, 0.0, 1.0)
    late_energy = np.sum(gain[faded > 0.0] ** 2, axis=0)
    gain *= np.cos(0.5 * np.pi * faded)[:, None]
    delay = paths.distance_m / box.speed_m_s * box.sampling_rate_hz + box.lead
    octaves = fft.rfft(accumulate(delay, gain, box.early_length))
    response: _F32 = fft.irfft(np.sum(octaves * box.early_weights, axis=0), box.early_length)
    return response, late_energy, direct_m / box.speed_m_s


def diffuse_tail(box: Box, late_energy: _F, rng: np.random.Generator) -> _F32:
    """Gaussian noise that takes over from the image sources and decays octave by octave.

    Parameters
    ----------
    box
        The room; its reverberation times are those of Eyring.
    late_energy
        (B,) energy of the image sources over the fade, which the tail has over the same time.
    rng
        Source of the noise.

    Returns
    -------
    ndarray
        (samples of box.tail_envelope,), from where the image sources begin to fade.
    """
    samples = box.tail_envelope.shape[1]
    noise = fft.rfft(rng.standard_normal((samples,), dtype=np.float32))
    octaves = fft.irfft(noise * box.tail_weights, samples)
    octaves *= box.tail_envelope
    tail: _F32 = np.sqrt(late_energy).astype(np.float32) @ octaves
    return tail
