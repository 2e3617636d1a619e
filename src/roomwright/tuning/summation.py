"""Delay and polarity of the subwoofers against the main channels, by search over all stations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.analysis import arrival_s as read_arrival_s
from roomwright.tuning.meeting import Meeting, meeting

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Steps of the two searches.
_COARSE_STEP_S = 0.1e-3
_FINE_STEP_S = 0.05e-3

#: Cost of each period of the crossover by which a delay misses the arrival, beyond half of one.
_CYCLE_PENALTY_DB = 1.0

#: Another delay of the same polarity is a rival if it lies this many periods away.
_RIVAL_PERIODS = 0.25


@dataclass(frozen=True, slots=True)
class Rival:
    """The next best delay and polarity, and the summation loss with them in the mean."""

    delay_s: float
    inverted: bool
    mean_loss_db: float


@dataclass(frozen=True, slots=True)
class Alignment:
    """The delay to add to the subwoofers, their polarity, and how well they then add up.

    `delay_s` is negative where the subwoofers are late. `loss_db` (N, P) is the summation loss of
    each main channel at each station: 0 dB is a perfect sum, -3 dB a quarter period apart.
    `mean_loss_db` is its mean over channels and, as weighed, over stations. `rival` is None where
    no other delay comes into question.
    """

    delay_s: float
    inverted: bool
    loss_db: F
    mean_loss_db: float
    rival: Rival | None


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

    Every delay within a period of the crossover around `arrival_s` is tried in both polarities.
    A delay more than half a period off it costs 1 dB for each further period, because a whole
    period away the sum is as good but the group delay is worse. Where the arrival is not known,
    the cross-spectrum of mains and subwoofers gives the sum's energy for every delay at once, and
    the crest of its envelope stands in; modes that ring long can lead it astray.

    Parameters
    ----------
    mains
        Responses of the main channels through their settings, shape (N, P, bins).
    subwoofers
        Response of the subwoofers together through theirs and the low-pass, shape (P, bins), or
        (N, P, bins) where each channel has its own low-pass.
    frequencies_hz
        Evenly spaced, shape (bins,), covering half to twice the crossover.
    weights
        Weight of each station, shape (P,).
    crossover_hz
        Crossover frequency, or each channel's, shape (N,).
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
        If fewer than four bins lie between half and twice a crossover.

    Notes
    -----
    Common practice; the definition of the summation loss is from memory.
    """
    met = meeting(mains, subwoofers, frequencies_hz, weights, crossover_hz)
    return best_delay(met, longest_s, arrival_s)


def best_delay(met: Meeting, longest_s: float, arrival_s: float | None = None) -> Alignment:
    """What `align` finds, of main channels and bass that are given as their meeting."""
    if arrival_s is None:
        arrival_s = _crest_s(met, longest_s)
    period_s = 1 / float(np.median(met.crossover_hz))
    delays = arrival_s + np.arange(-period_s, period_s, _FINE_STEP_S)
    delays = np.unique(np.clip(delays, -longest_s, longest_s))
    losses = losses_of_delays_db(met, delays)
    missed = np.maximum(np.abs(delays - arrival_s) / period_s - 0.5, 0.0)
    score = losses - _CYCLE_PENALTY_DB * missed
    polarity, index = (int(at) for at in np.unravel_index(int(np.argmax(score)), score.shape))
    delay, inverted = float(delays[index]), polarity == 1
    return Alignment(
        delay,
        inverted,
        met.loss_db(delayed(met, delay, inverted=inverted)),
        float(losses[polarity, index]),
        _rival(score, losses, delays, (polarity, index), _RIVAL_PERIODS * period_s),
    )


def delayed(met: Meeting, delay_s: float, *, inverted: bool) -> C:
    """What turns the bass of a meeting by a delay and a polarity, (N, F)."""
    return np.asarray((1 - 2 * inverted) * np.exp(-2j * np.pi * met.frequencies_hz * delay_s))


def later_s(mains: C, bass: C, frequencies_hz: F, crossover_hz: F) -> float | None:
    """The delay that lets the bass (N, P, B) arrive with the mains (N, P, B) at the crossovers.

    The middle one of all channels and stations; None where no arrival can be read. Frequencies
    (B,) are evenly spaced from 0.
    """
    length = 2 * (frequencies_hz.size - 1)
    rate = length * float(frequencies_hz[1])
    differences = np.concatenate(
        [
            read_arrival_s(fft.irfft(main, length), rate, (at / 2, at * 2))
            - read_arrival_s(fft.irfft(own, length), rate, (at / 2, at * 2))
            for main, own, at in zip(mains, bass, crossover_hz.tolist(), strict=True)
        ]
    )
    known = differences[np.isfinite(differences)]
    return float(np.median(known)) if known.size else None


def losses_of_delays_db(met: Meeting, delay_s: F) -> F:
    """Mean summation loss with each delay (D,) of the bass in both polarities, (2, D)."""
    turn = np.exp(-2j * np.pi * met.frequencies_hz * delay_s[:, None, None])
    return np.stack([met.mean_loss_db(turn), met.mean_loss_db(-turn)])


def summation_loss_db(mains: C, subwoofers: C, frequencies_hz: F, delay_s: F) -> F:
    """Summation loss of mains and delayed subwoofers at each station, (delays, N, P), in decibels.

    The mean over frequency of 20 lg(|M + S| / (|M| + |S|)), weighted by
    2 |M||S| / (|M|^2 + |S|^2), where the two are within 10 dB of each other.

    Parameters
    ----------
    mains, subwoofers
        Responses, shapes (N, P, F) and (P, F) or (N, P, F).
    frequencies_hz
        Shape (F,).
    delay_s
        Delays of the subwoofers to try, shape (D,).
    """
    n, stations = mains.shape[:2]
    met = Meeting.of(
        mains,
        np.broadcast_to(subwoofers, mains.shape),
        np.tile(frequencies_hz, (n, 1)),
        np.ones(stations),
        np.full(n, float(np.median(frequencies_hz))),
    )
    return np.stack([met.loss_db(delayed(met, delay, inverted=False)) for delay in delay_s])


def _rival(score: F, losses: F, delays: F, chosen: tuple[int, int], apart_s: float) -> Rival | None:
    """The best crest of the score in either polarity that is not the chosen one."""
    edge = np.full((2, 1), -np.inf)
    padded = np.concatenate([edge, score, edge], axis=1)
    is_crest = (score >= padded[:, :-2]) & (score >= padded[:, 2:])
    is_crest[chosen[0], np.abs(delays - delays[chosen[1]]) < apart_s] = False
    if not is_crest.any():
        return None
    best = int(np.argmax(np.where(is_crest, score, -np.inf)))
    polarity, index = np.unravel_index(best, score.shape)
    return Rival(float(delays[index]), bool(polarity == 1), float(losses[polarity, index]))


def _crest_s(met: Meeting, longest_s: float) -> float:
    """The delay at the crest of the envelope of the cross-correlation."""
    delays = np.arange(-longest_s, longest_s + _COARSE_STEP_S / 2, _COARSE_STEP_S)
    envelope = np.zeros(delays.size)
    for f, cross in zip(met.frequencies_hz, (met.weight * met.product).sum(axis=1), strict=True):
        envelope += np.abs(np.exp(-2j * np.pi * np.outer(delays, f)) @ cross)
    return float(delays[int(np.argmax(envelope))])
