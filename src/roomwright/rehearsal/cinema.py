"""The rehearsal room: a simulated cinema behind the device protocol."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright._checks import finite, positive
from roomwright._errors import InputError
from roomwright.measurement import LOOP_BACK, Recording
from roomwright.model import Fault, Job, Point
from roomwright.rehearsal.chain import Chain, Played
from roomwright.rehearsal.inputs import converter_rms
from roomwright.rehearsal.recorder import happening, moved, spoilt, with_noises
from roomwright.rehearsal.streams import stream
from roomwright.rehearsal.ways import elsewhere

_F32 = NDArray[np.float32]

#: Longest additional delay of a recording, samples; every call draws its own.
LARGEST_JITTER = 512


class RehearsalRoom:
    """A `measurement.Device` that simulates the job's cinema.

    Input 0 is the microphone, where `place_microphone` last put it. Input 1 is the loop-back:
    the mean of the signals played, so that it stays below full scale as they do; or, where
    `signals` holds one under `LOOP_BACK` (0), that signal, which no output plays. Both inputs
    see the same latency, jitter and clock. Signals and recordings clip at digital full scale.

    Parameters
    ----------
    job
        The cinema: `job.rehearsal` says how it departs from an ideal one.

    Raises
    ------
    InputError
        If the room is not a box, or a planted fault does not fit the outputs.

    Notes
    -----
    Every random number comes from a stream of its own (`streams.stream`): a unit's differences
    from (seed, unit), a tail from (seed, unit, place), a rattle from (seed, output, signal),
    noise and jitter from (seed, place, content of the call, how many equal calls came before at
    that place). The order of calls does not matter, but for a planted fault 'unmoved': the
    microphone then stays where it was put before.
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._chain = Chain(job)
        self._place: Point | None = None
        self._meant: Point | None = None
        self._calls: Counter[tuple[Point, str]] = Counter()

    @property
    def name(self) -> str:
        """What the device is called in messages."""
        return "rehearsal room"

    @property
    def sampling_rate_hz(self) -> int:
        """Nominal sampling rate."""
        return self._job.sampling_rate_hz

    @property
    def output_count(self) -> int:
        """Outputs of the job's processor."""
        return self._job.processor.outputs

    @property
    def input_count(self) -> int:
        """Microphone and loop-back."""
        return 2

    def place_microphone(self, position_m: Point) -> None:
        """Put the microphone somewhere in the room.

        Raises
        ------
        InputError
            If that is outside the room.
        """
        size = self._chain.box.size_m
        if not all(0 <= at <= end for at, end in zip(position_m, size, strict=True)):
            place = ", ".join(f"{at:g}" for at in position_m)
            box = " x ".join(f"{end:g}" for end in size)
            raise InputError(f"the microphone at ({place}) m stands outside the room of {box} m")
        x, y, z = position_m
        wanted = (float(x), float(y), float(z))
        stays = any(fault.kind == "unmoved" for fault in happening(self._job, wanted, None))
        if self._place is None or not stays:
            self._place = wanted
        self._meant = wanted

    def play_and_record(self, signals: Mapping[int, _F32]) -> Recording:
        """Play signals together and record until the last has been heard.

        Parameters
        ----------
        signals
            Output number, from 1, to samples; `LOOP_BACK` (0) to the loop-back's own signal.

        Returns
        -------
        Recording
            Longer than the longest signal by the latency and the largest jitter.

        Raises
        ------
        InputError
            If the microphone has not been placed or stands closer than 0.1 m to a loudspeaker,
            an output does not exist, or a signal is empty, of several channels or not finite.
        """
        place = self._standing()
        played = {number: self._checked(number, signals[number]) for number in sorted(signals)}
        looped = played.pop(LOOP_BACK, None)
        if not played:
            raise InputError("there is no signal to play; give one for at least one output")
        references = list(played.values()) if looped is None else [looped]
        longest = max(signal.samples.size for signal in (*played.values(), *references))
        count = self._chain.recorded_samples(longest, LARGEST_JITTER)
        n = self._chain.transform_samples(count)
        content = " ".join(f"{number}:{signal.digest}" for number, signal in played.items())

        faults = happening(self._job, self._meant or place, played)
        spectrum = self._chain.noise(self._stream("noise", place, content), n)
        microphone = fft.irfft(spectrum + self._sound(place, played, n), n)
        for fault in faults:
            if fault.kind == "moved":
                rng = self._stream("moved", place, content)
                after = elsewhere(place, self._chain.box.size_m, fault.amount, rng)
                heard = fft.irfft(spectrum + self._sound(after, played, n), n)
                microphone = moved(microphone, heard, self._chain.rate_hz, rng)
        reference = self._chain.reference(references, n)
        return self._recording(place, content, faults, microphone, reference, count)

    def record(self, duration_s: float) -> Recording:
        """Record the room's background noise.

        Raises
        ------
        InputError
            If the microphone has not been placed or the duration is not positive.
        """
        place = self._standing()
        duration = positive(duration_s, "the duration to record")
        count = max(1, round(duration * self._chain.rate_hz))
        n = fft.next_fast_len(count, real=True)
        content = f"silence {count}"
        noise = fft.irfft(self._chain.noise(self._stream("noise", place, content), n), n)
        faults = happening(self._job, self._meant or place, None)
        return self._recording(place, content, faults, noise, np.zeros(n, np.float32), count)

    def _sound(self, place: Point, played: Mapping[int, Played], n: int) -> NDArray[np.complex64]:
        """Spectrum of all that is played, without noise."""
        total = np.zeros(n // 2 + 1, np.complex64)
        for number, signal in played.items():
            heard = self._chain.heard(place, number, signal, n)
            if heard is not None:
                total += heard
        return total

    def _standing(self) -> Point:
        if self._place is None:
            raise InputError("the microphone has not been placed; place it before recording")
        return self._place

    def _checked(self, number: int, signal: _F32) -> Played:
        if not LOOP_BACK <= number <= self.output_count:
            raise InputError(
                f"output {number} does not exist; the outputs are 1 to {self.output_count}"
            )
        samples = finite(signal, f"the signal for output {number}")
        if samples.ndim != 1 or samples.size == 0:
            raise InputError(
                f"the signal for output {number} has the shape {samples.shape}; "
                "it must be one channel of at least one sample"
            )
        return Played.of(np.clip(samples, -1.0, 1.0).astype(np.float32))

    def _stream(self, purpose: str, place: Point, content: str) -> np.random.Generator:
        calls = self._calls[place, content]
        return stream(self._job.rehearsal.seed, purpose, place, content, calls)

    def _recording(
        self,
        place: Point,
        content: str,
        faults: Sequence[Fault],
        microphone: _F32,
        reference: _F32,
        count: int,
    ) -> Recording:
        """Both inputs with the call's jitter, the converter's noise on the loop-back, clipped.

        The inputs are periodic and end in silence, so turning them round delays them.
        """
        jitter = int(self._stream("jitter", place, content).integers(0, LARGEST_JITTER + 1))
        hiss = self._stream("loop-back", place, content).standard_normal(count, dtype=np.float32)
        key = f"{place} {content} {self._calls[place, content]}"
        self._calls[place, content] += 1
        samples = np.stack(
            [np.roll(channel, jitter)[:count] for channel in (microphone, reference)]
        )
        samples[1] += hiss * np.float32(converter_rms(self._job))
        samples[0] = with_noises(self._job, faults, samples[0], key)
        samples = spoilt(self._job, faults, samples, key)
        return Recording(np.clip(samples, -1.0, 1.0), self._job.sampling_rate_hz)
