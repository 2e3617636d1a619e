"""What the people in the room have heard so far: noise dose by the NIOSH criterion.

NIOSH Publication 98-126, Criteria for a Recommended Standard: Occupational Noise Exposure (1998):
85 dBA over 8 hours is a dose of 100 %, every 3 dB more halve the time. Levels from 80 dBA on are
summed up; nobody should be in 115 dBA for any time. A dose is a guide for healthy adults and no
promise: local rules may ask for less.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright import _checks
from roomwright.signals import pressure_level_db, rms, weight

#: The recommended exposure limit, and the exchange rate.
LIMIT_DBA: Final = 85.0
LIMIT_S: Final = 8.0 * 3600.0
EXCHANGE_DB: Final = 3.0

#: Softer sound does not count; louder must not be.
THRESHOLD_DBA: Final = 80.0
CEILING_DBA: Final = 115.0


@dataclass(frozen=True, slots=True)
class Exposure:
    """What was heard so far.

    Attributes
    ----------
    dose_percent
        100 is the limit of a day.
    duration_s
        Time that was counted, loud or not.
    highest_dba
        The loudest of what was counted; minus infinity for nothing.
    """

    dose_percent: float = 0.0
    duration_s: float = 0.0
    highest_dba: float = float("-inf")

    def __add__(self, other: Exposure) -> Exposure:
        """Both, one after the other."""
        return Exposure(
            self.dose_percent + other.dose_percent,
            self.duration_s + other.duration_s,
            max(self.highest_dba, other.highest_dba),
        )

    @property
    def over(self) -> bool:
        """Whether a day's dose is reached or the ceiling was passed."""
        return self.dose_percent >= 100.0 or self.highest_dba > CEILING_DBA

    def sentence(self, level_dba: float) -> str:
        """How much is left if it goes on at a level, as a sentence."""
        if self.highest_dba > CEILING_DBA:
            return (
                f"{self.highest_dba:.0f} dBA were reached; above {CEILING_DBA:.0f} dBA nobody "
                "should be in the room"
            )
        said = f"{self.dose_percent:.0f} % of a day's noise dose so far (NIOSH)"
        if self.dose_percent >= 100.0:
            return f"{said}: leave the room while it plays, or wear hearing protection"
        if level_dba < THRESHOLD_DBA:
            return said
        left_s = (1.0 - self.dose_percent / 100.0) * permitted_s(level_dba)
        return f"{said}; at {level_dba:.0f} dBA {left_s / 60.0:.0f} minutes are left"


def permitted_s(level_dba: float) -> float:
    """Longest time a day at a level, seconds: 8 h / 2^((L - 85) / 3).

    Parameters
    ----------
    level_dba
        A-weighted equivalent level, dB re 20 uPa.
    """
    return float(LIMIT_S / 2.0 ** ((level_dba - LIMIT_DBA) / EXCHANGE_DB))


def exposure(level_dba: float, duration_s: float) -> Exposure:
    """Exposure to a steady level for a time.

    Parameters
    ----------
    level_dba
        A-weighted equivalent level, dB re 20 uPa.
    duration_s
        Seconds, 0 or more.

    Raises
    ------
    InputError
        If the duration is negative.
    """
    lasts_s = _checks.within(duration_s, 0.0, float("inf"), "the duration of an exposure")
    counts = level_dba >= THRESHOLD_DBA
    dose = 100.0 * lasts_s / permitted_s(level_dba) if counts else 0.0
    return Exposure(dose, lasts_s, level_dba)


def exposure_of_take(
    microphone: NDArray[np.floating], sampling_rate_hz: int, sensitivity_pa: float
) -> Exposure:
    """Exposure of who stood where the microphone did.

    Parameters
    ----------
    microphone
        The recording, shape (n,), 1.0 = digital full scale.
    sampling_rate_hz
        Hertz.
    sensitivity_pa
        Pressure in pascal (peak) at digital full scale.

    Raises
    ------
    InputError
        If the recording is empty or the sensitivity not positive.
    """
    pressure = _checks.finite(microphone, "the recording") * _checks.positive(
        sensitivity_pa, "the microphone's sensitivity"
    )
    weighted = weight(pressure, sampling_rate_hz, "A")
    level = float(pressure_level_db(max(float(rms(weighted)), 1e-12)))
    return exposure(level, pressure.size / sampling_rate_hz)


def total(exposures: Iterable[Exposure]) -> Exposure:
    """All of them, one after the other."""
    return sum(exposures, Exposure())
