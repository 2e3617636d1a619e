"""Standing waves across a plane wave's path: which an array drives, and up to where it need not.

The room is a duct along the wave. A standing wave across it, n and m half waves along the two
other axes, travels only above its cut-off frequency (c / 2) hypot(n / W, m / H); an array carries
a plane wave up to the first that it drives.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._checks import positive
from roomwright.tuning.arrays.emitters import Emitters

F = NDArray[np.float64]

#: A mode driven less than this, re one fully driven by every emitter, is called cancelled.
_DRIVEN = 0.5
#: Sum of squared drives, re equal drives, that modes may cost to be cancelled by filters: 6 dB.
_LARGEST_EFFORT = 4.0
#: What filters leave of a mode, or take from the wave, in the worst case; our choice.
_LARGEST_REST = 0.3
#: Prices of drive tried, re the squared shapes of the modes: from none to one that rules.
_PRICES = np.geomspace(1e-6, 1.0, 25)


@dataclass(frozen=True, slots=True)
class TransverseModes:
    """M modes across the wave in rising order: `index` (M, 2), `cutoff_hz` (M,), the plane first.

    `shape` (S, M) is each one's amplitude where the S emitters stand, 1 at most.
    """

    index: NDArray[np.int64]
    cutoff_hz: F
    shape: F


def transverse_modes(
    array: Emitters, *, launching: bool, highest_hz: float, c: float = 343.0
) -> TransverseModes:
    """Modes across the wave up to a cut-off, as the launching or the absorbing emitters meet them.

    Raises
    ------
    InputError
        If `highest_hz` or `c` is not above 0.

    References
    ----------
    Morse and Ingard, Theoretical Acoustics, chapter 9 (from memory): rigid rectangular ducts.
    """
    limit = positive(highest_hz, "highest_hz")
    sides = np.array([array.size_m[axis] for axis in array.across])
    step_hz = positive(c, "c") / (2.0 * sides)
    counts = [int(limit / step) + 1 for step in step_hz]
    index = np.indices(counts).reshape(2, -1).T.astype(np.int64)
    cutoff = np.hypot(*(index * step_hz).T)
    order = np.argsort(cutoff, kind="stable")
    order = order[cutoff[order] <= limit]
    chosen = array.launches if launching else ~array.launches
    place = array.position_m[chosen][:, array.across] / sides
    shape = np.prod(np.cos(np.pi * place[:, None, :] * index[order]), axis=-1)
    return TransverseModes(index[order], cutoff[order], shape)


def first_surviving_mode(
    array: Emitters, *, launching: bool = True, c: float = 343.0, highest_hz: float = 500.0
) -> tuple[tuple[int, int], float] | None:
    """The lowest mode across the wave that emitters driven alike excite, and its cut-off, hertz.

    None if there is none up to `highest_hz`. N emitters at (2 i - 1) W / 2N cancel every number of
    half waves that is no multiple of 2N: theirs is number 2N, at c / d for the spacing d = W / N.
    """
    modes = transverse_modes(array, launching=launching, highest_hz=highest_hz, c=c)
    driven = np.abs(modes.shape.mean(axis=0)) > _DRIVEN
    found = np.flatnonzero(driven[1:]) + 1
    if not found.size:
        return None
    one, two = modes.index[found[0]]
    return (int(one), int(two)), float(modes.cutoff_hz[found[0]])


def control_limit_hz(
    array: Emitters, *, launching: bool = True, c: float = 343.0, highest_hz: float = 500.0
) -> float:
    """Up to where filters can drive the plane wave and cancel every other that travels.

    For one more mode at a time, drives are sought that leave no more than 0.3 of any mode below a
    cut-off and take no more than 6 dB more power than equal drives: by least squares, drive priced
    from next to nothing up, since what cancels all modes best may cost much more than what cancels
    them well enough. The limit is the cut-off of the first mode for which there are none;
    `highest_hz` if that is not reached.
    """
    modes = transverse_modes(array, launching=launching, highest_hz=highest_hz, c=c)
    for count in range(1, modes.cutoff_hz.size):
        if not _can_be_cancelled(modes.shape[:, : count + 1].T):
            return float(modes.cutoff_hz[count])
    return float(highest_hz)


def _can_be_cancelled(shape: F) -> bool:
    """Whether drives of S emitters make the plane wave and little of the other modes (M, S)."""
    left, size, right = np.linalg.svd(shape, full_matrices=False)
    wanted = np.zeros(len(shape))
    wanted[0] = 1.0
    weights = size / (size**2 + size[0] ** 2 * _PRICES[:, None])
    drives = (weights * left[0]) @ right
    missed = np.abs(drives @ shape.T - wanted).max(axis=1)
    effort = shape.shape[1] * np.sum(drives**2, axis=1)
    return bool(np.any((missed <= _LARGEST_REST) & (effort <= _LARGEST_EFFORT)))
