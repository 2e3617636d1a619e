"""Changes of how loud a survey is: each takes a job and returns another."""

from __future__ import annotations

from typing import Final, get_args

from pydantic import ValidationError

from roomwright._errors import InputError
from roomwright.model import (
    Job,
    LevelGroup,
    LevelPlan,
    NoiseBand,
    Sweep,
)

_GROUP_OF_ROLE: Final[dict[str, LevelGroup]] = {
    "front": "front",
    "surround": "surround",
    "height": "height",
    "lfe": "subwoofers",
}


def group_of(job: Job, drives: str) -> LevelGroup:
    """The group of what an output drives: subwoofers, or the role of its (first) channel."""
    if drives in {subwoofer.id for subwoofer in job.subwoofers}:
        return "subwoofers"
    roles = (channel.role for channel in job.channels if drives in channel.loudspeakers)
    return _GROUP_OF_ROLE[next(roles, "front")]


def noise_band(job: Job, drives: str) -> NoiseBand:
    """The band of the noise that an output plays."""
    is_bass = group_of(job, drives) == "subwoofers"
    return job.levels.subwoofers if is_bass else job.levels.mains


def wanted_db(job: Job, drives: str) -> float:
    """The level an output is to give: the reference level and its group's offset."""
    return job.levels.reference_db + job.levels.offset_db(group_of(job, drives))


def with_levels(job: Job, **changes: object) -> Job:
    """The job with fields of its level plan changed.

    Raises
    ------
    InputError
        If a value is not allowed.
    """
    given = {name: getattr(job.levels, name) for name in LevelPlan.model_fields} | changes
    try:
        levels = LevelPlan.model_validate(given)
    except ValidationError as error:
        first = error.errors()[0]
        field = " ".join(str(step) for step in first["loc"]).replace("_", " ")
        what = first["msg"].removeprefix("Value error, ").removeprefix("Input ")
        raise InputError(f"levels {field}: {what}".replace("  ", " ")) from None
    return job.model_copy(update={"levels": levels})


def with_group_offset(job: Job, group: str, offset_db: float) -> Job:
    """The job with a group louder than the reference level by an offset; 0 takes it away.

    Raises
    ------
    InputError
        If there is no such group, or the offset is too large.
    """
    groups = get_args(LevelGroup)
    if group not in groups:
        raise InputError(f"there is no group {group!r}; there are {', '.join(groups)}")
    others = tuple(offset for offset in job.levels.offsets if offset.group != group)
    added = ({"group": group, "offset_db": offset_db},) if offset_db else ()
    return with_levels(job, offsets=(*others, *added))


def with_level_trim(job: Job, drives: str, trim_db: float) -> Job:
    """The job with the trim at which an output is measured.

    Raises
    ------
    InputError
        If no output drives that, or the trim is too large.
    """
    if drives not in {output.drives for output in job.outputs}:
        raise InputError(f"no output drives {drives}")
    others = tuple(trim for trim in job.levels.trims if trim.drives != drives)
    return with_levels(job, trims=(*others, {"drives": drives, "trim_db": trim_db}))


def with_trim_stepped(job: Job, drives: str, steps: int) -> Job:
    """The job with an output's trim moved by whole steps of the processor.

    Raises
    ------
    InputError
        If no output drives that, or the trim is too large.
    """
    trim_db = job.levels.trim_db(drives) + steps * job.processor.gain_step_db
    return with_level_trim(job, drives, round(trim_db, 6))


def sweep_of(job: Job, drives: str) -> Sweep:
    """The sweep that an output plays in the survey: the job's, at the output's own level.

    A take holds the sweep it was made with, so that responses stay re digital full scale and no
    trim enters the tuning. The level stays below the digital ceiling.
    """
    levels = job.levels
    raised = job.sweep.level_dbfs + levels.playback_db + levels.trim_db(drives)
    highest = max(levels.ceiling_dbfs, job.sweep.level_dbfs)
    return job.sweep.model_copy(update={"level_dbfs": min(raised, highest, 0.0)})
