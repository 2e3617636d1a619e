"""What becomes of a recording: stored, measured, and in the saved job before the next is made."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from roomwright._errors import InputError
from roomwright.commissioning.survey.passes import PlannedTake
from roomwright.commissioning.survey.responses import BACKGROUND, Bench, Stage, name_in, with_takes
from roomwright.commissioning.survey.rigs import Rig
from roomwright.commissioning.verdict import Verdict, verdict
from roomwright.measurement import Recording
from roomwright.model import Finding, Job, Station, Take
from roomwright.store import JobFolder

#: Background noise is recorded once at the main seat's station, this long.
NOISE_TAKE_S: Final = 4.0


class Recorder:
    """Keeps the recordings of one stage, each at once.

    Each is written to the job folder, measured, and its takes are saved with the job, so that
    whatever happens next loses nothing: at any instant the folder holds all takes but the one
    that is being made. All saves together are one step for `undo`.

    Parameters
    ----------
    folder
        A job folder open for writing.
    job
        The job that is saved with the takes; its earlier takes stay until they are replaced.
    stage
        Of the takes.
    rig
        What records.
    on_take
        Told each usable take when it is saved.
    on_verdict
        Told what each take of the survey is worth, those that are refused too.

    Attributes
    ----------
    takes
        Those that can be used.
    findings
        What was found, refusals among them.
    """

    def __init__(
        self,
        folder: JobFolder,
        job: Job,
        stage: Stage,
        rig: Rig,
        on_take: Callable[[Take], None] = lambda _take: None,
        on_verdict: Callable[[Verdict], None] = lambda _verdict: None,
    ) -> None:
        self.rig = rig
        self.bench = Bench(folder, job)
        self.takes: list[Take] = []
        self.findings: list[Finding] = []
        self.job = job
        self._folder, self._stage = folder, stage
        self._on_take, self._on_verdict = on_take, on_verdict
        self._saved = False

    def record_noise(self, station: str) -> None:
        """Record the background noise where the microphone stands."""
        recording = self.rig.device.record(NOISE_TAKE_S)
        if not self._refused_by_device(recording):
            file, sha256 = self._store(BACKGROUND, station, recording)
            take = Take(
                stage=self._stage,
                source=BACKGROUND,
                station=station,
                kind="noise",
                file=file,
                sha256=sha256,
                origin=self.rig.origin,
            )
            self._measure((take,), recording)

    def keep(self, planned: PlannedTake, station: str, recording: Recording) -> tuple[str, ...]:
        """Keep one recording made at a station, and return the sources it cannot be used for."""
        if self._refused_by_device(recording):
            return planned.sources
        name = planned.sources[0]
        if len(planned.sources) > 1:
            name = f"{name}-and-{len(planned.sources) - 1}-more"
        file, sha256 = self._store(name, station, recording)
        takes = [
            Take(
                stage=self._stage,
                source=source,
                station=station,
                kind="take",
                file=file,
                sha256=sha256,
                reference_channel=2 if recording.samples.shape[0] > 1 else None,
                sweep=sweep,
                overlap=overlap,
                origin=self.rig.origin,
                chirps_from=planned.chirps_from,
            )
            for source, sweep, overlap in zip(
                planned.sources, planned.sweeps, planned.overlaps, strict=True
            )
        ]
        usable = self._measure(takes, recording)
        return tuple(take.source for take in takes if take not in usable)

    def save(self, job: Job) -> None:
        """Save a job in the same step of `undo` as the takes before."""
        self._folder.save(job, undoable=not self._saved)
        self.job, self._saved = job, True

    def take_back(self) -> None:
        """Leave the job as it was before the first save; the recordings stay in the folder."""
        if self._saved:
            self.job, self._saved = self._folder.undo(), False

    def _refused_by_device(self, recording: Recording) -> bool:
        self.findings.extend(recording.findings)
        return any(finding.severity == "refusal" for finding in recording.findings)

    def _store(self, name: str, station: str, recording: Recording) -> tuple[str, str]:
        samples = recording.samples
        if recording.capsules is not None:
            samples = np.concatenate((samples, recording.capsules))
        return self._folder.write_take(
            f"{self._stage}-{name}-{station}", samples, recording.sampling_rate_hz
        )

    def _measure(self, takes: Sequence[Take], recording: Recording) -> list[Take]:
        """Measure the takes of a recording, save those that can be used, and return them."""
        usable = []
        for take in takes:
            try:
                self.bench.measure(take, recording.samples)
            except InputError as error:
                finding = Finding(severity="refusal", where=name_in(take), text=str(error))
                self.findings.append(finding)
                says = (str(error),)
                self._on_verdict(Verdict(take.source, take.station, "refused", says))
            else:
                usable.append(take)
        if usable:
            self.save(with_takes(self.job, self._stage, usable))
            again = {(take.source, take.station) for take in usable}
            self.takes = [t for t in self.takes if (t.source, t.station) not in again] + usable
            for take in usable:
                self._on_take(take)
                if self._stage != "survey":
                    continue
                found = self.bench.measured(take.source, take.station)
                wrong = self.bench.wrong(take.source, take.station)
                self._on_verdict(verdict(self.job, take, found, wrong))
        return usable


def noise_station(job: Job) -> Station:
    """The station where background noise is recorded: the main seat's, else the first."""
    at_main_seat = (s for s in job.stations if s.seat == job.main_seat)
    return next(at_main_seat, job.stations[0])
