"""From the samples played to the spectra recorded: wires, units, room, microphone."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.measurement.microphone import correction
from roomwright.model import Job, Loudspeaker, LoudspeakerModel, Point, Room, Subwoofer
from roomwright.rehearsal.box import box_of
from roomwright.rehearsal.faults import Wire, rattle, wiring
from roomwright.rehearsal.inputs import microphone_curve, noise_spectrum, sensitivity_pa
from roomwright.rehearsal.memory import Memory
from roomwright.rehearsal.room import Emitter, room_responses
from roomwright.rehearsal.streams import stream
from roomwright.rehearsal.units import distortion, excursion_drive, unit_response
from roomwright.rehearsal.ways import broken_distortion, elsewhere, ways_response
from roomwright.signals import frequencies_hz, resample

_F32 = NDArray[np.float32]
_C64 = NDArray[np.complex64]

_DRIVES_KEPT = 128
_PATHS_KEPT = 64
_PLACES_KEPT = 64
_UNITS_KEPT = 16


def emitter_of(job: Job, unit: Loudspeaker | Subwoofer) -> Emitter:
    """A job's loudspeaker or subwoofer as a source in the room."""
    if isinstance(unit, Subwoofer):
        return Emitter(unit.id, unit.position_m, unit.position_m, "omni")
    return Emitter(unit.id, unit.position_m, unit.aim_m, job.model_of(unit).directivity)


@dataclass(frozen=True, slots=True, eq=False)
class Played:
    """Samples for one output, and a name for their content."""

    samples: _F32
    digest: str

    @classmethod
    def of(cls, samples: _F32) -> Played:
        """Samples with their digest."""
        return cls(samples, hashlib.blake2b(samples.tobytes(), digest_size=12).hexdigest())


