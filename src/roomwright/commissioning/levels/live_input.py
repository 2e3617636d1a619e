"""A microphone that is listened to all the time, and noise on one output until it is stopped."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Final, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import DeviceError, InputError
from roomwright.commissioning.levels.bench import LevelBench
from roomwright.commissioning.levels.set_levels import level_bench, level_station, rehearsal_bench
from roomwright.commissioning.survey.rehearse import with_simulated_microphone
from roomwright.commissioning.tuning.compose import interface_device, rehearsal_device
from roomwright.measurement.metering import SoundLevelMeter
from roomwright.model import Job, Station
from roomwright.signals import from_power_db, power_db
from roomwright.store import JobFolder

F32 = NDArray[np.float32]

#: What a survey is made with.
With = Literal["rehearsal", "interface"]

#: The simulated room's background is recorded so long and repeated, seconds.
_BACKGROUND_S: Final = 4.0
#: Not more than this is read at once: who looks away longer has missed it, seconds.
_LONGEST_READ_S: Final = 1.0
#: An output that was not heard yet plays this much softer at first, and is listened to so long
#: before and then: what it would reach must lie under the ceiling. Common practice, no source.
_SOFTER_DB: Final = 20.0
_LISTEN_S: Final = 0.4
#: From one level to the next without it.
_STEP_DB: Final = 6.0
#: Waited at most for what was listened to, and between looks, seconds.
_PATIENCE_S, _LOOK_S = 5.0, 0.02
#: Simulated sound dies away within this after it was stopped, seconds.
_FALL_S: Final = 0.1


class LiveInput(Protocol):
    """A microphone that is listened to, and what can be played meanwhile."""

    @property
    def name(self) -> str:
        """What it is called."""
        ...

    @property
    def sampling_rate_hz(self) -> int:
        """Hertz."""
        ...

    @property
    def sensitivity_pa(self) -> float | None:
        """Pressure (peak) in pascal at digital full scale, None if not known."""
        ...

    def read(self) -> F32:
        """What came since the last read, shape (n,).

        Raises
        ------
        DeviceError
            If the device has gone.
        """
        ...

    def record(self, duration_s: float) -> F32:
        """What the microphone hears in so many seconds while nothing is played, shape (n,).

        Raises
        ------
        DeviceError
            If the device fails.
        """
        ...

    def bench(self, job: Job | None = None) -> tuple[LevelBench, Job, Station]:
        """The same device as a level bench for a job, by default the folder's.

        Raises
        ------
        InputError
            If the microphone's sensitivity is not known, or nothing can be played.
        """
        ...

    def play(self, drives: str) -> None:
        """Have an output play its noise at its trim, rising from silence, until `stop`.

        A real one plays softly first, and not louder if that would pass the ceiling.

        Raises
        ------
        InputError
            If that cannot be, a peak would pass the digital ceiling, or the level the other.
        """
        ...

    def stop(self) -> None:
        """Be silent at once; callable from any thread."""
        ...

    def close(self) -> None:
        """Be silent and let the device go."""
        ...


class RehearsalInput:
    """The rehearsal room, its microphone at the main seat's station, as if it ran in real time.

    Parameters
    ----------
    folder
        A job folder open for writing.
    clock
        Seconds.

    Raises
    ------
    InputError
        If the room cannot be simulated, or the job has no stations or outputs.
    """

    name: Final = "the rehearsal room"

    def __init__(self, folder: JobFolder, clock: Callable[[], float] = time.monotonic) -> None:
        self._folder, self._clock = folder, clock
        self._job = with_simulated_microphone(folder, folder.job)
        device = rehearsal_device(self._job)
        station = level_station(self._job)
        if station.position_m is not None:
            device.place_microphone(station.position_m)
        self.sampling_rate_hz = device.sampling_rate_hz
        self.sensitivity_pa = self._job.microphone.sensitivity_pa
        self._device = device
        self._quiet = device.record(_BACKGROUND_S).microphone
        self._sound = self._quiet
        self._gain, self._wanted = 0.0, 0.0
        self._began, self._read = clock(), 0
        self._stops = 0
        self._guard = threading.Lock()

    def read(self) -> F32:
        """What came since the last read; see `LiveInput`."""
        until = int((self._clock() - self._began) * self.sampling_rate_hz)
        first = max(self._read, until - round(_LONGEST_READ_S * self.sampling_rate_hz))
        self._read = max(until, self._read)
        at = np.arange(first, until)
        with self._guard:
            gains = self._gains(at.size)
            quiet, sound = self._quiet[at % self._quiet.size], self._sound[at % self._sound.size]
        # The sound was recorded with the background in it.
        return (sound * gains + quiet * (1.0 - gains)).astype(np.float32)

    def record(self, duration_s: float) -> F32:
        """Record; see `LiveInput`."""
        return self._device.record(duration_s).microphone

    def bench(self, job: Job | None = None) -> tuple[LevelBench, Job, Station]:
        """The rehearsal room as a level bench; see `LiveInput`."""
        return rehearsal_bench(self._folder, job)

    def play(self, drives: str) -> None:
        """Play noise; see `LiveInput`."""
        stops = self._stops
        bench, job, _ = self.bench()
        sound = bench.heard(drives, job.levels.playback_db + job.levels.trim_db(drives))
        with self._guard:
            # A stop that came while the sound was made ready counts.
            if self._stops == stops:
                self._sound, self._wanted = sound, 1.0
                self._rise_s = max(job.levels.ramp_s, _FALL_S)

    def stop(self) -> None:
        """Be silent; see `LiveInput`."""
        with self._guard:
            self._stops += 1
            self._wanted = 0.0

    def close(self) -> None:
        """Be silent; there is nothing to let go."""
        self.stop()

    def _gains(self, n: int) -> NDArray[np.float64]:
        """Gains of the sound over the next samples: it rises slowly and falls quickly."""
        up = self._wanted > self._gain
        step = 1.0 / ((self._rise_s if up else _FALL_S) * self.sampling_rate_hz)
        line = self._gain + np.arange(1, n + 1) * (step if up else -step)
        line = np.clip(line, 0.0, self._wanted) if up else np.clip(line, self._wanted, 1.0)
        if n:
            self._gain = float(line[-1])
        return np.asarray(np.sin(np.pi / 2.0 * line) ** 2)

    _rise_s = 1.0


class InterfaceInput:
    """The audio interface of a job, open.

    Parameters
    ----------
    folder
        The job's folder.

    Raises
    ------
    DeviceError
        If the interface is gone, lacks a channel, or refuses.
    """

    def __init__(self, folder: JobFolder) -> None:
        self._folder = folder
        self._device = interface_device(folder.job)
        self._device.open()
        self._monitor = self._device.monitor()
        self.name = self._device.name
        self.sampling_rate_hz = self._device.sampling_rate_hz
        self.sensitivity_pa = folder.job.microphone.sensitivity_pa
        self._played_db: dict[str, float] = {}
        self._stops = 0

    def read(self) -> F32:
        """What came since the last read; see `LiveInput`."""
        if not self._device.is_open:
            raise DeviceError(f"{self.name} went away; plug it in and start the meter again")
        samples: F32 = self._monitor.read()[0]
        return samples

    def record(self, duration_s: float) -> F32:
        """Record; see `LiveInput`."""
        return self._device.record(duration_s).microphone

    def bench(self, job: Job | None = None) -> tuple[LevelBench, Job, Station]:
        """The interface as a level bench; see `LiveInput`."""
        job = self._folder.job if job is None else job
        station = level_station(job)
        return level_bench(self._folder, job, self._device, station), job, station

    def play(self, drives: str) -> None:
        """Play noise; see `LiveInput`."""
        bench, job, _ = self.bench()
        stops, number = self._stops, bench.number(drives)
        gain_db = job.levels.playback_db + job.levels.trim_db(drives)
        if gain_db > self._played_db.get(drives, -np.inf) + _STEP_DB:
            self._device.stop()
            quiet_db = self._heard_db(_LISTEN_S)
            softly = bench.looped(drives, gain_db - _SOFTER_DB)
            self._device.play_looped({number: softly}, rise_s=job.levels.ramp_s)
            try:
                heard_db = self._heard_db(job.levels.ramp_s + _LISTEN_S)
            finally:
                self._device.stop()
            sound = float(from_power_db(heard_db) - from_power_db(quiet_db))
            expected_db = float(power_db(max(sound, 1e-12))) + _SOFTER_DB
            if expected_db > job.levels.ceiling_db:
                raise InputError(
                    f"{drives} is not played: it would reach {expected_db:.0f} dB SPL, the ceiling "
                    f"is {job.levels.ceiling_db:g}; lower its trim or the amplifier"
                )
        # A stop that came meanwhile counts.
        if self._stops == stops:
            signal = bench.looped(drives, gain_db)
            self._device.play_looped({number: signal}, rise_s=job.levels.ramp_s)
            self._played_db[drives] = gain_db

    def _heard_db(self, duration_s: float) -> float:
        """The C-weighted fast level at the end of so many seconds from now on, dB SPL."""
        monitor = self._device.monitor()
        meter = SoundLevelMeter(
            self.sampling_rate_hz, self.sensitivity_pa, weighting="C", time_weighting="fast"
        )
        until = time.monotonic() + duration_s + _PATIENCE_S
        while meter.show().duration_s < duration_s:
            if not self._device.is_open or time.monotonic() > until:
                raise DeviceError(f"{self.name} went away; plug it in and start the meter again")
            meter.follow(monitor.read()[0])
            time.sleep(_LOOK_S)
        return meter.show().level_db

    def stop(self) -> None:
        """Be silent within a block of the stream; see `LiveInput`."""
        self._stops += 1
        self._device.stop()

    def close(self) -> None:
        """Be silent and close the stream."""
        self._device.close()


def live_input(folder: JobFolder, kind: With) -> LiveInput:
    """The microphone of the rehearsal room, or of the job's audio interface, to be closed later.

    Raises
    ------
    InputError
        If the room cannot be simulated.
    DeviceError
        If the interface is gone, lacks a channel, or refuses.
    """
    return RehearsalInput(folder) if kind == "rehearsal" else InterfaceInput(folder)
