"""Where in a recording the sweep begins, and how fast the recorder's clock ran."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.measurement.chirps import chirp_pair, chirp_pulses, first_sound
from roomwright.measurement.clock import (
    clock_error_ppm,
    corrected,
    noise_power,
    relative_delay,
)
from roomwright.measurement.deconvolution import inverse_spectrum
from roomwright.model import Finding, Sweep
from roomwright.signals import pilot_samples, timeline

F = NDArray[np.float64]

#: A recorder that runs along with the player starts at most this much before it.
_LARGEST_LATENCY_S = 0.25

#: Where the response is put when the recording was started by hand.
_ARRIVAL_S = 0.02

#: Samples kept before and after a piece that is resampled or searched.
_MARGIN = 256

#: The pilot counts as found where its correlation reaches this share of a perfect one.
_FOUND = 0.3

#: A response counts as found where its peak stands this far above the rms of the whole circle.
_PEAK = 8.0


@dataclass(frozen=True, slots=True)
class AcousticReference:
    """Chirps that another loudspeaker, always the same, played before and after the sweep.

    Attributes
    ----------
    flight_s
        How long sound takes from it to the microphone; None where a place is not known.
    """

    flight_s: float | None = None


@dataclass(frozen=True, slots=True)
class Alignment:
    """Where the sweep's first sample lies in a recording.

    Attributes
    ----------
    start
        Index into the recording, with its fraction.
    clock_error_ppm
        Of the recorder; NaN where unknown.
    latency_s
        Of the reference channel; None without one.
    timed
        Whether `start` is the moment the signal left the output.
    findings
        Doubts.
    """

    start: float
    clock_error_ppm: float
    latency_s: float | None
    timed: bool
    findings: tuple[Finding, ...] = ()


def align(
    microphone: NDArray[np.floating],
    reference: NDArray[np.floating] | None,
    sweep: Sweep,
    sampling_rate_hz: int,
    where: str = "take",
    *,
    acoustic: AcousticReference | None = None,
    overlapped: bool = False,
) -> Alignment:
    """Find the sweep in a recording.

    With a reference channel its pilots give the moment the signal left the output, to a small
    part of a sample, and the clock error. With an acoustic reference the first sound of its
    chirps at the microphone gives both, the moment to within the error of its flight; where the
    flight is not known, time zero is 20 ms before that first sound, the same for all takes at one
    place of the microphone. With neither, the recording is taken to have started
    together with the signal, apart from a latency common to all takes; if the response is not
    found there, it is looked for in the whole recording and put 20 ms after time zero.

    Parameters
    ----------
    microphone, reference
        Shape (n,), same recorder, same start.
    sweep, sampling_rate_hz
        What was played, and the recorder's nominal rate.
    where
        What to call the recording in findings.
    acoustic
        What is known of the loudspeaker that played the chirps, if it was not the one measured.
    overlapped
        Whether several sources played: the loudest then says nothing about when the first began,
        and without a reference the recording is taken to have started together with the signal.

    Raises
    ------
    InputError
        If the reference channel does not hold the signal, or the chirps of the acoustic reference
        are not heard.
    """
    if reference is not None:
        return _by_reference(reference, sweep, sampling_rate_hz, where)
    if acoustic is not None:
        return _by_chirps(microphone, sweep, sampling_rate_hz, where, acoustic)
    return _by_microphone(microphone, sweep, sampling_rate_hz, where, overlapped=overlapped)


def _by_reference(
    reference: NDArray[np.floating], sweep: Sweep, rate: int, where: str
) -> Alignment:
    places = timeline(sweep, rate)
    pilot = pilot_samples(sweep, rate).astype(np.float64)
    coarse = _find_pilot(reference, pilot, places.sweep_start + round(_LARGEST_LATENCY_S * rate))
    if coarse is None:
        coarse = _find_pilot(reference, pilot, reference.size)
    if coarse is None:
        raise InputError(f"{where}: the reference channel does not hold the signal that was played")
    ppm = clock_error_ppm(reference, sweep, rate, lag=coarse - places.pilot_1)
    findings = () if not isnan(ppm) else (_clock_unknown(where),)
    stretch = 1.0 if isnan(ppm) else 1.0 + ppm * 1e-6
    first = max(coarse - _MARGIN, 0)
    piece = corrected(reference[first : coarse + pilot.size + _MARGIN], ppm)
    at = round((coarse - first) / stretch)
    expected = np.zeros(piece.size)
    expected[at : at + pilot.size] = pilot[: piece.size - at]
    noise = noise_power(
        reference, round(first + (places.pilot_2 - places.pilot_1)), rate, piece.size
    )
    delay = relative_delay(expected, piece, noise, _MARGIN)
    if isnan(delay.samples):
        raise InputError(f"{where}: the reference channel is drowned in noise")
    pilot_at = first + (at + delay.samples) * stretch
    return Alignment(
        start=pilot_at + (places.sweep_start - places.pilot_1) * stretch,
        clock_error_ppm=ppm,
        latency_s=pilot_at / (stretch * rate) - places.pilot_1 / rate,
        timed=True,
        findings=findings,
    )


def _by_chirps(
    microphone: NDArray[np.floating],
    sweep: Sweep,
    rate: int,
    where: str,
    acoustic: AcousticReference,
) -> Alignment:
    places = timeline(sweep, rate)
    near = chirp_pair(chirp_pulses(microphone, sweep, rate), sweep, rate)
    if near is None:
        raise InputError(
            f"{where}: the two chirps of the reference loudspeaker are not heard around the sweep; "
            "play it louder, or use another"
        )
    ppm = clock_error_ppm(microphone, sweep, rate, lag=near - places.pilot_1)
    stretch = 1.0 if isnan(ppm) else 1.0 + ppm * 1e-6
    # At the player's clock the pulse is the same whatever the recorder's.
    first = max(near - round(_LARGEST_LATENCY_S * rate), 0)
    last = near + (places.sweep_start - places.pilot_1)
    piece = corrected(microphone[first:last], ppm)
    pulses = chirp_pulses(piece, sweep, rate)
    heard = first + first_sound(pulses, round((near - first) / stretch), rate) * stretch
    flight_s = acoustic.flight_s
    text = (
        "counts time from the first sound of the reference loudspeaker: relative delays hold "
        "at one station, not between stations"
        if flight_s is None
        else "takes time zero from the reference loudspeaker's distance as planned"
    )
    findings = [Finding(severity="note", where=where, text=text)]
    if isnan(ppm):
        findings.append(_clock_unknown(where))
    # Without the flight, room is left for loudspeakers that are nearer than the reference.
    before = (_ARRIVAL_S if flight_s is None else flight_s) * rate
    start = heard + (places.sweep_start - places.pilot_1 - before) * stretch
    return Alignment(start, ppm, None, timed=flight_s is not None, findings=(*findings,))


def _by_microphone(
    microphone: NDArray[np.floating], sweep: Sweep, rate: int, where: str, *, overlapped: bool
) -> Alignment:
    places = timeline(sweep, rate)
    findings = [
        Finding(
            severity="note",
            where=where,
            text="has no reference channel; time zero holds an unknown latency, taken to be the "
            "same in all takes",
        )
    ]
    peak = None if overlapped else _find_response(microphone, sweep, rate)
    lag = 0 if peak is None else peak - places.sweep_start
    if 0 <= lag <= _LARGEST_LATENCY_S * rate:
        lag = 0
    else:
        findings = [
            Finding(
                severity="doubt",
                where=where,
                text=f"holds the sweep {lag / rate:+.2f} s from where it should; the response was "
                "put 20 ms after time zero, so its arrival says nothing",
            )
        ]
        lag -= round(_ARRIVAL_S * rate)
    ppm = clock_error_ppm(microphone, sweep, rate, lag=lag)
    if isnan(ppm):
        findings.append(_clock_unknown(where))
    stretch = 1.0 if isnan(ppm) else 1.0 + ppm * 1e-6
    return Alignment(
        lag + places.sweep_start * stretch, ppm, None, timed=False, findings=(*findings,)
    )


def _clock_unknown(where: str) -> Finding:
    return Finding(
        severity="doubt",
        where=where,
        text="lets no clock error be measured, because a pilot is missing or drowned in noise; "
        "none was corrected",
    )


def _find_pilot(signal: NDArray[np.floating], pilot: F, stop: int) -> int | None:
    """Index at which the first pilot begins within `signal[:stop]`; None if there is none."""
    searched = np.asarray(signal[: stop + pilot.size], dtype=np.float64)
    if searched.size < pilot.size:
        return None
    correlation = np.abs(scipy.signal.correlate(searched, pilot, "valid", method="fft"))
    energy = np.cumsum(np.concatenate(([0.0], searched**2)))
    local = np.sqrt(np.maximum(energy[pilot.size :] - energy[: -pilot.size], 0.0))
    # Near-silence correlates with anything: it counts against the loudest place.
    norm = np.maximum(local, 0.01 * local.max()) * np.sqrt(pilot @ pilot)
    likeness = correlation / np.maximum(norm, 1e-30)
    clear = np.flatnonzero(likeness > max(_FOUND, 0.7 * float(likeness.max())))
    if clear.size == 0:
        return None
    first = likeness[clear[0] : clear[0] + pilot.size]
    return int(clear[0] + np.argmax(first))


def _find_response(microphone: NDArray[np.floating], sweep: Sweep, rate: int) -> int | None:
    """Index of the response's peak when the whole recording is deconvolved; None if none shows."""
    length = scipy.fft.next_fast_len((microphone.size + 1) // 2, real=True) * 2
    inverse = inverse_spectrum(sweep, rate, length)
    spectrum = scipy.fft.rfft(microphone.astype(np.float32), length) * inverse
    circle = np.abs(scipy.fft.irfft(spectrum, length))
    peak = int(np.argmax(circle))
    if circle[peak] < _PEAK * np.sqrt(np.mean(circle**2)):
        return None
    return peak if peak < microphone.size else peak - length
