"""One output's level: noise played through a device, and what the microphone hears of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.commissioning.edits.levels import group_of, noise_band
from roomwright.commissioning.survey.passes import window_s
from roomwright.measurement import CalibrationCurve, Device
from roomwright.measurement.metering import (
    HEARD_DB,
    NoiseLevel,
    crest_db,
    level_noise,
    noise_level,
    noise_loop,
)
from roomwright.model import Job, NoiseBand

F = NDArray[np.float64]

#: Length of the loop and of the take, seconds: its lines lie closer than the width of the room's
#: resonances. Common practice, no source.
_PERIOD_S: Final = {"mains": 2.0, "subwoofers": 4.0}
#: A device may record this much later than it plays, seconds.
_LATENCY_S: Final = 0.5

#: The first noise of an output is this much softer than it should be; it rises by no more than
#: this until it is heard, and never to more than this above where it was last.
_START_LOWER_DB: Final = 15.0
_RISE_DB: Final = 10.0
_HIGHEST_RISE_DB: Final = 10.0


class LevelBench:
    """Measures the levels that outputs give where the microphone stands.

    Parameters
    ----------
    device
        What plays and records; its input 0 is the microphone.
    job
        Its level plan, outputs, microphone.
    curve
        The microphone's calibration by what an output drives, None without one.

    Raises
    ------
    InputError
        If the microphone's sensitivity is not known: no ceiling could be kept.
    """

    def __init__(
        self,
        device: Device,
        job: Job,
        curve: Callable[[str], CalibrationCurve | None] = lambda _drives: None,
    ) -> None:
        if job.microphone.sensitivity_pa is None:
            raise InputError(
                "levels in dB SPL need the microphone's sensitivity, without which no ceiling can "
                "be kept; calibrate it, or enter the level that reaches full scale"
            )
        self._device, self._job, self._curve = device, job, curve
        self._numbers = {output.drives: output.number for output in job.outputs}
        self._loops: dict[NoiseBand, F] = {}
        self._background: NDArray[np.float32] | None = None

    def loop(self, drives: str) -> F:
        """The noise that an output plays, at 0 dBFS; a player may go round it for ever."""
        band = noise_band(self._job, drives)
        if band not in self._loops:
            self._loops[band] = noise_loop(
                band.low_hz, band.high_hz, self._period_s(drives), self._device.sampling_rate_hz
            )
        return self._loops[band]

    def highest_db(self, drives: str) -> float:
        """The gain over the noise's level at which its peaks reach the digital ceiling."""
        levels = self._job.levels
        return levels.ceiling_dbfs - crest_db(self.loop(drives)) - levels.noise_dbfs

    def signal(self, drives: str, gain_db: float) -> NDArray[np.float32]:
        """What an output plays for a take, rising from silence.

        Raises
        ------
        InputError
            If a peak would pass the digital ceiling.
        """
        levels = self._job.levels
        return level_noise(
            self.loop(drives),
            levels.noise_dbfs + gain_db,
            self._settling_s(drives) + self._period_s(drives),
            self._device.sampling_rate_hz,
            ramp_s=levels.ramp_s,
            ceiling_dbfs=levels.ceiling_dbfs,
        )

    def looped(self, drives: str, gain_db: float) -> NDArray[np.float32]:
        """What an output plays round and round, without the rise.

        Raises
        ------
        InputError
            If a peak would pass the digital ceiling.
        """
        levels = self._job.levels
        period = self.loop(drives).size / self._device.sampling_rate_hz
        signal = level_noise(
            self.loop(drives),
            levels.noise_dbfs + gain_db,
            period,
            self._device.sampling_rate_hz,
            ramp_s=0.0,
            ceiling_dbfs=levels.ceiling_dbfs,
        )
        return signal[: self.loop(drives).size]

    def number(self, drives: str) -> int:
        """The number of the output that drives something.

        Raises
        ------
        InputError
            If no output drives that.
        """
        if drives not in self._numbers:
            raise InputError(f"no output drives {drives}")
        return self._numbers[drives]

    def heard(self, drives: str, gain_db: float) -> NDArray[np.float32]:
        """One period of an output's noise as the microphone hears it in the steady state.

        Raises
        ------
        InputError
            If no output drives that, or a peak would pass the digital ceiling.
        """
        signal = self.signal(drives, gain_db)
        recorded = self._device.play_and_record({self.number(drives): signal}).microphone
        lead_s = self._job.levels.ramp_s + self._settling_s(drives)
        start = round(lead_s * self._device.sampling_rate_hz)
        return recorded[start : start + self.loop(drives).size]

    def level(self, drives: str, gain_db: float) -> NoiseLevel:
        """Play an output's noise raised by a gain, and measure it.

        Raises
        ------
        InputError
            If no output drives that, or a peak would pass the digital ceiling.
        """
        self.number(drives)
        if self._background is None:
            longest = max(_PERIOD_S.values())
            self._background = self._device.record(longest).microphone
        band = noise_band(self._job, drives)
        return noise_level(
            self.heard(drives, gain_db),
            self._background,
            self._device.sampling_rate_hz,
            (band.low_hz, band.high_hz),
            sensitivity_pa=self._job.microphone.sensitivity_pa,
            curve=self._curve(drives),
        )

    def first_level(self, drives: str, gain_db: float) -> tuple[NoiseLevel, float]:
        """Measure an output that was not heard yet: softly, then louder until it is heard.

        Returns
        -------
        The level, and the gain at which it was measured: at most 10 dB above `gain_db` or 0.
        """
        highest = min(max(gain_db, 0.0) + _HIGHEST_RISE_DB, self.highest_db(drives))
        gain = min(min(gain_db, 0.0) - _START_LOWER_DB, highest)
        while True:
            found = self.level(drives, gain)
            # Not heard means below the background and a little: a rise stays under the ceiling.
            risen = found.background_db + HEARD_DB + _RISE_DB
            if found.heard or gain >= highest or risen > self._job.levels.ceiling_db:
                return found, gain
            gain = min(gain + _RISE_DB, highest)

    def _period_s(self, drives: str) -> float:
        is_bass = group_of(self._job, drives) == "subwoofers"
        return _PERIOD_S["subwoofers" if is_bass else "mains"]

    def _settling_s(self, drives: str) -> float:
        """Until what is heard of an output is steady: the device's latency, and the decay."""
        return window_s(self._job, drives) + _LATENCY_S
