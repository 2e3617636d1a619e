"""The level of noise from a short take, what it may be wrong by, and the trim it asks for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright import _checks
from roomwright._errors import InputError
from roomwright.measurement.metering.sound_level import reference_scale
from roomwright.measurement.microphone import CalibrationCurve
from roomwright.signals import frequencies_hz, from_power_db, power_db, weighting_db

F = NDArray[np.float64]

#: Noise is heard if it stands this far above the background. Common practice, no source.
HEARD_DB: Final = 10.0

#: Uncertainties are given for 95 %: two standard deviations.
_COVERAGE: Final = 2.0
_DB_PER_NEPER: Final = 10.0 / math.log(10.0)
_FULL_SCALE: Final = 0.999


@dataclass(frozen=True, slots=True)
class NoiseLevel:
    """What a take of noise says.

    Attributes
    ----------
    level_db
        C-weighted level in the noise's band without the background, dB re 20 uPa or, without a
        sensitivity, re a full-scale sine; minus infinity where nothing stands out.
    uncertainty_db
        What that may be off by for statistical reasons (95 %); the microphone's own uncertainty
        is not in it.
    background_db
        The background's level in the band.
    clipped
        Whether the input reached full scale.
    """

    level_db: float
    uncertainty_db: float
    background_db: float
    clipped: bool

    @property
    def heard(self) -> bool:
        """Whether the noise stands clear of the background."""
        return self.level_db > -math.inf and self.level_db >= self.background_db + HEARD_DB


@dataclass(frozen=True, slots=True)
class Trim:
    """The trim that gives a level; `refused` says why there is none, empty otherwise."""

    trim_db: float
    refused: str = ""


def noise_level(
    take: NDArray[np.floating],
    background: NDArray[np.floating],
    sampling_rate_hz: int,
    band_hz: tuple[float, float],
    *,
    sensitivity_pa: float | None = None,
    curve: CalibrationCurve | None = None,
    periodic: bool = True,
) -> NoiseLevel:
    """The level of pink noise in a band.

    Parameters
    ----------
    take
        A steady piece, shape (n,), 1.0 = digital full scale; whole periods if `periodic`.
    background
        The same input with nothing playing, shape (m,).
    sampling_rate_hz
        Hertz.
    band_hz
        Limits of the noise.
    sensitivity_pa
        Pressure (peak) in pascal at digital full scale; None leaves levels re a full-scale sine.
    curve
        The microphone's response, to be undone.
    periodic
        Whether the take holds whole periods of noise that repeats (`noise_loop`), which has no
        spread of its own. Noise that never repeats, as from a processor's generator, adds the
        spread of its energy.

    Raises
    ------
    InputError
        If an input is empty, not finite, or holds no line in the band.

    Notes
    -----
    In a time T a band of statistical width B holds BT independent values, so that the mean square
    of Gaussian noise spreads by 1 / sqrt(BT) (Bendat & Piersol, Random Data, from memory). With a
    periodic signal of power S and a background N: var = (2 S N + N^2) / BT, and N^2 / BT' for the
    background that is taken off; if the signal is random too, S^2 / BT more. Pink noise from f1 to
    f2 has B = ln(f2/f1)^2 / (1/f1 - 1/f2).
    """
    total, quiet = (
        _band_power(samples, sampling_rate_hz, band_hz, sensitivity_pa, curve, name)
        for samples, name in ((take, "the take"), (background, "the background"))
    )
    signal = total - quiet
    low, high = band_hz
    width_hz = math.log(high / low) ** 2 / (1.0 / low - 1.0 / high)
    values = max(width_hz * take.size / sampling_rate_hz, 1.0)
    quiet_values = max(width_hz * background.size / sampling_rate_hz, 1.0)
    clipped = bool(np.max(np.abs(take)) >= _FULL_SCALE)
    if signal <= 0:
        return NoiseLevel(-math.inf, math.inf, float(power_db(quiet)), clipped)
    own = 0.0 if periodic else signal**2
    variance = (own + 2.0 * signal * quiet + quiet**2) / values + quiet**2 / quiet_values
    spread = _COVERAGE * _DB_PER_NEPER * math.sqrt(variance) / signal
    return NoiseLevel(float(power_db(signal)), spread, float(power_db(quiet)), clipped)


def trim_for(
    level_db: float,
    wanted_db: float,
    played_db: float,
    *,
    step_db: float,
    highest_db: float,
    ceiling_db: float,
) -> Trim:
    """The trim that brings a level to the one wanted, in whole steps, or why there is none.

    Parameters
    ----------
    level_db
        What was measured.
    wanted_db
        What it should be.
    played_db
        The trim at which that was measured.
    step_db
        The processor's step.
    highest_db
        The trim at which peaks reach the digital ceiling.
    ceiling_db
        The level that is never aimed at.

    Raises
    ------
    InputError
        If the step is not positive.
    """
    step = _checks.positive(step_db, "the step of the trims")
    if wanted_db > ceiling_db:
        return Trim(
            played_db, f"{wanted_db:.1f} dB is wanted; the ceiling is {ceiling_db:g} dB SPL"
        )
    exact = played_db + wanted_db - level_db
    trim = round(round(exact / step) * step, 6) + 0.0
    if trim > highest_db + 1e-9:
        reach = level_db + highest_db - played_db
        return Trim(
            played_db,
            f"{wanted_db:.1f} dB would take a trim of {trim:+.1f} dB; at the digital ceiling it "
            f"reaches {reach:.1f} dB: raise the amplifier, or the input of the processor",
        )
    return Trim(trim)


def _band_power(
    samples: NDArray[np.floating],
    rate: int,
    band_hz: tuple[float, float],
    sensitivity_pa: float | None,
    curve: CalibrationCurve | None,
    name: str,
) -> float:
    """C-weighted mean square in a band, 1 at 0 dB."""
    checked = _checks.finite(samples, name).astype(np.float64)
    n = checked.size
    grid = frequencies_hz(n, rate) if n else np.zeros(0)
    inside = np.flatnonzero((grid >= band_hz[0]) & (grid <= band_hz[1]))
    if not inside.size:
        raise InputError(f"{name} of {n} samples is too short for {band_hz[0]:g} Hz")
    power = 2.0 * np.abs(fft.rfft(checked)[inside] / n) ** 2
    power *= from_power_db(weighting_db(grid[inside], "C"))
    if curve is not None:
        at = np.log(grid[inside])
        power *= from_power_db(-np.interp(at, np.log(curve.frequency_hz), curve.level_db))
    return float(power.sum() * reference_scale(sensitivity_pa) ** 2)
