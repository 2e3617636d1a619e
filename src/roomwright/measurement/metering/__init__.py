"""Meters that follow an input block by block: sound level, band levels, calibration."""

from __future__ import annotations

from roomwright.measurement.metering.band_levels import BandLevels
from roomwright.measurement.metering.calibrator import sensitivity_from_calibrator
from roomwright.measurement.metering.sound_level import (
    TIME_CONSTANTS_S,
    SoundLevel,
    SoundLevelMeter,
    TimeWeighting,
)

__all__ = [
    "TIME_CONSTANTS_S",
    "BandLevels",
    "SoundLevel",
    "SoundLevelMeter",
    "TimeWeighting",
    "sensitivity_from_calibrator",
]
