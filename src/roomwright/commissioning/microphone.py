"""The microphone of a job: its calibration file and the level that reaches full scale."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from roomwright import _checks
from roomwright.measurement import parse_calibration
from roomwright.model import Job, Microphone
from roomwright.signals import REFERENCE_PRESSURE_PA, from_amplitude_db
from roomwright.store import JobFolder, read_text

_FULL_SCALE_RANGE_DB: Final = (60.0, 180.0)


def with_microphone(
    folder: JobFolder, calibration: Path | None, full_scale_db: float | None
) -> Job:
    """Return the job with what is now known of its microphone; the rest stays as it was.

    Parameters
    ----------
    folder
        A job folder open for writing; the calibration file is kept in it as supplied.
    calibration
        Calibration file, or None.
    full_scale_db
        Level of the sine that reaches digital full scale, dB re 20 uPa, or None.

    Raises
    ------
    InputError
        If the file cannot be read or used, or the level is out of range.
    """
    job = folder.job
    known = job.microphone.model_dump()
    if calibration is not None:
        text = read_text(calibration)
        parse_calibration(text, str(calibration))
        known["calibration_file"] = folder.add_microphone_file(calibration.name, text.encode())
    if full_scale_db is not None:
        level_db = _checks.within(full_scale_db, *_FULL_SCALE_RANGE_DB, "the full-scale level")
        peak_pa = 2**0.5 * REFERENCE_PRESSURE_PA * float(from_amplitude_db(level_db))
        known["sensitivity_pa"] = peak_pa
    return job.model_copy(update={"microphone": Microphone.model_validate(known)})
