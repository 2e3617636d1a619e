"""The best gain, delay and polarity of every source, for many sets of sources at once."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from roomwright._checks import positive
from roomwright.tuning.bass_design.descent import costs, descend

F = NDArray[np.float64]
C = NDArray[np.complex128]

_DB_PER_NEPER = 20.0 / np.log(10.0)

#: Settings are tried at random: gains down to this, delays with this deviation from the middle
#: (half of the deviation of the arrivals of subwoofers in a room), and so many reversed.
_LOWEST_TRIED_DB = -4.0
_DELAY_TRIED_S = 4e-3
_REVERSED = 0.1

#: Sets worked on at once: the arrays then stay in the processor's cache.
_AT_ONCE = 8


@dataclass(frozen=True, slots=True)
class Thoroughness:
    """How many settings are tried, how many of them are refined, and in how many steps.

    The best of the refined goes on for as many steps again.
    """

    tried: int
    refined: int
    steps: int


#: For the many sets of a search, for sets with settings to start from, and for the few shown.
QUICK = Thoroughness(tried=300, refined=4, steps=6)
STARTED = Thoroughness(tried=1, refined=1, steps=8)
THOROUGH = Thoroughness(tried=1000, refined=16, steps=15)


@dataclass(frozen=True, slots=True)
class GainDelayLimits:
    """What a processor's output may do to one subwoofer.

    The loudest subwoofer plays at 0 dB, the others down to `lowest_gain_db`; delays reach from 0
    to `longest_delay_s`.
    """

    lowest_gain_db: float = -20.0
    longest_delay_s: float = 0.02

    def __post_init__(self) -> None:
        """Check that something may be done."""
        positive(-self.lowest_gain_db, "the largest cut of a subwoofer")
        positive(self.longest_delay_s, "the longest delay of a subwoofer")


@dataclass(frozen=True, slots=True)
class Settings:
    """Gain (dB), delay (s) and polarity of each source, all (..., N)."""

    gain_db: F
    delay_s: F
    inverted: NDArray[np.bool_]

    def gains(self, frequencies_hz: F) -> C:
        """Complex gains (..., N, F)."""
        turn = np.exp(-2j * np.pi * frequencies_hz * self.delay_s[..., None])
        sign = np.where(self.inverted, -1.0, 1.0)
        gains: C = (sign * 10.0 ** (self.gain_db / 20.0))[..., None] * turn
        return gains

    def of(self, place: int | slice | NDArray[np.intp]) -> Settings:
        """The settings of some of many sets."""
        return Settings(self.gain_db[place], self.delay_s[place], self.inverted[place])

    def and_of(self, others: Settings) -> Settings:
        """These settings, then those of other sets."""
        return Settings(
            np.concatenate([self.gain_db, others.gain_db]),
            np.concatenate([self.delay_s, others.delay_s]),
            np.concatenate([self.inverted, others.inverted]),
        )


@dataclass(frozen=True, slots=True)
class _Delayed:
    """A chain of gain (nepers) and delay (ms) at angular frequencies, per ms, (F,)."""

    turn: F
    sign: F
    lower: F
    upper: F

    def gains(self, parameters: F) -> C:
        phase = -1j * self.turn * parameters[..., 1:]
        return np.asarray(self.sign[..., None] * np.exp(parameters[..., :1] + phase))

    def slopes(self, parameters: F) -> C:
        slope = np.stack([np.ones_like(self.turn) + 0j, -1j * self.turn])
        slopes: C = np.broadcast_to(slope, (*parameters.shape[:2], *slope.shape))
        return slopes


def gain_and_delay(
    response: C,
    frequencies_hz: F,
    limits: GainDelayLimits,
    level_weight: float,
    effort: Thoroughness = QUICK,
    start: Settings | None = None,
) -> Settings:
    """Gains, delays and polarities with the least spread, for each of B sets.

    Many settings are tried, among them that all play alike; the best are refined (damped
    Gauss-Newton). This finds a good minimum, not surely the least: the problem has many.

    Parameters
    ----------
    response
        (B, N, P, F), the fields of the sets.
    frequencies_hz
        (F,).
    limits
        What may be set.
    level_weight
        Squared decibels of spread that a decibel of level is worth.
    effort
        How long to look; the same settings are tried every time.
    start
        (B, N), settings to refine besides, within the limits.

    Returns
    -------
    Settings
        (B, N); in each set one source at least has the gain 0 dB, and one the delay 0 s. Never
        worse than all alike.
    """
    turn = 2e-3 * np.pi * frequencies_hz
    lower = np.array([limits.lowest_gain_db / _DB_PER_NEPER, 0.0])
    upper = np.array([0.0, 1e3 * limits.longest_delay_s])
    tried, sign = _tried(response.shape[1], effort.tried, lower, upper)
    chain = _Delayed(turn, sign, lower, upper)

    def few(at: int) -> tuple[F, F]:
        part = slice(at, at + _AT_ONCE)
        known = None if start is None else start.of(part)
        return _few(response[part].astype(np.complex64), chain, tried, level_weight, effort, known)

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        parts = list(pool.map(few, range(0, len(response), _AT_ONCE)))
    best, signs = (np.concatenate(column) for column in zip(*parts, strict=True))
    gain = best[..., 0] - best[..., 0].max(axis=1, keepdims=True)
    delay = best[..., 1] - best[..., 1].min(axis=1, keepdims=True)
    return Settings(gain * _DB_PER_NEPER, 1e-3 * delay, signs < 0)


def _tried(sources: int, count: int, lower: F, upper: F) -> tuple[F, F]:
    """Parameters (count, N, 2) and signs (count, N) to try; the first are all alike."""
    rng = np.random.default_rng(0)
    gain = rng.uniform(_LOWEST_TRIED_DB / _DB_PER_NEPER, 0.0, (count, sources))
    middle = upper[1] / 2
    delay = rng.normal(middle, 1e3 * _DELAY_TRIED_S, (count, sources))
    sign = np.where(rng.random((count, sources)) < _REVERSED, -1.0, 1.0)
    gain[0], delay[0], sign[0] = 0.0, middle, 1.0
    return np.clip(np.stack([gain, delay], axis=-1), lower, upper), sign


def _few(
    response: C,
    chain: _Delayed,
    tried: F,
    level_weight: float,
    effort: Thoroughness,
    start: Settings | None,
) -> tuple[F, F]:
    """The best parameters (B, N, 2) and signs (B, N) of few sets."""
    gains = chain.gains(tried)
    cost = np.stack([costs(one[None], gains, level_weight) for one in response])
    cost[:, 0] = -np.inf
    kept = np.argsort(cost, axis=1)[:, : effort.refined]
    begin, signs = tried[kept], chain.sign[kept]
    if start is not None:
        known = np.stack([start.gain_db / _DB_PER_NEPER, 1e3 * start.delay_s], axis=-1)
        begin = np.concatenate([begin, known[:, None]], axis=1)
        signs = np.concatenate([signs, np.where(start.inverted, -1.0, 1.0)[:, None]], axis=1)
    sets, starts = begin.shape[:2]
    signs = signs.reshape(sets * starts, -1)
    reached = descend(
        np.repeat(response, starts, axis=0),
        replace(chain, sign=signs),
        begin.reshape(sets * starts, -1, 2),
        level_weight,
        effort.steps,
    )
    best = np.argmin(reached.cost.reshape(sets, starts), axis=1) + starts * np.arange(sets)
    last = descend(
        response,
        replace(chain, sign=signs[best]),
        reached.parameters[best],
        level_weight,
        effort.steps,
    )
    return last.parameters, signs[best]
