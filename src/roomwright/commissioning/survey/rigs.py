"""What a survey is measured with: a device, and how its microphone gets to a station."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator, Mapping
from typing import Final, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import Cancelled, InputError
from roomwright.commissioning.tuning.compose import interface_device, rehearsal_device
from roomwright.devices import Monitor
from roomwright.measurement import Device, Recording
from roomwright.measurement.metering import SoundLevelMeter
from roomwright.model import Job, Station

Signals = Mapping[int, NDArray[np.float32]]
Kind = Literal["rehearsal", "interface"]
Timing = Literal["loop-back", "acoustic", "none"]

#: How often the input is looked at while something plays, seconds.
_LOOK_S: Final = 0.05


class CeilingPassed(InputError):
    """The microphone's input went above the ceiling; what played was stopped."""


class InputWatch:
    """The level at the microphone's input at any time, C-weighted and fast.

    Parameters
    ----------
    monitor
        Of the input.
    sensitivity_pa
        Of the microphone; None leaves levels re a full-scale sine.
    """

    def __init__(self, monitor: Monitor, sensitivity_pa: float | None) -> None:
        self._monitor = monitor
        self._meter = _meter(monitor.sampling_rate_hz, sensitivity_pa)
        self.absolute = sensitivity_pa is not None

    def level_db(self) -> float:
        """The level now, dB SPL or dB re a full-scale sine."""
        self._meter.follow(self._monitor.read()[0])
        return self._meter.show().level_db


class Rig(Protocol):
    """A device with its microphone.

    Attributes
    ----------
    device
        What plays and records.
    origin
        What takes made with it say of where they come from.
    timing
        What tells when a signal left the outputs.
    """

    @property
    def device(self) -> Device:
        """What plays and records."""
        ...

    @property
    def origin(self) -> Literal["rehearsal", "device"]:
        """Where takes made with it come from."""
        ...

    @property
    def timing(self) -> Timing:
        """What tells when a signal left the outputs."""
        ...

    def move(self, station: Station) -> bool:
        """Bring the microphone to a station; False if the station is to be skipped."""
        ...

    def play(self, signals: Signals, ceiling_dbfs: float = 0.0) -> Recording:
        """Play and record.

        Raises
        ------
        CeilingPassed
            If the microphone's input goes above the ceiling, see `heard_level_dbfs`.
        Cancelled
            If `stop` was called.
        DeviceError
            If the device fails.
        """
        ...

    def watch(self) -> InputWatch | None:
        """Watch the input from now on, whatever is played; None where nothing sounds."""
        ...

    def stop(self) -> None:
        """Be silent at once; callable from any thread. The survey ends with `Cancelled`."""
        ...

    def close(self) -> None:
        """Be silent and let the device go."""
        ...


class RehearsalRig:
    """The rehearsal room of a job."""

    origin: Final = "rehearsal"
    timing: Final = "loop-back"

    def __init__(self, job: Job) -> None:
        self.device = rehearsal_device(job)
        self._stopped = False

    def move(self, station: Station) -> bool:
        """Put the microphone there.

        Raises
        ------
        InputError
            If the station has no position, or stands outside the room.
        """
        if station.position_m is None:
            raise InputError(f"station {station.id} has no position; it cannot be rehearsed")
        self.device.place_microphone(station.position_m)
        return True

    def play(self, signals: Signals, ceiling_dbfs: float = 0.0) -> Recording:
        """Play and record; see `Rig`."""
        recording = self.device.play_and_record(signals)
        if self._stopped:
            raise Cancelled("stopped: the outputs are silent")
        _check_level(recording, ceiling_dbfs)
        return recording

    def watch(self) -> None:
        """Nothing sounds; see `Rig`."""

    def stop(self) -> None:
        """End what is simulated; see `Rig`."""
        self._stopped = True

    def close(self) -> None:
        """There is nothing to let go."""


