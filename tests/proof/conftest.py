"""Response sets of known content for the small job's channels."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from roomwright.measurement import OCTAVES_HZ, ResponseSet
from roomwright.signals import fractional_delay, frequencies_hz, minimum_phase_fir

RATE = 48000
LENGTH = 48000


@pytest.fixture
def response_set() -> Callable[..., ResponseSet]:
    def build(samples, **changes) -> ResponseSet:
        """Responses (sources, stations, n) of M+030, M-030 and LFE1 at the stations of the job."""
        pairs = np.shape(samples)[:2]
        fields = {
            "sources": ("M+030", "M-030", "LFE1")[: pairs[0]],
            "stations": ("S-R1-1", "S-R1-2", "X1")[: pairs[1]],
            "samples": np.asarray(samples, dtype=np.float32),
            "present": np.ones(pairs, dtype=bool),
            "sampling_rate_hz": RATE,
            "absolute": True,
            "timed": True,
            "trusted_hz": np.tile([15.0, 20000.0], (*pairs, 1)),
            "noise_rms": np.zeros(pairs),
            "signal_to_noise_db": np.full((*pairs, OCTAVES_HZ.size), 80.0),
            "distortion_db": np.full((*pairs, 4), np.nan),
            "background_db": np.full((pairs[1], OCTAVES_HZ.size), np.nan),
            "clock_error_ppm": np.zeros(pairs),
        }
        return ResponseSet(**(fields | changes))

    return build


@pytest.fixture
def on_target(small_job) -> np.ndarray:
    """A response (n,) with the magnitude of the job's target, the direct sound at 10 ms."""
    points = small_job.target.points
    grid = frequencies_hz(LENGTH, RATE)
    level = np.interp(
        np.log(np.maximum(grid, 1.0)),
        np.log([point.frequency_hz for point in points]),
        [point.level_db for point in points],
    )
    samples = np.zeros(LENGTH)
    samples[:16384] = minimum_phase_fir(10 ** (level / 20), 16384)
    return fractional_delay(samples, 480)


@pytest.fixture
def decaying() -> Callable[..., np.ndarray]:
    def build(reverberation_s, shape=(), seed=1) -> np.ndarray:
        """Noise (..., n) that arrives at 10 ms and decays, the same time at every frequency."""
        rng = np.random.default_rng(seed)
        noise = rng.standard_normal((*shape, LENGTH))
        decay = np.exp(-3 * np.log(10) * np.arange(LENGTH) / RATE / reverberation_s)
        samples = np.zeros_like(noise)
        samples[..., 480:] = (noise * decay)[..., :-480]
        return samples

    return build
