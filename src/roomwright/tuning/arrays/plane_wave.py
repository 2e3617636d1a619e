"""What an array is asked for: a plane wave, or the nearest that its launching part can make."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright.tuning.arrays.emitters import Emitters
from roomwright.tuning.arrays.transverse_modes import transverse_modes

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Modes across up to this many times the frequency: beyond, they have died off at the seats.
_HIGHEST_MODE = 3.0
_LEAST_SQUARED = 1e-9


def plane_wave(array: Emitters, points_m: ArrayLike, frequencies_hz: F, c: float = 343.0) -> C:
    """exp(-j k x) at points (P, 3), x the way from the launching wall; (P, bins)."""
    wavenumber = 2.0 * np.pi * frequencies_hz / c
    return np.asarray(np.exp(-1j * wavenumber * array.along_m(points_m)[:, None]))


def launched_field(array: Emitters, points_m: ArrayLike, frequencies_hz: F, c: float = 343.0) -> C:
    """Field of each launching emitter in a rigid duct that goes on for ever, (launching, P, bins).

    The wave and all modes across it, the wall behind the emitters reflecting, nothing coming back
    from ahead; re the free field at 1 m. For points ahead of the emitters.

    References
    ----------
    Morse and Ingard, Theoretical Acoustics, chapter 9 (from memory): the Green's function of a
    duct, sum of modes exp(-g |x - x0|) / (2 g) and of their image behind the end wall.
    """
    highest = _HIGHEST_MODE * float(frequencies_hz.max())
    modes = transverse_modes(array, launching=True, highest_hz=highest, c=c)
    sides = np.array([array.size_m[axis] for axis in array.across])
    points = np.asarray(points_m, dtype=np.float64)
    place = points[:, array.across] / sides
    at_points = np.prod(np.cos(np.pi * place[:, None, :] * modes.index), axis=-1)
    norm = np.prod(np.where(modes.index == 0, 1.0, 0.5), axis=-1) * np.prod(sides)
    squared = modes.cutoff_hz[:, None] ** 2 - frequencies_hz**2
    squared = np.where(np.abs(squared) < _LEAST_SQUARED, _LEAST_SQUARED, squared)
    # Waves that travel turn as exp(-j k x), so the root has a positive imaginary part.
    constant = np.sqrt(squared.astype(np.complex128)) * (2.0 * np.pi / c)
    start, ahead = array.along_m(array.position_m[array.launches]), array.along_m(points)
    field = np.empty((start.size, points.shape[0], frequencies_hz.size), dtype=np.complex128)
    for s, (from_end, shape) in enumerate(zip(start, modes.shape, strict=True)):
        waves = np.exp(-constant * np.abs(ahead - from_end)[:, None, None])
        waves += np.exp(-constant * (ahead + from_end)[:, None, None])
        weight = shape * at_points / norm
        field[s] = 4.0 * np.pi * np.sum(weight[..., None] * waves / (2.0 * constant), axis=1)
    return field


def reachable_wave(wave: C, launched: C, regularisation_db: float = -25.0) -> C:
    """The part of a wave (P, bins) that sources with fields (N, P, bins) can make together.

    Its projection on their fields, by least squares at each bin with a regularisation re their
    mean power, so that no part counts that takes extreme drives. (P, bins).
    """
    columns = np.moveaxis(launched, -1, 0).swapaxes(1, 2)
    adjoint = columns.conj().swapaxes(1, 2)
    gram = adjoint @ columns
    number = gram.shape[-1]
    power = np.trace(gram, axis1=1, axis2=2).real / number
    gram += (10.0 ** (regularisation_db / 10.0) * power)[:, None, None] * np.eye(number)
    drive = np.linalg.solve(gram, adjoint @ wave.T[..., None])
    return np.asarray((columns @ drive)[..., 0].T)
