"""What a response is brought to, and the roll-off it has of itself."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.model import FollowRange, RollOff, Target
from roomwright.signals import roll_off_db, target_db

F = NDArray[np.float64]

#: Where a followed range ends, the target is joined at its mean distance over this many octaves.
_JOINT_OCTAVES = 1 / 3

#: Orders tried for a measured roll-off, and how far from the band's level it must fall to count.
_ORDERS = range(1, 9)
_LEAST_FALL_DB = 6.0

#: A measured roll-off is judged down to here below the band's level: deeper it is noise.
_DEEPEST_DB = 24.0


def aimed_db(
    target: Target,
    frequency_hz: F,
    level_db: F,
    band_hz: tuple[float, float],
    level_hz: tuple[float, float],
) -> F:
    """What a response is brought to: the target, and in the ranges to follow its own shape.

    In such a range it is the response less a straight line over log frequency that joins the
    target on both sides, so it keeps its character and takes no step in level at either end. A
    range that reaches into the band in which levels are aligned lies on the target there instead,
    so that following it makes no channel louder or softer.

    Parameters
    ----------
    target
        The target curve.
    frequency_hz
        A grid, rising, shape (F,).
    level_db
        The response on it, shape (F,).
    band_hz
        Where the response is corrected; nothing is joined outside.
    level_hz
        Where the response's level is aligned with the target's.

    Returns
    -------
    NDArray
        Shape (F,).
    """
    aimed = target_db(target, frequency_hz)
    over = level_db - aimed
    for followed in target.follows:
        inside = (frequency_hz >= followed.low_hz) & (frequency_hz <= followed.high_hz)
        anchored = inside & (frequency_hz >= level_hz[0]) & (frequency_hz <= level_hz[1])
        joints = _joints(followed, frequency_hz, over, inside, band_hz)
        if anchored.any():
            joints = [(0.0, float(over[anchored].mean()))]
        if joints and inside.any():
            at, by = np.array(joints).T
            line = np.interp(np.log(frequency_hz), at, by)
            aimed[inside] = (level_db - line)[inside]
    return np.asarray(aimed)


def measured_roll_off(
    frequency_hz: F, level_db: F, side: str, band_hz: tuple[float, float], target: Target
) -> RollOff:
    """The roll-off of a response at one end, as a Butterworth filter over the target's corners.

    Least squares over frequency and order, down to 24 dB below the level in the band.

    Parameters
    ----------
    frequency_hz, level_db
        The response averaged over stations, on a rising grid, shape (F,).
    side
        ``low`` or ``high``.
    band_hz
        Where its level is read, well inside its range.
    target
        The curve it is to roll off from; roll-offs it has on this side do not count.

    Raises
    ------
    InputError
        If the response does not fall by 6 dB before the grid ends.
    """
    kept = tuple(r for r in target.roll_offs if r.side != side)
    plain = target.model_copy(update={"roll_offs": kept})
    over = level_db - target_db(plain, frequency_hz)
    in_band = (frequency_hz >= band_hz[0]) & (frequency_hz <= band_hz[1])
    fall = over - float(over[in_band].mean())
    outwards = np.arange(fall.size)
    outwards = (
        outwards[frequency_hz <= band_hz[0]][::-1]
        if side == "low"
        else outwards[frequency_hz >= band_hz[1]]
    )
    fallen = np.flatnonzero(fall[outwards] < -_DEEPEST_DB)
    used = outwards[: fallen[0]] if fallen.size else outwards
    if not used.size or fall[used].min() > -_LEAST_FALL_DB:
        edge = f"{'down' if side == 'low' else 'up'} to {frequency_hz[outwards[-1]]:.0f} Hz"
        raise InputError(f"the measured response does not roll off {edge}; there is none to take")
    trials = (
        RollOff(side=side, frequency_hz=float(f), order=order)  # type: ignore[arg-type]
        for f in frequency_hz[used]
        for order in _ORDERS
    )
    best = min(
        trials, key=lambda t: float(((roll_off_db(t, frequency_hz[used]) - fall[used]) ** 2).sum())
    )
    return best.model_copy(update={"frequency_hz": round(best.frequency_hz, 1)})


def _joints(
    followed: FollowRange, f: F, over: F, inside: NDArray[np.bool_], band_hz: tuple[float, float]
) -> list[tuple[float, float]]:
    """The ends of the line of a followed range: (ln f, how far the response is over the target)."""
    ratio = 2**_JOINT_OCTAVES
    joints = []
    for edge, low, high in (
        (followed.low_hz, followed.low_hz / ratio, followed.low_hz),
        (followed.high_hz, followed.high_hz, followed.high_hz * ratio),
    ):
        beside = (f >= max(low, band_hz[0])) & (f <= min(high, band_hz[1])) & ~inside
        if beside.any():
            joints.append((float(np.log(edge)), float(over[beside].mean())))
    if not joints:
        both = inside & (f >= band_hz[0]) & (f <= band_hz[1])
        if both.any():
            joints.append((float(np.log(followed.low_hz)), float(over[both].mean())))
    return joints
