"""From one recording to one impulse response, with everything that is to be said of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import ceil, floor, inf, isnan

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from roomwright import _checks
from roomwright._errors import InputError
from roomwright.measurement.alignment import Alignment, align
from roomwright.measurement.clock import corrected
from roomwright.measurement.deconvolution import (
    deconvolve,
    full_level_band_hz,
    inverse_spectrum,
    transform_length,
)
from roomwright.measurement.distortion import ORDERS, distortion_db
from roomwright.measurement.impulse_response import ImpulseResponse, fade_tail, noise_tail
from roomwright.measurement.microphone import CalibrationCurve, correction
from roomwright.measurement.noise import (
    NoiseFloor,
    noise_floor,
    signal_to_noise_db,
    trusted_band,
)
from roomwright.measurement.recording_checks import check_recording
from roomwright.model import Finding, Sweep
from roomwright.signals import harmonic_advance_s, timeline

F = NDArray[np.float64]

#: The end of a kept response fades over this share of it; common practice, no source.
_FADE = 0.05

#: Samples around a piece that is resampled.
_MARGIN = 256

#: The stretch of the deconvolved circle taken to hold noise alone ends before the harmonic of
#: this order; it must last this long.
_HIGHEST_ORDER, _SHORTEST_NOISE_S = 12, 0.1

#: The shortest impulse response worth reading, and the lowest frequency looked at in one.
_SHORTEST_RESPONSE_S, _LOWEST_HZ = 0.02, 10.0


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredResponse:
    """One impulse response and the quality of the take it came from.

    Attributes
    ----------
    response
        The impulse response.
    signal_to_noise_db
        Per octave of `OCTAVES_HZ`, shape (10,): energy of the response over that of the noise in
        the same window; minus infinity where nothing but noise was found.
    distortion_db
        Orders 2 to 5 re the fundamental, shape (4,); NaN where unknown.
    clock_error_ppm
        How much faster the recorder's clock ran than the player's; NaN where unknown.
    latency_s
        Delay of the reference channel, or None without one.
    findings
        Doubts.
    """

    response: ImpulseResponse
    signal_to_noise_db: F
    distortion_db: F
    clock_error_ppm: float
    latency_s: float | None
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Dissected:
    """A take taken apart: what its quality is judged by.

    Attributes
    ----------
    measured
        What was measured.
    alignment
        Where the sweep lies in the recording.
    circle
        The whole deconvolved circle, shape (n,): the response first, harmonics last.
    noise
        Noise of the response.
    """

    measured: MeasuredResponse
    alignment: Alignment
    circle: NDArray[np.floating]
    noise: NoiseFloor


def response_from_take(
    microphone_samples: NDArray[np.floating],
    reference_samples: NDArray[np.floating] | None,
    sweep: Sweep,
    sampling_rate_hz: int,
    *,
    curve: CalibrationCurve | None = None,
    sensitivity_pa: float | None = None,
    length_s: float = 1.0,
    where: str = "the take",
) -> MeasuredResponse:
    """The impulse response that a recorded sweep holds.

    The clock error is taken out, time zero set by `align`, the sweep divided out in single
    precision (-120 dB), the microphone's response undone.

    Parameters
    ----------
    microphone_samples
        Shape (n,), 1.0 = digital full scale: the whole recording, pilots included.
    reference_samples
        The electrical signal recorded along with it, shape (n,), if any.
    sweep, sampling_rate_hz
        What was played, and the nominal rate.
    curve
        The microphone's calibration.
    sensitivity_pa
        Pressure in pascal (peak) at digital full scale; None leaves the response relative.
    length_s
        Length to keep, seconds.
    where
        What to call the take in messages and findings.

    Raises
    ------
    InputError
        If the recording cannot be used (see `check_recording`), does not hold the whole sweep,
        or the sweep is too short for a response of that length.
    """
    return dissect(
        microphone_samples,
        reference_samples,
        sweep,
        sampling_rate_hz,
        curve=curve,
        sensitivity_pa=sensitivity_pa,
        length_s=length_s,
        where=where,
    ).measured


def dissect(
    microphone_samples: NDArray[np.floating],
    reference_samples: NDArray[np.floating] | None,
    sweep: Sweep,
    sampling_rate_hz: int,
    *,
    curve: CalibrationCurve | None = None,
    sensitivity_pa: float | None = None,
    length_s: float = 1.0,
    where: str = "the take",
) -> Dissected:
    """As `response_from_take`, with what was computed on the way."""
    places = timeline(sweep, sampling_rate_hz)
    keep = round(_checks.positive(length_s, "the length of the response") * sampling_rate_hz)
    length = transform_length(sweep, sampling_rate_hz)
    if keep > length - harmonic_advance_s(sweep, ORDERS[-1]) * sampling_rate_hz:
        raise InputError(
            f"a response of {length_s:g} s does not fit the sweep of {sweep.duration_s:g} s with "
            f"{sweep.tail_s:g} s of tail; play a longer tail or keep less"
        )
    findings = check_recording(microphone_samples, where, minimum_samples=places.sweep_stop)
    if reference_samples is not None:
        check_recording(
            reference_samples,
            f"{where}, reference channel,",
            minimum_samples=places.sweep_stop,
        )
    alignment = align(microphone_samples, reference_samples, sweep, sampling_rate_hz, where)
    segment, fraction, cut_short = _segment(
        microphone_samples, alignment, places.pilot_2 - places.sweep_start, where
    )
    inverse = _corrected_inverse(sweep, sampling_rate_hz, length, curve)
    circle = deconvolve(segment, inverse * _advance(length, fraction))
    if sensitivity_pa is not None:
        circle *= np.float32(_checks.positive(sensitivity_pa, "the microphone's sensitivity"))
    response = circle[:keep].astype(np.float64)
    noise = noise_floor(_noise_stretch(circle, keep, sweep, sampling_rate_hz), sampling_rate_hz)
    measured = _measured(
        response,
        noise,
        sampling_rate_hz,
        full_level_band_hz(sweep),
        absolute=sensitivity_pa is not None,
        timed=alignment.timed,
    )
    return Dissected(
        MeasuredResponse(
            response=measured,
            signal_to_noise_db=signal_to_noise_db(response, noise, sampling_rate_hz),
            distortion_db=distortion_db(
                circle, response, noise, sweep, sampling_rate_hz, measured.trusted_hz
            ),
            clock_error_ppm=alignment.clock_error_ppm,
            latency_s=alignment.latency_s,
            findings=(*findings, *alignment.findings, *cut_short, *_drowned(measured, where)),
        ),
        alignment=alignment,
        circle=circle,
        noise=noise,
    )


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
    measured = _measured(
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
        findings=(*findings, *_drowned(measured, where)),
    )


def _measured(
    response: F,
    noise: NoiseFloor,
    rate: int,
    limits_hz: tuple[float, float],
    *,
    absolute: bool,
    timed: bool,
) -> ImpulseResponse:
    return ImpulseResponse(
        samples=fade_tail(response, round(_FADE * response.size)),
        sampling_rate_hz=rate,
        absolute=absolute,
        timed=timed,
        noise_rms=noise.rms,
        trusted_hz=trusted_band(response, noise, rate, limits_hz),
    )


def _segment(
    microphone: NDArray[np.floating], alignment: Alignment, length: int, where: str
) -> tuple[NDArray[np.float32], float, tuple[Finding, ...]]:
    """Sweep and tail at the player's clock, the part of a sample they begin late, and doubts."""
    if alignment.start < 0:
        raise InputError(f"{where} was started after the sweep had begun; start it before")
    ppm = alignment.clock_error_ppm
    stretch = 1.0 if isnan(ppm) else 1.0 + ppm * 1e-6
    first = max(floor(alignment.start) - _MARGIN, 0)
    stop = first + ceil((length + 2 * _MARGIN) * stretch)
    piece = corrected(microphone[first:stop], ppm)
    start = (alignment.start - first) / stretch
    segment = piece[floor(start) : floor(start) + length]
    segment = (segment - segment.mean()).astype(np.float32)
    missing = length - segment.size
    if missing <= 0:
        return segment, start - floor(start), ()
    text = f"ends {missing} samples before the sweep's tail does; the late response is cut"
    return segment, start - floor(start), (Finding(severity="doubt", where=where, text=text),)


