"""The level assistant: each output's level now, the level wanted, and the trim that gets there."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from roomwright._errors import Cancelled, DeviceError, InputError
from roomwright._progress import Progress, silent
from roomwright.commissioning.edits.levels import group_of, wanted_db, with_level_trim
from roomwright.commissioning.levels.bench import LevelBench
from roomwright.commissioning.survey.microphone import Calibration
from roomwright.commissioning.survey.recorder import noise_station
from roomwright.commissioning.survey.rehearse import with_simulated_microphone
from roomwright.commissioning.tuning.compose import rehearsal_device
from roomwright.measurement import CalibrationCurve, Device
from roomwright.measurement.metering import HEARD_DB, NoiseLevel, trim_for
from roomwright.model import Job, LevelGroup, Station, Take
from roomwright.store import JobFolder

#: A trim is corrected once more if the level it gives is off by more than this many steps.
_CLOSE_STEPS: Final = 1.0


@dataclass(frozen=True, slots=True)
class LevelRow:
    """One output in the level assistant.

    Attributes
    ----------
    drives, number, group
        What the output drives, its number, and its group.
    level_db
        The level it gives with its trim, dB re 20 uPa, C-weighted; None while not measured.
    wanted_db
        Reference level and offset.
    trim_db
        The trim it has now.
    asked_db
        The trim that gives the level wanted; None while not known.
    uncertainty_db
        Of the level, from noise alone (95 %).
    says
        What is to be said of it, empty if nothing.
    """

    drives: str
    number: int
    group: LevelGroup
    level_db: float | None
    wanted_db: float
    trim_db: float
    asked_db: float | None
    uncertainty_db: float | None
    says: str = ""

    @property
    def reached(self) -> bool:
        """Whether the trim it has is the trim that is asked for, and nothing speaks against it."""
        return not self.says and self.asked_db is not None and self.asked_db == self.trim_db


@dataclass(frozen=True, slots=True)
class LevelsSet:
    """What the assistant did: the job with its trims, the rows, and the station it was at."""

    job: Job
    rows: tuple[LevelRow, ...]
    station: str


def level_rows(job: Job) -> tuple[LevelRow, ...]:
    """The outputs before anything is measured."""
    return tuple(
        LevelRow(
            drives=output.drives,
            number=output.number,
            group=group_of(job, output.drives),
            level_db=None,
            wanted_db=wanted_db(job, output.drives),
            trim_db=job.levels.trim_db(output.drives),
            asked_db=None,
            uncertainty_db=None,
        )
        for output in job.outputs
    )


def rehearsal_bench(folder: JobFolder, job: Job | None = None) -> tuple[LevelBench, Job, Station]:
    """The rehearsal room as a level bench, the microphone at the main seat.

    `job` is what is rehearsed, by default the folder's; it gets the simulated microphone.

    Raises
    ------
    InputError
        If the job has no stations or outputs, the station has no place, or the room is no box.
    """
    job = with_simulated_microphone(folder, folder.job if job is None else job)
    device = rehearsal_device(job)
    station = level_station(job)
    if station.position_m is None:
        raise InputError(f"station {station.id} has no position; it cannot be rehearsed")
    device.place_microphone(station.position_m)
    return level_bench(folder, job, device, station), job, station


def level_bench(folder: JobFolder, job: Job, device: Device, station: Station) -> LevelBench:
    """A device as a level bench, with the job's microphone standing at a station."""
    calibration = Calibration(folder, job)
    return LevelBench(device, job, partial(_curve, calibration, station.id))


def level_station(job: Job) -> Station:
    """Where levels are set: the main seat's station, else the first.

    Raises
    ------
    InputError
        If the job has no stations or outputs.
    """
    if not job.stations or not job.outputs:
        raise InputError("levels are set for outputs at a station; the job lacks one of them")
    return noise_station(job)


def measured_row(job: Job, bench: LevelBench, row: LevelRow) -> LevelRow:
    """An output's level now, and the trim that gets to the level wanted; nothing is changed.

    It is measured softly first; the level with its trim follows from that.
    """
    played = job.levels.playback_db + row.trim_db
    found, gain = bench.first_level(row.drives, played)
    return _judged(job, bench, row, found, gain - job.levels.playback_db)


