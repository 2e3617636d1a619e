"""Which further stations would tell most about the bass where it matters.

The field at all points is taken for a random one whose covariance comes from a model: an ensemble
of rooms that the drawing leaves possible, or waves from everywhere. A measurement at one station
then makes the field at others more certain, by as much as they go together, and how much can be
said before anything is measured.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import finite, positive
from roomwright._errors import InputError

F = NDArray[np.float64]
C = NDArray[np.complex128]
Index = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class FurtherStations:
    """Candidates in the order in which they help most, and what is left uncertain.

    `stations` are numbers of points, the most useful first. `left` (n + 1,) is the mean variance
    at the points that matter with the existing stations alone and after each further one, as a
    share of that with no station at all.
    """

    stations: tuple[int, ...]
    left: F


def ensemble_covariance(fields: C) -> C:
    """Covariance (F, P, P) of the field at P points over models and sources.

    Parameters
    ----------
    fields
        (K, S, P, F), the field of S sources in each of K models: other walls, other air, sources
        elsewhere. Each frequency is scaled by its mean power, so that none outweighs another.

    Raises
    ------
    InputError
        If there are fewer than two models, a value is not a number, or a field is silent.
    """
    every = finite(fields, "the fields of the models").astype(np.complex128)
    if every.ndim != 4 or every.shape[0] < 2:
        raise InputError(
            f"fields of shape {every.shape} tell no covariance; they must be (models, sources, "
            "points, frequencies) of two models or more"
        )
    power = np.mean(np.abs(every) ** 2, axis=(0, 1, 2))
    if not np.all(power > 0):
        raise InputError("the models have a frequency at which no source is heard")
    off = (every - every.mean(axis=0)) / np.sqrt(power)
    models, sources = every.shape[:2]
    covariance: C = np.einsum("kspf,ksqf->fpq", off, off.conj()) / (sources * (models - 1))
    return covariance


def diffuse_covariance(points_m: ArrayLike, frequencies_hz: ArrayLike, c: float = 343.0) -> C:
    """Covariance (F, P, P) of waves of equal power from all directions: sin(k r) / (k r).

    What is left to assume where nothing is known of the room.

    Parameters
    ----------
    points_m
        (P, 3).
    frequencies_hz
        (F,), above 0.
    c
        Speed of sound, m/s.

    References
    ----------
    Cook, Waterhouse, Berendt, Edelman and Thompson, JASA 27, 1955 (from memory).
    """
    points = finite(points_m, "the points").astype(np.float64)
    apart = np.linalg.norm(points[:, None] - points, axis=-1)
    wavenumber = 2.0 * np.pi * np.asarray(frequencies_hz, np.float64) / positive(c, "c")
    covariance: C = np.sinc(wavenumber[:, None, None] * apart / np.pi).astype(np.complex128)
    return covariance


def further_stations(
    covariance: C,
    matter: ArrayLike,
    existing: ArrayLike,
    candidates: ArrayLike,
    count: int,
    noise: float = 1e-3,
) -> FurtherStations:
    """Which candidates to measure next so that the field at the points that matter is known best.

    One after the other, the candidate is taken that lowers most the sum over frequency of the
    variance at these points given all stations so far (A-optimal, greedily).

    Parameters
    ----------
    covariance
        (F, P, P) of the field at all points: `ensemble_covariance` or `diffuse_covariance`.
    matter
        Numbers of the points that matter: seats, or the region of control.
    existing
        Numbers of the points where stations are.
    candidates
        Numbers of the points where stations could be.
    count
        Stations wanted at most.
    noise
        Variance of a measurement, re the mean variance of the field.

    Returns
    -------
    FurtherStations
        Fewer than `count` if there are fewer candidates, or nothing is left to be learnt.

    Raises
    ------
    InputError
        If the covariance is not (F, P, P), a number is none of a point, no point matters, or the
        noise is not above 0.

    References
    ----------
    Bayesian experimental design, A-optimality: Chaloner and Verdinelli, Statistical Science 10(3),
    1995. Greedy choice of sensors for a Gaussian process: Krause, Singh and Guestrin, JMLR 9, 2008
    (both from memory).
    """
    left = finite(covariance, "the covariance").astype(np.complex128)
    if left.ndim != 3 or left.shape[1] != left.shape[2]:
        raise InputError(
            f"a covariance of shape {left.shape} cannot be used; it must be (frequencies, points, "
            "points)"
        )
    left = left.copy()
    points = left.shape[1]
    at = _numbers(matter, points, "points that matter")
    free = [int(one) for one in _numbers(candidates, points, "candidates")]
    if not at.size:
        raise InputError("no point is named whose field matters")
    prior = float(_variance(left, at).sum())
    spread = float(_variance(left, np.arange(points)).mean())
    disturbed = positive(noise, "the noise of a measurement") * max(spread, np.finfo(float).tiny)
    for one in _numbers(existing, points, "existing stations"):
        _measure(left, int(one), disturbed)
    shares, chosen = [float(_variance(left, at).sum()) / prior], []
    for _ in range(min(count, len(free))):
        gain = _gains(left, at, free, disturbed)
        best = int(np.argmax(gain))
        if gain[best] <= 1e-9 * prior:
            break
        chosen.append(free.pop(best))
        _measure(left, chosen[-1], disturbed)
        shares.append(float(_variance(left, at).sum()) / prior)
    return FurtherStations(tuple(chosen), np.array(shares))


def _numbers(given: ArrayLike, points: int, what: str) -> Index:
    numbers = np.asarray(given, dtype=np.intp).ravel()
    if numbers.size and not 0 <= numbers.min() <= numbers.max() < points:
        raise InputError(f"the {what} must be numbers of points, 0 to {points - 1}")
    return numbers


def _variance(covariance: C, at: Index) -> F:
    """Variance at some points, the mean over frequency, (n,)."""
    every = np.einsum("fpp->fp", covariance).real[:, at]
    return np.asarray(every.mean(axis=0))


def _gains(covariance: C, at: Index, free: list[int], noise: float) -> F:
    """By how much each free candidate lowers the summed variance at the points that matter."""
    shared = np.abs(covariance[:, at][:, :, free]) ** 2
    own = np.einsum("fpp->fp", covariance).real[:, free] + noise
    gain: F = (shared.sum(axis=1) / own).mean(axis=0)
    return gain


def _measure(covariance: C, station: int, noise: float) -> None:
    """Condition the covariance on a measurement at one station, in place."""
    column = covariance[:, :, station].copy()
    own = column[:, station].real + noise
    covariance -= column[:, :, None] * column[:, None, :].conj() / own[:, None, None]
