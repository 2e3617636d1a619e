"""From one recording to one impulse response, with everything that is to be said of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil, floor, isnan

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from roomwright import _checks
from roomwright._errors import InputError
from roomwright.measurement.alignment import AcousticReference, Alignment, align
from roomwright.measurement.clock import corrected
from roomwright.measurement.deconvolution import (
    deconvolve,
    full_level_band_hz,
    inverse_spectrum,
    shared_inverse,
    transform_length,
)
from roomwright.measurement.distortion import ORDERS, distortion_db, harmonics_reach_hz
from roomwright.measurement.impulse_response import noise_tail
from roomwright.measurement.measured_response import (
    MeasuredResponse,
    drowned,
    judged_response,
)
from roomwright.measurement.microphone import CalibrationCurve, correction
from roomwright.measurement.noise import NoiseFloor, noise_floor, signal_to_noise_db
from roomwright.measurement.overlap import quiet_s
from roomwright.measurement.recording_checks import check_recording
from roomwright.model import Finding, Overlap, Sweep
from roomwright.signals import harmonic_advance_s, timeline

F = NDArray[np.float64]

#: Samples around a piece that is resampled.
_MARGIN = 256

#: The stretch of the deconvolved circle taken to hold noise alone ends before the harmonic of
#: this order, if it then holds so many cycles of the lowest frequency: noise below the band would
#: count as noise within it. It must last this long. Common practice, no source.
_HIGHEST_ORDER, _NOISE_CYCLES, _SHORTEST_NOISE_S = 12, 6.0, 0.1


def response_from_take(
    microphone_samples: NDArray[np.floating],
    reference_samples: NDArray[np.floating] | None,
    sweep: Sweep,
    sampling_rate_hz: int,
    *,
    acoustic: AcousticReference | None = None,
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
    acoustic
        What is known of the loudspeaker that played the chirps, if it was not the one measured;
        a reference channel goes before it.
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
    whole = divided(
        microphone_samples,
        reference_samples,
        sweep,
        sampling_rate_hz,
        acoustic=acoustic,
        curve=curve,
        sensitivity_pa=sensitivity_pa,
        where=where,
    )
    return response_of(whole, length_s=length_s)


@dataclass(frozen=True, slots=True, eq=False)
class Divided:
    """A whole recording divided by its sweep.

    Attributes
    ----------
    circle
        Shape (m,), float32: the response to a sweep begins where it began after the first one,
        those to its harmonics before that; the end goes on at the beginning.
    sweep, sampling_rate_hz
        What was played, and the rate.
    absolute
        Whether it is in pascal per digital full scale.
    alignment
        Where the sweep was found.
    where
        What the take is called in messages and findings.
    findings
        Doubts.
    harmonics
        As `circle`, with what lies above the sweep: its harmonics, up to `harmonics_reach_hz`.
        None where those within the sweep are all that can be had.
    """

    circle: NDArray[np.float32]
    sweep: Sweep
    sampling_rate_hz: int
    absolute: bool
    alignment: Alignment
    where: str
    findings: tuple[Finding, ...]
    harmonics: NDArray[np.float32] | None = None


def divided(
    microphone_samples: NDArray[np.floating],
    reference_samples: NDArray[np.floating] | None,
    sweep: Sweep,
    sampling_rate_hz: int,
    *,
    acoustic: AcousticReference | None = None,
    curve: CalibrationCurve | None = None,
    sensitivity_pa: float | None = None,
    overlapped: bool = False,
    where: str = "the take",
) -> Divided:
    """A recording divided by its sweep, whole: what holds the responses of all who played.

    Parameters
    ----------
    microphone_samples, reference_samples, sweep, sampling_rate_hz, where
        As for `response_from_take`.
    acoustic, curve, sensitivity_pa
        As for `response_from_take`.
    overlapped
        Whether several sources played one after another, see `overlap`.

    Raises
    ------
    InputError
        If the recording cannot be used or does not hold the whole sweep.
    """
    places = timeline(sweep, sampling_rate_hz)
    length = transform_length(sweep, sampling_rate_hz)
    findings = check_recording(microphone_samples, where, minimum_samples=places.sweep_stop)
    if reference_samples is not None:
        check_recording(
            reference_samples,
            f"{where}, reference channel,",
            minimum_samples=places.sweep_stop,
        )
    alignment = align(
        microphone_samples,
        reference_samples,
        sweep,
        sampling_rate_hz,
        where,
        acoustic=acoustic,
        overlapped=overlapped,
    )
    segment, fraction, cut_short = _segment(
        microphone_samples, alignment, places.pilot_2 - places.sweep_start, where
    )
    advance = _advance(length, fraction)
    scale = 1.0
    if sensitivity_pa is not None:
        scale = _checks.positive(sensitivity_pa, "the microphone's sensitivity")

    def circle_up_to(highest_hz: float) -> NDArray[np.float32]:
        inverse = _corrected_inverse(sweep, sampling_rate_hz, length, curve, highest_hz)
        circle = deconvolve(segment, inverse * advance).astype(np.float32)
        circle *= np.float32(scale)
        return circle

    circle = circle_up_to(0.0)
    reach_hz = harmonics_reach_hz(sweep, sampling_rate_hz)
    # Of several sources the harmonics lie among the responses of the others.
    alone = sweep.pilot_band_hz is not None and not overlapped
    harmonics = circle_up_to(reach_hz) if alone and reach_hz is not None else None
    return Divided(
        circle=circle,
        sweep=sweep,
        sampling_rate_hz=sampling_rate_hz,
        absolute=sensitivity_pa is not None,
        alignment=alignment,
        where=where,
        findings=(*findings, *alignment.findings, *cut_short),
        harmonics=harmonics,
    )


def response_of(
    whole: Divided,
    overlap: Overlap | None = None,
    *,
    length_s: float = 1.0,
    band_hz: tuple[float, float] | None = None,
) -> MeasuredResponse:
    """The response of one source that played in a recording.

    Parameters
    ----------
    whole
        From `divided`.
    overlap
        Which of several; the response is then no longer than its window.
    length_s
        Length to keep, seconds.
    band_hz
        The range of what played: distortion is read within it, since below it there is hardly a
        fundamental. None to read it wherever the response can be trusted.

    Raises
    ------
    InputError
        If the sweep is too short for a response of that length.
    """
    sweep, rate = whole.sweep, whole.sampling_rate_hz
    keep = round(_checks.positive(length_s, "the length of the response") * rate)
    circle = whole.circle
    if overlap is not None:
        keep = min(keep, round(overlap.window_s * rate))
    if keep > circle.size - harmonic_advance_s(sweep, ORDERS[-1]) * rate:
        raise InputError(
            f"a response of {length_s:g} s does not fit the sweep of {sweep.duration_s:g} s with "
            f"{sweep.tail_s:g} s of tail; play a longer tail or keep less"
        )
    begins = 0 if overlap is None else round(overlap.offset_s * rate)
    noise = noise_in(whole, keep, overlap)
    circle = np.roll(circle, -begins)
    response = circle[:keep].astype(np.float64)
    measured = judged_response(
        response,
        noise,
        rate,
        full_level_band_hz(sweep),
        absolute=whole.absolute,
        timed=whole.alignment.timed,
    )
    distortion = np.full(len(ORDERS), np.nan)
    if overlap is None or overlap.harmonics_apart:
        low_hz, high_hz = measured.trusted_hz
        if band_hz is not None:
            low_hz, high_hz = max(low_hz, band_hz[0]), min(high_hz, band_hz[1])
        there, floor_there, reach_hz = circle, noise, 0.0
        if overlap is None and whole.harmonics is not None:
            there = whole.harmonics
            floor_there = noise_in(replace(whole, circle=there), keep)
            reach_hz = harmonics_reach_hz(sweep, rate) or 0.0
        distortion = distortion_db(
            there, response, floor_there, sweep, rate, (low_hz, high_hz), covered_hz=reach_hz
        )
    return MeasuredResponse(
        response=measured,
        signal_to_noise_db=signal_to_noise_db(response, noise, rate),
        distortion_db=distortion,
        clock_error_ppm=whole.alignment.clock_error_ppm,
        latency_s=whole.alignment.latency_s,
        findings=(*whole.findings, *drowned(measured, whole.where)),
    )


def noise_in(whole: Divided, keep: int, overlap: Overlap | None = None) -> NoiseFloor:
    """Noise of a response of `keep` samples in a divided recording, of one source of several."""
    sweep, rate, circle = whole.sweep, whole.sampling_rate_hz, whole.circle
    start = max(round(quiet_s(sweep, overlap) * rate), keep)
    # The part of the circle after the last response and before the harmonics. A narrow sweep is
    # soon over, and leaves little before those of high order, which are soft.
    enough_s = max(_NOISE_CYCLES / sweep.start_hz, _SHORTEST_NOISE_S)
    for order, shortest_s in ((_HIGHEST_ORDER, enough_s), (ORDERS[-1], _SHORTEST_NOISE_S)):
        stop = circle.size - round(harmonic_advance_s(sweep, order) * rate)
        if stop - start >= shortest_s * rate:
            return noise_floor(circle[start:stop], rate)
    begins = 0 if overlap is None else round(overlap.offset_s * rate)
    return noise_floor(noise_tail(circle[begins : begins + keep]), rate)


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


@lru_cache(maxsize=8)
def _corrected_inverse(
    sweep: Sweep, rate: int, length: int, curve: CalibrationCurve | None, highest_hz: float
) -> NDArray[np.complexfloating]:
    # Pilots with a band of their own go with a sweep that was cut to its loudspeaker's.
    if sweep.pilot_band_hz is None:
        inverse = inverse_spectrum(sweep, rate, length)
    else:
        inverse = shared_inverse(sweep, rate, length, highest_hz)
    if curve is None:
        return inverse
    undone = correction(curve, scipy.fft.rfftfreq(length, 1.0 / rate))
    return (inverse * undone).astype(np.complex64)
