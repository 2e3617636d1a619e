"""Walls that react locally: from tabled absorption to admittance and back.

A wall of real specific admittance beta reflects a plane wave that arrives at the angle theta
from its normal with the factor (cos theta - beta) / (cos theta + beta).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import finite
from roomwright._errors import InputError
from roomwright.model import OCTAVE_BANDS_HZ, Room

#: Where the random-incidence absorption of a real admittance is greatest (0.9512).
_BEST_ADMITTANCE = 0.638193
_BISECTIONS = 60


def absorption_from_admittance(admittance: ArrayLike) -> NDArray[np.float64]:
    """Random-incidence absorption of a locally reacting wall of real admittance.

    Parameters
    ----------
    admittance
        Specific admittance beta = rho c / Z, any shape, 0 or more.

    Returns
    -------
    ndarray
        alpha = 8 beta [1 + beta / (1 + beta) - 2 beta ln((1 + beta) / beta)], same shape;
        close to 8 beta for small beta.

    Raises
    ------
    InputError
        If an admittance is negative or not finite.

    References
    ----------
    Paris's integral of 4 beta cos / (cos + beta)^2 over random incidence; Kuttruff, Room
    Acoustics, section 2.5 (closed form derived here).
    """
    beta = finite(np.asarray(admittance, dtype=np.float64), "admittance")
    if np.any(beta < 0):
        raise InputError(f"admittance holds {beta.min():g}; it must be 0 or more")
    safe = np.maximum(beta, np.finfo(np.float64).tiny)
    logarithm = np.log1p(beta) - np.log(safe)
    return np.asarray(8.0 * beta * (1.0 + beta / (1.0 + beta) - 2.0 * beta * logarithm))


def admittance_from_absorption(absorption: ArrayLike) -> NDArray[np.float64]:
    """Real specific admittance whose random-incidence absorption is the given one.

    Parameters
    ----------
    absorption
        Random-incidence absorption coefficients, any shape, 0 to 1. No real admittance absorbs
        more than 0.951; a greater coefficient gives the admittance that comes closest.

    Returns
    -------
    ndarray
        The smaller of the two solutions (a hard wall rather than a soft one), same shape.

    Raises
    ------
    InputError
        If a coefficient is outside 0 to 1.

    References
    ----------
    Inverse of `absorption_from_admittance`, by bisection.
    """
    alpha = finite(np.asarray(absorption, dtype=np.float64), "absorption")
    if np.any((alpha < 0) | (alpha > 1)):
        worst = alpha.flat[np.argmax(np.abs(alpha - 0.5))]
        raise InputError(f"absorption holds {worst:g}; allowed is 0 to 1")
    low = np.zeros_like(alpha)
    high = np.full_like(alpha, _BEST_ADMITTANCE)
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        below = absorption_from_admittance(middle) < alpha
        low = np.where(below, middle, low)
        high = np.where(below, high, middle)
    return np.where(alpha == 0.0, 0.0, 0.5 * (low + high))


def box_admittances(room: Room, frequency_hz: ArrayLike) -> NDArray[np.float64]:
    """Real specific admittance of the six planes of a box room.

    The absorption of each surface is interpolated over the logarithm of frequency between the
    octave bands and held beyond the first and the last.

    Parameters
    ----------
    room
        A room that is a box with a corner at the origin.
    frequency_hz
        (f,) frequencies above 0.

    Returns
    -------
    ndarray
        (6, f), planes in the order of `Room.box_surfaces`.

    Raises
    ------
    InputError
        If the room is not such a box or a frequency is not above 0.
    """
    surfaces = room.box_surfaces
    if surfaces is None:
        raise InputError("the room is not a box with a corner at the origin")
    absorption = np.array([surface.absorption for surface in surfaces])
    return admittance_from_absorption(absorption_at(absorption, frequency_hz))


def absorption_at(absorption: NDArray[np.float64], frequency_hz: ArrayLike) -> NDArray[np.float64]:
    """Octave-band absorption read at any frequencies, linear over log frequency, ends held.

    Parameters
    ----------
    absorption
        (n, 8), one row a surface, bands of `OCTAVE_BANDS_HZ`.
    frequency_hz
        (f,) frequencies above 0.

    Returns
    -------
    ndarray
        (n, f).

    Raises
    ------
    InputError
        If a frequency is not above 0.
    """
    frequency = np.atleast_1d(finite(np.asarray(frequency_hz, dtype=np.float64), "frequency_hz"))
    if np.any(frequency <= 0):
        raise InputError(f"frequency_hz holds {frequency.min():g}; it must be above 0")
    bands = np.log(OCTAVE_BANDS_HZ)
    return np.array([np.interp(np.log(frequency), bands, row) for row in absorption])