class InterfaceRig:
    """The audio interface of a job, and somebody who carries its microphone.

    Parameters
    ----------
    job
        Names the interface and how it is connected.
    ask
        Asks for the microphone to be moved, and returns when it stands: True to measure there,
        False to skip the station. May raise `Cancelled`.
    """

    origin: Final = "device"

    def __init__(self, job: Job, ask: Callable[[Station], bool]) -> None:
        self.device = interface_device(job)
        self.timing: Timing = job.interface.timing
        self._sensitivity_pa = job.microphone.sensitivity_pa
        self._ask = ask
        self._stopped = False

    def move(self, station: Station) -> bool:
        """Ask for the microphone to be moved."""
        if self._stopped:
            raise Cancelled("stopped: the outputs are silent")
        return self._ask(station)

    def play(self, signals: Signals, ceiling_dbfs: float = 0.0) -> Recording:
        """Play and record while the input is watched; see `Rig`."""
        if self._stopped:
            raise Cancelled("stopped: the outputs are silent")
        self.device.open()
        passed, over = threading.Event(), threading.Event()
        watch = threading.Thread(
            target=self._watch, args=(ceiling_dbfs, passed, over), name="input ceiling"
        )
        watch.start()
        try:
            recording = self.device.play_and_record(signals)
        except Cancelled:
            if passed.is_set():
                raise _ceiling_passed(ceiling_dbfs) from None
            raise
        finally:
            over.set()
            watch.join()
        _check_level(recording, ceiling_dbfs)
        return recording

    def watch(self) -> InputWatch:
        """Watch the microphone's input; see `Rig`."""
        return InputWatch(self.device.monitor(), self._sensitivity_pa)

    def stop(self) -> None:
        """Be silent within a block of the stream; see `Rig`."""
        self._stopped = True
        self.device.stop()

    def close(self) -> None:
        """Be silent and close the stream."""
        self.device.close()

    def _watch(self, ceiling_dbfs: float, passed: threading.Event, over: threading.Event) -> None:
        """Stop the device when the microphone's level passes the ceiling."""
        monitor, meter = self.device.monitor(), _meter(self.device.sampling_rate_hz)
        while not over.wait(_LOOK_S):
            meter.follow(monitor.read()[0])
            if meter.show().maximum_db > ceiling_dbfs:
                passed.set()
                self.device.stop()
                return


@contextlib.contextmanager
def open_rig(
    job: Job, kind: Kind, ask: Callable[[Station], bool] = lambda _station: True
) -> Iterator[Rig]:
    """What a job is measured with, open; silent and closed at the end, whatever happens.

    Parameters
    ----------
    job
        Names the interface, or is the rehearsal room.
    kind
        Which of the two.
    ask
        For the interface: asks for the microphone to be moved, see `InterfaceRig`.

    Raises
    ------
    DeviceError
        If the interface is gone, lacks a channel or refuses the rate.
    """
    rig: Rig
    if kind == "rehearsal":
        rig = RehearsalRig(job)
    else:
        interface = InterfaceRig(job, ask)
        interface.device.open()
        rig = interface
    try:
        yield rig
    finally:
        rig.close()


def heard_level_dbfs(recording: Recording) -> float:
    """Highest C-weighted fast level of the microphone, dB re a full-scale sine.

    The same level is held under the ceiling while noise plays.
    """
    meter = _meter(recording.sampling_rate_hz)
    meter.follow(recording.microphone)
    return meter.show().maximum_db


def _meter(sampling_rate_hz: int, sensitivity_pa: float | None = None) -> SoundLevelMeter:
    return SoundLevelMeter(sampling_rate_hz, sensitivity_pa, weighting="C", time_weighting="fast")


def _check_level(recording: Recording, ceiling_dbfs: float) -> None:
    if heard_level_dbfs(recording) > ceiling_dbfs:
        raise _ceiling_passed(ceiling_dbfs)


def _ceiling_passed(ceiling_dbfs: float) -> CeilingPassed:
    return CeilingPassed(
        f"stopped: the level at the microphone passed the ceiling, {ceiling_dbfs:.1f} dBFS at its "
        "input; play softer, or find out why it is so loud, then go on with what is missing"
    )
