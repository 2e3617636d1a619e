"""The command that says which microphone a job is measured with."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from roomwright.cli import show


class Faces(StrEnum):
    """Where a microphone points."""

    CEILING = "ceiling"
    FRONT = "front"


def microphone(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job folder.")],
    serial: Annotated[
        str | None,
        typer.Option(
            help="Serial number; files of that number in the job's microphones/ are taken."
        ),
    ] = None,
    calibration: Annotated[
        Path | None, typer.Option(help="Calibration file for sound along the axis (0 degrees).")
    ] = None,
    calibration_90: Annotated[
        Path | None,
        typer.Option("--calibration-90", help="Calibration file for sound from the side."),
    ] = None,
    faces: Annotated[Faces | None, typer.Option(help="Where the microphone's axis points.")] = None,
    four_capsules: Annotated[
        float | None,
        typer.Option(help="Radius in metres of a microphone of four capsules in a tetrahedron."),
    ] = None,
    full_scale_db: Annotated[
        float | None,
        typer.Option(help="Level in dB SPL of the sine that reaches digital full scale."),
    ] = None,
    calibrator: Annotated[
        Path | None, typer.Option(help="WAV recording of a sound calibrator, at the gain in use.")
    ] = None,
    calibrator_db: Annotated[
        float, typer.Option(help="What the calibrator makes: 94 or 114 dB.")
    ] = 94.0,
    json: Annotated[
        bool, typer.Option("--json", help="Print one JSON object instead of text.")
    ] = False,
) -> None:
    """Say which microphone is used and how it is calibrated; or show what the job knows of it."""
    from roomwright import store
    from roomwright.commissioning.survey.microphone import with_calibrator, with_microphone

    with store.open_job(job, write=True) as folder:
        changed = with_microphone(
            folder,
            calibration,
            full_scale_db,
            side_calibration=calibration_90,
            serial=serial,
            faces=None if faces is None else faces.value,
            capsule_radius_m=four_capsules,
        )
        if calibrator is not None:
            changed = with_calibrator(changed, calibrator, calibrator_db)
        if changed != folder.job:
            folder.save(changed)
        known = folder.job.microphone.model_dump()
    if json:
        show.as_json(known)
    else:
        show.table(
            ("microphone", ""),
            [
                (_NAMES[name], "not known" if value in {None, ""} else _shown(value))
                for name, value in known.items()
            ],
        )


_NAMES = {
    "name": "name",
    "serial": "serial number",
    "sensitivity_pa": "full scale, Pa peak",
    "calibration_file": "calibration, 0 degrees",
    "side_calibration_file": "calibration, 90 degrees",
    "faces": "points at the",
    "capsule_radius_m": "four capsules, radius m",
}


def _shown(value: object) -> str:
    return f"{value:.4g}" if isinstance(value, float) else str(value)
