"""The microphone's sensitivity from a sound calibrator (IEC 60942)."""

from __future__ import annotations

from typing import Final

import numpy as np
import scipy
import scipy.fft
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.measurement.recording_checks import check_recording
from roomwright.signals import REFERENCE_PRESSURE_PA, amplitude_db, from_amplitude_db

F = NDArray[np.float64]

#: Levels that calibrators make, dB re 20 uPa, and the frequency, hertz.
LEVELS_DB: Final = (94.0, 114.0)
FREQUENCY_HZ: Final = 1000.0

#: The tone may be off by so much of its frequency; it must last this long, be this steady from
#: piece to piece, and hold all but this share of the power. The steadiness is that of a class 1
#: calibrator (IEC 60942:2017, from memory); the others are common practice, no source.
_OFF, _SHORTEST_S, _STEADY_DB, _REST = 0.02, 1.0, 0.1, 0.01
_PIECES = 4


def sensitivity_from_calibrator(
    samples: NDArray[np.floating], sampling_rate_hz: int, level_db: float = 94.0
) -> float:
    """Pressure (peak) in pascal that reaches digital full scale.

    Parameters
    ----------
    samples
        The recorded tone, shape (n,), 1.0 = digital full scale; at least a second.
    sampling_rate_hz
        Hertz.
    level_db
        What the calibrator makes: 94 or 114 dB re 20 uPa.

    Raises
    ------
    InputError
        If the recording is not that of a steady, pure tone at 1 kHz, or the level is another.
    """
    if level_db not in LEVELS_DB:
        raise InputError(f"a calibrator makes 94 or 114 dB; got {level_db:g} dB")
    where = "the calibrator's recording"
    check_recording(samples, where, minimum_samples=round(_SHORTEST_S * sampling_rate_hz))
    pieces = np.array_split(np.asarray(samples, dtype=np.float64), _PIECES)
    found = [_tone(piece, sampling_rate_hz) for piece in pieces]
    levels_db = amplitude_db([amplitude for amplitude, _ in found])
    if max(rest for _, rest in found) > _REST:
        raise InputError(
            f"{where} holds more than a tone at {FREQUENCY_HZ:g} Hz; seat the microphone firmly "
            "in the calibrator and keep the room quiet"
        )
    if np.ptp(levels_db) > _STEADY_DB:
        raise InputError(
            f"{where} changes by {np.ptp(levels_db):.2f} dB; allowed is {_STEADY_DB:g} dB: wait "
            "until the tone is steady, or change the battery"
        )
    amplitude = float(np.mean([amplitude for amplitude, _ in found]))
    peak_pa = np.sqrt(2.0) * REFERENCE_PRESSURE_PA * float(from_amplitude_db(level_db))
    return float(peak_pa / amplitude)


def _tone(samples: F, rate: int) -> tuple[float, float]:
    """Amplitude of the tone near 1 kHz, and the share of power that is not in it."""
    window = scipy.signal.windows.hann(samples.size, sym=False)
    spectrum = scipy.fft.rfft((samples - samples.mean()) * window)
    frequencies = scipy.fft.rfftfreq(samples.size, 1.0 / rate)
    power = np.abs(spectrum) ** 2
    # Below 20 Hz there is handling noise that no one hears.
    total = float(power[frequencies >= 20.0].sum())
    near = np.abs(frequencies - FREQUENCY_HZ) <= _OFF * FREQUENCY_HZ
    in_tone = float(power[near].sum())
    if total == 0.0 or in_tone == 0.0:
        return 1e-30, 1.0
    # A windowed sine's power over the window's gives its mean square, wherever it falls.
    mean_square = 2.0 * in_tone / (samples.size * float(np.sum(window**2)))
    return float(np.sqrt(2.0 * mean_square)), 1.0 - in_tone / total
