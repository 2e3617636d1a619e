"""The band in which an array's filters are in control, and how the design fades outside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial.distance import cdist

from roomwright._errors import InputError
from roomwright.model import Finding
from roomwright.signals import minimum_phase
from roomwright.tuning.arrays.emitters import Emitters
from roomwright.tuning.arrays.grid import Grid
from roomwright.tuning.arrays.transverse_modes import control_limit_hz

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Closer to the cut-off of a mode that is driven, its near field reaches more than about 0.6 m.
_BELOW_CUTOFF = 0.8
#: Stations at most a third of the wavelength apart; two would do in theory (common practice).
_STEPS_A_WAVE = 3.0
#: A band narrower than this in ratio is not worth filters.
_NARROWEST = 1.5
_ONE_HEIGHT_M = 0.1
_FLOOR = 1e-3


@dataclass(frozen=True, slots=True)
class ControlBand:
    """Control from `low_hz` to `high_hz`, fading over one octave beyond either."""

    low_hz: float
    high_hz: float

    @property
    def fades_out_hz(self) -> float:
        """Where nothing is left of the control above the band."""
        return 2.0 * self.high_hz

    def share(self, frequencies_hz: ArrayLike) -> F:
        """How much the design is in control, 0 to 1, shape of `frequencies_hz`."""
        frequency = np.asarray(frequencies_hz, dtype=np.float64)
        outside = np.maximum(
            np.log2(np.maximum(frequency, 1e-9) / self.high_hz),
            np.log2(self.low_hz / np.maximum(frequency, 1e-9)),
        )
        return np.asarray(np.cos(0.5 * np.pi * np.clip(outside, 0.0, 1.0)) ** 2)

    def inside(self, frequencies_hz: ArrayLike) -> NDArray[np.bool_]:
        """Which frequencies the design is fully in control of."""
        frequency = np.asarray(frequencies_hz, dtype=np.float64)
        return (frequency >= self.low_hz) & (frequency <= self.high_hz)


def control_band(
    array: Emitters,
    points_m: ArrayLike,
    wanted_hz: tuple[float, float],
    c: float = 343.0,
) -> tuple[ControlBand, tuple[Finding, ...]]:
    """The part of the wanted band that the array and the stations allow, and what reduced it.

    Parameters
    ----------
    array
        The subwoofers.
    points_m
        (P, 3) stations that the filters are designed at.
    wanted_hz
        Lowest and highest frequency wanted; the lowest is where the subwoofers still play.
    c
        Speed of sound, m/s.

    Raises
    ------
    InputError
        If the band wanted does not rise, or the one left is narrower than half an octave or so.
    """
    low, wanted = wanted_hz
    if not 0 < low < wanted < np.inf:
        raise InputError(f"the band wanted is {low:g} to {wanted:g} Hz; it must rise from above 0")
    points = np.asarray(points_m, dtype=np.float64)
    step = longest_step_m(points[:, :2])
    apart = (
        f"the stations are up to {step:.2f} m apart, and a third of the wavelength is the "
        "limit; add stations between them"
    )
    limits = [(c / (_STEPS_A_WAVE * step) if step > 0 else np.inf, apart)]
    for launching, doing in ((True, "launching"), (False, "absorbing")):
        mode_hz = control_limit_hz(array, launching=launching, c=c)
        driven = (
            f"the {doing} subwoofers drive a mode across the room from {mode_hz:.0f} Hz on; "
            "spread them evenly over their wall, or add some"
        )
        limits.append((_BELOW_CUTOFF * mode_hz, driven))
    high = min(wanted, *(limit for limit, _ in limits))
    if high < _NARROWEST * low:
        reason = next(text for limit, text in limits if limit == high) if high < wanted else ""
        raise InputError(
            f"an array would be in control from {low:.0f} to {high:.0f} Hz only"
            + (f": {reason}" if reason else "; ask for a wider band")
        )
    findings = [
        Finding(
            severity="note",
            where="array",
            text=f"controls the bass up to {limit:.0f} Hz instead of {wanted:.0f} Hz: {text}",
        )
        for limit, text in limits
        if limit < wanted
    ]
    if np.ptp(points[:, 2]) < _ONE_HEIGHT_M:
        text = (
            "all stations are at one height; filters fit that height and do worse above and "
            "below it; measure at two heights or more"
        )
        findings.append(Finding(severity="doubt", where="stations", text=text))
    return ControlBand(low, float(high)), tuple(findings)


def longest_step_m(points_m: F) -> float:
    """Longest step one must take to walk over all points (p, d) by the shortest steps."""
    if points_m.shape[0] < 2:
        return 0.0
    # Points above each other have no distance, which the sparse tree would take for none.
    flat = np.unique(np.round(points_m, 3), axis=0)
    tree = minimum_spanning_tree(cdist(flat, flat))
    return float(tree.data.max(initial=0.0))


def band_shape(band: ControlBand, grid: Grid) -> C:
    """Response (bins,) that the wave shall have where it starts: flat in the band, minimum phase.

    Over an octave beyond the band it falls as cos squared. Minimum phase, so that the band's ends
    ring after the sound rather than before it.
    """
    every = np.arange(grid.period // 2 + 1) * (grid.rate_hz / grid.period)
    magnitude = np.maximum(band.share(every), _FLOOR)
    return minimum_phase(magnitude)[1 : grid.bins + 1]
