"""The soft sweep that comes first on every output: without its band nothing louder follows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from roomwright._errors import InputError
from roomwright.commissioning.survey.passes import PlannedTake, band_hz, planned_takes, wanted_dbfs
from roomwright.commissioning.survey.recorder import Recorder
from roomwright.commissioning.survey.responses import Bench
from roomwright.commissioning.survey.rigs import heard_level_dbfs
from roomwright.measurement import Recording
from roomwright.measurement.protection import shows_band
from roomwright.model import Finding, Job, Take
from roomwright.signals import from_power_db, power_db
from roomwright.store import JobFolder

#: A refused recording is repeated this often before its source is left out at a station.
REPEATS: Final = 2

#: A soft sweep that noise hides is made once more, so many times as long: slower, not louder.
_SLOWER: Final = 6.0

#: The level aimed at stays this far under the ceiling: rooms differ from place to place.
_UNDER_CEILING_DB: Final = 3.0

#: Plays a recording at a station and returns it.
Play = Callable[[str, PlannedTake], Recording]


class SoftSweeps:
    """Which outputs may be played, and how loud.

    Parameters
    ----------
    folder, recorder
        Of the survey; what is found goes to the recorder's findings.
    play
        Plays a soft sweep.
    quiet_dbfs
        Its peak level.
    ceiling_dbfs
        What the level at the microphone's input must not pass, see `heard_level_dbfs`.

    Attributes
    ----------
    highest_dbfs
        The level up to which each output that was checked may be played.
    unfit
        Outputs that did not show their band.
    """

    def __init__(
        self,
        folder: JobFolder,
        recorder: Recorder,
        play: Play,
        quiet_dbfs: float,
        ceiling_dbfs: float,
    ) -> None:
        self.highest_dbfs: dict[str, float] = {}
        self.unfit: set[str] = set()
        self._heard_dbfs: dict[str, float] = {}
        self._job, self._rig, self._recorder = recorder.job, recorder.rig, recorder
        self._bench = Bench(folder, recorder.job)
        self._play = play
        self._quiet_dbfs = min(quiet_dbfs, recorder.job.sweep.level_dbfs)
        self._ceiling_dbfs = ceiling_dbfs

    def fit(
        self, station: str, sources: Sequence[str], windows_s: Mapping[str, float]
    ) -> tuple[str, ...]:
        """Those of the sources that may be played; each is checked once."""
        # A chirp may be too soft to be heard; the band shows without a time reference too.
        timing = self._rig.timing if self._rig.timing == "loop-back" else "none"
        for job, last in ((self._job, False), (_slower(self._job), True)):
            known = {*self.highest_dbfs, *self.unfit}
            new = {source: self._quiet_dbfs for source in sources if source not in known}
            for planned in planned_takes(job, new, timing, windows_s):
                self._check(station, planned, last=last)
        return tuple(source for source in sources if source in self.highest_dbfs)

    def under_ceiling(self, planned: PlannedTake) -> PlannedTake:
        """The same, softer if all who play in it together would come too near to the ceiling."""
        powers = (
            from_power_db(self._heard_dbfs[source] + sweep.level_dbfs - self._quiet_dbfs)
            for source, sweep in zip(planned.sources, planned.sweeps, strict=True)
        )
        # Each plays another frequency at a time: their powers add.
        together_dbfs = float(power_db(sum(float(power) for power in powers)))
        return planned.softer(together_dbfs - self._ceiling_dbfs + _UNDER_CEILING_DB)

    def _check(self, station: str, planned: PlannedTake, *, last: bool) -> None:
        for _ in range(1 + REPEATS):
            recording = self._play(station, planned)
            refused = [f.text for f in recording.findings if f.severity == "refusal"]
            if not refused:
                break
        heard_dbfs = heard_level_dbfs(recording)
        for take in _takes(planned, station, recording):
            why = refused[0] if refused else self._fault(take, recording)
            if why and not (refused or last):
                continue
            if why:
                self.unfit.add(take.source)
                where = f"{take.source} at {station}"
                finding = Finding(severity="refusal", where=where, text=why)
                self._recorder.findings.append(finding)
            else:
                self._heard_dbfs[take.source] = heard_dbfs - float(power_db(len(planned.sources)))
                self._allow(take.source, heard_dbfs)

    def _fault(self, take: Take, recording: Recording) -> str:
        """Why a soft sweep does not show the band of its source; empty if it does."""
        try:
            found = self._bench.measure(take, recording.samples)
        except InputError as error:
            return f"is not played louder: {error}"
        band = band_hz(self._job, take.source)
        if found is None or take.sweep is None:
            return ""
        swept = max(take.sweep.start_hz, band[0]), min(take.sweep.stop_hz, band[1])
        rate = self._job.sampling_rate_hz
        if shows_band(found.response.samples, rate, found.response.trusted_hz, swept):
            return ""
        return (
            f"did not show its band of {band[0]:.0f} to {band[1]:.0f} Hz in a sweep of "
            f"{self._quiet_dbfs:.0f} dBFS and is not played louder: check the wiring, the "
            "amplifier and the microphone's gain"
        )

    def _allow(self, source: str, heard_dbfs: float) -> None:
        """Let a source be played as loud as the ceiling allows."""
        highest = self._quiet_dbfs + self._ceiling_dbfs - _UNDER_CEILING_DB - heard_dbfs
        wanted = wanted_dbfs(self._job, source)
        if highest < wanted:
            text = f"is played {wanted - highest:.1f} dB softer, to stay under the input's ceiling"
            finding = Finding(severity="note", where=source, text=text)
            self._recorder.findings.append(finding)
        self.highest_dbfs[source] = max(min(highest, wanted), self._quiet_dbfs)


def _slower(job: Job) -> Job:
    sweep = job.sweep.model_copy(update={"duration_s": _SLOWER * job.sweep.duration_s})
    return job.model_copy(update={"sweep": sweep})


def _takes(planned: PlannedTake, station: str, recording: Recording) -> Sequence[Take]:
    """What the recording of a soft sweep would be as takes; they are in no job."""
    return [
        Take(
            stage="survey",
            source=source,
            station=station,
            kind="take",
            file=f"the soft sweep of {planned.sources[0]} at {station}",
            sha256="0" * 64,
            reference_channel=2 if recording.samples.shape[0] > 1 else None,
            sweep=sweep,
            overlap=overlap,
            origin="device",
        )
        for source, sweep, overlap in zip(
            planned.sources, planned.sweeps, planned.overlaps, strict=True
        )
    ]
