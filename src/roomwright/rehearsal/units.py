"""Loudspeakers and subwoofers: their response, how each differs from its data sheet, distortion."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.acoustics import sheet_response
from roomwright.model import Biquad, LoudspeakerModel
from roomwright.rehearsal.streams import stream
from roomwright.signals import (
    REFERENCE_PRESSURE_PA,
    amplitude_db,
    cascade_sos,
    from_amplitude_db,
    log_frequencies,
    response,
)

_F = NDArray[np.float64]
_C = NDArray[np.complex128]

#: `LoudspeakerModel.sensitivity_db` is stated for a sine of this peak, full scale minus 20 dB.
_RATED_PEAK = 0.1
#: A unit's offset from its model's sensitivity stays within this many standard deviations.
_LARGEST_OFFSET = 2.0
#: One broad ripple an octave.
_RIPPLE_Q = 1.4
#: Excursion falls above this multiple of the lower limit.
_EXCURSION_CORNER = 5.0
#: Shares of the second and third harmonic in the distortion at maximum level.
_SECOND_SHARE, _THIRD_SHARE = 0.8, 0.6


def unit_response(
    model: LoudspeakerModel,
    unit_id: str,
    seed: int,
    spread_db: float,
    frequency_hz: _F,
    sampling_rate_hz: float,
) -> _C:
    """Complex response of one unit, on axis in the free field at 1 m without the way's delay.

    Parameters
    ----------
    model
        Its data sheet.
    unit_id
        Its name, which seeds its small differences from the data sheet.
    seed, spread_db
        Of the rehearsal: the rms of a broad minimum-phase ripple over the unit's band, and the
        standard deviation of its level.
    frequency_hz
        (F,) from 0 to half the sampling rate.
    sampling_rate_hz
        Sampling rate, hertz.

    Returns
    -------
    ndarray
        (F,) pascal for digital full scale: analogue Butterworth roll-offs times the ripple.
    """
    rated_pa = np.sqrt(2.0) * REFERENCE_PRESSURE_PA * float(from_amplitude_db(model.sensitivity_db))
    level_db, ripple = _own(
        model, stream(seed, "unit", unit_id), spread_db, frequency_hz, sampling_rate_hz
    )
    full_scale_pa = rated_pa / _RATED_PEAK * float(from_amplitude_db(level_db))
    return np.asarray(full_scale_pa * sheet_response(model, frequency_hz) * ripple)


def distortion(
    drive: NDArray[np.float32], model: LoudspeakerModel, percent: float, sampling_rate_hz: float
) -> NDArray[np.float32]:
    """What a unit adds to its drive: products of the second and third order.

    Parameters
    ----------
    drive
        (n,) signal at the unit's terminals, digital full scale 1, periodic in n.
    model
        Its data sheet.
    percent
        Total harmonic distortion of a sine at `maximum_level_db` in the lower octaves of the
        unit's band.
    sampling_rate_hz
        Sampling rate of the drive.

    Returns
    -------
    ndarray
        (n,) to be added to the drive before the unit's linear response.

    Notes
    -----
    The products are of an excursion-like drive: low-passed with 6 dB an octave from five times
    the unit's lower limit, and cut off at a sixth of the sampling rate so that no product is
    folded back. With u this drive over that of the maximum level, the added signal is
    a2 u^2 - a3 u^3: a2 / 2 and a3 / 4 are 0.8 and 0.6 of the stated distortion, so the second
    harmonic falls to a tenth and the third to a hundredth at 20 dB below the maximum. A model
    chosen here, no source.
    """
    maximum = _RATED_PEAK * float(from_amplitude_db(model.maximum_level_db - model.sensitivity_db))
    excursion = excursion_drive(drive, model, sampling_rate_hz) / np.float32(maximum)
    second = np.float32(2.0 * _SECOND_SHARE * percent / 100.0 * maximum)
    third = np.float32(4.0 * _THIRD_SHARE * percent / 100.0 * maximum)
    return np.asarray(excursion * excursion * (second - third * excursion))


def excursion_drive(
    drive: NDArray[np.float32], model: LoudspeakerModel, sampling_rate_hz: float
) -> NDArray[np.float32]:
    """The low-passed drive of `distortion`, (n,)."""
    frequency = fft.rfftfreq(drive.size, 1.0 / sampling_rate_hz).astype(np.float32)
    kept = frequency < sampling_rate_hz / 6.0
    low_pass = kept / (1.0 + 1j * frequency / np.float32(_EXCURSION_CORNER * model.low_hz))
    excursion: NDArray[np.float32] = fft.irfft(
        fft.rfft(drive) * low_pass.astype(np.complex64), drive.size
    )
    return excursion


def _own(
    model: LoudspeakerModel,
    rng: np.random.Generator,
    spread_db: float,
    frequency_hz: _F,
    sampling_rate_hz: float,
) -> tuple[float, _C]:
    """A unit's own departure from its data sheet: level in dB, and ripple (F,)."""
    offset = float(np.clip(rng.standard_normal(), -_LARGEST_OFFSET, _LARGEST_OFFSET))
    band = log_frequencies(model.low_hz, min(model.high_hz, 0.4 * sampling_rate_hz), 12)
    centres = band[6::12] if band.size > 6 else band[:1]
    gains = rng.standard_normal(centres.size)
    trial = response(_sections(centres, gains, sampling_rate_hz), band, sampling_rate_hz)
    trial_rms_db = float(np.sqrt(np.mean(amplitude_db(np.abs(trial)) ** 2)))
    gains *= spread_db / max(trial_rms_db, 1e-6)
    sections = _sections(centres, gains, sampling_rate_hz)
    return spread_db * offset, response(sections, frequency_hz, sampling_rate_hz)


def _sections(centres_hz: _F, gains_db: _F, sampling_rate_hz: float) -> _F:
    biquads = [
        Biquad(kind="peaking", frequency_hz=float(centre), gain_db=float(gain), q=_RIPPLE_Q)
        for centre, gain in zip(centres_hz, gains_db, strict=True)
    ]
    return cascade_sos(biquads, sampling_rate_hz)
