"""One way to feed the subwoofers: what their outputs are set to, and what that drives them with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from roomwright.model import Finding, FirCoefficients, OutputTuning
from roomwright.tuning.arrays import Grid
from roomwright.tuning.chain import output_response

F = NDArray[np.float64]
C = NDArray[np.complex128]

WayName = Literal[
    "alike",
    "gain and delay",
    "biquads",
    "FIR",
    "simple array",
    "array filters",
    "mixture",
    "free",
]

#: Coefficients this small, re the largest, are left out at the end of a filter.
_NOTHING = 1e-6

#: The end of a filter is faded out over this share of its length.
_FADED_PART = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """A way to feed S subwoofers.

    `drive` (S, bins) is the gain of each on the grid, the largest 1. `outputs` are the settings
    that give it, before the common correction; none for `free`, the bound that no processor
    reaches. `latency_s` is what all of it is late by.
    """

    name: WayName
    drive: C
    outputs: tuple[OutputTuning, ...]
    latency_s: float = 0.0
    findings: tuple[Finding, ...] = ()


def way_of(
    name: WayName,
    outputs: tuple[OutputTuning, ...],
    grid: Grid,
    sampling_rate_hz: int,
    latency_s: float = 0.0,
    findings: tuple[Finding, ...] = (),
) -> Way:
    """The way that outputs' settings make, with the drive they will really give."""
    drive = np.stack(
        [output_response(one, grid.frequencies_hz, sampling_rate_hz) for one in outputs]
    )
    return Way(name, drive / np.abs(drive).max(), outputs, latency_s, findings)


def coefficients_of(drive: C, grid: Grid) -> tuple[FirCoefficients, ...]:
    """Filters (S) that give drives (S, bins), all scaled alike so that no gain exceeds 0 dB.

    Drives must be causal and shorter than the grid's filters; what is left beyond is faded out.
    """
    taps = grid.time(drive)[:, : grid.taps]
    faded = max(round(_FADED_PART * grid.taps), 1)
    taps[:, -faded:] *= np.cos(0.5 * np.pi * (np.arange(faded) + 1.0) / (faded + 1.0)) ** 2
    taps /= np.abs(grid.spectrum(taps)).max()
    needed = np.flatnonzero(np.abs(taps).max(axis=0) > _NOTHING * np.abs(taps).max())
    taps = taps[:, : int(needed[-1]) + 1]
    return tuple(
        FirCoefficients(
            coefficients=tuple(float(f"{tap:.7g}") for tap in row),
            sampling_rate_hz=grid.rate_hz,
            interpolation=grid.factor,
        )
        for row in taps
    )


def ends(grid: Grid) -> F:
    """What a filter is faded out by near the end of its grid (bins,): 1, then falling to 0."""
    frequency = grid.frequencies_hz
    last = float(frequency[-1])
    fade = np.clip((frequency - 0.75 * last) / (0.25 * last), 0.0, 1.0)
    return np.asarray(np.cos(0.5 * np.pi * fade) ** 2)
