"""What a tuning does to a signal, and what is then heard at each station."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import scipy
from numpy.typing import NDArray
from scipy import fft

from roomwright.measurement import ResponseSet
from roomwright.model import Channel, Job, OutputTuning, Tuning
from roomwright.signals import (
    cascade_sos,
    crossover_sos,
    fir_taps,
    from_amplitude_db,
    response,
)

F = NDArray[np.float64]
C = NDArray[np.complex128]


def output_response(output: OutputTuning, frequencies_hz: F, sampling_rate_hz: float) -> C:
    """Complex response of one output's processing: crossovers, biquads, FIR, trim, delay, polarity.

    Parameters
    ----------
    output
        The settings of the output.
    frequencies_hz
        Where to evaluate, shape (F,), in hertz; fastest on a whole `rfft` grid.
    sampling_rate_hz
        Rate at which the processor filters, in hertz.

    Returns
    -------
    C
        Shape (F,).

    Raises
    ------
    InputError
        If a filter lies at or above half the sampling rate.
    """
    sections = np.vstack(
        [
            *(crossover_sos(crossover, sampling_rate_hz) for crossover in output.crossovers),
            cascade_sos(output.biquads, sampling_rate_hz),
        ]
    )
    gain = from_amplitude_db(output.trim_db) * (-1.0 if output.inverted else 1.0)
    total = gain * response(sections, frequencies_hz, sampling_rate_hz)
    if output.fir is not None:
        taps = fir_taps(output.fir, int(sampling_rate_hz))
        total = total * _fir_response(taps, frequencies_hz, sampling_rate_hz)
    if output.delay_s:
        total = total * np.exp(-2j * np.pi * frequencies_hz * output.delay_s)
    return np.asarray(total)


def predict(job: Job, tuning: Tuning, survey: ResponseSet) -> ResponseSet:
    """Responses of every channel at every station with a tuning loaded, before it is loaded.

    Each is the complex sum of what the channel's outputs give there: its loudspeakers through
    their processing, and its bass through its own low-pass (or the LFE at `lfe_gain_db`) and every
    subwoofer's processing. The sums are taken on a grid of twice the length, so neither
    a delay nor a ringing filter wraps around.

    Parameters
    ----------
    job
        Its channels and subwoofers.
    tuning
        The settings; an output it does not list is a wire.
    survey
        Raw responses of each loudspeaker and subwoofer.

    Returns
    -------
    ResponseSet
        Sources are the job's channels. Present where everything the channel plays through was
        measured. The trusted band spans from the lowest to the highest of its parts, the
        signal-to-noise ratio in each octave is that of its best part, the noise the power sum of
        its parts' through their trims; distortion is not predicted (NaN).
    """
    rate, length = survey.sampling_rate_hz, survey.samples.shape[-1]
    padded = fft.next_fast_len(2 * length, real=True)
    frequencies = fft.rfftfreq(padded, 1 / rate)
    index = {source: row for row, source in enumerate(survey.sources)}
    settings = {output.drives: output for output in tuning.outputs}
    chains = np.stack(
        [
            output_response(settings.get(s, OutputTuning(drives=s)), frequencies, rate)
            for s in survey.sources
        ]
    )
    subwoofers = [index[s.id] for s in job.subwoofers if s.id in index]
    bass = {channel.id: bass_gain(channel, tuning, frequencies, rate) for channel in job.channels}
    parts = [[index.get(unit) for unit in played_by(job, tuning, c)] for c in job.channels]
    samples = np.zeros((len(job.channels), len(survey.stations), length), dtype=np.float32)
    for place in range(len(survey.stations)):
        spectra = chains * fft.rfft(survey.samples[:, place].astype(np.float64), padded)
        below = spectra[subwoofers].sum(axis=0)
        for row, channel in enumerate(job.channels):
            mains = [index[unit] for unit in channel.loudspeakers if unit in index]
            total = spectra[mains].sum(axis=0)
            gain = bass[channel.id]
            if gain is not None:
                total += gain * below
            samples[row, place] = fft.irfft(total, padded)[:length]
    return _channel_set(job, survey, samples, parts, settings)


def played_by(job: Job, tuning: Tuning, channel: Channel) -> tuple[str, ...]:
    """Return the loudspeakers and subwoofers that sound when `channel` plays."""
    takes_subwoofers = channel.role == "lfe" or tuning.low_pass_of(channel.id) is not None
    subwoofers = tuple(s.id for s in job.subwoofers) if takes_subwoofers else ()
    return (*channel.loudspeakers, *subwoofers)


def bass_gain(
    channel: Channel, tuning: Tuning, frequencies_hz: F, sampling_rate_hz: float
) -> C | None:
    """Complex gain (F,) with which a channel feeds the subwoofers; None if it does not."""
    if channel.role == "lfe":
        gain = float(from_amplitude_db(tuning.lfe_gain_db))
        return np.full(frequencies_hz.shape, gain, dtype=np.complex128)
    low_pass = tuning.low_pass_of(channel.id)
    if low_pass is None:
        return None
    sections = crossover_sos(low_pass, sampling_rate_hz)
    return response(sections, frequencies_hz, sampling_rate_hz)


def _channel_set(
    job: Job,
    survey: ResponseSet,
    samples: NDArray[np.float32],
    parts: list[list[int | None]],
    settings: dict[str, OutputTuning],
) -> ResponseSet:
    """Put the sums together with what the parts' measurements say of them."""
    channels, stations = samples.shape[:2]
    octaves, orders = survey.signal_to_noise_db.shape[-1], survey.distortion_db.shape[-1]
    present = np.zeros((channels, stations), dtype=np.bool_)
    trusted = np.zeros((channels, stations, 2))
    noise = np.full((channels, stations), np.nan)
    ratio = np.full((channels, stations, octaves), np.nan)
    trims = [settings[s].trim_db if s in settings else 0.0 for s in survey.sources]
    gains = from_amplitude_db(trims)
    for row, of_channel in enumerate(parts):
        rows = [part for part in of_channel if part is not None]
        if not rows:
            continue
        present[row] = survey.present[rows].all(axis=0) & (len(rows) == len(of_channel))
        trusted[row] = _span(survey.trusted_hz[rows])
        noise[row] = np.sqrt(((gains[rows, None] * survey.noise_rms[rows]) ** 2).sum(axis=0))
        ratio[row] = np.fmax.reduce(survey.signal_to_noise_db[rows], axis=0)
    samples[~present] = 0
    return ResponseSet(
        sources=tuple(channel.id for channel in job.channels),
        stations=survey.stations,
        samples=samples,
        present=present,
        sampling_rate_hz=survey.sampling_rate_hz,
        absolute=survey.absolute,
        timed=survey.timed,
        trusted_hz=trusted,
        noise_rms=noise,
        octave_hz=survey.octave_hz,
        signal_to_noise_db=ratio,
        distortion_db=np.full((channels, stations, orders), np.nan),
        background_db=survey.background_db,
        clock_error_ppm=np.zeros((channels, stations)),
    )


