"""A survey while it runs: what is played where, what was heard, what is left."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from math import inf
from typing import Final, Literal

import numpy as np

from roomwright._errors import InputError
from roomwright._progress import Progress
from roomwright.commissioning.levels.exposure_today import ExposureToday
from roomwright.commissioning.levels.reference import reference_output
from roomwright.commissioning.survey.duration import BETWEEN_S, MOVE_S, takes_s
from roomwright.commissioning.survey.facing import Facing, facing_of_take
from roomwright.commissioning.survey.passes import (
    HeardRoom,
    PlannedTake,
    band_hz,
    heard_room,
    planned_takes,
    reference_source,
    wanted_dbfs,
    window_s,
)
from roomwright.commissioning.survey.recorder import NOISE_TAKE_S, Recorder
from roomwright.commissioning.survey.redo import Pair
from roomwright.commissioning.survey.responses import BACKGROUND
from roomwright.commissioning.survey.rigs import heard_level_dbfs
from roomwright.commissioning.survey.soft_sweeps import REPEATS, SoftSweeps
from roomwright.measurement import MeasuredResponse, Recording
from roomwright.measurement.exposure import Exposure, exposure_of_take
from roomwright.model import Finding
from roomwright.signals import amplitude_db, pressure_level_db
from roomwright.store import JobFolder

#: To carry the microphone to a station, seconds: nobody carries one in the rehearsal room.
_MOVE_S: Final = {"rehearsal": 0.0, "device": MOVE_S}

Step = Literal["moving", "noise", "checking", "measuring", "done"]


@dataclass(frozen=True, slots=True)
class SurveyState:
    """How far a survey is.

    Attributes
    ----------
    step
        What happens now: the microphone is carried; background noise is recorded; a soft sweep
        checks the wiring; sweeps are measured.
    station, sources
        Where, and who plays.
    made, wanted
        Pairs of source and station, of those that were asked for.
    remaining_s
        Seconds still to go, carrying the microphone included.
    exposure
        What was heard at the microphone so far, with a real device today; None if its sensitivity
        is not known.
    level_db
        Highest C-weighted fast level at the microphone in the last recording, dB SPL, or dB re a
        full-scale sine if its sensitivity is not known; None before the first.
    peak_dbfs
        Highest sample at its input in the last recording; None before the first.
    ceiling_db
        What the level must not pass; None if the sensitivity is not known.
    """

    step: Step
    station: str
    sources: tuple[str, ...]
    made: int
    wanted: int
    remaining_s: float
    exposure: Exposure | None
    level_db: float | None
    peak_dbfs: float | None
    ceiling_db: float | None


class Procedure:
    """One survey while it runs: what was heard, what is left."""

    def __init__(
        self,
        folder: JobFolder,
        recorder: Recorder,
        pairs: Sequence[Pair],
        progress: Progress,
        on_state: Callable[[SurveyState], None],
        on_facing: Callable[[Facing], None],
        ceiling_db: float,
        quiet_dbfs: float,
    ) -> None:
        self._job, self._rig, self._recorder = recorder.job, recorder.rig, recorder
        self._progress, self._on_state, self._on_facing = progress, on_state, on_facing
        is_four = recorder.job.microphone.capsule_radius_m is not None
        self._centre = reference_output(recorder.job) if is_four else None
        sensitivity_pa = recorder.job.microphone.sensitivity_pa
        self._sensitivity_pa = sensitivity_pa
        # In the simulated room nobody hears anything.
        self._today = ExposureToday(folder) if recorder.rig.origin == "device" else None
        before = Exposure() if self._today is None else self._today.total
        self._exposure = None if sensitivity_pa is None else before
        self._full_scale_db = 0.0
        self._ceiling_dbfs = 0.0
        if sensitivity_pa is not None:
            self._full_scale_db = float(pressure_level_db(sensitivity_pa / np.sqrt(2.0)))
            self._ceiling_dbfs = min(ceiling_db - self._full_scale_db, 0.0)
        self._ceiling_db = None if sensitivity_pa is None else ceiling_db
        self._level_db: float | None = None
        self._peak_dbfs: float | None = None
        self._todo: dict[str, list[str]] = {}
        for source, station in pairs:
            self._todo.setdefault(station, []).append(source)
        self._made, self._wanted = 0, len(pairs)
        self._heard: dict[tuple[float, float], HeardRoom] = {}
        self._durations_s: dict[tuple[tuple[str, ...], frozenset[tuple[float, float]]], float] = {}
        self._soft = SoftSweeps(
            folder, recorder, partial(self._play, "checking"), quiet_dbfs, self._ceiling_dbfs
        )
        self._whole_s = max(self._remaining_s(), 1e-3)

    def run(self) -> None:
        """Visit the stations."""
        for station in tuple(self._todo):
            self._tell("moving", station, ())
            if self._rig.move(self._job.station(station)):
                self._at(station, self._todo[station])
            del self._todo[station]
        self._tell("done", "", ())
        if self._exposure is not None:
            text = self._exposure.sentence(-inf)
            self._recorder.findings.append(Finding(severity="note", where="the room", text=text))

    def _at(self, station: str, sources: Sequence[str]) -> None:
        if BACKGROUND in sources:
            self._tell("noise", station, (BACKGROUND,))
            self._recorder.record_noise(station)
            self._done(station, (BACKGROUND,))
        units = [source for source in sources if source != BACKGROUND]
        # The centre tells at once how a microphone of four capsules is turned.
        units.sort(key=lambda source: source != self._centre)
        if units and self._rig.timing == "acoustic":
            self._need_reference(station)
        self._measure_units(station, units)

    def _need_reference(self, station: str) -> None:
        """See that what plays the chirps may play them."""
        reference = reference_source(self._job)
        if not self._fit(station, (reference,)):
            raise InputError(
                f"{reference} is the acoustic reference and cannot be used; mend it, or choose "
                "another"
            )

    def _measure_units(self, station: str, sources: Sequence[str]) -> None:
        """Those that are the first of their band alone, until one has shown the room; the rest."""
        left = []
        for source in sources:
            if band_hz(self._job, source) in self._heard:
                left.append(source)
                continue
            self._take(station, self._fit(station, (source,)))
            found = self._recorder.bench.measured(source, station)
            if found is not None:
                self._hear(source, station, found)
        self._take(station, self._fit(station, left))

    def _hear(self, source: str, station: str, found: MeasuredResponse) -> None:
        response = found.response
        self._heard[band_hz(self._job, source)] = heard_room(
            self._job, source, station, response.samples, timed=response.timed
        )

    def _fit(self, station: str, sources: Sequence[str]) -> tuple[str, ...]:
        return self._soft.fit(station, sources, self._windows_s(sources))

    def _take(self, station: str, sources: Sequence[str]) -> None:
        """Measure sources, and again those that are refused."""
        left = sources
        for _ in range(1 + REPEATS):
            levels_dbfs = {source: self._soft.highest_dbfs[source] for source in left}
            windows_s = self._windows_s(left)
            refused: list[str] = []
            for planned in planned_takes(self._job, levels_dbfs, self._rig.timing, windows_s):
                softer = self._soft.under_ceiling(planned)
                recording = self._play("measuring", station, softer)
                again = self._recorder.keep(softer, station, recording)
                self._done(station, tuple(s for s in planned.sources if s not in again))
                refused += again
                if self._centre in planned.sources and self._centre not in again:
                    self._tell_facing(station, recording)
            left = tuple(refused)
        for source in left:
            text = f"was refused {1 + REPEATS} times; it is left out and counts as missing"
            self._refuse(f"{source} at {station}", text)

    def _tell_facing(self, station: str, recording: Recording) -> None:
        """Say by how much to turn the microphone, while it costs one take."""
        (take,) = (
            take
            for take in self._recorder.takes
            if (take.source, take.station) == (self._centre, station)
        )
        found = facing_of_take(self._job, take, recording)
        if found is not None:
            self._on_facing(found)
            if not found.ahead:
                finding = Finding(
                    severity="doubt", where=f"the microphone at {station}", text=found.says
                )
                self._recorder.findings.append(finding)

    def _play(self, step: Step, station: str, planned: PlannedTake) -> Recording:
        self._tell(step, station, planned.sources)
        recording = self._rig.play(planned.signals(self._job), self._ceiling_dbfs)
        self._level_db = heard_level_dbfs(recording) + self._full_scale_db
        peak = float(np.abs(recording.microphone).max(initial=0.0))
        self._peak_dbfs = float(amplitude_db(max(peak, 1e-12)))
        if self._exposure is not None and self._sensitivity_pa is not None:
            more = exposure_of_take(
                recording.microphone, recording.sampling_rate_hz, self._sensitivity_pa
            )
            self._exposure += more
            if self._today is not None:
                self._today.add(more)
                self._today.keep()
                self._exposure = self._today.total
        return recording

    def _refuse(self, where: str, text: str) -> None:
        self._recorder.findings.append(Finding(severity="refusal", where=where, text=text))

    def _done(self, station: str, sources: tuple[str, ...]) -> None:
        self._made += len(sources)
        self._todo[station] = [s for s in self._todo[station] if s not in sources]

    def _windows_s(self, sources: Sequence[str]) -> dict[str, float]:
        """How long a response of each source lasts."""
        return {
            source: window_s(self._job, source, self._heard.get(band_hz(self._job, source)))
            for source in sources
        }

    def _tell(self, step: Step, station: str, sources: tuple[str, ...]) -> None:
        remaining_s = self._remaining_s()
        self._on_state(
            SurveyState(
                step=step,
                station=station,
                sources=sources,
                made=self._made,
                wanted=self._wanted,
                remaining_s=remaining_s,
                exposure=self._exposure,
                level_db=self._level_db,
                peak_dbfs=self._peak_dbfs,
                ceiling_db=self._ceiling_db,
            )
        )
        doing = {"moving": "microphone to", "checking": "softly", "done": "survey done"}
        named = f"{sources[0]} and {len(sources) - 1} more" if sources[1:] else "".join(sources)
        words = [doing.get(step, ""), named, f"at {station}" if sources else station]
        fraction = min(max(1.0 - remaining_s / self._whole_s, 0.0), 1.0)
        self._progress(fraction, " ".join(word for word in words if word))

    def _remaining_s(self) -> float:
        """Seconds that what is left takes."""
        return sum(
            _MOVE_S[self._rig.origin]
            + self._units_s(tuple(s for s in sources if s not in {BACKGROUND, *self._soft.unfit}))
            + (NOISE_TAKE_S + BETWEEN_S) * (BACKGROUND in sources)
            for sources in self._todo.values()
        )

    def _units_s(self, sources: tuple[str, ...]) -> float:
        key = sources, frozenset(self._heard)
        if key not in self._durations_s:
            levels_dbfs = {source: wanted_dbfs(self._job, source) for source in sources}
            windows_s = self._windows_s(sources)
            planned = planned_takes(self._job, levels_dbfs, self._rig.timing, windows_s)
            self._durations_s[key] = takes_s(planned)
        return self._durations_s[key]
