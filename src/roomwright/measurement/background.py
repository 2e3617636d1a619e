"""Octave-band levels of the room's background noise."""

from __future__ import annotations

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright import _checks
from roomwright._errors import InputError
from roomwright.measurement.microphone import CalibrationCurve, correction
from roomwright.measurement.octaves import OCTAVES_HZ
from roomwright.signals import band_powers, pressure_level_db

F = NDArray[np.float64]

#: Length of one analysed stretch: 1 Hz between bins, 11 in the lowest octave.
_STRETCH_S = 1.0


def background_levels(
    samples: NDArray[np.floating],
    sampling_rate_hz: int,
    sensitivity_pa: float,
    curve: CalibrationCurve | None = None,
) -> F:
    """Sound pressure level of a noise recording in each octave of `OCTAVES_HZ`.

    Mean over overlapping stretches of one second. The microphone's and the input's own noise are
    in it.

    Parameters
    ----------
    samples
        Shape (n,), 1.0 = digital full scale; at least one second.
    sampling_rate_hz
        Hertz.
    sensitivity_pa
        Pressure in pascal (peak) at digital full scale.
    curve
        The microphone's calibration.

    Returns
    -------
    Decibels re 20 uPa, shape (10,).

    Raises
    ------
    InputError
        If the recording is shorter than a second or holds values that are not numbers.
    """
    _checks.positive(sensitivity_pa, "the microphone's sensitivity")
    pressure = _checks.finite(samples, "the noise recording").astype(np.float64) * sensitivity_pa
    stretch = round(_STRETCH_S * sampling_rate_hz)
    if pressure.size < stretch:
        raise InputError(
            f"the noise recording lasts {pressure.size / sampling_rate_hz:.2f} s; "
            f"at least {_STRETCH_S:g} s is needed"
        )
    frequencies, power = scipy.signal.welch(
        pressure, sampling_rate_hz, window="hann", nperseg=stretch, scaling="spectrum"
    )
    # `spectrum` scaling is right for a sine; noise is spread over 1.5 bins of a Hann window.
    power = power / 1.5
    if curve is not None:
        power = power * np.abs(correction(curve, frequencies)) ** 2
    _, octaves = band_powers(power, frequencies, 1, float(OCTAVES_HZ[0]), float(OCTAVES_HZ[-1]))
    return pressure_level_db(np.sqrt(octaves))
