"""The command that says by how much to turn a microphone of four capsules."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from roomwright._errors import InputError
from roomwright.cli import show

if TYPE_CHECKING:
    from roomwright.commissioning.survey.facing import Facing
    from roomwright.store import JobFolder


def facing(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job folder.")],
    station: Annotated[str, typer.Option(help="Where the microphone stands.")],
    source: Annotated[
        str, typer.Option(help="The loudspeaker that plays, best the centre.")
    ] = "M+000",
    recording: Annotated[
        Path | None,
        typer.Option(
            help="WAV of the job's sweep: four capsules [and the electrical reference]. "
            "Without it the rehearsal room is measured."
        ),
    ] = None,
    live: Annotated[
        bool,
        typer.Option(
            "--live",
            help="Take one sweep of the centre through the job's interface, softly first; it "
            "becomes a take of the survey.",
        ),
    ] = False,
    json: Annotated[
        bool, typer.Option("--json", help="Print one JSON object instead of text.")
    ] = False,
) -> None:
    """Say by how much to turn a microphone of four capsules so that it faces ahead."""
    from roomwright import store
    from roomwright.commissioning.survey.facing import facing_of_recording, rehearse_facing

    with store.open_job(job, write=live) as folder:
        if live:
            found = _live(folder, station)
        elif recording is None:
            found = rehearse_facing(folder.job, source, station)
        else:
            found = facing_of_recording(folder.job, recording, source, station)
    if json:
        seen = {
            name: None if value != value else value  # noqa: PLR0124 - JSON knows no NaN
            for name, value in asdict(found.seen).items()
        }
        show.as_json({**asdict(found), "seen": seen})
    else:
        show.say(found.says)


def _live(folder: JobFolder, station: str) -> Facing:
    from roomwright import commissioning
    from roomwright.commissioning.levels.reference import reference_output

    found: list[Facing] = []
    pairs = ((reference_output(folder.job), station),)
    with commissioning.open_rig(folder.job, "interface") as rig, show.bar() as progress:
        commissioning.measure(folder, rig, pairs, progress, on_facing=found.append)
    if not found:
        raise InputError(
            "the take does not tell how the microphone is turned: it needs four capsules, set by "
            "their radius, and a station with a place on the plan"
        )
    return found[-1]
