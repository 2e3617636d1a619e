"""Array filters for 24 subwoofers and 60 stations: by bin, with every term, and all bins plainly.

The responses have 16384 taps at 48 kHz: noise that decays by 60 dB, so that the work is that of a
room. The plain version transforms whole responses and solves every bin in float64. All start from
the responses and end with taps; times are the best of three.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy import fft

from roomwright.tuning.arrays import (
    ControlBand,
    FilterProblem,
    Grid,
    TimeTerms,
    Uncertainty,
    at_output_rate,
    band_shape,
    design_grid,
    filters_by_bin,
    filters_in_time,
    response_spectra,
)

RATE = 48000
EMITTERS, STATIONS, SAMPLES = 24, 60, 16384
BAND = ControlBand(20.0, 120.0)
EFFORT_DB = -25.0
DELAY_S = 0.02
CERTAIN = Uncertainty(0.0, 0.0, 0.0)


def responses() -> tuple[np.ndarray, np.ndarray]:
    """Decaying noise after the sound's way to each station; the way of the wave in seconds."""
    rng = np.random.default_rng(1)
    travel = np.repeat(np.linspace(0.006, 0.014, 6), 10)
    n = np.arange(SAMPLES)
    noise = rng.standard_normal((EMITTERS, STATIONS, SAMPLES), dtype=np.float32)
    noise *= np.exp(-6.9 * n / SAMPLES).astype(np.float32)
    noise *= n >= (travel * RATE)[:, None]
    return noise, travel


def problem(samples: np.ndarray, travel: np.ndarray, grid: Grid, limit: float) -> FilterProblem:
    frequency = grid.frequencies_hz
    delay = np.exp(-2j * np.pi * frequency * (travel[:, None] + DELAY_S))
    return FilterProblem(
        grid=grid,
        band=BAND,
        field=response_spectra(samples, grid),
        wanted=100.0 * band_shape(BAND, grid) * delay,
        travel_s=travel,
        delay_s=DELAY_S,
        weights=np.ones(STATIONS),
        limit=np.full((grid.bins, EMITTERS), limit),
    )


def all_bins(samples: np.ndarray, travel: np.ndarray) -> np.ndarray:
    """Every bin of the whole band, one batch of dense solutions."""
    length = 2 * SAMPLES
    field = np.ascontiguousarray(
        np.moveaxis(fft.rfft(samples.astype(np.float64), length), -1, 0).swapaxes(1, 2)
    )
    frequency = fft.rfftfreq(length, 1.0 / RATE)
    wanted = np.exp(-2j * np.pi * frequency[:, None] * (travel + DELAY_S))
    adjoint = field.conj().swapaxes(1, 2)
    gram = adjoint @ field
    power = np.trace(gram, axis1=1, axis2=2).real / EMITTERS
    gram += (10.0 ** (EFFORT_DB / 10.0) * power)[:, None, None] * np.eye(EMITTERS)
    drive = np.linalg.solve(gram, adjoint @ wanted[..., None])[..., 0]
    return fft.irfft(drive.T, length)


def best_of_three(run: Callable[[], object]) -> float:
    seconds = []
    for _ in range(3):
        start = time.perf_counter()
        run()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def main() -> dict[str, float]:
    """Print all; give what has a limit."""
    samples, travel = responses()
    grid = design_grid(RATE, 0.34, SAMPLES / RATE, BAND.fades_out_hz)
    free = problem(samples, travel, grid, 1e9)
    drive = filters_by_bin(free, CERTAIN, EFFORT_DB)
    limit = 0.7 * float(np.abs(drive).max())

    def by_bin() -> np.ndarray:
        own = problem(samples, travel, grid, 1e9)
        taps = grid.time(filters_by_bin(own, CERTAIN, EFFORT_DB).T)[:, : grid.taps]
        return at_output_rate(taps, grid)

    def every_term() -> np.ndarray:
        own = problem(samples, travel, grid, limit)
        taps, _ = filters_in_time(own, Uncertainty(), EFFORT_DB, TimeTerms())
        return at_output_rate(taps, grid)

    def in_time() -> np.ndarray:
        own = problem(samples, travel, grid, 1e9)
        taps, _ = filters_in_time(own, Uncertainty(), EFFORT_DB, TimeTerms())
        return at_output_rate(taps, grid)

    plain = best_of_three(lambda: all_bins(samples, travel))
    fast = best_of_three(by_bin)
    timed = best_of_three(in_time)
    whole = best_of_three(every_term)
    print(f"{EMITTERS} subwoofers x {STATIONS} stations x {SAMPLES} taps, best of 3; {grid}")
    print(f"all bins, plainly         {plain:7.3f} s")
    print(f"control band, by bin      {fast:7.3f} s   {plain / fast:5.1f} x faster")
    print(f"with the terms over time  {timed:7.3f} s")
    print(f"every term and limits     {whole:7.3f} s")
    return {"filters by bin, s": fast, "filters with every term, s": whole}


if __name__ == "__main__":
    main()
