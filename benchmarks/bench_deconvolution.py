"""Deconvolving a survey: 16 channels at 20 positions, sweeps of 5 s with 1 s of tail, 48 kHz.

Ours (circular, single precision, one position at a time) against the plain way (double
precision, zero-padded to the length of a linear deconvolution, one worker) in the same run.
Run: python benchmarks/bench_deconvolution.py
"""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable

import numpy as np
import scipy.fft
import scipy.signal
from numpy.typing import NDArray

from roomwright.measurement import (
    deconvolve,
    inverse_spectrum,
    response_from_take,
    transform_length,
)
from roomwright.model import Sweep
from roomwright.signals import excitation, resample, sweep_samples

RATE, CHANNELS, POSITIONS, RUNS = 48000, 16, 20, 3
SWEEP = Sweep()
KEEP = RATE


def seconds(task: Callable[[], object]) -> float:
    """Best of a few runs."""
    best = np.inf
    for _ in range(RUNS):
        start = time.perf_counter()
        task()
        best = min(best, time.perf_counter() - start)
    return best


def recordings(rng: np.random.Generator) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """Recordings of one position, (channels, n), and the responses in them, (channels, KEEP)."""
    length = transform_length(SWEEP, RATE)
    time_s = np.arange(KEEP) / RATE
    decay = 0.02 * np.exp(-6.91 * time_s / 0.4) * (time_s > 0.008)
    loudspeaker = scipy.signal.butter(4, 40, "high", fs=RATE, output="sos")
    responses = scipy.signal.sosfilt(loudspeaker, rng.standard_normal((CHANNELS, KEEP)) * decay)
    padded = scipy.fft.next_fast_len(length + KEEP, real=True)
    spectra = scipy.fft.rfft(responses, padded) * scipy.fft.rfft(sweep_samples(SWEEP, RATE), padded)
    return scipy.fft.irfft(spectra, padded)[:, :length].astype(np.float32), responses


def plain_inverse(samples: int) -> tuple[NDArray[np.complex128], int]:
    """Inverse of the sweep and length of the transform for a linear deconvolution."""
    sweep = sweep_samples(SWEEP, RATE).astype(np.float64)
    length = scipy.fft.next_fast_len(samples + sweep.size - 1, real=True)
    spectrum = scipy.fft.rfft(sweep, length)
    power = np.abs(spectrum) ** 2
    return spectrum.conj() / (power + 1e-9 * power.max()), length


def plain(
    rows: NDArray[np.float32], inverse: NDArray[np.complex128], length: int
) -> NDArray[np.float64]:
    """One take at a time, as one would write it first."""
    kept = [
        scipy.fft.irfft(scipy.fft.rfft(row.astype(np.float64), length) * inverse, length)[:KEEP]
        for row in rows
    ]
    return np.stack(kept)


def ours(rows: NDArray[np.float32]) -> NDArray[np.floating]:
    """All takes of a position at once."""
    return deconvolve(rows, inverse_spectrum(SWEEP, RATE, transform_length(SWEEP, RATE)), KEEP)


def error_db(found: NDArray[np.floating], true: NDArray[np.float64]) -> float:
    """Power of the error over that of the responses, 20 Hz to 20 kHz."""
    frequencies = scipy.fft.rfftfreq(KEEP, 1 / RATE)
    band = (frequencies >= 20) & (frequencies <= 20000)
    error = scipy.fft.rfft(found - true)[:, band]
    whole = scipy.fft.rfft(true)[:, band]
    return float(10 * np.log10(np.sum(np.abs(error) ** 2) / np.sum(np.abs(whole) ** 2)))


def main() -> None:
    """Print times, ratio, memory and error."""
    rows, responses = recordings(np.random.default_rng(1))
    ours(rows)  # computes the inverse, once a session; so is the plain one
    inverse, padded = plain_inverse(rows.shape[-1])
    plain_s = seconds(lambda: [plain(rows, inverse, padded) for _ in range(POSITIONS)])
    ours_s = seconds(lambda: [ours(rows) for _ in range(POSITIONS)])
    print(f"{CHANNELS} channels x {POSITIONS} positions, best of {RUNS}")
    print(f"plain, double, zero-padded, one worker  {plain_s:6.2f} s")
    print(f"ours, single, circular, a position each {ours_s:6.2f} s   {plain_s / ours_s:.1f} x")

    tracemalloc.start()
    ours(rows)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(f"peak memory of a position {peak / 1e6:.0f} MB (recordings {rows.nbytes / 1e6:.0f} MB)")

    length = transform_length(SWEEP, RATE)
    single = deconvolve(rows, inverse_spectrum(SWEEP, RATE, length))
    double = deconvolve(
        rows.astype(np.float64), inverse_spectrum(SWEEP, RATE, length, np.complex128)
    )
    rounding = np.sqrt(np.mean((single - double) ** 2) / np.mean(double**2))
    print(f"single against double precision {20 * np.log10(rounding):.0f} dB")
    print(
        f"kept second against the true responses, in band {error_db(ours(rows), responses):.0f} dB"
    )

    played = excitation(SWEEP, RATE)
    microphone = resample(np.convolve(played, [0.3, 0.0, 0.1])[: played.size], 1 + 18e-6)
    microphone += 1e-5 * np.random.default_rng(2).standard_normal(microphone.size)
    take = microphone.astype(np.float32)
    reference = resample(played, 1 + 18e-6).astype(np.float32)[: take.size]
    for name, channel in (("with", reference), ("without", None)):
        whole_s = seconds(lambda channel=channel: response_from_take(take, channel, SWEEP, RATE))
        print(f"whole take {name} a reference channel {1e3 * whole_s:.1f} ms")


if __name__ == "__main__":
    main()
