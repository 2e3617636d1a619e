"""Delay and polarity of the subwoofers against the main channels, by search over all stations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.signals import from_amplitude_db

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Frequencies in two octaves at which the summation loss is taken, evenly over log frequency.
_POINTS = 48

#: Steps of the two searches.
_COARSE_STEP_S = 0.1e-3
_FINE_STEP_S = 0.05e-3

#: Two responses further apart than this do not interfere enough to matter.
_WITHIN_DB = 10.0

#: Cost of each period of the crossover by which a delay misses the arrival, beyond half of one.
_CYCLE_PENALTY_DB = 1.0


@dataclass(frozen=True, slots=True)
class Alignment:
    """The delay to add to the subwoofers, their polarity, and how well they then add up.

    `delay_s` is negative where the subwoofers are late. `loss_db` (P,) is the summation loss at
    each station, averaged over the main channels: 0 dB is a perfect sum, -3 dB a quarter period
    apart.
    """

    delay_s: float
    inverted: bool
    loss_db: F


def align(
    mains: C,
    subwoofers: C,
    frequencies_hz: F,
    weights: F,
    crossover_hz: float | F,
    longest_s: float,
    arrival_s: float | None = None,
) -> Alignment:
    """The subwoofers' delay and polarity with the least summation loss over all stations.

    Every delay within a period of the crossover (the middle one of several) around `arrival_s` is
    tried in both polarities. A delay more than half a period off it costs 1 dB for each further
    period, because a whole period away the sum is as good but the group delay is worse. Where the
    arrival is not known, the cross-spectrum of mains and subwoofers gives the sum's energy for
    every delay at once, and the crest of its envelope stands in; modes that ring long can lead it
    astray.

    Parameters
    ----------
    mains
        Responses of the main channels through their settings, shape (N, P, bins).
    subwoofers
        Response of the subwoofers together through theirs and the low-pass, shape (P, bins), or
        (N, P, bins) where the channels have low-passes of their own.
    frequencies_hz
        Evenly spaced, shape (bins,), covering half the lowest to twice the highest
        crossover.
    weights
        Weight of each station, shape (P,).
    crossover_hz
        Crossover frequency, or that of each channel, shape (N,). A channel counts from half to
        twice its own.
    longest_s
        The largest delay to consider either way.
    arrival_s
        The delay at which the direct sounds arrive together; None if that is not known.

    Returns
    -------
    Alignment
        To 0.05 ms.

    Raises
    ------
    InputError
        If fewer than four bins lie between half and twice the crossover.

    Notes
    -----
    Common practice; the definition of the summation loss is from memory.
    """
    each_hz = np.broadcast_to(np.asarray(crossover_hz, dtype=np.float64), len(mains))[:, None]
    within = (frequencies_hz >= each_hz / 2) & (frequencies_hz <= each_hz * 2)
    fewest = int(np.argmin(within.sum(axis=-1)))
    if within[fewest].sum() < 4:
        raise InputError(
            f"there are {within[fewest].sum()} frequencies around the crossover at "
            f"{each_hz[fewest, 0]:g} Hz; "
            "at least 4 are needed, so longer responses"
        )
    band = within.any(axis=0)
    heard = np.where(within[:, None], np.broadcast_to(subwoofers, mains.shape), 0.0)
    mains, subwoofers, f = mains[..., band], heard[..., band], frequencies_hz[band]
    if arrival_s is None:
        arrival_s = _crest_s(mains, subwoofers, f, weights, longest_s)
    points = round(_POINTS / 2 * float(np.log2(4 * each_hz.max() / each_hz.min())))
    at = np.unique(np.searchsorted(f, np.geomspace(f[0], f[-1], points)).clip(0, f.size - 1))
    mains, subwoofers, f = mains[..., at], subwoofers[..., at], f[at]
    middle_hz = float(np.median(each_hz))
    delays = arrival_s + np.arange(-1 / middle_hz, 1 / middle_hz, _FINE_STEP_S)
    delays = np.unique(np.clip(delays, -longest_s, longest_s))
    losses = np.stack(
        [summation_loss_db(mains, sign * subwoofers, f, delays) for sign in (1.0, -1.0)]
    )
    missed = np.maximum(np.abs(delays - arrival_s) * middle_hz - 0.5, 0.0)
    score = losses @ (weights / weights.sum()) - _CYCLE_PENALTY_DB * missed
    polarity, index = np.unravel_index(int(np.argmax(score)), score.shape)
    return Alignment(float(delays[index]), bool(polarity == 1), losses[polarity, index])


def summation_loss_db(mains: C, subwoofers: C, frequencies_hz: F, delay_s: F) -> F:
    """Summation loss of mains and delayed subwoofers at each station, (delays, P), in decibels.

    The mean over main channels and frequencies of 20 lg(|M + S| / (|M| + |S|)), weighted by
    2 |M||S| / (|M|^2 + |S|^2), where the two are within 10 dB of each other.

    Parameters
    ----------
    mains, subwoofers
        Responses, shapes (N, P, F), and (P, F) or one for each main channel.
    frequencies_hz
        Shape (F,).
    delay_s
        Delays of the subwoofers to try, shape (D,).
    """
    turn = np.exp(-2j * np.pi * np.outer(frequencies_hz, delay_s))
    total = np.zeros((delay_s.size, subwoofers.shape[-2]))
    count = np.zeros(subwoofers.shape[-2])
    for main, bass in zip(mains, np.broadcast_to(subwoofers, mains.shape), strict=True):
        weight, energy, product = _pair(main, bass)
        largest = energy + 2 * np.abs(product)
        safe = np.where(largest > 0, largest, 1.0)
        for place in range(len(main)):
            # |M + S|^2 over (|M| + |S|)^2, for all delays at once.
            part = 2 * (product[place, :, None] * turn).real + energy[place, :, None]
            ratio = np.maximum(part / safe[place, :, None], 1e-8)
            total[:, place] += weight[place] @ (10 * np.log10(ratio))
        count += weight.sum(axis=-1)
    return np.asarray(total / np.where(count > 0, count, 1.0))


def _pair(main: C, subwoofers: C) -> tuple[F, F, C]:
    """The weight, |M|^2 + |S|^2 and M* S of one main channel and the subwoofers, (P, F) each."""
    energy = np.abs(main) ** 2 + np.abs(subwoofers) ** 2
    product = main.conj() * subwoofers
    louder = np.maximum(np.abs(main), np.abs(subwoofers))
    close = np.abs(product) >= louder**2 * from_amplitude_db(-_WITHIN_DB)
    weight = np.where(close & (energy > 0), 2 * np.abs(product) / np.maximum(energy, 1e-300), 0.0)
    return weight, energy, product


def _crest_s(mains: C, subwoofers: C, f: F, weights: F, longest_s: float) -> float:
    """The delay at the crest of the envelope of the cross-correlation."""
    cross = np.zeros(f.size, dtype=np.complex128)
    for main, bass in zip(mains, subwoofers, strict=True):
        weight, _, product = _pair(main, bass)
        cross += weights @ (weight * product)
    delays = np.arange(-longest_s, longest_s + _COARSE_STEP_S / 2, _COARSE_STEP_S)
    envelope = np.abs(np.exp(-2j * np.pi * np.outer(delays, f)) @ cross)
    return float(delays[int(np.argmax(envelope))])
