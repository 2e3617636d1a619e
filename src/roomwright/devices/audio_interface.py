"""A real audio interface as a device: one continuous stream, takes locked to its samples."""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from roomwright._checks import finite, positive
from roomwright._errors import Cancelled, DeviceError, InputError
from roomwright.devices import _portaudio
from roomwright.devices._engine import Engine, Job
from roomwright.devices.listing import channels_needed, check_interface, chosen
from roomwright.devices.monitor import Monitor
from roomwright.measurement import LOOP_BACK, Recording
from roomwright.model import Finding, Interface
from roomwright.signals import amplitude_db, from_amplitude_db

F32 = NDArray[np.float32]

#: The stream runs so long before the first take: drivers settle, late buffers are over.
_PREROLL_S = 0.3

#: A take is recorded so much longer than it is played: converters, buffers, network, processor.
_LONGEST_LATENCY_S = 0.5

#: Without a block for so long the interface is gone; no driver's buffers are that long. Exact
#: zeros from the microphone for so long, while something plays, mean the same.
_GONE_S, _SILENT_S = 2.0, 1.0

#: How often a waiting thread looks, and what the monitor's ring holds.
_LOOK_S, _RING_S = 0.05, 4.0

_LOST = {
    "input_overflow": "recorded samples were lost",
    "input_underflow": "recorded samples were filled in",
    "output_overflow": "played samples were lost",
    "output_underflow": "the output ran dry",
}