class Chain:
    """The way of sound through one job's cinema; what is costly is computed once and kept.

    Spectra are of n samples at the recorder's rate, complex64, latency included in `drive` and
    `reference`. A take is the sum of `drive` times `path` over the outputs played.

    The recorder's clock runs at 1 + ppm 1e-6 times the player's. Reading the sound at the
    recorder's instants equals reading there both the played signal and the room's response and
    convolving the two: so room responses are made at the recorder's rate, and each played signal
    is resampled once by that ratio.
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._clock = 1.0 + 1e-6 * job.rehearsal.clock_error_ppm
        self.rate_hz = job.sampling_rate_hz * self._clock
        self.box = box_of(job.room, self.rate_hz)
        self._wires = wiring(job)
        units: list[Loudspeaker | Subwoofer] = [*job.loudspeakers, *job.subwoofers]
        self._units = {unit.id: unit for unit in units}
        self._rows = {unit_id: row for row, unit_id in enumerate(self._units)}
        self._emitters = tuple(emitter_of(job, unit) for unit in units)
        self._drives = Memory(_DRIVES_KEPT)
        self._paths = Memory(_PATHS_KEPT)
        self._spectra = Memory(2 * len(self._units) + 4)

    def recorded_samples(self, longest: int, jitter: int) -> int:
        """Samples to record of the longest signal played."""
        latency = math.ceil(self._job.rehearsal.latency_s * self.rate_hz)
        return math.ceil(longest * self._clock) + latency + jitter

    def transform_samples(self, recorded: int) -> int:
        """Length of transform with which nothing recorded wraps around."""
        late_s = max((wire.delay_s for wire in self._wires.values()), default=0.0)
        late = math.ceil(late_s * self.rate_hz)
        return fft.next_fast_len(recorded + late + self.box.length, real=True)

    def heard(self, place: Point, number: int, signal: Played, n: int) -> _C64 | None:
        """Spectrum at the microphone's input of what one output plays; None if it is silent."""
        wire = self._wires.get(number)
        if wire is None or wire.gain == 0.0:
            return None
        key = (number, signal.digest, n)
        drive = self._drives(key, lambda: self._drive(number, wire, signal, n))
        return np.asarray(drive * self._path(place, wire, n))

    def reference(self, signals: Sequence[Played], n: int) -> _F32:
        """The mean of signals as the loop-back records it, (n,), periodic in n."""

        def make() -> NDArray[Any]:
            total = np.sum([self._read_by_recorder(signal, n) for signal in signals], axis=0)
            spectrum = fft.rfft(total / np.float32(len(signals)))
            return np.asarray(fft.irfft(spectrum * self._delay(self._latency_s, n), n))

        return np.asarray(self._drives((tuple(signal.digest for signal in signals), n), make))

    def noise(self, rng: np.random.Generator, n: int) -> _C64:
        """Spectrum at the microphone's input of the noise of room and converter."""

        def make() -> NDArray[Any]:
            response = np.abs(self._microphone(n))
            amplitude = noise_spectrum(self._job, response, n, self.rate_hz)
            return (0.5 * n * amplitude).astype(np.float32)

        amplitude = self._spectra(("noise", n), make)
        bins = rng.standard_normal(2 * amplitude.size, dtype=np.float32).view(np.complex64)
        return np.asarray(bins * amplitude)

    @property
    def _latency_s(self) -> float:
        return self._job.rehearsal.latency_s

    def _delay(self, delay_s: float, n: int) -> _C64:
        phase = -2j * np.pi * delay_s * frequencies_hz(n, self.rate_hz)
        return np.asarray(np.exp(phase), dtype=np.complex64)

    def _read_by_recorder(self, signal: Played, n: int) -> _F32:
        """A played signal at the recorder's instants, followed by silence to n samples."""
        samples = np.zeros(n, np.float32)
        read = signal.samples if self._clock == 1.0 else resample(signal.samples, self._clock)
        samples[: read.size] = read
        return samples

    def _microphone(self, n: int) -> NDArray[Any]:
        """Complex response from pascal to digital full scale."""

        def make() -> NDArray[Any]:
            undoing = correction(microphone_curve(self._job), frequencies_hz(n, self.rate_hz))
            return np.asarray(1.0 / (undoing * sensitivity_pa(self._job)))

        return self._spectra(("microphone", n), make)

    def _unit(self, unit_id: str, n: int) -> NDArray[Any]:
        """Response of a unit as recorded at 1 m, latency included."""

        def make() -> NDArray[Any]:
            setup = self._job.rehearsal
            model = self._job.model_of(self._units[unit_id])
            own = _unit_response(model, unit_id, setup.seed, setup.unit_spread_db, n, self.rate_hz)
            recorded = own * self._microphone(n) * self._delay(self._latency_s, n)
            return np.asarray(recorded, dtype=np.complex64)

        return self._spectra((unit_id, n), make)

    def _drive(self, number: int, wire: Wire, signal: Played, n: int) -> NDArray[Any]:
        """Spectrum of what an output's unit radiates, as recorded at 1 m."""
        setup, model = self._job.rehearsal, self._job.model_of(self._units[wire.unit_id])
        drive = self._read_by_recorder(signal, n) * np.float32(wire.gain)
        radiated = drive + distortion(drive, model, setup.distortion_percent, self.rate_hz)
        if wire.buzzes:
            rng = stream(setup.seed, "rattle", number, signal.digest)
            radiated += rattle(excursion_drive(drive, model, self.rate_hz), self.rate_hz, rng)
        if wire.distortion_percent:
            radiated += broken_distortion(drive, wire.distortion_percent)
        spectrum = fft.rfft(radiated) * self._unit(wire.unit_id, n)
        if wire.ways is not None:
            grid = frequencies_hz(n, self.rate_hz)
            spectrum *= ways_response(wire.ways, wire.crossover_hz, grid)
        return np.asarray(spectrum * self._delay(wire.delay_s, n) if wire.delay_s else spectrum)

    def _path(self, place: Point, wire: Wire, n: int) -> NDArray[Any]:
        """Spectrum of the room's response from a unit to a place."""

        def make() -> NDArray[Any]:
            room, seed = self._job.room, self._job.rehearsal.seed
            row = self._rows[wire.unit_id]
            emitters = self._emitters
            if wire.displaced_m:
                emitters, row = (self._displaced(emitters[row], wire.displaced_m),), 0
            return np.asarray(
                fft.rfft(_responses(room, self.rate_hz, emitters, place, seed)[row], n)
            )

        return self._paths((place, wire.unit_id, n), make)

    def _displaced(self, emitter: Emitter, distance_m: float) -> Emitter:
        rng = stream(self._job.rehearsal.seed, "displaced", emitter.id)
        there = elsewhere(emitter.position_m, self.box.size_m, distance_m, rng)
        return replace(emitter, position_m=there)


@lru_cache(maxsize=_UNITS_KEPT)
def _unit_response(
    model: LoudspeakerModel, unit_id: str, seed: int, spread_db: float, n: int, rate_hz: float
) -> _C64:
    """`unit_response`, kept beyond one device: a room with another fault has the same units."""
    grid = frequencies_hz(n, rate_hz)
    response = unit_response(model, unit_id, seed, spread_db, grid, rate_hz)
    kept = response.astype(np.complex64)
    kept.flags.writeable = False
    return kept


@lru_cache(maxsize=_PLACES_KEPT)
def _responses(
    room: Room, rate_hz: float, emitters: tuple[Emitter, ...], place: Point, seed: int
) -> _F32:
    """`room_responses`, kept beyond one device: a proof is measured where the survey was."""
    responses = room_responses(box_of(room, rate_hz), emitters, place, seed)
    responses.flags.writeable = False
    return responses
