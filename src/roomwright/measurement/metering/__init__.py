"""Meters that follow an input block by block: sound level, band levels, calibration."""

from __future__ import annotations

from roomwright.measurement.metering.band_levels import BandLevels
from roomwright.measurement.metering.calibrator import sensitivity_from_calibrator
from roomwright.measurement.metering.level_noise import crest_db, level_noise, noise_loop
from roomwright.measurement.metering.noise_level import (
    HEARD_DB,
    NoiseLevel,
    Trim,
    noise_level,
    trim_for,
)
from roomwright.measurement.metering.sound_level import (
    TIME_CONSTANTS_S,
    SoundLevel,
    SoundLevelMeter,
    TimeWeighting,
)

__all__ = [
    "HEARD_DB",
    "TIME_CONSTANTS_S",
    "BandLevels",
    "NoiseLevel",
    "SoundLevel",
    "SoundLevelMeter",
    "TimeWeighting",
    "Trim",
    "crest_db",
    "level_noise",
    "noise_level",
    "noise_loop",
    "sensitivity_from_calibrator",
    "trim_for",
]
