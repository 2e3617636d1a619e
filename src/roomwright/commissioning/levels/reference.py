"""The level of a survey written down, and a later visit brought back to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from roomwright._errors import InputError
from roomwright.commissioning.edits.levels import noise_band, with_levels
from roomwright.commissioning.levels.bench import LevelBench
from roomwright.model import Job, LevelReference, Station
from roomwright.signals import amplitude_db
from roomwright.store import JobFolder

#: A level this near to the stored one is the same, dB: what people and air in the room do.
#: Common practice, no source.
SAME_DB: Final = 0.3
_STEP_DB: Final = 0.1

#: The centre, which stands for all where one must.
_CENTRE: Final = "M+000"


@dataclass(frozen=True, slots=True)
class Return:
    """A later visit's reference take against the stored one.

    Attributes
    ----------
    level_db, stored_db
        What it gives now, and what it gave.
    change_db
        What the playback of this job is to be raised by; 0 if it is the same.
    uncertainty_db
        Of the level now, from noise alone (95 %).
    possible
        Whether the digital ceiling leaves room for the change.
    says
        What was found and what to do.
    """

    level_db: float
    stored_db: float
    change_db: float
    uncertainty_db: float
    possible: bool
    says: str


def reference_output(job: Job) -> str:
    """What stands for all outputs: the centre's loudspeaker, else what the first output drives.

    Raises
    ------
    InputError
        If there is no output.
    """
    driven = [output.drives for output in job.outputs]
    if not driven:
        raise InputError("the job has no outputs; a reference level needs one")
    centre = next((c.loudspeakers for c in job.channels if c.id == _CENTRE), ())
    return next((name for name in centre if name in driven), driven[0])


def store_reference(
    folder: JobFolder, bench: LevelBench, job: Job, station: Station, drives: str | None = None
) -> Job:
    """Measure one output at its trim, write down what it gave and how, and save the job.

    Parameters
    ----------
    folder
        A job folder open for writing.
    bench, job, station
        From `rehearsal_bench`, or the bench of another device and where its microphone stands.
    drives
        What the output drives; by default `reference_output`.

    Raises
    ------
    InputError
        If the output is not heard, or the microphone's sensitivity is not known.
    """
    name = reference_output(job) if drives is None else drives
    levels, sensitivity = job.levels, job.microphone.sensitivity_pa
    found = bench.level(name, levels.playback_db + levels.trim_db(name))
    if not found.heard or sensitivity is None:
        raise InputError(
            f"{name} is not heard clear of the background at {station.id}; "
            "the reference level was not stored"
        )
    if found.clipped:
        raise InputError("the microphone's input clips; the reference level was not stored")
    reference = LevelReference(
        drives=name,
        station=station.id,
        level_db=round(found.level_db, 2),
        noise_dbfs=levels.noise_dbfs,
        trim_db=levels.trim_db(name),
        playback_db=levels.playback_db,
        band=noise_band(job, name),
        sensitivity_pa=sensitivity,
    )
    stored = with_levels(job, reference=reference)
    folder.save(stored)
    return stored


def as_stored(job: Job) -> Job:
    """The job with the noise, trim and playback of its stored reference, to play that again.

    Raises
    ------
    InputError
        If no reference was stored.
    """
    reference = _stored(job)
    others = tuple(trim for trim in job.levels.trims if trim.drives != reference.drives)
    return with_levels(
        job,
        noise_dbfs=reference.noise_dbfs,
        playback_db=reference.playback_db,
        trims=(*others, {"drives": reference.drives, "trim_db": reference.trim_db}),
        mains=reference.band,
        subwoofers=reference.band,
    )


def compare_with_reference(job: Job, bench: LevelBench, station: Station) -> Return:
    """Play the stored reference again, softly first, and say what brings its level back.

    Parameters
    ----------
    job
        With a stored reference.
    bench
        Of `as_stored(job)`.
    station
        Where the microphone stands.

    Raises
    ------
    InputError
        If no reference was stored, or the microphone stands elsewhere.
    """
    reference = _stored(job)
    if station.id != reference.station:
        raise InputError(
            f"the reference was taken at {reference.station}; put the microphone there, not at "
            f"{station.id}"
        )
    played = reference.playback_db + reference.trim_db
    found, gain = bench.first_level(reference.drives, played)
    if not found.heard:
        raise InputError(
            f"{reference.drives} is not heard clear of the background; check its output and the "
            "microphone before the level is changed"
        )
    level = found.level_db + played - gain
    off = reference.level_db - level
    change = 0.0 if abs(off) <= SAME_DB else round(round(off / _STEP_DB) * _STEP_DB, 1)
    possible = played + change <= bench.highest_db(reference.drives)
    says = _words(job, reference, level, change, possible=possible)
    return Return(level, reference.level_db, change, found.uncertainty_db, possible, says)


def return_to_reference(folder: JobFolder, job: Job, found: Return) -> Job:
    """Save the job with its playback changed such that the reference gives the stored level.

    Raises
    ------
    InputError
        If the digital ceiling leaves no room for that, or no reference was stored.
    """
    if not found.possible:
        raise InputError(found.says)
    playback = round(_stored(job).playback_db + found.change_db, 6)
    changed = with_levels(job, playback_db=playback)
    folder.save(changed)
    return changed


def _stored(job: Job) -> LevelReference:
    if job.levels.reference is None:
        raise InputError("no reference level is stored in this job yet; store it once it is set")
    return job.levels.reference


def _words(
    job: Job, reference: LevelReference, level_db: float, change_db: float, *, possible: bool
) -> str:
    where = f"{reference.drives} at {reference.station}"
    given = f"{where} gives {level_db:.1f} dB; stored are {reference.level_db:.1f} dB"
    now = job.microphone.sensitivity_pa
    if now == reference.sensitivity_pa or now is None:
        gain = (
            "; the microphone was not calibrated again since: do so if its gain may have been "
            "touched"
        )
    else:
        by_db = float(amplitude_db(reference.sensitivity_pa / now))
        gain = f"; the microphone's gain was changed by {by_db:+.1f} dB since, which is allowed for"
    if not change_db:
        return f"{given}: nothing is to be changed"
    if not possible:
        way = (
            f": the amplifiers are to be raised by {change_db:.1f} dB, as the digital ceiling "
            "leaves no room"
        )
    else:
        way = f": playback is to be {'raised' if change_db > 0 else 'lowered'} by "
        way += f"{abs(change_db):.1f} dB"
    return given + way + gain