def _advance(length: int, fraction: float) -> NDArray[np.complex64]:
    """Spectrum that advances a circle of `length` samples by a part of one."""
    angle = np.arange(length // 2 + 1, dtype=np.float32) * np.float32(2 * np.pi * fraction / length)
    advance = np.empty(angle.size, dtype=np.complex64)
    np.cos(angle, out=advance.real)
    np.sin(angle, out=advance.imag)
    return advance


@lru_cache(maxsize=4)
def _corrected_inverse(
    sweep: Sweep, rate: int, length: int, curve: CalibrationCurve | None
) -> NDArray[np.complexfloating]:
    inverse = inverse_spectrum(sweep, rate, length)
    if curve is None:
        return inverse
    undone = correction(curve, scipy.fft.rfftfreq(length, 1.0 / rate))
    return (inverse * undone).astype(np.complex64)


def _noise_stretch(
    circle: NDArray[np.floating], keep: int, sweep: Sweep, rate: int
) -> NDArray[np.floating]:
    """The part of the circle after the response and before the harmonics."""
    start = max(round(sweep.tail_s * rate), keep)
    stop = circle.size - round(harmonic_advance_s(sweep, _HIGHEST_ORDER) * rate)
    if stop - start >= _SHORTEST_NOISE_S * rate:
        return circle[start:stop]
    return noise_tail(circle[:keep])


def _without_microphone(samples: F, rate: int, curve: CalibrationCurve) -> F:
    # Room at the end for what the correction rings.
    length = scipy.fft.next_fast_len(samples.size + rate // 10, real=True)
    length += length % 2
    undone = correction(curve, scipy.fft.rfftfreq(length, 1.0 / rate))
    result: F = scipy.fft.irfft(scipy.fft.rfft(samples, length) * undone, length)[: samples.size]
    return result


def _drowned(response: ImpulseResponse, where: str) -> tuple[Finding, ...]:
    if response.trusted_hz[1] > 0:
        return ()
    text = "holds no response that stands 10 dB clear of the noise in any band"
    return (Finding(severity="doubt", where=where, text=text),)
