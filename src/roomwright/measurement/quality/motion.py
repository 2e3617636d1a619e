"""Whether the microphone stood still: the room's response to both pilots must be the same."""

from __future__ import annotations

from math import isnan

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from roomwright.measurement.alignment import Alignment
from roomwright.measurement.clock import noise_power
from roomwright.measurement.fades import fade_window
from roomwright.model import Diagnosis, Sweep
from roomwright.signals import timeline

F = NDArray[np.float64]

#: Octaves compared. A microphone that moves by a sixth of a wave loses half of the coherence of a
#: diffuse field (sin(kd)/kd, Cook et al., J. Acoust. Soc. Am. 27, 1955): some 5 cm at 1 kHz.
_OCTAVES_HZ = (500.0, 1000.0, 2000.0, 4000.0)

#: Coherence that noise does not explain and a microphone at rest does not have.
_COHERENT = 0.8

#: Noise is left out of the powers; below this much signal over noise, power, too little is left.
_CLEAR = 10.0


def moved(
    microphone: NDArray[np.floating],
    alignment: Alignment,
    sweep: Sweep,
    rate: int,
    band_hz: tuple[float, float],
) -> Diagnosis | None:
    """Compare the two pilots of a take.

    Parameters
    ----------
    microphone
        The recording, shape (n,).
    alignment
        Where the sweep lies in it, and the clock error.
    sweep, rate
        What was played, and the recorder's rate.
    band_hz
        The range of what played it: a subwoofer's waves are too long to show a small move.
    """
    places = timeline(sweep, rate)
    stretch = 1.0 + (0.0 if isnan(alignment.clock_error_ppm) else alignment.clock_error_ppm) * 1e-6
    length = places.sweep_start - places.pilot_1
    first = alignment.start - length * stretch
    second = first + (places.pilot_2 - places.pilot_1) * stretch
    length = min(length, microphone.size - round(second))
    if first < 0 or length < (sweep.pilot_s + sweep.gap_s / 2) * rate:
        return None
    fade = length // 20
    window = fade_window(length, fade, fade)
    one, two = (
        scipy.fft.rfft(microphone[round(at) : round(at) + length] * window)
        for at in (first, second)
    )
    frequencies = scipy.fft.rfftfreq(length, 1.0 / rate)
    late = (second - round(second) - first + round(first)) / rate
    two = two * np.exp(2j * np.pi * frequencies * late)
    # Noise may have come or gone between the pilots.
    noise = np.maximum(
        *(noise_power(microphone, round(at), rate, length) for at in (first, second))
    )
    coherences = [
        _coherence(one[band], two[band], noise[band])
        for octave in _OCTAVES_HZ
        if 2.0 * band_hz[0] < octave < 0.5 * band_hz[1]
        for band in ((frequencies >= octave / 2**0.5) & (frequencies < octave * 2**0.5),)
    ]
    known = [value for value in coherences if not isnan(value)]
    if len(known) < 2 or float(np.median(known)) >= _COHERENT:
        return None
    worst = float(np.median(known))
    return Diagnosis(
        kind="moved",
        evidence=worst,
        sentence="was made while the microphone moved: the pilots before and after the sweep were "
        f"heard {100 * worst:.0f} % alike, at rest it is over {100 * _COHERENT:.0f} %",
        remedy="fix the stand, keep away from it, and record it again",
    )


def _coherence(
    one: NDArray[np.complexfloating], two: NDArray[np.complexfloating], noise: F
) -> float:
    """Likeness of two spectra, 0 to 1, without what the noise adds to their powers; NaN if none."""
    powers = [float(np.sum(np.abs(spectrum) ** 2)) for spectrum in (one, two)]
    expected = float(noise.sum())
    if min(powers) < _CLEAR * expected:
        return float("nan")
    clean = [power - expected for power in powers]
    return float(np.abs(np.vdot(one, two))) / float(np.sqrt(clean[0] * clean[1]))