def _span(trusted_hz: F) -> F:
    """From the lowest to the highest trusted frequency of parts (parts, P, 2), shape (P, 2)."""
    is_known = trusted_hz[..., 1] > trusted_hz[..., 0]
    low = np.where(is_known, trusted_hz[..., 0], np.inf).min(axis=0)
    high = np.where(is_known, trusted_hz[..., 1], 0.0).max(axis=0)
    return np.stack([np.where(high > 0, low, 0.0), high], axis=-1)


def _fir_response(taps: F, frequencies_hz: F, sampling_rate_hz: float) -> C:
    whole = 2 * (frequencies_hz.size - 1)
    grid = fft.rfftfreq(max(whole, 2), 1 / sampling_rate_hz)
    if whole >= taps.size and np.allclose(frequencies_hz, grid, rtol=1e-9, atol=1e-9):
        return np.asarray(fft.rfft(taps, whole))
    at = np.ascontiguousarray(frequencies_hz, dtype=np.float64)
    return _fir_at(np.asarray(taps, dtype=np.float64).tobytes(), at.tobytes(), sampling_rate_hz)


# While a target is drawn the same long filters are asked for at the same frequencies again and
# again, and summing thousands of taps at each takes longer than fitting.
@lru_cache(maxsize=64)
def _fir_at(taps: bytes, frequencies_hz: bytes, sampling_rate_hz: float) -> C:
    at = np.frombuffer(frequencies_hz)
    found: C = scipy.signal.freqz(np.frombuffer(taps), worN=at, fs=sampling_rate_hz)[1]
    found.setflags(write=False)
    return found
