"""The level assistant's rows while offsets and trims are changed by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from roomwright._errors import InputError
from roomwright.commissioning.edits.levels import with_level_trim
from roomwright.commissioning.levels.set_levels import LevelRow, level_rows
from roomwright.model import Job


def rows_now(job: Job, found: Mapping[str, LevelRow]) -> tuple[LevelRow, ...]:
    """The outputs, those that were measured with what follows for the trims and offsets now.

    Parameters
    ----------
    job
        Its trims and offsets hold.
    found
        Rows as they were measured, by what the output drives.
    """
    step = job.processor.gain_step_db
    return tuple(_now(row, found.get(row.drives), step) for row in level_rows(job))


def accepted(job: Job, row: LevelRow) -> Job:
    """The job with the trim that an output's row asks for.

    Raises
    ------
    InputError
        If the row asks for none.
    """
    if row.asked_db is None:
        raise InputError(row.says or f"{row.drives} was not measured yet; measure it first")
    return with_level_trim(job, row.drives, row.asked_db)


def _now(row: LevelRow, found: LevelRow | None, step_db: float) -> LevelRow:
    if found is None:
        return row
    asked, level = found.asked_db, found.level_db
    if asked is not None:
        asked += row.wanted_db - found.wanted_db
        asked = round(round(asked / step_db) * step_db, 6) + 0.0
    if level is not None:
        level += row.trim_db - found.trim_db
    return replace(
        row,
        level_db=level,
        asked_db=asked,
        uncertainty_db=found.uncertainty_db,
        says=found.says,
    )
