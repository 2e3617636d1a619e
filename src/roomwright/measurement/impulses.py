"""From an impulse response recorded elsewhere to one fit for analysis."""

from __future__ import annotations

from math import ceil, inf

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from roomwright import _checks
from roomwright.measurement.distortion import ORDERS
from roomwright.measurement.impulse_response import noise_tail
from roomwright.measurement.measured_response import (
    MeasuredResponse,
    drowned,
    judged_response,
)
from roomwright.measurement.microphone import CalibrationCurve, correction
from roomwright.measurement.noise import noise_floor, signal_to_noise_db
from roomwright.measurement.recording_checks import check_recording
from roomwright.model import Finding

F = NDArray[np.float64]

#: The shortest impulse response worth reading, and the lowest frequency looked at in one.
_SHORTEST_RESPONSE_S, _LOWEST_HZ = 0.02, 10.0


def response_from_impulse(
    samples: NDArray[np.floating],
    sampling_rate_hz: int,
    *,
    curve: CalibrationCurve | None = None,
    sensitivity_pa: float | None = None,
    length_s: float = 1.0,
    timed: bool = False,
    where: str = "the response",
) -> MeasuredResponse:
    """An impulse response recorded elsewhere, made fit for analysis.

    A constant offset is removed, the microphone's response undone, the end faded. The noise is
    read from the last tenth of what was given. Its time zero is its first sample.

    Parameters
    ----------
    samples
        Shape (n,).
    sampling_rate_hz, curve, sensitivity_pa, length_s, where
        As for `response_from_take`; a shorter response is kept as it is.
    timed
        Whether the first sample is known to be the moment the signal left the output.

    Raises
    ------
    InputError
        If the response cannot be used or lasts less than 20 ms.
    """
    keep = round(_checks.positive(length_s, "the length of the response") * sampling_rate_hz)
    check_recording(
        samples,
        where,
        minimum_samples=ceil(_SHORTEST_RESPONSE_S * sampling_rate_hz),
        full_scale=inf,
    )
    given = np.asarray(samples, dtype=np.float64)
    offset = float(np.mean(noise_tail(given)))
    findings = []
    if not timed:
        text = (
            "has no time reference; its arrival times hold for differences only if all responses "
            "share one start"
        )
        findings.append(Finding(severity="note", where=where, text=text))
    if abs(offset) > float(np.std(noise_tail(given))):
        text = f"had a constant offset of {offset:.3g}; it was removed"
        findings.append(Finding(severity="note", where=where, text=text))
    given = given - offset
    if curve is not None:
        given = _without_microphone(given, sampling_rate_hz, curve)
    if sensitivity_pa is not None:
        given *= _checks.positive(sensitivity_pa, "the microphone's sensitivity")
    noise = noise_floor(noise_tail(given), sampling_rate_hz)
    response = given[:keep]
    measured = judged_response(
        response,
        noise,
        sampling_rate_hz,
        (_LOWEST_HZ, sampling_rate_hz / 2),
        absolute=sensitivity_pa is not None,
        timed=timed,
    )
    return MeasuredResponse(
        response=measured,
        signal_to_noise_db=signal_to_noise_db(response, noise, sampling_rate_hz),
        distortion_db=np.full(len(ORDERS), np.nan),
        clock_error_ppm=float("nan"),
        latency_s=None,
        findings=(*findings, *drowned(measured, where)),
    )


def _without_microphone(samples: F, rate: int, curve: CalibrationCurve) -> F:
    # Room at the end for what the correction rings.
    length = scipy.fft.next_fast_len(samples.size + rate // 10, real=True)
    length += length % 2
    undone = correction(curve, scipy.fft.rfftfreq(length, 1.0 / rate))
    result: F = scipy.fft.irfft(scipy.fft.rfft(samples, length) * undone, length)[: samples.size]
    return result