def set_row(job: Job, bench: LevelBench, row: LevelRow) -> LevelRow:
    """Find and prove the trim of one output: softly first, then at the trim, corrected once.

    The row returned holds the trim to take over; that of an output that is not heard, or whose
    level is out of reach, stays as it was.
    """
    step = job.processor.gain_step_db
    found = measured_row(job, bench, row)
    for _ in range(2):
        if found.says or found.asked_db is None:
            return found
        found = replace(found, trim_db=found.asked_db)
        level = bench.level(row.drives, job.levels.playback_db + found.trim_db)
        found = _judged(job, bench, found, level, found.trim_db)
        if found.asked_db is None or abs(found.asked_db - found.trim_db) <= _CLOSE_STEPS * step:
            break
    if not found.says:
        found = replace(found, asked_db=found.trim_db)
    return found


def check_levels(
    job: Job, bench: LevelBench, station: str, progress: Progress = silent
) -> LevelsSet:
    """Measure every output once, softly, and say what trim it asks for; the job stays as it is."""
    rows = []
    planned = level_rows(job)
    for place, row in enumerate(planned):
        progress(place / len(planned), f"level of {row.drives}")
        rows.append(measured_row(job, bench, row))
    progress(1.0, "levels measured")
    return LevelsSet(job, tuple(rows), station)


def set_levels(
    folder: JobFolder,
    bench: LevelBench,
    job: Job,
    station: str,
    progress: Progress = silent,
    *,
    only: Sequence[str] = (),
    on_row: Callable[[LevelRow], None] = lambda _row: None,
) -> LevelsSet:
    """Set the trims of all outputs, one after the other, and save the job.

    Parameters
    ----------
    folder
        A job folder open for writing.
    bench, job, station
        From `rehearsal_bench`, or `level_bench` for another device.
    progress
        Told before each output; may raise `Cancelled`: the trims set until then are saved.
    only
        What the outputs drive that are to be set; all if empty.
    on_row
        Told each output when it is done.
    """
    rows = level_rows(job)
    chosen = [row for row in rows if not only or row.drives in only]
    done: dict[str, LevelRow] = {}
    try:
        for place, row in enumerate(chosen):
            progress(place / len(chosen), f"level of {row.drives}")
            found = set_row(job, bench, row)
            done[row.drives] = found
            job = with_level_trim(job, row.drives, found.trim_db)
            on_row(found)
    except (Cancelled, DeviceError, KeyboardInterrupt):
        folder.save(job)
        raise
    folder.save(job)
    progress(1.0, "levels set")
    return LevelsSet(job, tuple(done.get(row.drives, row) for row in rows), station)


def _judged(
    job: Job, bench: LevelBench, row: LevelRow, found: NoiseLevel, trim_db: float
) -> LevelRow:
    """A row with what was measured of it at a trim."""
    if not found.heard:
        under_db = found.background_db + HEARD_DB
        says = (
            f"not heard: with {trim_db:+.1f} dB it stays under {under_db:.0f} dB, {HEARD_DB:g} dB "
            "above the background; check the output, its amplifier and the microphone"
        )
        return replace(row, says=says)
    level = found.level_db + row.trim_db - trim_db
    asked = trim_for(
        found.level_db,
        row.wanted_db,
        trim_db,
        step_db=job.processor.gain_step_db,
        highest_db=bench.highest_db(row.drives) - job.levels.playback_db,
        ceiling_db=job.levels.ceiling_db,
    )
    says = asked.refused
    if found.clipped:
        says = "the microphone's input clips; lower its gain and calibrate again"
    return replace(
        row,
        level_db=level,
        asked_db=None if says else asked.trim_db,
        uncertainty_db=found.uncertainty_db,
        says=says,
    )


def _curve(calibration: Calibration, station: str, drives: str) -> CalibrationCurve | None:
    """The calibration for the direction from which an output is heard."""
    take = Take(
        stage="survey", source=drives, station=station, kind="response", file="", sha256="0" * 64
    )
    return calibration.of(take)