class AudioInterface:
    """A `measurement.Device` behind PortAudio; open it, or use it in a `with` statement.

    The stream is opened once and runs until `close`, so that the latency is the same in all
    takes. If the interface goes away a take ends with a `DeviceError`; the next take opens the
    stream again. `stop` may be called from any thread at any time.

    Parameters
    ----------
    interface
        Which one, how it is connected, and the ceiling.
    sampling_rate_hz
        The job's.
    outputs
        How many outputs of the processor it feeds.
    capsules
        Of the microphone, on inputs that follow each other.
    """

    def __init__(
        self, interface: Interface, sampling_rate_hz: int, outputs: int, capsules: int = 1
    ) -> None:
        self._interface = interface
        self._rate = sampling_rate_hz
        self._outputs, self._capsules = outputs, capsules
        self._stream: _portaudio.Stream | None = None
        self._busy = threading.Lock()
        self._stops = 0
        self._taken = self._disturbed = False
        looped = interface.loop_back_input
        first = interface.microphone_input - 1
        others = range(first + 1, first + capsules)
        self._inputs = (first, *(() if looped is None else (looped - 1,)), *others)
        self._engine = self._new_engine()

    @property
    def name(self) -> str:
        """The interface's name."""
        return self._interface.device or "the audio interface"

    @property
    def sampling_rate_hz(self) -> int:
        """The job's sampling rate."""
        return self._rate

    @property
    def output_count(self) -> int:
        """Outputs of the processor, numbered from 1."""
        return self._outputs

    @property
    def input_count(self) -> int:
        """The microphone, and the loop-back if it is connected."""
        return len(self._inputs) - self._capsules + 1

    @property
    def is_open(self) -> bool:
        """Whether the stream runs."""
        return self._stream is not None

    @property
    def is_playing(self) -> bool:
        """Whether a take or a looped signal runs."""
        return self._engine.running

    def __enter__(self) -> Self:
        """Open the stream."""
        self.open()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the stream."""
        self.close()

    def open(self) -> None:
        """Open the stream and let it settle; nothing is played.

        Raises
        ------
        DeviceError
            If the interface is gone, lacks a channel, or refuses.
        """
        if self._stream is not None:
            return
        _portaudio.rescan()
        check_interface(self._interface, self._rate, self._outputs, self._capsules)
        player, recorder = chosen(self._interface)
        module = _portaudio.portaudio()
        self._engine = self._new_engine()
        self._disturbed = self._taken
        with _portaudio.refused(self.name, f"a stream at {self._rate} Hz"):
            stream = module.Stream(
                samplerate=self._rate,
                device=(recorder.index, player.index),
                channels=channels_needed(self._interface, self._outputs, self._capsules),
                dtype="float32",
                latency="high",
                clip_off=True,
                dither_off=True,
                callback=self._engine.callback,
            )
            _portaudio.opened(stream)
            self._stream = stream
            try:
                stream.start()
            except module.PortAudioError:
                self.close()
                raise
        self._settle()

    def close(self) -> None:
        """Silence the outputs and close the stream; nothing happens if it is closed."""
        self.stop()
        stream, self._stream = self._stream, None
        if stream is not None:
            _portaudio.close(stream)

    def monitor(self) -> Monitor:
        """A window on the input from now on: every `read` gives what came since the last.

        After the stream was opened anew, ask for another.
        """
        return Monitor(self._engine.ring, self._rate)

    def play_and_record(self, signals: Mapping[int, F32]) -> Recording:
        """Play signals together and record until half a second after the longest.

        Parameters
        ----------
        signals
            Output number, from 1, to samples, (n,); `LOOP_BACK` (0) to the loop-back's own.

        Returns
        -------
        Recording
            With a refusal among its findings if samples were lost.

        Raises
        ------
        InputError
            If an output does not exist, or a signal is empty, not finite or above the ceiling.
        DeviceError
            If the interface refuses, is busy, or goes away in the middle.
        Cancelled
            If `stop` was called.
        """
        columns = self._columns(signals)
        length = max(signal.size for signal in columns.values())
        return self._take(columns, length + round(_LONGEST_LATENCY_S * self._rate))

    def record(self, duration_s: float) -> Recording:
        """Record while nothing is played; the errors are those of `play_and_record`."""
        duration_s = positive(duration_s, "the duration to record")
        return self._take({}, max(round(duration_s * self._rate), 1))

    def play_looped(self, signals: Mapping[int, F32], *, rise_s: float = 1.0) -> None:
        """Play signals of one length over and over, rising from silence, until `stop`.

        Returns at once; what was looped before is stopped. The errors are those of
        `play_and_record`.
        """
        columns = self._columns(signals)
        if len({signal.size for signal in columns.values()}) > 1:
            raise InputError("signals that are looped together must be of one length")
        self.open()
        self._silence()
        rise = max(rise_s, self._interface.ramp_s)
        self._engine.start(Job(columns, None, None, _rise(round(rise * self._rate))))

    def stop(self) -> None:
        """Silence the outputs within one block of the stream; callable from any thread."""
        self._stops += 1
        self._engine.stop()

    def _take(self, columns: Mapping[int, F32], length: int) -> Recording:
        stops = self._stops
        if not self._busy.acquire(blocking=False):
            raise DeviceError(f"{self.name} is busy with another take; wait for it")
        try:
            self.open()
            self._silence()
            self._disturbed |= self._taken and bool(self._engine.flags_between)
            self._engine.flags_between.clear()
            recorded = np.zeros((length, len(self._inputs)), dtype=np.float32)
            rise = _rise(round(self._interface.ramp_s * self._rate))
            job = Job(columns, length, recorded, rise)
            self._engine.start(job)
            # A stop that came while the take was made ready counts.
            if self._stops != stops:
                self._engine.stop()
            self._wait(job)
        finally:
            self._busy.release()
        if job.stopped:
            raise Cancelled("stopped: the outputs are silent")
        samples = np.ascontiguousarray(recorded.T)
        findings, inputs = tuple(self._findings(job, samples[0])), self.input_count
        capsules = samples[inputs:] if self._capsules > 1 else None
        recording = Recording(samples[:inputs], self._rate, findings, capsules)
        # A stream that was interrupted goes on with another latency, behind some servers.
        self._disturbed |= self._taken and bool(job.flags)
        self._taken |= not job.flags
        return recording

    def _wait(self, job: Job) -> None:
        """Until the job is done, or the interface is gone."""
        blocks, since = self._engine.blocks, time.monotonic()
        while not job.done.wait(_LOOK_S):
            if self._engine.blocks != blocks:
                blocks, since = self._engine.blocks, time.monotonic()
            elif time.monotonic() - since > _GONE_S:
                self._gone(job)
            if _fell_silent(job, self._rate):
                self._gone(job)

    def _gone(self, job: Job) -> None:
        at_s = job.at / self._rate
        self.close()
        raise DeviceError(
            f"{self.name} went away {at_s:.1f} s into the take; what was captured before is kept, "
            "and measuring goes on with this take once it is back"
        )

    def _settle(self) -> None:
        """Wait for the pre-roll; it must bring blocks."""
        until = time.monotonic() + _PREROLL_S
        latest = until + _GONE_S
        while time.monotonic() < until or self._engine.blocks < 2:
            if time.monotonic() > latest:
                self.close()
                raise DeviceError(f"{self.name} opened but no samples come from it; plug it anew")
            time.sleep(_LOOK_S)
        self._engine.flags_between.clear()

    def _silence(self) -> None:
        """End what is looped, and wait for it."""
        until = time.monotonic() + _GONE_S
        while self._engine.running:
            self._engine.stop()
            if time.monotonic() > until:
                self.close()
                raise DeviceError(f"{self.name} does not answer; plug it in again")
            time.sleep(_LOOK_S / 10)

    def _columns(self, signals: Mapping[int, F32]) -> dict[int, F32]:
        """Column of the stream to samples, checked against outputs and ceiling."""
        checked = {number: self._checked(number, signal) for number, signal in signals.items()}
        looped = checked.pop(LOOP_BACK, None)
        if not checked:
            raise InputError("there is no signal to play; give one for at least one output")
        first = self._interface.first_output
        columns = {first - 1 + number - 1: signal for number, signal in checked.items()}
        if self._interface.loop_back_output is not None:
            column = self._interface.loop_back_output - 1
            if column in columns:
                raise InputError(
                    f"output {column + 1} of {self.name} is the loop-back's; no loudspeaker can "
                    "be on it"
                )
            columns[column] = _mean(list(checked.values())) if looped is None else looped
        return columns

    def _checked(self, number: int, signal: F32) -> F32:
        if not LOOP_BACK <= number <= self._outputs:
            raise InputError(
                f"output {number} does not exist; the outputs are 1 to {self._outputs}"
            )
        samples = finite(signal, f"the signal for output {number}")
        if samples.ndim != 1 or samples.size == 0:
            raise InputError(
                f"the signal for output {number} has the shape {samples.shape}; it must be one "
                "channel of at least one sample"
            )
        peak, ceiling_dbfs = float(np.abs(samples).max()), self._interface.ceiling_dbfs
        # A rounding error above the ceiling is let through here and cut in the stream.
        if peak > float(from_amplitude_db(ceiling_dbfs)) * (1 + 1e-6):
            raise InputError(
                f"the signal for output {number} peaks at {float(amplitude_db(peak)):.1f} dBFS, "
                f"above the ceiling of {ceiling_dbfs:g} dBFS; play it softer or raise the ceiling"
            )
        return np.ascontiguousarray(samples, dtype=np.float32)

    def _findings(self, job: Job, microphone: F32) -> list[Finding]:
        found = []
        if job.flags:
            what = " and ".join(_LOST[flag] for flag in sorted(job.flags))
            text = (
                f"is refused: the stream was interrupted, {what}; close other programs and repeat"
            )
            found.append(Finding(severity="refusal", where=self.name, text=text))
        if not microphone.any():
            text = (
                "gives digital silence at the microphone's input: nothing is plugged in, it is "
                "muted, or this program has no permission to record"
            )
            found.append(Finding(severity="refusal", where=self.name, text=text))
        if self._disturbed and self._interface.timing == "none":
            text = "was interrupted before this take; its latency may differ from earlier takes'"
            found.append(Finding(severity="doubt", where=self.name, text=text))
        return found

    def _new_engine(self) -> Engine:
        ceiling = float(from_amplitude_db(self._interface.ceiling_dbfs))
        return Engine(self._inputs, ceiling, round(_RING_S * self._rate))


def _fell_silent(job: Job, rate: int) -> bool:
    """Whether the microphone went to exact zeros while a signal that it would hear was played.

    Behind a sound server an interface that is unplugged leaves a stream of zeros.
    """
    now, back, latency = job.at, round(_SILENT_S * rate), round(_LONGEST_LATENCY_S * rate)
    if job.recorded is None or now <= back:
        return False
    microphone = job.recorded[:now, 0]
    played = (signal[now - back : now - latency] for signal in job.signals.values())
    return (
        not microphone[now - back :].any()
        and any(signal.any() for signal in played)
        and bool(microphone.any())
    )


def _mean(signals: list[F32]) -> F32:
    """The mean of signals of any lengths, float32."""
    total = np.zeros(max(signal.size for signal in signals))
    for signal in signals:
        total[: signal.size] += signal
    return (total / len(signals)).astype(np.float32)


def _rise(samples: int) -> F32:
    """Gains that rise from silence as half a raised cosine, (samples,)."""
    angle = np.pi / 2 * (np.arange(samples) + 0.5) / max(samples, 1)
    gains: F32 = (np.sin(angle) ** 2).astype(np.float32)
    return gains
