"""How far a response stands above its own noise."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import finite, positive
from roomwright.analysis._band_power import block_s, power_in_bands
from roomwright.analysis._noise_floor import peak_to_noise_db


def decay_range_db(
    samples: ArrayLike, sampling_rate_hz: float, mids_hz: ArrayLike, fraction: int = 1
) -> NDArray[np.float64]:
    """Highest short-time level above the noise at the end of responses, per band.

    This is the range that ISO 3382-1:2009, 5.3.3 asks for: 35 dB for T20, 45 dB for T30. A
    response too short to reach its noise reads too low, never too high.

    Parameters
    ----------
    samples
        Impulse responses, shape (..., n).
    sampling_rate_hz
        Sampling rate, hertz.
    mids_hz
        Exact midbands, hertz, shape (bands,).
    fraction
        Bands in an octave.

    Returns
    -------
    dB, shape (..., bands).

    Raises
    ------
    InputError
        If a sample is not a number, or a band does not fit the sampling rate.
    """
    rate = positive(sampling_rate_hz, "the sampling rate")
    responses = finite(samples, "the impulse response").astype(np.float64)
    mids = np.asarray(mids_hz, dtype=np.float64)
    flat = responses.reshape(-1, responses.shape[-1])
    ranges = np.array(
        [
            [
                peak_to_noise_db(power, band.step_s, block_s(float(mid), fraction))
                for power in band.power
            ]
            for mid, band in zip(mids, power_in_bands(flat, rate, mids, fraction), strict=True)
        ]
    )
    return ranges.T.reshape(*responses.shape[:-1], mids.size)
